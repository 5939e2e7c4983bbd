/** What a conversation has read so far: the bodies of the answers put together, and what can be used of them. */
import type { LineState, LineTimings, RepairPlan } from './line-state.ts';
import { parseMessage } from './messages.ts';
import { type Claim, inSlotOrder, isProven } from './proof.ts';
import { linesInOrder, slotsToFetch } from './repair.ts';

/** Puts the lines of the answer so far with those of the answers before it; the newer body of a slot counts. */
export function keepLines(state: LineState): LineState {
  if (state.stage.kind !== 'reading') return state;
  const merged = new Map(state.merged);
  const suspects = new Set(state.suspects);
  for (const line of linesInOrder(state.stage.lines)) {
    if (line.slot === undefined) continue;
    merged.set(line.slot, line.body);
    if (line.afterDamage) suspects.add(line.slot);
  }
  return { ...state, merged, suspects };
}

/** What END makes of the answer that it closes. */
export interface Told {
  readonly state: LineState;
  readonly isProven: boolean;
  /** Lines that count in the proof but tell no slot. */
  readonly slotless: number;
  /** Slots to ask for one by one, where the proof does not hold. */
  readonly missing: readonly number[];
}

/** Closes the answer of the whole memory with what END claims of it. */
export function takeEnd(state: LineState, claim: Claim): Told {
  const lines = linesInOrder(state.stage.kind === 'reading' ? state.stage.lines : undefined);
  const told = new Map<number, string>();
  for (const line of lines) if (line.slot !== undefined) told.set(line.slot, line.body);
  const slotless = lines.filter((line) => line.slot === undefined).length;
  const bodies = lines.map((line) => line.body);
  if (told.size + slotless === lines.length && isProven(bodies, claim))
    return { state: { ...state, merged: told, claim }, isProven: true, slotless, missing: [] };

  const kept = keepLines(state);
  // More slots than the meter holds: some of the older answers are of a memory that has changed since.
  const merged = kept.merged.size > claim.count ? told : kept.merged;
  const next = { ...kept, claim, merged };
  if (isProven(inSlotOrder(merged), claim)) return { state: next, isProven: true, slotless: 0, missing: [] };
  const missing = slotsToFetch({
    told: new Set(merged.keys()),
    suspects: next.suspects,
    capacity: next.meter?.capacity ?? 0,
    isRing: next.meter?.order === 'ring',
    expected: claim.count,
  });
  return { state: next, isProven: false, slotless: 0, missing };
}

/** The memory with the line that the first slot of the plan was answered with, if any. */
export function withRepaired(state: LineState, plan: RepairPlan, got: string | undefined): LineState {
  const [slot] = plan.slots;
  return slot === undefined || got === undefined ? state : { ...state, merged: new Map(state.merged).set(slot, got) };
}

/** The same plan with one more try for its first slot; undefined after the last. */
export const triedAgain = (plan: RepairPlan, timings: LineTimings): RepairPlan | undefined =>
  plan.tries < timings.tries ? { ...plan, tries: plan.tries + 1 } : undefined;

/** Lines of the memory that END proves but that cannot be used. */
export function countUnusable(state: LineState): number {
  const capacity = state.meter?.capacity ?? 0;
  let unusable = 0;
  for (const [slot, body] of state.merged) if (slot > capacity || !parseMessage(body).ok) unusable++;
  return unusable;
}

/** Slots that were told so far. */
export function countRead(state: LineState): number {
  return state.merged.size + (state.stage.kind === 'reading' ? state.stage.added : 0);
}

/** Lines that a meter may send to one question before it counts as endless, whatever it says that it holds. */
const PATIENCE = 1000;

/** True where a meter has sent far more to one question than it can need. */
export function isEndless(state: LineState): boolean {
  const { held = 0, capacity = 0 } = state.meter ?? {};
  return state.framesSinceAsked > Math.max(PATIENCE, 4 * (held + capacity));
}
