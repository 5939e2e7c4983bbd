/**
 * `npm run proof [NAME…]`: the long demonstrations in scripts/proof/, or the named ones: generated histories, random
 * kills, paced ports. Each ends with an error if what it promises does not hold.
 */
import { runFolder } from './run-folder.mjs';

process.exit(runFolder('proof'));
