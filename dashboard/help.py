"""How to take each page's measurement well, and what can hurt somebody while doing so. Words only; common practice."""

from dataclasses import dataclass

from dash import html

from dashboard.shell import Component, sentence
from tuning.report.shared import CAUTION
from tuning.report.springs import FIRST_SET_DOWN
from tuning.report.travel import CYCLING

_SAME = "Level floor, or the same marked spots every time. Tyre pressures equal side to side and as always."
_READY = "Sway bar disconnected, steering straight, usual fuel and load aboard, the driver or equal weight in the seat."
_SETTLE = (
    "Roll the truck back and forth and bounce each corner before reading, so that it sits where it wants to."
)
_TWICE = (
    "Read each height twice, from frame mark to axle mark, and write what the tape says, to the sixteenth."
)
_HANDS = "Hands and head out from under a truck that is bounced or let down; wheels chocked."
_NUTS = (
    "Before turning a nut: weight off the springs and the frame on stands, never on a jack alone. Springs under load "
    "let go hard. Lock the nuts again before the truck goes down."
)


@dataclass(frozen=True)
class Help:
    """A fold of advice. caution: what can hurt, in the fold; empty where the page says it by itself."""

    title: str
    lines: tuple[str, ...]
    caution: str = ""


HELP = {
    "log": Help(
        "How to measure well, and safely",
        (
            _SAME,
            _READY,
            "Scales zeroed before the truck goes on, all four at one level, brakes off.",
            _SETTLE,
            f"{_TWICE} “Read again” takes the second one.",
            "Friction is the largest error. Bracket it: read all corners once let down gently from above, once let up "
            "gently from below, and log both under the same run name. Their middle is nearly free of friction.",
        ),
        _NUTS,
    ),
    "corners": Help(
        "How to take readings that tell more",
        (
            f"{_SAME} {_READY}",
            _SETTLE,
            "Readings at unlike loads and unlike preloads pin the line down; ten at one setting pin one point.",
            "Read from above and from below in one run: that alone tells friction from a spring that is off.",
            "A reading that looks wrong is read again first. Put it in doubt only with a reason that holds next year: "
            "tape slipped, wheel in a rut, sway bar still on.",
        ),
        f"{_HANDS} {_NUTS}",
    ),
    "springs": Help(
        "How to measure a spring well, and safely",
        (
            "Free length: off the truck, upright on a flat plate, ground end to ground end; turn it and measure again.",
            "Solid length: from its maker's sheet, or wire diameter times the number of coils; never by squeezing it "
            "in a vice.",
            "Inside diameter with a caliper at both ends: the smaller one must pass the shock.",
            "Rate: two loads in a press, well apart, both in the middle of the travel. A number painted on is a guess.",
            "Number every spring you own and write its figures once: the same number is in the list and in the runs.",
        ),
        FIRST_SET_DOWN,
    ),
    "travel": Help(
        "How to measure travel well",
        (
            "Height and shaft showing at one shock, at the same moment, both wheels alike.",
            "Full bump: springs out, the axle brought up until something stops it. Write what stops it.",
            "Droop: the axle hanging, the strap tight where there is one. A shock must never be the strap.",
            "Shaft showing: from the body's edge to the rod end's shoulder, along the shaft, not beside it.",
            "Straps stretch and stops wear: measure both again after the first hard drive.",
        ),
        CYCLING,  # what else can hurt stands at the end of the page
    ),
    "sag": Help(
        "How to read sag well",
        (
            f"{_SAME} {_READY}",
            f"{_SETTLE} {_TWICE}",
            "Weigh it in the same run: height without load can't tell a tired spring from a heavier truck.",
            "Same time of day and some hours after a hard drive: a hot gas shock carries more.",
            "Count from a run taken some days after the springs went on; most of their set comes first.",
        ),
        f"{_HANDS} {_NUTS}",
    ),
    "history": Help(
        "How to keep years comparable",
        (
            f"{_SAME} {_READY}",
            f"{_SETTLE} {_TWICE}",
            "Write the odometer with each run, and a note when something was changed, welded or loaded.",
            "New marks are new heights: when a mark has to move, read the old and the new one in the same run.",
        ),
        f"{_HANDS} {_NUTS}",
    ),
    "truck": Help(
        "How to measure the truck well, and safely",
        (
            f"{_SAME} {_READY}",
            "Spacings across the truck from middle to middle. Centre-punch or paint each height mark and keep it.",
            "Unsprung weight: springs out, the axle hanging free of them, on the scales by itself.",
            "The cycle table: springs out, the axle moved from full bump to full droop, height and shaft showing "
            "together. The page Cycle walk leads through it.",
            "Preload counts from where the springs are just snug with the shock fully out; then it is never zeroed "
            "again.",
        ),
        f"{CYCLING} {CAUTION}",
    ),
}


def help_fold(page: str, unfold: bool = False) -> Component:
    """The advice of a page as a fold."""
    found = HELP[page]
    lines = html.Ul([html.Li(line) for line in found.lines])
    caution = [sentence(found.caution, "warn")] if found.caution else []
    return html.Details([html.Summary(found.title), lines, *caution], open=unfold, className="help")


def hands_off() -> Component:
    """The one line that stands open beside every form that is filled in at the truck."""
    return html.P(_HANDS, className="more")
