"""Style: how the page looks, on a screen and on A4 paper."""

STYLE = """
:root { color-scheme: light; --ink: #1b1f27; --grey: #5c6470; --hair: #d7dbe0; --wash: #f5f6f8; }
@page { size: A4; margin: 10mm 14mm; }
* { box-sizing: border-box; }
html { background: #e9ebee; -webkit-print-color-adjust: exact; print-color-adjust: exact; }
body { margin: 0; color: var(--ink); font: 400 9.4pt/1.42 "Helvetica Neue", Helvetica, Arial,
  "Liberation Sans", "DejaVu Sans", sans-serif; font-variant-numeric: tabular-nums; }
main { width: 210mm; max-width: 100%; margin: 8mm auto; padding: 14mm; background: #fff;
  box-shadow: 0 1px 5px rgba(0, 0, 0, .18); }
header { padding-bottom: 3mm; margin-bottom: 4.5mm; border-bottom: .7mm solid var(--ink); }
.eyebrow { margin: 0; font-size: 7.6pt; letter-spacing: .16em; text-transform: uppercase;
  color: var(--grey); }
h1 { margin: .6mm 0 .8mm; font-size: 25pt; line-height: 1.1; font-weight: 600; letter-spacing: -.012em;
  overflow-wrap: anywhere; }
.subject { margin: 0; font-size: 13pt; font-weight: 500; overflow-wrap: anywhere; }
.when { margin: .6mm 0 0; color: var(--grey); }
.note { margin: 2mm 0 0; padding-left: 3mm; border-left: .6mm solid var(--hair); max-width: 150mm;
  overflow-wrap: anywhere; }
.states { margin: 2.5mm 0 0; padding: 1.8mm 3mm 1.8mm 7mm; background: var(--wash); }
section { margin: 0 0 5.6mm; }
h2 { margin: 0 0 1.6mm; font-size: 7.6pt; font-weight: 600; letter-spacing: .16em; text-transform: uppercase;
  color: var(--grey); }
h3 { margin: 2.5mm 0 .6mm; font-size: 9.4pt; font-weight: 600; }
table { width: 100%; border-collapse: collapse; }
th, td { padding: .95mm 2.2mm .95mm 0; text-align: left; vertical-align: baseline; overflow-wrap: anywhere;
  border-bottom: .2mm solid var(--hair); }
tr > :last-child { padding-right: 0; }
thead th, thead td { font-size: 7.6pt; font-weight: 500; color: var(--grey); padding-bottom: .7mm;
  border-bottom-color: var(--ink); }
tbody th { font-weight: 600; white-space: nowrap; }
thead { display: table-header-group; }
tr { break-inside: avoid; }
.num { text-align: right; white-space: nowrap; }
.light td:last-child { padding-left: 3mm; white-space: nowrap; }
.light thead th:last-child { padding-left: 3mm; }
.dot { width: 6mm; padding-right: 0; }
.dot svg { display: block; transform: translateY(.4mm); }
.role { margin-left: 1.6mm; font-weight: 400; color: var(--grey); }
.rig td, .rig tbody th { font-size: 8.6pt; line-height: 1.34; padding-top: .7mm; padding-bottom: .7mm; }
.pieces { columns: 2; column-gap: 8mm; }
.pieces li { break-inside: avoid; }
.rig .role { display: block; margin: 0; font-size: 8pt; }
.bars { width: 14mm; }
.bar { vertical-align: middle; transform: translateY(-.3mm); }
.slots td, .slots tbody th { padding-top: .4mm; padding-bottom: .4mm; font-size: 8pt; }
.off, .off th { color: var(--grey); font-weight: 400; }
.small { margin: 1.4mm 0 0; font-size: 7.6pt; color: var(--grey); }
.remarks { margin: 1.6mm 0 0; padding: 0; list-style: none; font-size: 8.6pt; overflow-wrap: anywhere; }
.remarks b { font-weight: 600; }
.two { display: flex; gap: 8mm; align-items: flex-start; }
.two > div:first-child { flex: 0 0 auto; }
.across { display: flex; flex-wrap: wrap; gap: 0 7mm; }
.side { flex: 1 1 0; min-width: 0; }
dl { margin: 0; }
dt { font-size: 7.6pt; color: var(--grey); }
dd { margin: 0 0 1.3mm; overflow-wrap: anywhere; }
svg { font-family: inherit; overflow: visible; }
.plan, .chroma { display: block; max-width: 100%; height: auto; }
.label text { paint-order: stroke; stroke: #fff; stroke-width: .7; stroke-linejoin: round; }
.match img { width: 100%; max-width: 60mm; display: block; }
.figures { display: flex; gap: 4mm; align-items: flex-start; justify-content: space-between; }
figure { margin: 0; min-width: 0; }
figcaption { font-size: 7.6pt; color: var(--grey); }
.events td:first-child { width: 26mm; }
.legend { display: flex; flex-wrap: wrap; gap: .4mm 5mm; margin: .6mm 0 0; padding: 0; list-style: none;
  font-size: 7.6pt; }
.legend svg { margin-right: 1.4mm; }
.slot { margin-right: 3mm; white-space: nowrap; display: inline-block; }
.slot i { font-style: normal; color: var(--grey); }
.cautions { padding: 2.6mm 3.4mm; border: .3mm solid var(--ink); }
.cautions ul { margin: 0; padding-left: 4.4mm; font-size: 8pt; columns: 2; column-gap: 9mm; }
.cautions li { break-inside: avoid; }
.keep { break-inside: avoid; }
h2, h3 { break-after: avoid; }
footer { color: var(--grey); font-size: 7.6pt; }
@media print {
  html { background: none; }
  body { font-size: 8.4pt; line-height: 1.3; }
  main { width: auto; margin: 0; padding: 0; box-shadow: none; }
  header { padding-bottom: 1.6mm; margin-bottom: 2.6mm; }
  h1 { font-size: 20pt; }
  .subject { font-size: 11pt; }
  section { margin-bottom: 3.2mm; }
  h2 { margin-bottom: .8mm; }
  th, td { padding-top: .4mm; padding-bottom: .4mm; }
  .rig td:nth-child(2) { width: 36mm; }
  .tight td, .tight tbody th, .slots td, .slots tbody th { padding-top: .2mm; padding-bottom: .2mm; }
  .tight td, .tight tbody th, .slots td, .slots tbody th { font-size: 7.6pt; }
  .rig td, .rig tbody th { padding-top: .3mm; padding-bottom: .3mm; font-size: 7.6pt; line-height: 1.2; }
  .states { margin-top: 1.2mm; padding-top: .8mm; padding-bottom: .8mm; font-size: 7.6pt; }
  .small, .legend, figcaption { margin-top: .5mm; font-size: 7pt; }
  .remarks { margin-top: .8mm; font-size: 7.6pt; }
  .pieces { columns: 3; }
  dd { margin-bottom: .6mm; }
  dt { font-size: 7pt; }
  .chroma { max-height: 54mm; width: auto; }
  .cautions { padding: 1.4mm 2.4mm; }
  .cautions ul { font-size: 7.4pt; }
}
@media screen and (max-width: 700px) {
  main { padding: 5mm; margin: 0; }
  .two, .figures { display: block; }
  section { overflow-x: auto; }
}
"""
