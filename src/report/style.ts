/** The look of the printable page. No fonts, pictures or scripts from anywhere: the file stands alone. */
export const REPORT_STYLE = `
:root {
  color-scheme: light;
  --paper: #f6f1e6; --sheet: #fffdf7; --sunk: #ece5d5; --ink: #13211c; --ink-soft: #46564e; --line: #d6cdb9;
  --edge: #8b8a7a; --go: #123f34; --go-soft: #dcebe3; --left: #1756b0; --right: #b8410a; --stripe: #f0682a;
  --warn: #6b4a00; --warn-soft: #fdf0c9; --stop: #9c1c24; --stop-soft: #fbe0de;
}
* { box-sizing: border-box; margin: 0; padding: 0; }
html { -webkit-text-size-adjust: 100%; background: var(--paper); }
body {
  max-width: 800px; margin: 0 auto; padding: 28px 36px 48px; background: var(--sheet); color: var(--ink);
  font: 15px/1.5 ui-rounded, "SF Pro Rounded", "Segoe UI Variable", "Segoe UI", Roboto, "Noto Sans", system-ui, sans-serif;
  font-variant-numeric: tabular-nums; overflow-wrap: break-word;
}
h1 { font-size: 27px; line-height: 1.15; letter-spacing: -0.015em; text-wrap: balance; }
h2 { font-size: 18px; line-height: 1.25; margin: 30px 0 10px; padding-top: 12px; border-top: 2px solid var(--go); break-after: avoid; }
h3 { font-size: 15px; margin: 18px 0 6px; break-after: avoid; }
p + p { margin-top: 8px; }
.before { break-inside: avoid; break-after: avoid; margin-bottom: 8px; }
.keep { break-inside: avoid; }
.soft { color: var(--ink-soft); }
.small { font-size: 13px; }
svg { display: block; max-width: 100%; height: auto; }
.wide svg { width: 100%; }
.narrow { display: none; }
figure { margin: 18px 0 0; break-inside: avoid; }
.pair { display: grid; grid-template-columns: 3fr 2fr; gap: 0 24px; }
figcaption { margin-bottom: 8px; break-after: avoid; }
figcaption strong { display: block; }
figcaption span { color: var(--ink-soft); font-size: 13px; }

.head { display: flex; justify-content: space-between; align-items: flex-start; gap: 24px; margin-bottom: 16px; }
.head .name { display: flex; align-items: center; gap: 10px; font-weight: 700; color: var(--go); }
.head .name svg { width: 30px; height: 30px; }
.head .by { text-align: right; font-size: 13px; line-height: 1.35; }
.head .by img { max-height: 48px; max-width: 150px; margin-left: auto; display: block; }
.subject { color: var(--ink-soft); margin-top: 4px; }

.verdict { margin: 18px 0 0; padding: 18px 22px 16px; border-radius: 14px; background: var(--go-soft); break-inside: avoid; }
.verdict.change { background: var(--warn-soft); }
.verdict.open { background: var(--sunk); }
.verdict .sentence { font-size: 22px; line-height: 1.25; font-weight: 700; letter-spacing: -0.01em; text-wrap: balance; }
.verdict .act { display: flex; flex-wrap: wrap; gap: 6px 30px; margin-top: 12px; }
.verdict .act div { min-width: 110px; }
.verdict .act b { display: block; font-size: 26px; line-height: 1.15; font-weight: 750; }
.verdict .act span { font-size: 13px; color: var(--ink-soft); }
.verdict .evidence { margin-top: 12px; }
.picture { margin-top: 16px; }
.next { margin-top: 16px; padding: 12px 18px; border-left: 5px solid var(--stripe); background: var(--paper); border-radius: 0 10px 10px 0; break-inside: avoid; }

table { width: 100%; border-collapse: collapse; font-size: 13.5px; }
th { text-align: left; font-weight: 650; color: var(--ink-soft); font-size: 12.5px; vertical-align: bottom; }
th, td { padding: 4px 10px 4px 0; border-bottom: 1px solid var(--line); }
td { vertical-align: top; }
th.n, td.n { text-align: right; white-space: nowrap; }
tr { break-inside: avoid; }
td.foot { white-space: nowrap; }
td.foot svg { display: inline-block; width: 11px; height: 11px; vertical-align: -1.5px; margin-right: 4px; }
.passes { display: grid; grid-template-columns: repeat(auto-fill, minmax(min(100%, 310px), 1fr)); gap: 14px 26px; align-items: start; }
.landings { font-size: 11px; line-height: 1.4; }
.landings th { font-size: 10.5px; }
.landings th, .landings td { padding: 1.5px 5px 1.5px 0; }
.landings th:last-child, .landings td:last-child { padding-right: 0; }
.landings caption { text-align: left; font-size: 13px; font-weight: 650; padding-bottom: 2px; }
.landings caption span { display: block; font-weight: 400; font-size: 11.5px; color: var(--ink-soft); }
.doubt td { color: var(--ink-soft); font-style: italic; }
.value { font-weight: 700; white-space: nowrap; }

ul { padding-left: 20px; }
li { margin: 4px 0; }
.caution { margin-top: 30px; padding: 14px 18px; border-radius: 12px; border: 2px solid var(--stop); break-inside: avoid; }
.caution h2 { border: 0; margin: 0 0 6px; padding: 0; color: var(--stop); }
.frames { display: grid; grid-template-columns: repeat(auto-fill, minmax(220px, 1fr)); gap: 14px; }
.frames figure { margin: 0; }
.frames img { width: 100%; border-radius: 8px; display: block; }
.frames figcaption { font-size: 12.5px; margin: 4px 0 0; color: var(--ink-soft); }
.facts { display: grid; grid-template-columns: max-content 1fr; gap: 3px 18px; font-size: 13.5px; }
.facts dt { color: var(--ink-soft); }
footer { break-before: avoid; margin-top: 28px; padding-top: 10px; border-top: 1px solid var(--line); font-size: 12.5px; color: var(--ink-soft); }

.one-page .caution ul { columns: 2; column-gap: 28px; }
.one-page .caution li { break-inside: avoid; margin-top: 0; }
.one-page .notes { margin-top: 12px; }
.beside { display: grid; grid-template-columns: minmax(0, 1.5fr) minmax(0, 1fr); gap: 0 22px; align-items: start; }
.beside ul { padding-left: 16px; }
.beside ul + p { margin-top: 8px; }

@media screen and (max-width: 640px) {
  .one-page .caution ul { columns: 1; }
  .beside { display: block; }
  body { padding: 18px 16px 40px; }
  .pair { display: block; }
  .wide { display: none; }
  .narrow { display: block; }
  .head { flex-direction: column; gap: 10px; }
  .head .by { text-align: left; }
  .head .by img { margin-left: 0; }
  .verdict { padding: 16px; }
  .numbers thead { display: none; }
  .numbers tr { display: grid; grid-template-columns: auto 1fr; gap: 0 14px; padding: 6px 0; border-bottom: 1px solid var(--line); }
  .numbers td { border: 0; padding: 0; }
  .numbers td:first-child { grid-column: 1 / -1; }
  .numbers td.n { text-align: left; white-space: normal; }
  .numbers td:last-child { grid-column: 2; color: var(--ink-soft); }
  .numbers td:empty { display: none; }
  .facts { grid-template-columns: 1fr; gap: 0; }
  .facts dd { margin-bottom: 8px; }
}

@page {
  margin: 14mm 14mm 16mm;
  @bottom-left { content: "Not a diagnosis and not a prescription."; font: 8pt system-ui, sans-serif; color: #46564e; }
  @bottom-right { content: counter(page) " / " counter(pages); font: 8pt system-ui, sans-serif; color: #46564e; }
}
@media print {
  html, body { background: #fff; }
  body { max-width: none; padding: 0; font-size: 10.5pt; -webkit-print-color-adjust: exact; print-color-adjust: exact; }
  h1 { font-size: 19pt; }
  .verdict { padding: 12px 18px; }
  .verdict .sentence { font-size: 14pt; }
  .verdict .act, .verdict .evidence { margin-top: 8px; }
  .next { padding: 8px 16px; }
  .numbers { line-height: 1.3; }
  h2 { margin-top: 22px; padding-top: 9px; }
  .caution h2 { margin: 0 0 4px; padding: 0; }
  .verdict, .picture, .next { margin-top: 12px; }
  .caution { margin-top: 12px; }
  figure { margin-top: 14px; }
  .numbers { font-size: 9.5pt; }
  .numbers td, .numbers th { padding-top: 2.5px; padding-bottom: 2.5px; }
  .small, .caution { font-size: 9pt; line-height: 1.4; }
  .caution { padding: 9px 16px; }
  .caution h2 { font-size: 12pt; }
  .landings { font-size: 7.5pt; }
  .landings th { font-size: 7pt; }
  li { margin: 2px 0; }
}
/* One sheet, on A4 as on the shorter and wider Letter: where room is short the picture gives some of its own. */
@media print {
  .one-page { display: flex; flex-direction: column; height: 100vh; font-size: 9pt; line-height: 1.3; }
  .one-page main { flex: 1 1 auto; min-height: 0; display: flex; flex-direction: column; }
  .one-page main > section:first-child { flex: 0 1 auto; min-height: 240px; display: flex; flex-direction: column; }
  .one-page .head { margin-bottom: 6px; }
  .one-page .head .by { font-size: 8pt; }
  .one-page .head .by img { max-height: 36px; }
  .one-page h1 { font-size: 15pt; }
  .one-page h2 { font-size: 11pt; margin: 9px 0 3px; padding-top: 5px; }
  .one-page .verdict { padding: 8px 16px; margin-top: 8px; }
  .one-page .verdict .sentence { font-size: 12.5pt; }
  .one-page .verdict .act { margin-top: 4px; }
  .one-page .verdict .act b { font-size: 15pt; }
  .one-page .verdict .act span, .one-page .small { font-size: 8pt; line-height: 1.3; }
  .one-page .verdict .evidence { margin-top: 4px; }
  .one-page .picture { flex: 0 1 auto; min-height: 80px; margin: 7px 0 0; display: flex; justify-content: center; }
  .one-page .picture .wide { height: 100%; }
  .one-page .picture svg { width: auto; max-width: 100%; max-height: 100%; height: 100%; }
  .one-page .next { margin-top: 7px; padding: 5px 14px; }
  .one-page .notes { margin-top: 7px; }
  .one-page .numbers { font-size: 8pt; }
  .one-page .numbers th { font-size: 7.5pt; }
  .one-page .numbers td, .one-page .numbers th { padding: 1.5px 6px 1.5px 0; }
  .one-page p + p, .beside ul + p { margin-top: 3px; }
  .one-page .caution { margin-top: 9px; padding: 6px 14px; font-size: 7.5pt; line-height: 1.25; }
  .one-page .caution h2 { font-size: 10pt; margin: 0 0 2px; padding: 0; }
  .one-page footer { margin-top: 6px; padding-top: 3px; font-size: 7.5pt; }
}
`;
