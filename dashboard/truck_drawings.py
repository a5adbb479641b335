"""Where each measurement is taken: drawings of our own, as pictures that follow light and dark. Pure."""

from urllib.parse import quote

from dash import html

from dashboard.shell import Component

_STYLE = (
    "text{font:13px system-ui,sans-serif;fill:#1a1a1a}.a{stroke:#1a1a1a;fill:none;stroke-width:3}"
    ".f{fill:#d9d9d4;stroke:#1a1a1a;stroke-width:2}.m{stroke:#00598c;fill:none;stroke-width:2}.t{fill:#00598c}"
    ".s{stroke:#a04000;fill:none;stroke-width:2.5}"
    "@media(prefers-color-scheme:dark){text{fill:#ececec}.a{stroke:#ececec}.f{fill:#444;stroke:#ececec}"
    ".m{stroke:#7cc4ee}.t{fill:#7cc4ee}.s{stroke:#ffb07c}}"
)
_WORDS = {
    "chassis": "The truck from above: the wheelbase runs from the middle of the front axle to the middle of the rear.",
    "axle": "An axle from behind: track from tyre middle to tyre middle, seat to seat between the springs, and mark to "
    "mark between the height marks.",
    "coilover": "A coilover: nut, upper spring, slider, stop ring, lower spring, perch. Stroke is the shaft showing "
    "when fully extended; the ring gap is from slider to ring.",
    "cycle": "The axle at three places between full bump and full droop: the height from axle mark to frame mark, and "
    "the shaft showing, are read together.",
    "height": "Height at a corner: from the axle mark up to the frame mark.",
}


def drawing(name: str) -> Component:
    """A picture with its words for those who can't see it."""
    body, width, height = _DRAWN[name]
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" height="{height}">'
        f"<style>{_STYLE}</style>{body}</svg>"
    )
    return html.Img(src=f"data:image/svg+xml,{quote(svg)}", alt=_WORDS[name], className="measures")


def _text(x: float, y: float, words: str, kind: str = "", anchor: str = "middle") -> str:
    return f'<text x="{x}" y="{y}" class="{kind}" text-anchor="{anchor}">{words}</text>'


def _across(x: float, to: float, y: float, words: str) -> str:
    """A measure from left to right, its words above."""
    ends = f"M{x} {y - 6}V{y + 6}M{to} {y - 6}V{y + 6}M{x} {y}H{to}"
    return f'<path class="m" d="{ends}"/>{_text((x + to) / 2, y - 8, words, "t")}'


def _up(x: float, y: float, to: float, words: str, right: bool = True) -> str:
    """A measure up and down, its words beside."""
    ends = f"M{x - 6} {y}H{x + 6}M{x - 6} {to}H{x + 6}M{x} {y}V{to}"
    at, anchor = (x + 10, "start") if right else (x - 10, "end")
    return f'<path class="m" d="{ends}"/>{_text(at, (y + to) / 2 + 4, words, "t", anchor)}'


def _box(x: float, y: float, width: float, height: float, round_: float = 4) -> str:
    return f'<rect class="f" x="{x}" y="{y}" width="{width}" height="{height}" rx="{round_}"/>'


def _coil(x: float, top: float, bottom: float, turns: int, half: float = 22) -> str:
    step = (bottom - top) / (2 * turns)
    points = [f"{x + (half if i % 2 else -half)},{top + i * step:.1f}" for i in range(2 * turns + 1)]
    return f'<polyline class="s" points="{" ".join(points)}"/>'


def _chassis() -> str:
    wheels = "".join(_box(x, y, 56, 24, 6) for x in (52, 252) for y in (30, 126))
    lines = '<path class="a" d="M80 54V126M280 54V126M40 74H330M40 106H330"/>'
    return (
        wheels + lines + _across(80, 280, 24, "wheelbase") + _text(18, 94, "front") + _text(348, 94, "rear")
    )


def _axle() -> str:
    body = _box(40, 70, 34, 90, 8) + _box(286, 70, 34, 90, 8) + '<path class="a" d="M74 115H286"/>'
    seats = _coil(120, 55, 112, 4, 14) + _coil(240, 55, 112, 4, 14) + '<path class="a" d="M90 52H270"/>'
    marks = '<circle class="t" cx="105" cy="115" r="5"/><circle class="t" cx="255" cy="115" r="5"/>'
    lower = _across(105, 255, 148, "height marks")
    return (
        body + seats + marks + _across(120, 240, 36, "spring seats") + lower + _across(57, 303, 188, "track")
    )


def _coilover() -> str:
    body = _box(150, 20, 24, 130) + '<path class="a" d="M162 150V262"/>'
    parts = _box(132, 30, 60, 10) + _box(134, 118, 56, 8) + _box(128, 254, 68, 10) + _box(144, 152, 36, 6)
    springs = _coil(162, 41, 117, 4) + _coil(162, 127, 253, 6)
    names = "".join(
        _text(120, y, word, "", "end")
        for y, word in (
            (39, "nut"),
            (84, "upper spring"),
            (126, "slider"),
            (160, "stop ring"),
            (210, "lower spring"),
        )
    )
    measures = _up(212, 126, 152, "ring gap") + _up(212, 158, 262, "shaft showing")
    return body + springs + parts + names + measures + _text(120, 264, "perch", "", "end")


def _cycle() -> str:
    drawn = ""
    for x, y, word in ((60, 110, "full bump"), (180, 150, "between"), (300, 190, "full droop")):
        drawn += (
            _box(x - 45, 36, 90, 12) + _box(x - 30, y, 44, 18, 9) + f'<path class="a" d="M{x - 8} 48V{y}"/>'
        )
        drawn += f'<circle class="t" cx="{x - 8}" cy="42" r="4"/><circle class="t" cx="{x - 8}" cy="{y + 9}" r="4"/>'
        drawn += _up(x + 24, 42, y + 9, "") + _text(x, 24, word)
    return drawn + _text(180, 234, "height, and the shaft showing, at each", "t")


def _height() -> str:
    frame = (
        _box(30, 40, 260, 20)
        + '<circle class="f" cx="120" cy="170" r="54"/><circle class="f" cx="120" cy="170" r="14"/>'
    )
    marks = '<circle class="t" cx="120" cy="50" r="5"/><circle class="t" cx="120" cy="170" r="5"/>'
    words = _text(132, 34, "frame mark", "", "start") + _text(190, 206, "axle mark", "", "start")
    return frame + marks + _up(210, 50, 170, "height") + words + '<path class="m" d="M125 170H204"/>'


_DRAWN = {
    "chassis": (_chassis(), 370, 170),
    "axle": (_axle(), 360, 200),
    "coilover": (_coilover(), 330, 280),
    "cycle": (_cycle(), 370, 245),
    "height": (_height(), 330, 235),
}
