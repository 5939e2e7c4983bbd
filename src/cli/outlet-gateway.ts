/** What outlets are told of the gateway that feeds them, for every command that feeds or tries one. */
import { instant } from '../core/instant.ts';
import type { Gateway } from '../outlets/kinds.ts';
import { gatewayMark } from '../outlets/open-outlet.ts';
import type { Store } from '../store/store.ts';
import { type Config, dockZone } from './config.ts';

/** The gateway of a store under a config. */
export const gatewayOf = (store: Store, config: Config): Gateway => ({
  ...(config.site === undefined ? {} : { site: config.site }),
  zone: dockZone(undefined, config),
  mark: gatewayMark(store),
  now: () => instant(Date.now()),
});
