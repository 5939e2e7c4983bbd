/**
 * The paper that every report is written on: one self-contained HTML page, ink on paper, that prints on A4 and Letter.
 * Text is escaped here and nowhere else: what a report hands over as text can never become markup. The page asks for
 * nothing from outside and runs no script, and says so to the browser. Pure.
 */
import { STYLE } from './page-style.ts';

/** Markup that was made here or in `svg.ts`. An object, so that plain text can never be taken for it. */
export interface Html {
  readonly html: string;
}

/** What stands in a cell or a paragraph: text, which is escaped, or markup made here. */
export type Content = string | number | Html;

/** One part of a report under its heading. */
export interface Section {
  readonly heading: string;
  readonly body: readonly Html[];
}

/** What a page is made of. All are plain text, except the bodies of the sections. */
export interface PageParts {
  readonly title: string;
  readonly subtitle?: string;
  readonly clinic?: string;
  /** When it was made, in words and local time, with its zone. */
  readonly printedAt: string;
  /** Who or what the sheet is about: stands on every printed sheet. Absent: the title. */
  readonly running?: string;
  readonly sections: readonly Section[];
  /** True for what must fit on one sheet: set smaller when printed. */
  readonly isDense?: boolean;
  /** Language of the page; English where absent. */
  readonly lang?: string;
  /** The cautions in that language. */
  readonly cautions?: readonly string[];
}

/** The cautions at the foot of every report. */
export const CAUTIONS: readonly string[] = [
  'Not a medical device; not for dosing. A result is confirmed and acted on by licensed staff under local policy.',
  'Values outside the measuring range, or that do not fit the person, are confirmed by a laboratory method. Capillary results are wrong with unsuitable samples and with some conditions and medicines: see the meter’s own instructions.',
  'Blood is infectious: gloves, single-use lancets, sharps container; clean the meter between people as its maker says.',
];

const ENTITIES: Readonly<Record<string, string>> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  "'": '&#39;',
};

/** Text made safe for element content and quoted attributes. Characters that no HTML may hold are shown as �. */
export const escapeText = (text: string): string =>
  text
    // biome-ignore lint/suspicious/noControlCharactersInRegex: these are the ones to be replaced.
    .replace(/[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f]/g, '\ufffd')
    .replace(/[&<>"']/g, (found) => ENTITIES[found] ?? found);

/** A local date, perhaps with its time: not to be broken at the end of a line. */
const DATE = /\b\d{4}-\d{2}-\d{2}(?: \d{2}:\d{2})?\b/g;

const htmlOf = (content: Content): string =>
  typeof content === 'object' ? content.html : escapeText(String(content)).replace(DATE, '<span class="d">$&</span>');

/** A paragraph. */
export const paragraph = (...contents: readonly Content[]): Html => ({
  html: `<p>${contents.map(htmlOf).join('')}</p>`,
});

/** A paragraph in the second grey, for how a figure was made and where a rule comes from. */
export const remark = (text: string): Html => ({ html: `<p class="remark">${htmlOf(text)}</p>` });

/** What somebody must look at: the only place for the accent. Said by the bar beside it, too, not by colour alone. */
export const needsYou = (text: string): Html => ({ html: `<p class="needs">${htmlOf(text)}</p>` });

/** Words that carry weight within a sentence or cell. */
export const strong = (text: string): Html => ({ html: `<strong>${escapeText(text)}</strong>` });

/** A list of sentences. */
export const list = (items: readonly Content[]): Html => ({
  html: `<ul>${items.map((item) => `<li>${htmlOf(item)}</li>`).join('')}</ul>`,
});

/** Figures to be seen at a glance, each over what it says. */
export const glance = (figures: readonly { readonly figure: string; readonly says: string }[]): Html => ({
  html: `<dl class="glance">${figures
    .map(({ figure, says }) => `<div><dt>${escapeText(says)}</dt><dd>${escapeText(figure)}</dd></div>`)
    .join('')}</dl>`,
});

/** A head of a table: its words, and whether the column holds numbers, which stand to the right. */
export type Head = string | { readonly says: string; readonly isNumber: true };

/** A table. Its heads are repeated on every printed sheet; no row is cut in two. */
export function table(heads: readonly Head[], rows: readonly (readonly Content[])[], caption?: string): Html {
  const kind = (i: number): string => (typeof heads[i] === 'object' ? ' class="n"' : '');
  const head = heads
    .map((h, i) => `<th scope="col"${kind(i)}>${escapeText(typeof h === 'string' ? h : h.says)}</th>`)
    .join('');
  const body = rows
    .map((row) => `<tr>${row.map((cell, i) => `<td${kind(i)}>${htmlOf(cell)}</td>`).join('')}</tr>`)
    .join('\n');
  const said = caption === undefined ? '' : `<caption>${escapeText(caption)}</caption>`;
  return { html: `<table class="data">${said}<thead><tr>${head}</tr></thead><tbody>\n${body}\n</tbody></table>` };
}

/** A picture with its caption; the numbers behind it can be opened below, and are left out on paper. */
export function figure(picture: Html, caption: string, dataTable?: Html): Html {
  const data = dataTable ? `<details><summary>The numbers of this picture</summary>${dataTable.html}</details>` : '';
  return { html: `<figure>${picture.html}<figcaption>${escapeText(caption)}</figcaption>${data}</figure>` };
}

/** A line to sign on, with what it is for below it. */
export const signature = (...labels: readonly string[]): Html => ({
  html: `<div class="sign">${labels.map((label) => `<span>${escapeText(label)}</span>`).join('')}</div>`,
});

/** The whole document. */
export function htmlPage(parts: PageParts): string {
  const { title, subtitle, clinic, printedAt, sections, lang = 'en', cautions = CAUTIONS } = parts;
  const optional = (tag: string, name: string, text: string | undefined): string =>
    text === undefined ? '' : `<${tag} class="${name}">${escapeText(text)}</${tag}>`;
  const body = sections
    .map(({ heading, body }) => `<section><h2>${escapeText(heading)}</h2>\n${body.map(htmlOf).join('\n')}\n</section>`)
    .join('\n');
  const running = `${escapeText(parts.running ?? title)} <span>${escapeText(printedAt)}</span>`;
  // A table head is the one thing that every browser repeats on each printed sheet; the number of the sheet is left to
  // the page's margin, which newer browsers fill and older ones leave to their own footer.
  return `<!doctype html>
<html lang="${lang}"><head><meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>${escapeText(title)}</title>
<style>${STYLE}</style></head>
<body${parts.isDense ? ' class="dense"' : ''}>
<table class="sheets" role="presentation"><thead><tr><td class="running">${running}</td></tr></thead><tbody><tr><td>
<header>${optional('p', 'clinic', clinic)}<h1>${escapeText(title)}</h1>${optional('p', 'sub', subtitle)}<p class="made">${escapeText(printedAt)}</p></header>
<main>
${body}
</main>
<footer>${cautions.map((caution) => `<p>${escapeText(caution)}</p>`).join('')}</footer>
</td></tr></tbody></table>
</body></html>
`;
}
