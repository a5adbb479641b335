"""A corner's fit in plain words: what the springs and the readings are like, and one reading by itself. Pure."""

from collections.abc import Callable
from math import erfc, sqrt

import dash_mantine_components as dmc
import numpy as np
from dash import html

from dashboard.figures import DRAWN
from dashboard.shell import Component, fact
from dashboard.words import END_WORDS, SETTLED_WORDS, rate_range
from tuning.fit import DOUBTFUL, ROBUST_DISAGREES, Check, Fit
from tuning.interval import NORMAL_HALF_WIDTH, Interval, from_sd
from tuning.readings import Reading
from tuning.truck import CORNERS, END_OF
from tuning.units import System, decimal_length, shop_length, shop_load, shop_rate


def caption(fit: Fit, corner: str, points: int) -> str:
    """What the figure shows, for eyes and screen readers alike. points: how many readings there are to draw."""
    i = CORNERS.index(corner)
    stack = fit.stacks[i]
    preload = f" at today's preload of {shop_length(float(fit.preload[i]), fit.truck.units)}"
    nut = fit.truck.corners[corner].adjuster is not None
    return (
        f"Height against load with {stack.name} on{preload if nut else ''}. Each reading is moved to today's "
        "setting by the model; its bar is 90 % of tape and friction."
        + (f" Of {points:,} readings the latest {DRAWN} are drawn." if points > DRAWN else "")
    )


def facts(fit: Fit, corner: str, checks: dict[int, Check]) -> Component:
    """What the fit says of the corner, in plain words."""
    i, system = CORNERS.index(corner), fit.truck.units
    sd = fit.regression.sd
    rows = []
    place = fit.unknowns.datum.start + i
    if fit.evidence.has_datum[i]:
        datum = from_sd(float(fit.theta[place]), float(sd[place]))
        rows.append(fact("Datum", *datum_words(datum, system)))
    for position, spring in enumerate(reversed(fit.stacks[i].springs)):
        at = int(fit.spring_index[i][1 - position])
        if at < fit.unknowns.size:
            label = ("Lower spring", "Upper spring")[position] if len(fit.stacks[i].springs) > 1 else "Spring"
            rows.append(fact(label, *rate_words(spring.rate, float(fit.theta[at]), float(sd[at]), system)))
    end = END_OF[corner]
    at = fit.unknowns.friction.start + (end == "rear")
    friction = from_sd(float(fit.theta[at]), float(sd[at]))
    low = shop_load(max(friction.low, 0.0), system).rsplit(" ", 1)[0]
    rows.append(
        fact(
            f"{END_WORDS[end]} friction",
            f"± {shop_load(friction.mean, system)} a corner",
            f"{low} to {shop_load(friction.high, system)}; readings settled from above and below tell it",
        )
    )
    if checks:
        rows += residual_words(list(checks.values()), system)
    agrees = fit.robust_shift < ROBUST_DISAGREES
    words = "agrees" if agrees else "disagrees: some readings pull the fit; look at the largest residuals"
    rows.append(
        fact(
            "A fit that trusts outliers less",
            words,
            f"moves by {fit.robust_shift:.1f} of its own spread at most",
        )
    )
    return html.Dl(rows, className="facts wide")


def datum_words(datum: Interval, system: System) -> tuple[str, str]:
    """Which way the corner stands off its file, and the interval."""
    way = "lower" if datum.mean > 0 else "higher"
    low, high = sorted((-datum.low, -datum.high))
    span = f"{decimal_length(low, system)} to {decimal_length(high, system)} along the shock, plus is higher"
    return (
        f"stands {decimal_length(abs(datum.mean), system)} {way} than its file says",
        f"{span}: marks, mount and free lengths together",
    )


def rate_words(nominal: float, share: float, sd: float, system: System) -> tuple[str, str]:
    """Fitted rate of a spring from its compliance share over nominal."""
    reach = NORMAL_HALF_WIDTH * sd
    interval = Interval(
        nominal / (1 + share), nominal / (1 + share + reach), nominal / max(1 + share - reach, 0.1)
    )
    return (
        f"{shop_rate(interval.mean, system)}, {100 / (1 + share):.0f} % of the listed {shop_rate(nominal, system)}",
        rate_range(interval, system),
    )


def residual_words(checks: list[Check], system: System) -> list[Component]:
    """Residuals and influence: the typical one, the largest, and the reading that holds the line most."""
    typical = float(np.sqrt(np.mean([c.error**2 for c in checks])))
    worst = max(checks, key=lambda c: abs(c.t))
    side = "above" if worst.error > 0 else "below"
    mark = (
        "further off than one in a thousand would be"
        if abs(worst.t) > DOUBTFUL
        else f"{abs(worst.t):.1f} times what is usual"
    )
    firm = max(checks, key=lambda c: abs(c.influence))
    return [
        fact(
            "Typical miss",
            f"{decimal_length(typical, system)}, of {len(checks)} readings",
            "each reading against what all the others allow",
        ),
        fact(
            "Largest miss",
            f"{worst.reading.run} reads {decimal_length(abs(worst.error), system)} {side}",
            mark,
        ),
        fact(
            "Counts most",
            f"{firm.reading.run} holds the line most",
            f"without it the line would stand {decimal_length(abs(firm.influence), system)} "
            f"{'higher' if firm.influence > 0 else 'lower'} there",
        ),
    ]


# ---------------------------------------------------------------- one reading


def reading_card(reading: Reading, check: Check | None, id_: int, system: System) -> Component:
    """A reading as it was taken, what the others say of it, and a form to doubt it or clear it."""
    rows = [
        fact("Height", _shown(reading.height, shop_length, system), SETTLED_WORDS[reading.settled]),
        fact("Load", _shown(reading.load, shop_load, system)),
    ]
    if reading.preload is not None:
        rows.append(fact("Preload", shop_length(reading.preload, system), reading.stack or ""))
    if reading.note:
        rows.append(fact("Note", reading.note))
    if reading.doubt:
        rows.append(fact("Out of the fit", reading.doubt))
    if check is not None and reading.height is not None:
        rows += _others_say(reading.height, check, system)
    head = html.H2(
        [reading.run, html.Small(f" {reading.corner}, {reading.taken_at:%Y-%m-%d %H:%M}")], tabIndex="-1"
    )
    return html.Section(
        [head, html.Dl(rows, className="facts wide"), _judge(reading, id_)],
        className="chosen",
        **{"aria-label": f"Reading of {reading.run}"},
    )


def _shown(value: float | None, text: Callable[[float, System], str], system: System) -> str:
    return "not read" if value is None else text(value, system)


def _others_say(height: float, check: Check, system: System) -> list[Component]:
    side = "above" if check.error > 0 else "below"
    off, moved = (decimal_length(abs(v), system) for v in (check.error, check.influence))
    way = "higher" if check.influence > 0 else "lower"
    return [
        fact(
            "All others allow", decimal_length(height - check.error, system), f"this one reads {off} {side}"
        ),
        fact("How unusual", unusual(check.t), f"{abs(check.t):.1f} times what is usual"),
        fact("How much it counts", f"without it the line would stand {moved} {way}", "at this load"),
    ]


def unusual(t: float) -> str:
    """A miss of t standard deviations as how many sound readings lie as far off."""
    if abs(t) > DOUBTFUL:
        return "fewer than one sound reading in a thousand lies this far off"
    if abs(t) < 1:
        return "as near as most"
    return f"one sound reading in {round(1 / erfc(abs(t) / sqrt(2)))} lies this far off"


def _judge(reading: Reading, id_: int) -> Component:
    """A reason to type: put in doubt, or clear the doubt."""
    what = "Clear the doubt" if reading.doubt else "Doubt it"
    way = "clear" if reading.doubt else "doubt"
    return html.Div(
        [
            dmc.TextInput(id={"type": "corners-why", "id": id_}, label="Why?", value="", autoComplete="off"),
            dmc.Button(what, id={"type": f"corners-{way}", "id": id_}, variant="default", mt="xs"),
        ],
        className="writes",
    )
