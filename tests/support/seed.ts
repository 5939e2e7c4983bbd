/** The seed of a test run: SEED from the environment, else the one given. Tests put it into their names. */
export const seedOr = (usual: number): number => Number(process.env['SEED'] ?? usual);

/**
 * How many rounds a generated test makes: as many as it usually does, or RUNS from the environment where that is fewer. A
 * run over thousands of mutants cannot make all of them for each.
 */
export const runsOr = (usual: number): number => Math.min(usual, Number(process.env['RUNS'] ?? usual));
