/**
 * What the parts of an explanation cost. An explanation says what became of each known test and what each told test
 * is; the cheapest one counts. The figures are rough odds (ten stands for something that a person does to a meter
 * once in many downloads); what matters is their order, which is argued at each.
 */

/** The oldest tests, or all, were deleted on the meter: one act of a person, however many. */
export const ALL_DELETED = 10;
/** A run of neighbouring tests was deleted while an older one stayed: a little less common than deleting all. */
export const DELETED_RUN = 11;
/** The oldest tests are gone and nobody knows how many the memory holds: it may well be full. */
export const PERHAPS_OVERWRITTEN = 4;
/** The running numbers started again (factory reset): rarer than a deletion. */
export const RUN_RESTART = 20;
/** A number that runs on from the test before it, and yet was used before: no reset makes that. */
export const RUN_REUSED = 50;
/** A new test that repeats stamp and content of a known one, where a power loss may have set the clock back: as likely as a deletion. */
export const REPEAT_AFTER_LOSS = DELETED_RUN;
/** Tests newer than everything known, stamped before the last download although the clock is as it was: wrong for a while. */
export const BACKDATED = 10;
/** A new test that repeats the stamp of a known one with other content: within one minute, or after the clock went back. */
export const REPEATED_STAMP = 8;
/** A new test that repeats stamp and content of a known one although no power loss explains it. */
export const REPEAT = 300;
/** A test in the middle of what is known, where every place was told before: a memory does not do that. */
export const NEW_IN_MIDDLE = 1000;
/** Another meter uses the same name, or an older memory was put back: rarer than a deletion and a restart together. */
export const OTHER_MEMORY = 35;
/** One of the memories that are known to share a name is told after another: they take turns as they are docked. */
export const MEMORY_IN_TURN = 2;
/** Tests of a download that broke off were laid to another memory than theirs: likely enough, but not for nothing. */
export const BORROWED = 5;

/**
 * One place told twice with different content (a conflict), by what the two sightings still share. `weak`: one of
 * them rests on the weak checksum alone, so that a damaged fact (a character or two) may have slipped through.
 */
export const CONFLICT = {
  /** Same running number or ring slot, and same time: the place is certain. */
  placeAndTime: 6,
  /** Same running number and values at another time: more than a deletion and a restart, after which values may repeat. */
  runAndContent: 40,
  /** Same running number only: more than a deletion and a restart, so that neighbours must show the place. */
  runOnly: 60,
  /** Weak, and all but a character or two is the same: less than a deletion. */
  damaged: 6,
  /** Weak and the like, on a clock that was not set: a little more than a deletion. */
  damagedWithoutTime: 15,
  /** Same time: more than a deletion and another test at the same stamp. */
  time: 25,
  /** Same values at another time: always more than a deletion, so that neighbours must show the place. */
  content: 40,
} as const;
