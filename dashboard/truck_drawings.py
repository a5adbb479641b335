"""Where each measurement is taken: drawings of our own in the page's colours. A part that a field names is drawn
thicker while that field is filled in (`assets/drawings.js`). Pure."""

from dash import html

from dashboard.shell import Component

_WORDS = {
    "chassis": "The truck from above: the wheelbase runs from the middle of the front axle to the middle of the rear.",
    "axle": "An axle from behind: track from tyre middle to tyre middle, seat to seat between the springs, and mark to "
    "mark between the height marks.",
    "coilover": "A coilover: nut, upper spring, slider, stop ring, lower spring, perch. Stroke is the shaft showing "
    "when fully extended; the ring gap is from slider to ring.",
    "cycle": "The axle at three places between full bump and full droop: the height from axle mark to frame mark, and "
    "the shaft showing, are read together. The bump stop sits on the frame above the axle.",
    "height": "Height at a corner: from the axle mark up to the frame mark.",
}


def drawing(name: str) -> Component:
    """A picture with its words for those who can't see it."""
    return picture(*_DRAWN[name], _WORDS[name])


def picture(body: str, width: float, height: float, words: str, kind: str = "measures") -> Component:
    """A drawing of our own as a component: the browser puts its text in place, so that its parts can be told apart."""
    head = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="img">'
    svg = f"{head}<title>{words}</title>{body}</svg>"
    return html.Div(className=f"drawn {kind}", style={"--wide": f"{width}px"}, **{"data-svg": svg})


def _of(names: str, body: str) -> str:
    """A part that fields of these names show."""
    return f'<g data-of="{names}">{body}</g>'


def _text(x: float, y: float, words: str, kind: str = "", anchor: str = "middle") -> str:
    return f'<text x="{x}" y="{y}" class="{kind}" text-anchor="{anchor}">{words}</text>'


def _across(names: str, x: float, to: float, y: float, words: str) -> str:
    """A measure from left to right, its words above."""
    ends = f"M{x} {y - 6}V{y + 6}M{to} {y - 6}V{y + 6}M{x} {y}H{to}"
    return _of(names, f'<path class="m" d="{ends}"/>{_text((x + to) / 2, y - 8, words, "t")}')


def _up(names: str, x: float, y: float, to: float, words: str = "") -> str:
    """A measure up and down, its words beside."""
    ends = f"M{x - 6} {y}H{x + 6}M{x - 6} {to}H{x + 6}M{x} {y}V{to}"
    return _of(names, f'<path class="m" d="{ends}"/>{_text(x + 10, (y + to) / 2 + 4, words, "t", "start")}')


def _box(x: float, y: float, width: float, height: float, round_: float = 4) -> str:
    return f'<rect class="f" x="{x}" y="{y}" width="{width}" height="{height}" rx="{round_}"/>'


def _line(way: str) -> str:
    return f'<path class="a" d="{way}"/>'


def _mark(x: float, y: float, r: float = 5) -> str:
    return f'<circle class="p" cx="{x}" cy="{y}" r="{r}"/>'


def _coil(x: float, top: float, bottom: float, turns: int, half: float = 22) -> str:
    step = (bottom - top) / (2 * turns)
    points = [f"{x + (half if i % 2 else -half)},{top + i * step:.1f}" for i in range(2 * turns + 1)]
    return f'<polyline class="s" points="{" ".join(points)}"/>'


def _chassis() -> str:
    wheels = "".join(_box(x, y, 56, 24, 6) for x in (52, 252) for y in (30, 126))
    lines = _line("M80 54V126M280 54V126") + _of("frame", _line("M40 74H330M40 106H330"))
    words = _text(18, 94, "front") + _text(348, 94, "rear")
    return wheels + lines + _across("wheelbase", 80, 280, 24, "wheelbase") + words


def _axle() -> str:
    tyres = _of("tyre axle", _box(40, 70, 34, 90, 8) + _box(286, 70, 34, 90, 8))
    body = tyres + _of("axle", _line("M74 115H286"))
    springs = _of("spring", _coil(120, 55, 112, 4, 14) + _coil(240, 55, 112, 4, 14)) + _line("M90 52H270")
    marks = _of("marks", _mark(105, 115) + _mark(255, 115)) + _across("marks", 105, 255, 148, "height marks")
    seats, track = _across("seats", 120, 240, 36, "spring seats"), _across("track", 57, 303, 188, "track")
    return body + springs + marks + seats + track


def _coilover() -> str:
    body = _of("body", _box(150, 20, 24, 130)) + _of("rod", _line("M162 150V262"))
    fixed = _box(134, 118, 56, 8) + _box(128, 254, 68, 10) + _of("gap", _box(144, 152, 36, 6))
    upper = _of("upper", _coil(162, 41, 117, 4) + _text(120, 84, "upper spring", "", "end"))
    lower = _of("lower", _coil(162, 127, 253, 6) + _text(120, 210, "lower spring", "", "end"))
    nut = _of("nut", _box(132, 30, 60, 10) + _text(120, 39, "nut", "", "end"))
    names = "".join(
        _text(120, y, word, "", "end") for y, word in ((126, "slider"), (160, "stop ring"), (264, "perch"))
    )
    measures = _up("gap", 212, 126, 152, "ring gap") + _up("shaft", 212, 158, 262, "shaft showing")
    return body + upper + lower + nut + fixed + names + measures


def _cycle() -> str:
    drawn = ""
    for x, y, word, end in (
        (60, 112, "full bump", "bump"),
        (180, 150, "between", ""),
        (300, 190, "full droop", "droop"),
    ):
        frame = _box(x - 50, 36, 100, 12) + _of("stop", _box(x - 16, 48, 12, 20 if end == "bump" else 14, 3))
        shock = _of("rod", _line(f"M{x + 14} 84V{y}")) + _box(x + 8, 48, 12, 36, 3)
        axle = _box(x - 46, y, 80, 16, 8) + _mark(x - 36, 42, 4) + _mark(x - 36, y + 8, 4)
        drawn += frame + shock + axle + _of(end, _text(x, 24, word))
        drawn += _up(f"height {end}", x - 36, 42, y + 8) + _up(f"shaft {end}", x + 36, 84, y)
    words = _text(180, 228, "left: height", "t") + _text(180, 246, "right: shaft showing", "t")
    return drawn + words


def _height() -> str:
    wheel = '<circle class="f" cx="120" cy="170" r="54"/><circle class="f" cx="120" cy="170" r="14"/>'
    frame = _box(30, 40, 260, 20) + wheel + _of("floor", _line("M20 226H310"))
    marks = _of("marks", _mark(120, 50) + _mark(120, 170))
    words = _text(132, 34, "frame mark", "", "start") + _text(190, 206, "axle mark", "", "start")
    lead = '<path class="m" d="M125 170H204"/>'
    return frame + marks + _up("height", 210, 50, 170, "height") + words + lead


_DRAWN: dict[str, tuple[str, float, float]] = {
    "chassis": (_chassis(), 370, 170),
    "axle": (_axle(), 360, 200),
    "coilover": (_coilover(), 330, 280),
    "cycle": (_cycle(), 360, 255),
    "height": (_height(), 330, 235),
}
