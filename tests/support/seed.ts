/** The seed of a test run: SEED from the environment, else the one given. Tests put it into their names. */
export const seedOr = (usual: number): number => Number(process.env['SEED'] ?? usual);
