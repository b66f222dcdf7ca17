"""The look of the HTML report: paper, ink and a tape's edge; nothing is fetched from anywhere."""

STYLE = """
:root { --ink: #22303c; --quiet: #59646c; --line: #d5cfc1; --paper: #fbf8f1; --card: #ffffff; --say: #22303c; }
* { box-sizing: border-box; }
html { -webkit-text-size-adjust: 100%; }
body { margin: 0; background: var(--paper); color: var(--ink); line-height: 1.5;
  font: 1rem/1.5 "Source Sans 3", "Noto Sans", "DejaVu Sans", system-ui, sans-serif; }
main { max-width: 62rem; margin: 0 auto; padding: 0 1.25rem 3rem; }
.tape { height: 1.1rem; border-bottom: 2px solid var(--ink); background:
  repeating-linear-gradient(90deg, var(--ink) 0 2px, transparent 2px 5rem) 0 100% / auto 0.9rem repeat-x,
  repeating-linear-gradient(90deg, var(--ink) 0 1px, transparent 1px 0.5rem) 0 100% / auto 0.45rem repeat-x, #f3e7bf; }
header { padding: 1.75rem 0 0.5rem; }
header .project { margin: 0; font-size: 1rem; color: var(--quiet); }
header .project b { color: var(--ink); }
.verdict { margin: 0.35rem 0 0.75rem; font-size: clamp(1.7rem, 5.2vw, 2.9rem); line-height: 1.12; font-weight: 700;
  color: var(--say); letter-spacing: -0.01em; }
.verdict .mark { display: inline-block; min-width: 1.4em; margin-right: 0.3em; padding: 0 0.2em; text-align: center;
  border: 3px solid currentColor; border-radius: 0.18em; }
.reasons { margin: 0 0 0.75rem; padding: 0; list-style: none; font-size: 1.15rem; }
.reasons li { margin: 0.3rem 0; padding-left: 0.9rem; border-left: 4px solid var(--say); }
.bars { display: grid; grid-template-columns: 6.2rem 1fr; gap: 0.2rem 0.6rem; align-items: center; max-width: 30rem;
  margin: 0.9rem 0; font-size: 0.9rem; color: var(--quiet); }
.bar { height: 0.8rem; min-width: 2px; border: 1.5px solid var(--ink); }
.bar.have { background: var(--say); }
.bar.need { background: repeating-linear-gradient(135deg, var(--ink) 0 2px, #fff 2px 6px); }
.next { margin: 0.9rem 0 0; padding: 0.7rem 1rem; background: var(--card); border: 1px solid var(--line);
  border-left: 6px solid var(--say); max-width: 46rem; }
h2 { margin: 2.6rem 0 0.8rem; padding-bottom: 0.25rem; font-size: 1.35rem; border-bottom: 2px solid var(--ink); }
h3 { margin: 1.6rem 0 0.5rem; font-size: 1.05rem; }
p, li { overflow-wrap: anywhere; }
section > p, section > ul { max-width: 46rem; }
section > ul { padding-left: 1.2rem; }
section > ul li { margin: 0.35rem 0; }
figure { margin: 1rem 0 1.6rem; padding: 0.75rem; background: var(--card); border: 1px solid var(--line); }
figure img { display: block; max-width: 100%; height: auto; margin: 0 auto; }
figure.photo img { width: 100%; }
figcaption { margin-top: 0.6rem; font-size: 0.92rem; color: var(--quiet); }
figcaption b { color: var(--ink); }
.letters { margin: 0.4rem 0 0; padding: 0; list-style: none; columns: 19rem; font-size: 0.92rem; color: var(--ink); }
.letters li { break-inside: avoid; margin: 0.15rem 0; }
.letters b { display: inline-block; min-width: 1.5em; margin-right: 0.4em; padding: 0 0.3em; text-align: center;
  color: #fff; background: var(--ink); border-radius: 0.8em; font-size: 0.85em; }
table { width: 100%; border-collapse: collapse; font-size: 0.94rem; background: var(--card);
  border: 1px solid var(--line); }
th { text-align: left; padding: 0.45rem 0.6rem; border-bottom: 2px solid var(--ink); vertical-align: bottom;
  font-size: 0.85rem; }
td { padding: 0.45rem 0.6rem; border-bottom: 1px solid var(--line); vertical-align: top; overflow-wrap: break-word; }
tr:nth-child(even) td { background: #f8f5ec; }
.whole { white-space: nowrap; }
td:first-child { font-weight: 600; }
.cautions li::marker { content: "\\25B2\\00A0"; color: #7a5200; font-size: 0.8em; }
footer { margin-top: 3rem; padding-top: 0.6rem; border-top: 1px solid var(--line); font-size: 0.85rem;
  color: var(--quiet); }
@media (max-width: 44rem) {
  main { padding: 0 0.9rem 2rem; }
  figure { margin-left: -0.4rem; margin-right: -0.4rem; padding: 0.4rem; }
  table, tbody, tr, td { display: block; width: 100%; }
  thead { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
  table { border: 0; background: none; }
  tr { margin: 0 0 0.8rem; background: var(--card); border: 1px solid var(--line); border-top: 3px solid var(--ink); }
  tr:nth-child(even) td { background: none; }
  td { display: grid; grid-template-columns: 7.2rem 1fr; gap: 0.6rem; padding: 0.35rem 0.6rem; }
  td.nothing { display: none; }
  td::before { content: attr(data-title); font-weight: 400; color: var(--quiet); font-size: 0.85rem; }
}
@media print {
  @page { margin: 14mm; }
  html { font-size: 9.5pt; }
  body { background: #fff; }
  main, section > p, section > ul, .next { max-width: none; }
  main { padding: 0; }
  header { padding-top: 0; }
  .tape { display: none; }
  tr:nth-child(even) td { background: none; }
  .verdict { font-size: 24pt; }
  figure, tr, .next { break-inside: avoid; }
  figure { border: 0; padding: 0; }
  figure img { max-height: 195mm; width: auto; }
  figure.photo img { max-height: 148mm; width: auto; }
  h2, h3 { break-after: avoid; }
  thead { display: table-header-group; }
}
"""
