"""How the briefing document looks in a browser and on paper, beside what all pages share."""

DOCUMENT_STYLE = """
.sign { width: 1.25em; height: 1.25em; vertical-align: -0.28em; flex: none }
.sign .rim { stroke: currentColor; stroke-width: 1.6 }
.sign .paper { fill: var(--paper) }
.sign .hollow { fill: none; stroke-width: 2.4 }
.aid { color: var(--quiet); font-size: 14px }
.crew { display: grid; grid-template-columns: minmax(0, 1fr); gap: 24px }
.crew h2, .crew figure { margin-top: 0 }
.crew h2 small { display: block; font-size: 14px; font-weight: 400; color: var(--quiet) }
.answer { display: grid; grid-template-columns: auto minmax(0, 1fr); gap: 0 24px; align-items: start;
  border: 3px solid var(--ink); padding: 16px }
.state { margin: 0; font-size: 44px; line-height: 1.1; font-weight: 700; white-space: nowrap }
.headline { margin: 0 0 8px; font-size: 20px; line-height: 1.3; font-weight: 600 }
.answer ul { padding: 0; list-style: none }
.answer li { padding-left: 28px; text-indent: -28px }
.answer li .sign { width: 20px; height: 20px; margin-right: 8px }
.lines { margin: 0; padding: 0; list-style: none; max-width: none }
.lines li { display: grid; grid-template-columns: 11.5rem minmax(0, 1fr); gap: 0 16px; margin: 0;
  padding: 4px 0; border-top: 1px solid var(--rule) }
.lines .key { font-weight: 600 }
.clock li { grid-template-columns: 9.5rem minmax(0, 1fr) }
.lines .more { display: block }
.calls a, .calls .phone { white-space: nowrap }
.calls li { grid-template-columns: minmax(0, 1fr) auto }
.lines small { display: block; font-size: 14px; color: var(--quiet) }
.cautions ul { max-width: none }
.chapter > h2 { margin-top: 48px; padding-top: 8px; border-top: 3px solid var(--ink); font-size: 28px }
.chapter h3 { margin: 24px 0 8px; font-size: 20px; line-height: 1.3 }
.chapter figure { margin-top: 24px; max-width: 880px }
.judged { margin: 0; padding: 0; list-style: none; max-width: none }
.judged li { display: grid; grid-template-columns: 9.5rem minmax(0, 1.2fr) minmax(0, 1fr) minmax(0, 1fr); gap: 0 16px;
  margin: 0; padding: 8px 0; border-top: 1px solid var(--rule); break-inside: avoid }
.judged .word { font-weight: 700 }
.judged .word .sign { margin-right: 8px }
.judged .why { grid-column: 2 / -1; color: var(--quiet) }
.judged .label { display: block; font-size: 12px; color: var(--quiet) }
.draft { margin-top: 16px; border: 2px dashed var(--ink); padding: 12px 16px; max-width: 70ch }
.draft .mark { margin: 0 0 8px; font-weight: 700; text-transform: uppercase; letter-spacing: 0.06em }
.draft pre { margin: 12px 0; font: inherit; white-space: pre-wrap }
@media (min-width: 900px) {
  .crew { grid-template-columns: minmax(0, 1.3fr) minmax(0, 1fr); gap: 24px 48px }
  .answer, .cautions, .crew > .aid { grid-column: 1 / -1 }
  .map { grid-column: 1; grid-row: 2 }
  .clock { grid-column: 2; grid-row: 2 }
  .numbers { grid-column: 1; grid-row: 3 }
  .calls { grid-column: 2; grid-row: 3 }
  .cautions ul { columns: 2; column-gap: 48px }
  .cautions li { break-inside: avoid; margin: 0 0 4px }
}
@media screen and (max-width: 640px) {
  .answer { grid-template-columns: minmax(0, 1fr); padding: 12px }
  .state { white-space: normal }
  .headline { font-size: 16px }
  .map img { max-height: 50vh; object-fit: contain }
  .map input:checked ~ .wide img { max-height: none }
  .lines li, .clock li { grid-template-columns: minmax(0, 1fr) }
  .calls li { grid-template-columns: minmax(0, 1fr) minmax(0, max-content); align-items: center }
  .calls a, .calls .phone { white-space: normal }
  .calls a { display: inline-block; min-height: 48px; min-width: 48px; padding: 12px 0 }
  .judged li { grid-template-columns: minmax(0, 1fr) minmax(0, 1fr) }
  .judged .word, .judged .title, .judged .why { grid-column: 1 / -1 }
  .document th:first-child { min-width: 7rem; max-width: 44vw; white-space: normal }
  .chapter > h2 { margin-top: 32px; font-size: 20px }
  .chapter h3 { font-size: 16px }
}
@page { margin: 12mm 14mm 14mm }
@page { @bottom-right { font-size: 8pt } }
@media print {
  .document > header h1 { margin: 0 0 4pt }
  .document .note { margin: 0 0 6pt; padding: 3pt 6pt; border-width: 1pt; border-left-width: 6pt }
  .crew { grid-template-columns: minmax(0, 1fr) minmax(0, 1fr); gap: 4pt 6mm; font-size: 8.5pt; line-height: 1.25;
    break-after: page }
  .answer, .cautions, .crew > .aid { grid-column: 1 / -1 }
  .map { grid-column: 1; grid-row: 2 }
  .clock { grid-column: 2; grid-row: 2 }
  .numbers { grid-column: 1; grid-row: 3 }
  .calls { grid-column: 2; grid-row: 3 }
  .document main { margin-top: 0 }
  .answer { gap: 0 5mm; padding: 5pt 8pt; border-width: 1.5pt }
  .state { font-size: 20pt }
  .headline { margin: 0 0 2pt; font-size: 11pt }
  .answer ul { max-width: none }
  .answer li { margin: 1pt 0; padding-left: 14pt; text-indent: -14pt }
  .answer li .sign { width: 10pt; height: 10pt; margin-right: 4pt }
  .crew h2, .crew figcaption { margin: 0 0 2pt; font-size: 10pt }
  .crew h2 small { display: inline; font-size: 8pt }
  .crew figure { break-before: auto }
  .crew figure img { max-height: 70mm; margin: 0 }
  .lines li { grid-template-columns: 33mm minmax(0, 1fr); gap: 0 2mm; padding: 1pt 0;
    border-top-width: 0.5pt }
  .clock li { grid-template-columns: 27mm minmax(0, 1fr) }
  .calls li { grid-template-columns: minmax(0, 1fr) 28mm }
  .calls a, .calls .phone { white-space: normal; text-align: right }
  .lines small, .aid, .small { display: inline; font-size: 7.5pt }
  .lines small::before { content: " " }
  .aid { display: block }
  .cautions ul { columns: 2; column-gap: 6mm; padding-left: 10pt; font-size: 7.5pt; line-height: 1.22 }
  .cautions li { margin: 0 0 1.5pt }
  .chapter > h2 { margin-top: 16pt; padding-top: 3pt; font-size: 14pt; border-top-width: 1.5pt; break-after: avoid }
  .chapter:first-of-type > h2 { margin-top: 0 }
  .chapter h3 { margin: 10pt 0 3pt; font-size: 11pt; break-after: avoid }
  .chapter figure, .chapter figure:first-child { margin-top: 8pt; break-before: auto }
  .chapter figure img { max-height: 215mm }
  .judged li { grid-template-columns: 26mm minmax(0, 1.2fr) minmax(0, 1fr) minmax(0, 1fr); gap: 0 3mm; padding: 2pt 0;
    font-size: 9pt }
  .judged .label { font-size: 7.5pt }
  .draft { break-inside: auto; max-width: none; padding: 6pt 8pt; margin-top: 8pt }
  a { text-decoration: none }
  .document table { width: 100% }
  .document th, .document td { white-space: normal; overflow-wrap: break-word }
  .document th:first-child { text-align: left }
}
"""
