/** How the report looks, on a screen by day and by night, and on paper. */
export const reportStyle = `
:root { color-scheme: light dark; --paper: #fbf9f3; --ink: #1d1a16; --soft: #6b6254; --rule: #ddd6c7; --cut: #b7ad99; --accent: #a8321f; }
@media screen and (prefers-color-scheme: dark) { :root { --paper: #15181f; --ink: #e9e3d5; --soft: #a5a49d; --rule: #323742; --cut: #5b606d; --accent: #ff8a66; } }
@media print { :root { --paper: #fff; --rule: #ccc; } }
body { font: 16px/1.5 Georgia, "Times New Roman", serif; color: var(--ink); background: var(--paper); max-width: 46rem; margin: 2rem auto 4rem; padding: 0 1rem; }
h1, h2, h3 { font-weight: normal; line-height: 1.2; margin: 2.2rem 0 .5rem; }
h1 { font-size: 2rem; margin-bottom: 0; } h1 + p { margin-top: .3rem; color: var(--soft); }
h3 { font-size: 1rem; font-style: italic; color: var(--soft); margin: 1.2rem 0 .3rem; }
table { border-collapse: collapse; width: 100%; font: 13px/1.5 system-ui, sans-serif; font-variant-numeric: tabular-nums; }
th, td { text-align: left; padding: .18rem .8rem .18rem 0; border-bottom: 1px solid var(--rule); vertical-align: top; font-weight: normal; white-space: nowrap; }
th { color: var(--soft); }
td:last-child { white-space: normal; overflow-wrap: anywhere; padding-right: 0; }
.facts th { width: 9.5rem; }
td.n { text-align: right; }
svg { display: block; margin: .5rem 0 1rem; }
svg text { font: 10px system-ui, sans-serif; fill: var(--soft); }
.hair { stroke: var(--rule); stroke-width: .7; } .curve { stroke: var(--ink); stroke-width: 1.4; fill: none; }
.ink { stroke: var(--ink); stroke-width: .8; } .cut { stroke: var(--cut); stroke-width: .7; }
.landing { stroke: var(--accent); stroke-width: 1.6; } .dot { fill: var(--ink); }
.mind { border-left: 3px solid var(--accent); padding-left: 1rem; }
.mind h2 { margin-top: 0; } .mind ul { margin: 0; padding-left: 1.1rem; }
.typed { white-space: pre-line; }
.figures table { font-size: 11.5px; }
@media print {
  body { margin: 0; max-width: none; padding: 0; font-size: 11pt; }
  table { font-size: 8.5pt; } .figures table { font-size: 7.5pt; }
  h2, h3 { break-after: avoid; } svg, tr, .mind { break-inside: avoid; }
  .figures { break-before: page; }
}
`;
