"""The set-up sheet as a PDF of one page. No browser, and the same sheet makes the same bytes."""

import io
from typing import Any

import segno
from reportlab.pdfgen.canvas import Canvas

from .sheet_layout import BOLD, REGULAR, Box, layout, letters, printable
from .sheet_parts import Paper, Sheet

RULE, EDGE = 0.35, 0.8  # points
GREY = 0.5  # of the rules, that figures stand out
BORDER = 4  # light modules around a QR code, ISO/IEC 18004


def sheet_pdf(sheet: Sheet, paper: Paper | None = None) -> bytes:
    """The sheet on the owner's paper, or on another."""
    letters()
    page = layout(sheet, paper or sheet.paper)
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(page.width, page.height), invariant=1, pageCompression=1)
    canvas.setTitle(printable(f"{sheet.truck}, run {sheet.run}: set-up sheet"))
    for box in page.boxes:
        canvas.setLineWidth(EDGE if box.height else RULE)
        canvas.setStrokeGray(0 if box.height else GREY)
        if box.height:
            canvas.rect(box.x, box.y, box.width, box.height)
        else:
            canvas.line(box.x, box.y, box.x + box.width, box.y)
    for word in page.words:
        canvas.setFont(BOLD if word.bold else REGULAR, word.size)
        canvas.drawString(word.x, word.y, word.text)
    if page.code is not None and sheet.address is not None:
        _draw_code(canvas, sheet.address, page.code)
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def _draw_code(canvas: Any, address: str, place: Box) -> None:
    """A QR code (ISO/IEC 18004) with its light border inside its place."""
    rows = list(segno.make(address, error="m", micro=False).matrix_iter(border=BORDER))
    side = place.width / len(rows)
    for number, row in enumerate(rows):
        y = place.y + place.height - (number + 1) * side
        for start, end in _dark(list(row)):
            canvas.rect(place.x + start * side, y, (end - start) * side, side, stroke=0, fill=1)


def _dark(row: list[int]) -> list[tuple[int, int]]:
    """Where dark modules begin and end: one rectangle has no seams for a printer to show."""
    edges = [i for i in range(1, len(row)) if bool(row[i]) != bool(row[i - 1])]  # the border is light
    return list(zip(edges[::2], edges[1::2], strict=True))
