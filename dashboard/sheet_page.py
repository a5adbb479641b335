"""The set-up sheet as a page of its own to look at and to print, black on white. Pure.

It is cut and sized as the PDF is for the shorter paper, whose letters are wider than most: so it prints on one page.
"""

from collections.abc import Sequence
from html import escape
from urllib.parse import urlencode

import segno

from tuning.sheet_layout import BODY, layout
from tuning.sheet_parts import ATTENTION, TO_WRITE, Section, Sheet
from tuning.truck import CORNERS

PAPERS = {"a4": "A4", "letter": "US letter"}
_STYLE = """
@page { margin: 8mm 11mm; }
:root { color-scheme: only light; }
* { color: #000; background: #fff; box-sizing: border-box; }
html { font: %(body)spt/1.12 system-ui, sans-serif; }
body { margin: 0 auto; max-width: 196mm; padding: 3mm; overflow-wrap: anywhere; }
nav { font-size: 11pt; line-height: 1.6; border-bottom: 1px solid #000; margin-bottom: 4mm; padding-bottom: 2mm; }
nav a { color: #00598c; display: inline-block; padding: 1mm 2mm 1mm 0; }
header { display: flex; justify-content: space-between; gap: 3mm; }
h1 { font-size: 1.7em; line-height: 1.1; margin: 0 0 1mm; }
header img { width: 21mm; height: 21mm; }
p { margin: 0.4mm 0; }
.small, .lines p { font-size: 0.88em; }
table { border-collapse: collapse; width: 100%%; table-layout: fixed; margin-top: 1.6mm; }
th, td { border-bottom: 0.35pt solid #808080; padding: 0.35mm 0.8mm 0.35mm 0; text-align: left; vertical-align: top;
  font-weight: 400; }
thead th { font-size: 1.06em; font-weight: 700; }
th:first-child { width: 28.5%%; }
.main th, .main td, .attention { font-weight: 700; }
td.field { height: 5.2mm; border: 0.8pt solid #000; }
h2 { font-size: 1.06em; margin: 1.6mm 0 0; }
.caution { font-weight: 700; }
.sign { display: flex; margin-top: 1.5mm; flex-wrap: wrap; border: 0.8pt solid #000; }
.sign div { padding: 0.5mm 1mm; font-size: 0.88em; height: 10mm; }
.sign .notes { flex: 1 0 100%%; height: %(notes)spt; border-bottom: 0.8pt solid #000; }
.sign .name { flex: 35; } .sign .date { flex: 25; }
.sign .signature { flex: 40; border: solid #000; border-width: 0 0.8pt; }
@media print {
  nav { display: none; }
  body { max-width: none; padding: 0; }
  .two { display: -webkit-box; -webkit-box-orient: vertical; -webkit-line-clamp: 2; overflow: hidden; }
}
@media screen { html { font-size: 11pt; } body { max-width: 62rem; } }
@media screen and (max-width: 600px) { html { font-size: 8.5pt; } nav { font-size: 12pt; } }
"""


def page(sheet: Sheet, truck: str, runs: Sequence[str]) -> str:
    """A whole HTML document. truck: its name in the log; runs: names of the latest runs; for links."""
    fitted = layout(sheet, "letter")
    cut = fitted.sheet
    style = _STYLE % {"body": round(BODY * fitted.scale, 2), "notes": round(fitted.notes.height)}
    sections = "".join(map(_section, cut.sections))
    steps = " ".join(f"{i}. {step}" for i, step in enumerate(cut.order_of_work, 1))
    return document(
        f"{sheet.truck}, run {sheet.run}: set-up sheet",
        f"{_links(sheet.run, truck, runs)}<main class='sheet'>{_head(cut)}{sections}"
        f"<p class='small'>Order of work: {escape(steps)}</p><p class='small caution'>{escape(cut.caution)}</p>"
        "<div class='sign'><div class='notes'>Notes</div><div class='name'>Name</div>"
        "<div class='signature'>Signature</div><div class='date'>Date</div></div></main>",
        style,
    )


def document(title: str, body: str, style: str = "") -> str:
    """HTML around a body."""
    return (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1"><link rel="icon" href="data:,">'
        f"<title>{escape(title)}</title><style>{style}</style></head><body>{body}</body></html>"
    )


def _links(run: str, truck: str, runs: Sequence[str]) -> str:
    """What is on the screen and not on the paper."""
    one = {"truck": truck, "run": run}
    pdfs = [(f"PDF, {name}", "/sheet.pdf", one | {"paper": key}) for key, name in PAPERS.items()]
    others = [(f"Run {other}", "/sheet", {"truck": truck, "run": other}) for other in runs if other != run]
    links = [("Back to the truck", "/adjust", {"truck": truck}), *pdfs, *others]
    shown = " ".join(
        f'<a href="{escape(f"{to}?{urlencode(query)}")}">{escape(text)}</a>' for text, to, query in links
    )
    return f'<nav aria-label="Sheet">{shown}<p>Prints on one page, A4 or US letter.</p></nav>'


def _head(sheet: Sheet) -> str:
    facts = f"taken {sheet.taken}; odometer {sheet.odometer}; {sheet.runs}"
    code = ""
    if sheet.address is not None:
        uri = segno.make(sheet.address, error="m", micro=False).svg_data_uri(border=4, light="white")
        code = f'<img src="{escape(uri)}" alt="QR code that opens this truck on a phone">'
    return (
        f'<header><div><h1 class="two">{escape(sheet.truck)}</h1>'
        f'<p class="two"><b>Set-up sheet, run {escape(sheet.run)}</b> {escape(facts)}</p></div>{code}</header>'
    )


def _section(section: Section) -> str:
    lines = "".join(f'<p class="two">{escape(line)}</p>' for line in section.lines)
    if not section.rows:
        return f"<h2>{escape(section.title)}</h2><div class='lines'>{lines}</div>"
    heads = "".join(f'<th scope="col">{corner}</th>' for corner in CORNERS)
    rows = "".join(_row(row, row[0] == section.main) for row in section.rows)
    return (
        f'<table><thead><tr><th scope="col">{escape(section.title)}</th>{heads}</tr></thead>'
        f"<tbody>{rows}</tbody></table><div class='lines'>{lines}</div>"
    )


def _row(row: tuple[str, ...], main: bool) -> str:
    cells = "".join(map(_cell, row[1:]))
    label = f'<th scope="row"><div class="two">{escape(row[0])}</div></th>'
    return f"<tr{' class=main' if main else ''}>{label}{cells}</tr>"


def _cell(text: str) -> str:
    if text == TO_WRITE:
        return '<td class="field"></td>'
    attention = " attention" if text.endswith(ATTENTION) else ""
    return f'<td><div class="two{attention}">{escape(text)}</div></td>'
