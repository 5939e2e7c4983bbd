/** Incidents: what happened to a meter's clock (found by placing) or memory (found by settling). */
import { instant } from '../core/instant.ts';
import type { Incident, IncidentKind } from '../core/placement.ts';
import type { DownloadId } from '../core/reading.ts';
import type { Database } from './database.ts';

/** Which room found it. */
export type IncidentSource = 'settling' | 'clock';

/** An incident with its meter. */
export interface StoredIncident extends Incident {
  readonly meterNo: number;
  readonly meterId: string;
  readonly meterModel: string;
  readonly source: IncidentSource;
  /** The download that told it; absent where placing found it. */
  readonly download?: DownloadId;
}

/** An incident to be stored. */
export type NewIncident = Incident & { readonly download?: DownloadId };

export interface Incidents {
  /** Adds incidents behind those that the meter has from this source. */
  add(meterNo: number, source: IncidentSource, incidents: readonly NewIncident[]): void;
  /** Makes these the meter's incidents from this source, behind the first `keep` of those that it has. */
  replace(meterNo: number, source: IncidentSource, incidents: readonly NewIncident[], keep?: number): void;
  /** Incidents of one meter, or of all, by meter, then by time (latest bound, else earliest). */
  list(meterNo?: number): StoredIncident[];
}

interface IncidentRow {
  meter_no: number;
  meter_id: string;
  model: string;
  source: IncidentSource;
  kind: IncidentKind;
  earliest: number | null;
  latest: number | null;
  size_s: number | null;
  likely_cause: string;
  explanation: string;
  download_id: DownloadId | null;
}

const incidentOf = (r: IncidentRow): StoredIncident => ({
  meterNo: r.meter_no,
  meterId: r.meter_id,
  meterModel: r.model,
  source: r.source,
  kind: r.kind,
  ...(r.earliest === null ? {} : { earliest: instant(r.earliest) }),
  ...(r.latest === null ? {} : { latest: instant(r.latest) }),
  ...(r.size_s === null ? {} : { sizeS: r.size_s }),
  likelyCause: r.likely_cause,
  explanation: r.explanation,
  ...(r.download_id === null ? {} : { download: r.download_id }),
});

/** The incidents of a store. */
export function makeIncidents(db: Database): Incidents {
  const insert = db.statement(`INSERT INTO incident
    SELECT :meter, :source, coalesce(max(n) + 1, 0), :kind, :earliest, :latest, :size, :cause, :explanation, :download
    FROM incident WHERE meter_no = :meter AND source = :source`);
  const add: Incidents['add'] = (meterNo, source, incidents) => {
    for (const incident of incidents)
      insert.run({
        meter: meterNo,
        source,
        kind: incident.kind,
        earliest: incident.earliest ?? null,
        latest: incident.latest ?? null,
        size: incident.sizeS ?? null,
        cause: incident.likelyCause,
        explanation: incident.explanation,
        download: incident.download ?? null,
      });
  };
  return {
    add,
    replace(meterNo, source, incidents, keep = 0) {
      db.statement('DELETE FROM incident WHERE meter_no = ? AND source = ? AND n >= ?').run(meterNo, source, keep);
      add(meterNo, source, incidents);
    },
    list: (meterNo) =>
      db
        .statement<IncidentRow>(
          `SELECT i.*, m.meter_id, m.model FROM incident i JOIN meter m USING (meter_no)
            WHERE :meter IS NULL OR meter_no = :meter
            ORDER BY m.model, m.meter_id, coalesce(i.latest, i.earliest), i.source, i.n`,
        )
        .all({ meter: meterNo ?? null })
        .map(incidentOf),
  };
}
