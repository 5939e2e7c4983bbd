/**
 * `npm run bench [NAME…]`: every measurement in scripts/bench/, or the named ones. Each prints its baseline, its
 * figure, the ratio of the two and the aim, all from the same run.
 */
import { runFolder } from './run-folder.mjs';

process.exit(runFolder('bench'));
