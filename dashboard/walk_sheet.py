"""The cycle walk's check list as a page to print, black on white: a page for each end. Pure."""

from html import escape

from tuning.findings import LEVEL, LOOKED_AT, POSITION_WORDS, STEERING, Finding
from tuning.report.walk import HOW_TO, WALK_CAUTIONS, tally
from tuning.truck import Truck
from tuning.units import decimal_length, shop_length, unit_in
from tuning.walk import EndWalk, WalkAnswer, has_shock, places

_STYLE = """
@page { margin: 10mm; }
* { color: #000; background: #fff; }
body { font: 10pt/1.25 system-ui, sans-serif; margin: 0 auto; max-width: 195mm; }
section + section { break-before: page; margin-top: 10mm; }
h1 { font-size: 13pt; margin: 0 0 1mm; display: flex; justify-content: space-between; gap: 4mm; }
h1 span { font-weight: 400; font-size: 9pt; }
p, li { margin: 0.5mm 0; font-size: 8.5pt; }
ul { margin: 1mm 0; padding-left: 4mm; }
.tables { display: grid; grid-template-columns: 1fr 1fr; gap: 0 3mm; }
table { border-collapse: collapse; width: 100%; margin: 1.5mm 0; break-inside: avoid; table-layout: fixed; }
th, td { border: 0.3pt solid #000; padding: 0.2mm 1mm; text-align: left; font-size: 8.5pt; }
tbody th, td { font-weight: 400; height: 5mm; line-height: 1.1; }
thead th { font-weight: 700; border-bottom-width: 1pt; }
th:first-child { width: 41%; }
td.no { border: 0; }
td.contact { font-weight: 700; border-width: 1.5pt; }
.box { display: inline-block; width: 2.6mm; height: 2.6mm; border: 0.8pt solid #000; margin-right: 1.5mm; }
@media screen and (max-width: 600px) { h1, h1 span, .tables { display: block; } }
"""


def sheet(answer: WalkAnswer, truck: Truck) -> str:
    """A whole HTML document."""
    pages = "".join(_page(walk, truck) for walk in answer.ends.values())
    return (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1"><link rel="icon" href="data:,">'
        f"<title>{escape(truck.name)}: cycle walk</title><style>{_STYLE}</style></head>"
        f"<body><main>{pages}</main></body></html>"
    )


def _page(walk: EndWalk, truck: Truck) -> str:
    told = f"{tally(walk)}; " if walk.begun else ""
    head = f"<h1>{escape(truck.name)}: cycle walk, {walk.end}<span>{told}date ____________ who ____________</span></h1>"
    cautions = "".join(f"<li>{escape(line)}</li>" for line in WALK_CAUTIONS)
    tables = "".join(_table(walk, truck, position) for position in LOOKED_AT)
    measured = _measured(walk, truck) if has_shock(truck, walk.end) else ""
    notes = "".join(
        f"<li>{escape(f'{row.place}, {row.position} {row.steering}'.strip())}: "
        f"{escape('; '.join(filter(None, (row.note, row.photo))))}</li>"
        for row in walk.findings
        if row.note or row.photo
    )
    noted = f"<p>Notes and photos:</p><ul>{notes}</ul>" if notes else ""
    how = f"<ul>{cautions}</ul><p>{escape(HOW_TO)}</p>"
    return f"<section>{head}{how}<div class='tables'>{tables}</div>{measured}{noted}</section>"


def _table(walk: EndWalk, truck: Truck, position: str) -> str:
    end = walk.end
    found = {row.key: row for row in walk.findings}
    heads = [name.capitalize() for name in STEERING[end]] if end == "front" else ["Clearance"]
    heads += ["Note"] if end == "rear" else []
    rows = []
    for place in places(truck, end, position, STEERING[end][0]):
        cells = [
            _cell(found.get((end, position, steering, place)), truck)
            if place in places(truck, end, position, steering)
            else '<td class="no"></td>'
            for steering in STEERING[end]
        ]
        cells += ["<td></td>"] if end == "rear" else []
        rows.append(f"<tr><th>{escape(place)}</th>{''.join(cells)}</tr>")
    top = "".join(f"<th>{name}</th>" for name in (POSITION_WORDS[position].capitalize(), *heads))
    return f"<table><thead><tr>{top}</tr></thead><tbody>{''.join(rows)}</tbody></table>"


def _cell(row: Finding | None, truck: Truck) -> str:
    if row is None:
        return '<td><span class="box"></span></td>'
    if row.contact:
        return '<td class="contact">CONTACT</td>'
    return f"<td>✓ {'clear' if row.clearance is None else shop_length(row.clearance, truck.units)}</td>"


def _measured(walk: EndWalk, truck: Truck) -> str:
    taken = {row.position: row for row in walk.measured}
    rows = []
    for position in LEVEL:
        row = taken.get(position)
        figures = (None, None) if row is None else (row.height, row.shaft)
        cells = "".join(
            f"<td>{'' if value is None else decimal_length(value, truck.units)}</td>" for value in figures
        )
        rows.append(f"<tr><th>{POSITION_WORDS[position].capitalize()}</th>{cells}</tr>")
    unit = unit_in("length", truck.units)
    top = f"<th>At one shock, both wheels alike</th><th>Height ({unit})</th><th>Shaft showing ({unit})</th>"
    return f"<table><thead><tr>{top}</tr></thead><tbody>{''.join(rows)}</tbody></table>"
