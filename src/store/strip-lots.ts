/** The register of strip lots and of control materials. */
import type { Instant } from '../core/instant.ts';
import type { StripLot } from '../core/strip-lot.ts';
import type { Database } from './database.ts';

/** One level of one lot of control material. Either mean and sd, or low and high, are there. */
export interface ControlLevel {
  readonly lot: string;
  readonly level: string;
  readonly analyte: string;
  /** Liquid: tests strip, meter and hand. Electronic: the meter alone. */
  readonly kind: 'liquid' | 'electronic';
  readonly mean?: string;
  readonly sd?: string;
  readonly low?: string;
  readonly high?: string;
  /** How many standard deviations the printed range means on either side. */
  readonly rangeSd: number;
  readonly expiry?: string;
}

export interface StoredControlLevel extends ControlLevel {
  readonly levelNo: number;
}

export interface StripLots {
  /** Adds the lot, or replaces what was known of it. */
  put(lot: StripLot, by: string, at: Instant): void;
  find(lot: string): StripLot | undefined;
  /** All, by lot. */
  list(): StripLot[];
}

export interface ControlLevels {
  /** Adds the level, or replaces what was known of it; gives its number. */
  put(level: ControlLevel, by: string, at: Instant): number;
  /** All, by lot and level. */
  list(): StoredControlLevel[];
}

const orNull = (text: string | undefined): string | null => text ?? null;
const given = <K extends string>(key: K, text: string | null): { [P in K]?: string } =>
  text === null ? {} : ({ [key]: text } as { [P in K]?: string });

type LotRow = { lot: string } & Record<'expiry' | 'code' | 'isi' | 'mnpt', string | null>;

const lotOf = (r: LotRow): StripLot => ({
  lot: r.lot,
  ...given('expiry', r.expiry),
  ...given('code', r.code),
  ...given('isi', r.isi),
  ...given('mnpt', r.mnpt),
});

/** The strip lots of a store. */
export function makeStripLots(db: Database): StripLots {
  return {
    put: (lot, by, at) =>
      void db
        .statement(
          `INSERT INTO strip_lot VALUES (:lot, :expiry, :code, :isi, :mnpt, :by, :at)
            ON CONFLICT (lot) DO UPDATE SET expiry = excluded.expiry, code = excluded.code, isi = excluded.isi,
              mnpt = excluded.mnpt, added_by = excluded.added_by, added_at = excluded.added_at`,
        )
        .run({
          lot: lot.lot,
          expiry: orNull(lot.expiry),
          code: orNull(lot.code),
          isi: orNull(lot.isi),
          mnpt: orNull(lot.mnpt),
          by,
          at,
        }),
    find(lot) {
      const row = db.statement<LotRow>('SELECT * FROM strip_lot WHERE lot = ?').get(lot);
      return row && lotOf(row);
    },
    list: () => db.statement<LotRow>('SELECT * FROM strip_lot ORDER BY lot').all().map(lotOf),
  };
}

type LevelRow = {
  level_no: number;
  lot: string;
  level: string;
  analyte: string;
  kind: ControlLevel['kind'];
  range_sd: number;
} & Record<'mean' | 'sd' | 'low' | 'high' | 'expiry', string | null>;

const levelOf = (r: LevelRow): StoredControlLevel => ({
  levelNo: r.level_no,
  lot: r.lot,
  level: r.level,
  analyte: r.analyte,
  kind: r.kind,
  ...given('mean', r.mean),
  ...given('sd', r.sd),
  ...given('low', r.low),
  ...given('high', r.high),
  rangeSd: r.range_sd,
  ...given('expiry', r.expiry),
});

/** The control levels of a store. */
export function makeControlLevels(db: Database): ControlLevels {
  return {
    put: (level, by, at) =>
      db
        .statement<{ level_no: number }>(
          `INSERT INTO control_level (lot, level, analyte, kind, mean, sd, low, high, range_sd, expiry, added_by, added_at)
            VALUES (:lot, :level, :analyte, :kind, :mean, :sd, :low, :high, :rangeSd, :expiry, :by, :at)
            ON CONFLICT (lot, level, analyte) DO UPDATE SET kind = excluded.kind, mean = excluded.mean,
              sd = excluded.sd, low = excluded.low, high = excluded.high, range_sd = excluded.range_sd,
              expiry = excluded.expiry, added_by = excluded.added_by, added_at = excluded.added_at
            RETURNING level_no`,
        )
        .get({
          lot: level.lot,
          level: level.level,
          analyte: level.analyte,
          kind: level.kind,
          mean: orNull(level.mean),
          sd: orNull(level.sd),
          low: orNull(level.low),
          high: orNull(level.high),
          rangeSd: level.rangeSd,
          expiry: orNull(level.expiry),
          by,
          at,
        })?.level_no ?? 0,
    list: () => db.statement<LevelRow>('SELECT * FROM control_level ORDER BY lot, level, analyte').all().map(levelOf),
  };
}
