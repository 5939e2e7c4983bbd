/** The flags by which settling itself asks for a person, whatever else is known of a reading. */
export const HOLDING_FLAGS = ['conflict', 'value-unreadable', 'readings-differ', 'identity-shared'] as const;
export type HoldingFlag = (typeof HOLDING_FLAGS)[number];
