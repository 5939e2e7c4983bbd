/** The report on meters against the laboratory. Pure. It says 'compared with', never that a meter conforms to anything. */
import type { BlandAltman } from '../clinic/comparison/bland-altman.ts';
import type { Comparison, ComparisonStatistics } from '../clinic/comparison/compare.ts';
import type { Estimate } from '../clinic/comparison/estimate.ts';
import { localMinute } from '../core/local-words.ts';
import { spanInWords } from '../core/span-words.ts';
import { type Zone, zoneOf } from '../core/zone.ts';
import { differenceChart, regressionChart } from './comparison-charts.ts';
import type { ComparisonReport } from './gather-comparison.ts';
import { figure, type Html, htmlPage, list, needsYou, paragraph, remark, type Section, table } from './page.ts';
import { countWords, sureWords } from './plain-words.ts';

/** Makes the page; `printedAt` is in words. */
export function comparisonPage(report: ComparisonReport, printedAt: string): string {
  const zone = zoneOf(report.zone);
  const sections = report.comparisons.flatMap((c) => [
    pairsSection(c),
    ...(c.pictures.absolute.points.length === 0 ? [] : [picturesSection(c)]),
    bandsSection(c),
    agreementSection(c),
    listSection(c, zone),
  ]);
  return htmlPage({
    title: 'Meters compared with the laboratory',
    clinic: 'Comparison',
    printedAt: `Made ${printedAt}`,
    sections:
      sections.length > 0
        ? sections
        : [
            {
              heading: 'Pairs',
              body: [paragraph('There are no laboratory values yet: "tallydock lab import" takes them in.')],
            },
          ],
  });
}

function pairsSection({ analyte, counts, settings, cautions }: Comparison): Section {
  const hours = settings.withinHours.value;
  return {
    heading: `${analyte}: the pairs`,
    body: [
      paragraph(
        `${countWords(counts.laboratory, 'laboratory value')}; ${countWords(counts.paired, 'pair')} within ${hours} h, ${counts.surely} of them surely so by the bounds of their times. The figures rest on ${countWords(counts.judged, 'pair')} of ${countWords(counts.people, 'person', 'people')}; ${countWords(counts.alone, 'laboratory value has', 'laboratory values have')} no reading near enough.`,
      ),
      ...cautions.map((c) => needsYou(`${c.sentence}.`)),
    ],
  };
}

function picturesSection({ analyte, pictures, statistics, settings }: Comparison): Section {
  const open = 'A filled point is a pair that the figures rest on; an open ring is shown only.';
  return {
    heading: `${analyte}: the differences`,
    body: [
      figure(
        differenceChart(pictures.absolute),
        `Meter less laboratory over the mean of both (Bland and Altman). ${statistics ? 'Dotted lines: confidence limits of bias and limits. ' : ''}${open}`,
      ),
      figure(
        regressionChart(pictures.regression),
        `Meter over laboratory; the line "equal" is where both show the same. ${open}`,
      ),
      ...(statistics ? figures(statistics, settings.confidence.value) : []),
    ],
  };
}

const between = ({ value, low, high }: Estimate, decimals = 2): string =>
  `${value.toFixed(decimals)} (${low === undefined ? 'open' : low.toFixed(decimals)} to ${high === undefined ? 'open' : high.toFixed(decimals)})`;

function figures(s: ComparisonStatistics, confidence: number): Html[] {
  const agreement = (name: string, b: BlandAltman, decimals: number): string[][] => [
    [`bias${name}`, between(b.bias, decimals)],
    [`lower limit of agreement${name}`, between(b.lowerLimit, decimals)],
    [`upper limit of agreement${name}`, between(b.upperLimit, decimals)],
  ];
  const lines = [s.deming, s.passingBablok].flatMap((fit) =>
    fit
      ? [
          [`slope, ${fit.method}`, between(fit.slope, 3)],
          [`intercept, ${fit.method}`, between(fit.intercept)],
        ]
      : [],
  );
  return [
    table(
      ['figure', `value (${confidence * 100} % limits)`],
      [...agreement('', s.absolute, 2), ...agreement(', % of the mean', s.percent, 1), ...lines],
    ),
    ...(s.correlation === undefined
      ? []
      : [
          remark(
            `Pearson’s r is ${s.correlation.toFixed(3)}: it says how widely the values spread, not whether meter and laboratory agree.`,
          ),
        ]),
  ];
}

function bandsSection({ analyte, bands, settings }: Comparison): Section {
  const near = settings.bands.value.nearUnits;
  const number = (says: string) => ({ says, isNumber: true }) as const;
  const shown = (value: number | undefined): string => (value === undefined ? '–' : value.toFixed(2));
  return {
    heading: `${analyte}: by laboratory value`,
    body: [
      table(
        [
          'laboratory value',
          number('pairs'),
          ...(near === undefined ? [] : [number(`within ${near}`)]),
          number('least'),
          number('greatest'),
          number('mean'),
          number('median'),
        ],
        bands.map((b) => [
          b.words,
          b.pairs,
          ...(near === undefined ? [] : [b.near ?? '–']),
          shown(b.least),
          shown(b.greatest),
          shown(b.mean),
          shown(b.median),
        ]),
        'Differences, meter less laboratory. Mean and median only from enough pairs on.',
      ),
    ],
  };
}

function agreementSection({ analyte, agreement, decisions }: Comparison): Section {
  return {
    heading: `${analyte}: compared with published bands`,
    body: [
      list(agreement.flatMap((a) => a.demands.map((d) => `${d.sentence}.`))),
      ...(decisions
        ? [
            paragraph(
              `Against each person’s own target: in ${decisions.agree} of ${Object.values(decisions).reduce((a, b) => a + b, 0)} pairs meter and laboratory agree, in ${decisions['one in, one out']} one is in range and one out, in ${decisions['both out and apart']} both are out and far apart; for ${decisions['no target'] + decisions.unknown} it cannot be said.`,
            ),
          ]
        : []),
      remark(
        `A standard asks for its own samples, people and procedure, which a clinic’s pairs are not: this compares, it proves no conformity. ${agreement.map(({ source }) => `${source.name} ${source.edition}: ${source.citation}.`).join(' ')}`,
      ),
    ],
  };
}

function listSection({ analyte, pairs }: Comparison, zone: Zone): Section {
  const number = (says: string) => ({ says, isNumber: true }) as const;
  return {
    heading: `${analyte}: every pair`,
    body: [
      table(
        ['person', 'laboratory', number('value'), 'apart', 'meter time', number('meter'), number('difference')],
        pairs.map(({ laboratory: l, reading: r, apart, difference, nearness }) => [
          l.patient,
          localMinute(l.time.at, zone),
          `${l.beyond ?? ''}${l.value}`,
          `${spanInWords(Math.abs(apart.bestMs) / 1000)} ${apart.bestMs < 0 ? 'before' : 'after'}${nearness === 'surely' ? '' : ', not sure'}`,
          sureWords(r.time, zone),
          `${r.beyond ?? ''}${r.value}`,
          difference === undefined ? 'off scale' : difference.toFixed(2),
        ]),
      ),
    ],
  };
}
