/** Meters against the laboratory: how many pairs, what to know before believing them, pictures, figures, every pair. */
import type { JSX } from 'preact';
import type { Comparison as ComparisonFacts, ComparisonStatistics } from '../../../clinic/comparison/compare.ts';
import type { ComparisonPage } from '../../api/house.ts';
import type { Format } from '../format.ts';
import { useHere } from '../here.ts';
import { useData } from '../live.tsx';
import { Show } from '../parts/loaded.tsx';
import { Table } from '../parts/table.tsx';
import { addressOf } from '../router.ts';
import type { Words } from '../words.ts';
import { DifferenceChart } from './difference-chart.tsx';
import { RegressionChart } from './regression-chart.tsx';

export function Comparison(): JSX.Element {
  const { words } = useHere();
  const loaded = useData<ComparisonPage>('/api/comparison');
  return (
    <Show loaded={loaded}>
      {({ comparisons }) =>
        comparisons.length === 0 ? (
          <p>{words.controls.noComparison}</p>
        ) : (
          <>
            {comparisons.map((c) => (
              <Compared key={c.analyte} comparison={c} />
            ))}
            <p class="no-print">
              <a href="/print/comparison" target="_blank" rel="noreferrer">
                {words.controls.print}
              </a>
            </p>
          </>
        )
      }
    </Show>
  );
}

function Compared({ comparison: c }: { readonly comparison: ComparisonFacts }): JSX.Element {
  const { words, format } = useHere();
  const { controls: w, terms } = words;
  const { counts, settings, pictures } = c;
  const pairs = (n: number): string => format.count(n, w.pairCount);
  return (
    <section>
      <h2>{c.analyte}</h2>
      <p>
        {w.pairs(
          format.count(counts.laboratory, w.labValues),
          pairs(counts.paired),
          format.number(settings.withinHours.value, 0),
        )}{' '}
        {w.rest(
          pairs(counts.judged),
          format.count(counts.people, terms.people),
          format.count(counts.alone, w.labValues),
        )}
      </p>
      {c.cautions.map(({ code }) => (
        <p key={code} class="needs-you">
          {w.caution[code]}
        </p>
      ))}
      {pictures.absolute.points.length === 0 ? null : (
        <>
          <h3>{w.differences}</h3>
          <DifferenceChart picture={pictures.absolute} />
          <p class="mid">{w.differencesAbout}</p>
          <h3>{w.regression}</h3>
          <RegressionChart picture={pictures.regression} />
          <p class="mid">{w.regressionAbout}</p>
        </>
      )}
      {c.statistics ? <Figures statistics={c.statistics} confidence={settings.confidence.value} /> : null}
      <h3>{w.bands}</h3>
      {c.agreement.flatMap(({ source, demands }) =>
        demands.map((d) => (
          <p key={`${source.name} ${source.edition} ${d.atLeastPercent}`}>
            {w.demand(
              `${source.name} ${source.edition}`,
              String(d.within),
              pairs(d.pairs),
              d.pairs === 0 ? '–' : format.percent(d.within / d.pairs),
              format.percent(d.atLeastPercent / 100),
            )}{' '}
            {w.demandVerdict[d.verdict]}
          </p>
        )),
      )}
      <p class="mid">{w.bandsAbout}</p>
      <h3>{w.everyPair}</h3>
      <Table
        name={w.everyPair}
        heads={[
          { says: w.pairColumns.person },
          { says: w.pairColumns.time },
          { says: w.pairColumns.lab, isNumber: true },
          { says: w.pairColumns.meter, isNumber: true },
          { says: w.pairColumns.difference, isNumber: true },
        ]}
        rows={c.pairs.map(({ laboratory: l, reading: r, difference }) => ({
          key: l.id,
          cells: [
            <a key="person" href={addressOf('people', l.patient)}>
              {l.patient}
            </a>,
            format.moment(l.time.at),
            format.value(l.value, l.beyond),
            format.value(r.value, r.beyond),
            difference === undefined ? w.offScale : signed(difference, 2, format),
          ],
        }))}
      />
    </section>
  );
}

const signed = (value: number, digits: number, format: Format): string =>
  `${value < 0 ? '−' : '+'}${format.number(Math.abs(value), digits)}`;

function Figures({
  statistics,
  confidence,
}: {
  readonly statistics: ComparisonStatistics;
  readonly confidence: number;
}): JSX.Element {
  const { words, format } = useHere();
  const { controls: w } = words;
  return (
    <Table
      name={w.figure}
      heads={[{ says: w.figure }, { says: w.withLimits(format.percent(confidence)) }]}
      rows={figureRows(statistics, words, format).map(([name, shown]) => ({ key: name, cells: [name, shown] }))}
    />
  );
}

type Limits = { readonly value: number; readonly low?: number; readonly high?: number };

function figureRows(s: ComparisonStatistics, { controls: w }: Words, format: Format): [string, string][] {
  const shown = ({ value, low, high }: Limits, digits = 2): string =>
    w.limits(
      format.number(value, digits),
      low === undefined ? w.open : format.number(low, digits),
      high === undefined ? w.open : format.number(high, digits),
    );
  return [
    [w.figures.bias, shown(s.absolute.bias)],
    [w.figures.lower, shown(s.absolute.lowerLimit)],
    [w.figures.upper, shown(s.absolute.upperLimit)],
    ...[s.deming, s.passingBablok].flatMap((fit): [string, string][] =>
      fit
        ? [
            [w.figures.slope(fit.method), shown(fit.slope, 3)],
            [w.figures.intercept(fit.method), shown(fit.intercept)],
          ]
        : [],
    ),
  ];
}
