"""The figures of the sag studies as Markdown tables."""

from collections.abc import Iterable

import pandas as pd

from tests.truth.trucks import IN
from tuning.sag.forecast import HORIZON
from tuning.sag.trend import MONTH

from .sag_alarms import WITHIN

WAYS = {
    "A": "one, rolled and bounced",
    "B": "four, rolled and bounced",
    "C": "one from above, one from below",
}
VERDICTS = ("settling", "loaded", "low", "steady", "unknown")
GROWN = 0.004  # m: a set that a trend should be seen in


def recovery_markdown(found: pd.DataFrame) -> str:
    """Set, height lost, verdicts, trends."""
    told = found[found.set_in.notna()]
    lines = ["Spring set, 90 % intervals; errors in mm", ""]
    head = (
        "readings a visit",
        "loads",
        "corners",
        "told",
        "bias, no set",
        "bias, set > 6 mm",
        "error (sd)",
        "width",
        "held",
    )
    lines += table(head, _set_rows(found))
    lines += [
        "",
        f"All: {told.set_in.mean():.1%} of {len(told)} held, bias {_mm(told.set_found - told.set_true)} mm.",
    ]
    lost = found[found.lost_in.notna()]
    lines += [
        f"Height lost: {lost.lost_in.mean():.1%} of {len(lost)} held, error (sd) "
        f"{1e3 * (lost.lost_found - lost.lost_true).std():.1f} mm.",
        "",
        "Verdicts: rows what was put in, columns what was said",
        "",
    ]
    clear = found[found.truth != "between"]
    rows = []
    for (way, truth), group in clear.groupby(["way", "truth"]):
        said = group.verdict.value_counts()
        rows.append(
            (
                WAYS[str(way)],
                truth,
                *(str(said.get(v, 0)) for v in VERDICTS),
                f"{(group.verdict == truth).mean():.0%}",
            )
        )
    lines += table(("readings a visit", "put in", *VERDICTS, "right"), rows)
    lines += ["", f"Not judged, too little to see and too much to be nothing: {len(found) - len(clear)}.", ""]
    steady, grown = told[told.set_true == 0], told[told.set_true > GROWN]
    lines += [
        f"A trend was given to {(steady.trend != 'none').mean():.1%} of {len(steady)} springs that took no set and to "
        f"{(grown.trend != 'none').mean():.1%} of {len(grown)} that took more than {1e3 * GROWN:.0f} mm.",
        f"Height half a year on inside its 90 % band: {told.later_in.mean():.1%} of {len(told)}.",
        *_false_dates(told[told.stays]),
        "",
    ]
    return "\n".join(lines)


def _false_dates(stays: pd.DataFrame) -> Iterable[str]:
    """How often a corner that stays within its tolerance is given a date, by whether its spring is given a trend."""
    for words, group in (
        ("no trend", stays[stays.trend == "none"]),
        ("a trend", stays[stays.trend != "none"]),
    ):
        yield (
            f"Of {len(group)} corners that stay within tolerance for five years and whose spring was given {words}, "
            f"{group.dated.mean():.1%} are said to leave it at even odds."
        )


def dates_markdown(found: pd.DataFrame) -> str:
    """Dates at which a corner leaves its tolerance; a perfect forecast has 10, 50, 90 and 80 %."""
    rows = [_dates_row(WAYS[str(way)], group) for way, group in found.groupby("way")]
    rows += [_dates_row(f"trend: {trend}", group) for trend, group in found.groupby("trend")]
    head = ("readings a visit", "corners", "left before the 10 % date", "50 %", "90 %", "between 10 and 90 %")
    lines = ["Dates of leaving tolerance, corners that truly leave it within five years", ""]
    return "\n".join(
        [*lines, *table((*head, "months between, median"), [*rows, _dates_row("all", found)]), ""]
    )


def _dates_row(name: str, found: pd.DataFrame) -> tuple[str, ...]:
    before = [f"{(found.true < found[at]).mean():.0%}" for at in ("early", "middle", "late")]
    held = (found.early <= found.true) & (found.true <= found.late)
    span = found.late.clip(upper=HORIZON) - found.early.clip(upper=HORIZON)
    return name, str(len(found)), *before, f"{held.mean():.0%}", f"{span.median() / MONTH:.0f}"


def _set_rows(found: pd.DataFrame) -> Iterable[tuple[str, ...]]:
    for (way, loads), group in found.groupby(["way", "loads"]):
        told = group[group.set_in.notna()]
        error = (told.set_found - told.set_true).astype(float)
        if not len(told):
            yield WAYS[str(way)], str(loads), str(len(group)), "0", *[""] * 5
            continue
        yield (
            WAYS[str(way)], str(loads), str(len(group)), str(len(told)), _mm(error[told.set_true == 0]),
            _mm(error[told.set_true > 0.006]), f"{1e3 * error.std():.1f}", f"{1e3 * told.set_width.mean():.1f}",
            f"{told.set_in.mean():.0%}",
        )  # fmt: skip


def alarms_markdown(found: pd.DataFrame) -> str:
    """Detection within three runs and readings between false alarms."""
    rows = []
    steps = sorted(s for s in found.step.unique() if s > 0)
    for way, group in found.groupby("way"):
        none = group[group.step == 0]
        false, charted = int(none["false"].sum()), int(none.charted.sum())
        seen = [(group[group.step == s].delay <= WITHIN).mean() for s in steps]
        first = (group[group.step == steps[0]].delay <= 1).mean()
        rows.append(
            (
                WAYS[str(way)],
                f"{first:.0%}",
                *(f"{s:.0%}" for s in seen),
                f"{charted / max(false, 1):.0f}",
                f"{60 * false / charted:.2f}",
            )
        )
    head = [
        "readings a visit",
        "1/4 in at once: first run",
        *(f"{s / IN:g} in: within {WITHIN} runs" for s in steps),
    ]
    head += ["readings a false alarm", "false alarms a corner in 5 years of months"]
    return "\n".join(["The alarm", "", *table(tuple(head), rows)])


def table(head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> list[str]:
    """A Markdown table."""
    rule = "| " + " | ".join("---" for _ in head) + " |"
    return ["| " + " | ".join(head) + " |", rule, *("| " + " | ".join(row) + " |" for row in rows)]


def _mm(values: pd.Series) -> str:
    return f"{1e3 * float(values.mean()):+.1f}" if len(values) else ""
