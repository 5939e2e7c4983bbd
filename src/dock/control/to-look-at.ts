/** What somebody should look at: one rule for the status, its health line and the figures. Pure. */
import type { DockStatus } from '../daemon.ts';
import { isEmpty } from '../supervisor-state.ts';

/** True where a dock has trouble that more than an empty dock is. */
export const isToLookAt = ({ trouble }: DockStatus): boolean => trouble !== undefined && !isEmpty(trouble.code);
