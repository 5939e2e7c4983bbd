/** A table: heads, rows, and what it is called. Scrolls by itself where it is wider than the page. */
import type { ComponentChildren, JSX } from 'preact';

/** A head; numbers stand to the right. */
export interface Head {
  readonly says: string;
  readonly isNumber?: boolean;
}

export interface Row {
  readonly key: string;
  readonly cells: readonly ComponentChildren[];
}

export function Table({
  heads,
  rows,
  name,
}: {
  readonly heads: readonly Head[];
  readonly rows: readonly Row[];
  /** For screen readers, where no heading stands above it. */
  readonly name: string;
}): JSX.Element {
  const kind = (i: number): string | undefined => (heads[i]?.isNumber ? 'number' : undefined);
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: what scrolls must be reached by keyboard
    <section class="wide" aria-label={name} tabIndex={0}>
      <table>
        <thead>
          <tr>
            {heads.map((head, i) => (
              <th key={head.says} scope="col" class={kind(i)}>
                {head.says}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {rows.map(({ key, cells }) => (
            <tr key={key}>
              {cells.map((cell, i) =>
                i === 0 ? (
                  <th key={heads[i]?.says} scope="row" class={kind(i)}>
                    {cell}
                  </th>
                ) : (
                  <td key={heads[i]?.says} class={kind(i)}>
                    {cell}
                  </td>
                ),
              )}
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  );
}
