/**
 * `npm run sbom`: writes `dist/sbom.cdx.json` (CycloneDX 1.6) and `dist/THIRD-PARTY.md` (licences), as every build does.
 * They are not committed: both follow from the lock file and the installed packages, and a package holds those of its build.
 */
import { join } from 'node:path';
import { writeShipped } from './shipped.mjs';
import { ensurePackages, root } from './steps.mjs';

ensurePackages();
const components = writeShipped(root, join(root, 'dist'));
const bundled = components.filter((c) => c.isBundled).map((c) => c.name);
console.log(
  `dist/sbom.cdx.json and dist/THIRD-PARTY.md: ${components.length} packages, of which ${bundled.join(' and ')} are built into the page.`,
);
