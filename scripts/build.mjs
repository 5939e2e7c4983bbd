/** `npm run build`: the sources of `src/` into `dist/`, which takes the place of the old one in one move. */
import { build, orEnd } from './steps.mjs';

orEnd(build(), 'Build: see the messages above.');
