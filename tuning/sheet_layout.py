"""The set-up sheet set on one page: every word, field and rule with its place. Points (1/72 in) from the lower left.

A full sheet is set smaller first, then its long lists are cut and say so. The letters are Bitstream Vera, which comes
with reportlab; what it can't show is spelt otherwise.
"""

import unicodedata
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from .sheet_parts import ATTENTION, TO_WRITE, Paper, Section, Sheet, shortened
from .truck import CORNERS

MM = 72 / 25.4
SIZES: dict[Paper, tuple[float, float]] = {"a4": (210 * MM, 297 * MM), "letter": (612.0, 792.0)}
MARGIN = 11 * MM
SCALES = (1.0, 0.96, 0.92, 0.88, 0.84, 0.8)
CUTS = (12, 8, 6, 5, 4, 3, 2, 1)  # lines left in a section where the smallest letters don't help
TITLE, BODY, SMALL = 17.0, 8.2, 7.2
SMALLEST_TITLE = 10.0
FIELD = 5.2 * MM  # high enough to write in with a pencil
NOTES = 13 * MM  # least height of the field for notes
SIGNED = 10 * MM
CODE = 21 * MM  # side of the QR code, its white border with it
CODE_SAYS = "The code opens this truck on a phone in the shop's network."
LABEL = 0.285  # of the width, for the names of the rows
PAD = 2.5
LEADING, ASCENT, DESCENT = 1.2, 0.94, 0.24  # of the letters' size; Vera's are 0.928 and 0.236
NARROW = 0.16  # of the letters' size: none of Vera's is narrower
REGULAR, BOLD = "Vera", "VeraBd"
SPELT = {"⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8", "→": "to", "−": "-", "✓": "x", "″": '"', "′": "'"}


@dataclass(frozen=True)
class Word:
    """A line of text. y: its baseline."""

    text: str
    x: float
    y: float
    size: float
    bold: bool

    @cached_property
    def width(self) -> float:
        """How far it runs."""
        return width_of(self.text, self.size, self.bold)


@dataclass(frozen=True)
class Box:
    """A field, or where its height is zero a rule. x, y: its lower left corner."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class Page:
    """All that is on the page. sheet: as it was cut to go there; scale: of its letters. notes: the field for them.
    code: where the QR code of the address stands."""

    sheet: Sheet
    scale: float
    width: float
    height: float
    words: tuple[Word, ...]
    boxes: tuple[Box, ...]
    notes: Box
    code: Box | None


def layout(sheet: Sheet, paper: Paper) -> Page:
    """The sheet on one page, as large as it fits and as whole as it fits."""
    smallest, cut_most = SCALES[-1], shortened(sheet, CUTS[-1])
    tries = [(sheet, scale, 2) for scale in SCALES]
    tries += [(shortened(sheet, most), smallest, 2) for most in CUTS] + [(cut_most, smallest, 1)]
    for cut, scale, deep in tries:
        page = _set(cut, paper, scale, deep)
        if page is not None:
            return page
    raise AssertionError("what is never cut is higher than the page")


# ---------------------------------------------------------------- letters


@cache
def letters() -> frozenset[int]:
    """Code points that both faces can show; asked for first, since it makes the faces known."""
    shown = []
    for name in (REGULAR, BOLD):
        font = TTFont(name, f"{name}.ttf")
        pdfmetrics.registerFont(font)
        shown.append(font.face.charToGlyph)
    return frozenset(code for code in shown[0] if code in shown[1] and code >= ord(" "))


@lru_cache(4096)  # a full page is tried in many sizes
def printable(text: str) -> str:
    """The text in letters that can be shown: fractions spelt out, accents dropped, `?` for what is left."""
    found = []
    for char in unicodedata.normalize("NFC", text):
        if unicodedata.category(char)[0] in "CZ":
            found.append(" ")
        elif ord(char) in letters():
            found.append(char)
        elif char in SPELT:
            spaced = found and found[-1].isdigit() and "/" in SPELT[char]
            found.append(f" {SPELT[char]}" if spaced else SPELT[char])
        else:
            base = unicodedata.normalize("NFKD", char)[0]
            found.append(base if ord(base) in letters() and base.strip() else "?")
    return " ".join("".join(found).split())


def unshown(sheet: Sheet) -> str:
    """Letters of the sheet's names and texts that stand as `?` in the PDF."""
    texts = [sheet.truck, sheet.run]
    for section in sheet.sections:
        texts += [text for row in section.rows for text in row] + list(section.lines)
    lost = {char for text in texts for char in unicodedata.normalize("NFC", text) if char != "?"}
    return "".join(sorted(char for char in lost if printable(char) == "?"))


def width_of(text: str, size: float, bold: bool = False) -> float:
    """How far a text runs (points)."""
    letters()
    return float(pdfmetrics.stringWidth(text, BOLD if bold else REGULAR, size))


def wrapped(text: str, width: float, size: float, bold: bool, most: int) -> list[str]:
    """The text in lines no wider than `width`; what does not go into `most` lines ends in `…`."""
    left = printable(text)
    lines: list[str] = []
    while left and len(lines) < most:
        end = _longest(left, width, size, bold)
        if end < len(left) and len(lines) == most - 1:
            end = _longest(left, width - width_of("…", size, bold), size, bold)
            return [*lines, f"{left[:end].rstrip()}…"]
        space = left.rfind(" ", 0, end + 1) if end < len(left) else -1
        end = space if space > 0 else end
        lines.append(left[:end].rstrip())
        left = left[end:].lstrip()
    return lines


def _longest(text: str, width: float, size: float, bold: bool) -> int:
    """How many of its first letters go into a width; one at least."""
    low, high = 1, min(len(text), int(width / size / NARROW) + 1)
    while low < high:
        middle = (low + high + 1) // 2
        if width_of(text[:middle], size, bold) <= width:
            low = middle
        else:
            high = middle - 1
    return low


# ---------------------------------------------------------------- setting


class _Pen:
    """Sets from the top down. y: the lowest point so far."""

    def __init__(self, paper: Paper, scale: float) -> None:
        self.width, self.height = SIZES[paper]
        self.scale = scale
        self.y = self.height - MARGIN
        self.words: list[Word] = []
        self.boxes: list[Box] = []

    @property
    def room(self) -> float:
        """Width between the margins."""
        return self.width - 2 * MARGIN

    def write(self, lines: list[str], x: float, size: float, bold: bool = False) -> float:
        """Set lines from the lowest point so far down, which stays where it is; returns their height."""
        for number, text in enumerate(lines):
            self.words.append(Word(text, x, self.y - (number * LEADING + ASCENT) * size, size, bold))
        return len(lines) * LEADING * size

    def paragraph(self, text: str, size: float, most: int, bold: bool = False) -> None:
        """Set a text over the whole width."""
        self.y -= self.write(wrapped(text, self.room, size, bold, most), MARGIN, size, bold)

    def rule(self) -> None:
        """A line over the whole width."""
        self.boxes.append(Box(MARGIN, self.y, self.room, 0.0))

    def gap(self, points: float) -> None:
        """White."""
        self.y -= points * self.scale


def _set(sheet: Sheet, paper: Paper, scale: float, deep: int) -> Page | None:
    """The sheet in letters of a scale, rows of `deep` lines at most; None where it does not go on the page."""
    pen = _Pen(paper, scale)
    code = _head(pen, sheet)
    for section in sheet.sections:
        pen.gap(5)
        _section(pen, section, deep)
    pen.gap(5)
    steps = " ".join(f"{i}. {step}" for i, step in enumerate(sheet.order_of_work, 1))
    pen.paragraph(f"Order of work: {steps}", SMALL * scale, 6)
    pen.gap(2)
    pen.paragraph(sheet.caution, SMALL * scale, 5, bold=True)
    pen.gap(5)
    if pen.y - MARGIN - SIGNED < NOTES:
        return None
    notes = _fields(pen)
    return Page(sheet, scale, pen.width, pen.height, tuple(pen.words), tuple(pen.boxes), notes, code)


def _head(pen: _Pen, sheet: Sheet) -> Box | None:
    """Truck and run; to the right the code, where there is an address."""
    room, code, top = pen.room, None, pen.y
    if sheet.address is not None:
        code = Box(pen.width - MARGIN - CODE, top - CODE, CODE, CODE)
        room -= CODE + 4 * PAD
    size = TITLE * pen.scale
    while size > SMALLEST_TITLE and len(wrapped(sheet.truck, room, size, True, 2)) > 1:
        size -= 1
    pen.y -= pen.write(wrapped(sheet.truck, room, size, True, 2), MARGIN, size, True)
    pen.gap(3)
    facts = (
        (f"Set-up sheet, run {sheet.run}", 0.38),
        (f"taken {sheet.taken}", 0.24),
        (f"odometer {sheet.odometer}; {sheet.runs}", 0.38),
    )
    x, used, size = MARGIN, 0.0, BODY * pen.scale
    for text, share in facts:
        bold = x == MARGIN
        lines = wrapped(text, share * room - 2 * PAD, size, bold, 2)
        used = max(used, pen.write(lines, x, size, bold))
        x += share * room
    pen.y -= used
    if code is not None:
        pen.gap(3)
        pen.y -= pen.write(wrapped(CODE_SAYS, room, SMALL * pen.scale, False, 2), MARGIN, SMALL * pen.scale)
        pen.y = min(pen.y, code.y)
    return code


def _section(pen: _Pen, section: Section, deep: int) -> None:
    """Its title beside the corners, a row for each thing told of them, then its lines."""
    size = BODY * pen.scale
    heads = CORNERS if section.rows else ()
    _row(pen, (section.title, *heads), (True,) * (1 + len(heads)), size * 1.08, deep)
    for row in section.rows:
        main = row[0] == section.main
        bold = (main, *(main or text.endswith(ATTENTION) for text in row[1:]))
        _row(pen, row, bold, size, deep)
    if section.rows:
        pen.gap(1.5)
    for line in section.lines:
        pen.paragraph(line, SMALL * pen.scale, deep)


def _row(pen: _Pen, texts: tuple[str, ...], bold: tuple[bool, ...], size: float, deep: int) -> None:
    """Texts in the columns; a field where there is nothing but something to write."""
    pad = PAD * pen.scale * 0.5
    pen.y -= pad
    top, used = pen.y, size * LEADING
    if TO_WRITE in texts:
        used = max(used, FIELD)
    for place, (text, strong) in enumerate(zip(texts, bold, strict=True)):
        x, width = _column(pen, place)
        if text == TO_WRITE:
            pen.boxes.append(Box(x, top - FIELD, width - 2 * PAD, FIELD))
        lines = wrapped(text, width - 1.6 * PAD, size, strong, deep)
        used = max(used, pen.write(lines, x, size, strong))
    pen.y -= used + pad
    pen.rule()


def _column(pen: _Pen, place: int) -> tuple[float, float]:
    """Left edge and width of a column; the first holds the names of the rows."""
    label = LABEL * pen.room
    if place == 0:
        return MARGIN, label
    width = (pen.room - label) / len(CORNERS)
    return MARGIN + label + (place - 1) * width, width


def _fields(pen: _Pen) -> Box:
    """What is filled in by hand: notes over all the room that is left, which is returned, and who signs."""
    size = SMALL
    bottom = MARGIN + SIGNED
    notes = Box(MARGIN, bottom, pen.room, pen.y - bottom)
    pen.boxes.append(notes)
    pen.y -= 1
    pen.write(["Notes"], MARGIN + PAD, size)
    pen.y, x = bottom - 1, MARGIN
    for text, share in (("Name", 0.35), ("Signature", 0.4), ("Date", 0.25)):
        pen.boxes.append(Box(x, MARGIN, share * pen.room, SIGNED))
        pen.write([text], x + PAD, size)
        x += share * pen.room
    return notes
