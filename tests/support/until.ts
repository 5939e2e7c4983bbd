/** Waits for something that another process brings about. A test's own time limit is the only bound. */

/** Resolves when `holds` says so; asks again and again until then. */
export async function until(holds: () => boolean | Promise<boolean>): Promise<void> {
  while (!(await holds())) await new Promise((resolve) => setTimeout(resolve, 20));
}
