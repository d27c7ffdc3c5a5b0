"""How a page looks in a browser and on paper: day, night, phone, print."""

STYLESHEET = """
:root { --paper: #ffffff; --ink: #1a1a1a; --quiet: #595959; --rule: #c8c8c8; --band: #f1efea; color-scheme: light dark }
@media (prefers-color-scheme: dark) {
  :root { --paper: #14171a; --ink: #eceae5; --quiet: #b3b1ab; --rule: #4a4f54; --band: #23282d }
}
* { box-sizing: border-box }
html { -webkit-text-size-adjust: 100% }
body { margin: 0; background: var(--paper); color: var(--ink);
  font: 16px/1.5 system-ui, "Segoe UI", Roboto, "Noto Sans", "Liberation Sans", "DejaVu Sans", sans-serif;
  font-variant-numeric: tabular-nums; overflow-wrap: anywhere }
header, main, footer { max-width: 1264px; margin: 0 auto; padding: 0 32px }
main { margin-top: 24px }
h1 { margin: 32px 0 16px; font-size: 16px; font-weight: 600; color: var(--quiet) }
.lead { max-width: 60rem; margin: 0 0 12px; font-size: 20px; line-height: 1.4 }
.lead:first-of-type { font-size: 28px; line-height: 1.3; font-weight: 600 }
.note { margin: 20px 0 0; padding: 12px 16px; background: var(--band); border: 2px solid var(--ink);
  border-left-width: 12px; font-weight: 600 }
h2 { margin: 32px 0 8px; font-size: 20px; line-height: 1.3 }
p, ul, dl { margin: 0 }
nav { display: none }
a { color: inherit }
dl > div { display: grid; grid-template-columns: 11rem minmax(0, 1fr); gap: 0 16px; padding: 6px 0;
  border-top: 1px solid var(--rule) }
dt { color: var(--quiet) }
dd { margin: 0 }
ul { padding-left: 20px; max-width: 70ch }
li { margin: 4px 0 }
.small { margin-top: 4px; font-size: 14px; color: var(--quiet) }
/* the shadow on the right says that there is more; at the end the paper that scrolls along covers it */
.wide { overflow-x: auto; background: linear-gradient(to left, var(--paper) 16px, transparent) right / 48px 100% local,
  linear-gradient(to left, var(--quiet), transparent) right / 8px 100% scroll; background-repeat: no-repeat }
.wide:focus-visible, summary:focus-visible, input:focus-visible { outline: 3px solid var(--ink); outline-offset: 2px }
table { border-collapse: collapse; font-size: 14px; line-height: 1.3 }
th, td { padding: 6px 8px; text-align: right; vertical-align: bottom; white-space: nowrap;
  border-top: 1px solid var(--rule) }
thead th { border-top: 0; color: var(--quiet); font-weight: 400; white-space: normal;
  overflow-wrap: normal }
tbody th { font-weight: 600 }
th:first-child { position: sticky; left: 0; background: var(--paper); text-align: left; padding-left: 0 }
th:last-child, td:last-child { padding-right: 0 }
tr.marked > * { border: solid var(--ink); border-width: 2px 0; font-weight: 700 }
tr.marked > th::before { content: "▸ " }
figure { margin: 32px 0 0 }
section:first-child > h2, figure:first-child { margin-top: 0 }
figure img { display: block; width: 100%; height: auto }
figcaption { margin-bottom: 8px; font-size: 20px; line-height: 1.3; font-weight: 700 }
figure input, figure label { display: none; font-size: 16px }
footer { padding-top: 32px; padding-bottom: 32px; color: var(--quiet); font-size: 14px }
@media (min-width: 1100px) {
  main.pictured { display: grid; grid-template-columns: minmax(0, 1fr) minmax(0, 1fr); gap: 0 48px }
}
@media screen and (max-width: 1099px) {
  main > div + div { margin-top: 32px }
}
@media (max-width: 640px) {
  header, main, footer { padding-left: 16px; padding-right: 16px }
  h1 { margin-top: 16px; font-size: 14px }
  .lead { font-size: 16px }
  .lead:first-of-type { font-size: 20px }
  dl > div { grid-template-columns: minmax(0, 1fr) }
  dt { font-size: 14px }
  nav { display: block; margin-top: 8px }
  main { margin-top: 0 }
  th, td { padding: 6px 2px }
  thead th { font-size: 12px }
  summary, nav a { min-height: 48px; padding: 12px 0 }
  nav a { display: block; border-top: 1px solid var(--rule) }
  nav ul { padding: 0; list-style: none }
  nav li { margin: 0 }
  figure label { display: inline-block; min-height: 48px; padding: 12px 0 }
  figure input { display: inline-block; width: 24px; height: 24px; margin: 12px 8px 0 0; vertical-align: top }
  figure input:checked ~ .wide img { width: 720px }
}
@page { margin: 15mm }
@page { @bottom-right { content: counter(page) " / " counter(pages) } }
@media print {
  :root { --paper: #ffffff; --ink: #000000; --quiet: #333333; --rule: #999999; --band: #ffffff }
  body { font-size: 10pt; line-height: 1.35 }
  header, main, footer { max-width: none; padding: 0 }
  main { margin-top: 12pt }
  main.pictured { display: block }
  h1 { margin-top: 0; font-size: 10pt }
  .lead { font-size: 12pt }
  .lead:first-of-type { font-size: 16pt }
  h2, figcaption { margin-top: 14pt; font-size: 12pt; break-after: avoid }
  dl > div { padding: 2pt 0 }
  table { font-size: 9pt }
  th, td { padding: 2pt 4pt }
  .wide { overflow: visible; background: none }
  .note, dl > div, tr, li { break-inside: avoid }
  nav, figure input, figure label { display: none }
  figure, figure:first-child { break-inside: avoid; break-before: page; margin: 0 }
  figure img { width: auto; max-width: 100%; max-height: 225mm; margin: 0 auto }
}
"""
