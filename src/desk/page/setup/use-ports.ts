/** The ports of this PC while they are looked at, and which of them came since: asked for again each second. */
import { useEffect, useRef, useState } from 'preact/hooks';
import type { PortRow } from '../../api/house.ts';
import { get } from '../call.ts';

const AGAIN_MS = 1000;

/** A port as it is shown. */
export interface ShownPort extends PortRow {
  /** It was not there when the page began to look. */
  readonly isNew: boolean;
}

/** The ports, those that just came first. */
export function shownPorts(rows: readonly PortRow[], atFirst: ReadonlySet<string>): ShownPort[] {
  const shown = rows.map((row) => ({ ...row, isNew: !atFirst.has(row.port) }));
  return [...shown.filter((row) => row.isNew), ...shown.filter((row) => !row.isNew)];
}

/** Undefined until they are known. */
export function usePorts(): readonly ShownPort[] | undefined {
  const [rows, setRows] = useState<readonly PortRow[]>();
  const atFirst = useRef<ReadonlySet<string>>(undefined);
  useEffect(() => {
    let isWanted = true;
    let timer: ReturnType<typeof setTimeout> | undefined;
    const ask = async (): Promise<void> => {
      const found = await get<readonly PortRow[]>('/api/ports').catch(() => undefined); // asked again in a second
      if (!isWanted) return;
      if (found) {
        atFirst.current ??= new Set(found.map((row) => row.port));
        setRows(found);
      }
      timer = setTimeout(ask, AGAIN_MS);
    };
    void ask();
    return () => {
      isWanted = false;
      clearTimeout(timer);
    };
  }, []);
  return rows && shownPorts(rows, atFirst.current ?? new Set());
}
