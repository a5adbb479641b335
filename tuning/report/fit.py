"""The answer of `tuning fit`."""

from collections.abc import Sequence

from ..fit import Check, Fit
from ..summary import FitSummary
from ..truck import CORNERS
from ..units import System, decimal_length, shop_load, shop_rate, unit_in
from .shared import Document, Shown, between, columns


def fit_document(summary: FitSummary, fit: Fit, notes: Sequence[str]) -> Document:
    """The answer of `tuning fit --json`."""
    show = Shown(fit.truck.units)
    corners: Document = {
        name: {
            "datum": show.interval(c.datum, "height"),
            "rate_factor": {stack: vars(factor) for stack, factor in c.rate_factor.items()},
            "rate_now": show.interval(c.rate_now, "rate"),
            "readings": c.readings,
            "residual_sd": show.number(c.residual_sd, "height"),
        }
        for name, c in summary.corners.items()
    }
    units = show.units("height", "load", "preload", "rate") | {"datum": unit_in("height", fit.truck.units)}
    return {
        "run": fit.runs[-1].name,
        "units": units | {"twist_compliance": "rad/(N*m)", "twist_offset": "rad"},
        "corners": corners,
        "twist": {"compliance": vars(summary.twist_compliance), "offset": vars(summary.twist_offset)},
        "friction": {end: show.interval(band, "load") for end, band in summary.friction.items()},
        "robust_agrees": summary.robust_agrees,
        "doubtful": [check_text(c, fit.truck.units) for c in summary.doubtful],
        "notes": list(notes),
    }


def fit_text(summary: FitSummary, fit: Fit, notes: Sequence[str]) -> str:
    """The answer of `tuning fit` as a table and plain words."""
    system = fit.truck.units
    rows = [("", "readings", "datum (90 %)", "rate now", "rate against nominal (90 %)", "scatter")]
    for name, corner in summary.corners.items():
        stack = fit.stacks[CORNERS.index(name)].name
        factor = corner.rate_factor[stack]
        known = fit.evidence.has_datum[CORNERS.index(name)]
        rows.append(
            (
                name,
                str(corner.readings),
                between(corner.datum, system) if known else "free height unknown",
                shop_rate(corner.rate_now.mean, system),
                f"{100 * factor.mean:.0f} % ({100 * factor.low:.0f} to {100 * factor.high:.0f})",
                "-" if corner.residual_sd is None else decimal_length(corner.residual_sd, system),
            )
        )
    lines = [f"{fit.truck.name}: {len(fit.runs)} runs in the fit", "", *columns(rows), ""]
    lines += plain_words(summary, fit)
    lines += [f"Note: {line}" for line in notes]
    return "\n".join(lines)


def plain_words(summary: FitSummary, fit: Fit) -> list[str]:
    """What the diagnostics say, a sentence each."""
    system = fit.truck.units
    bands = ", ".join(f"{end} ± {shop_load(max(b.mean, 0.0), system)}" for end, b in summary.friction.items())
    said = [f"Friction holds a corner anywhere inside its band: {bands}."]
    if not fit.loads_known:
        said.append("Not every wheel has been weighed: loads and cross-weight are unknown.")
    said += [check_text(c, system) for c in summary.doubtful]
    strongest = max(fit.checks, key=lambda c: abs(c.influence), default=None)
    if strongest is not None and len(fit.runs) > 1:
        r = strongest.reading
        said.append(
            f"The reading that counts most: {r.corner} {strongest.kind} in {r.run}; it moves that corner's line "
            f"by {decimal_length(abs(strongest.influence), system)}."
        )
    said.append(
        "A fit that gives wild readings less say agrees."
        if summary.robust_agrees
        else "A fit that gives wild readings less say disagrees: look for a mistyped reading before turning."
    )
    return said


def check_text(check: Check, system: System) -> str:
    """One reading that stands off, in words."""
    r = check.reading
    size = (
        decimal_length(abs(check.error), system)
        if check.kind == "height"
        else shop_load(abs(check.error), system)
    )
    side = "above" if check.error > 0 else "below"
    return f"{r.run} {r.corner} {check.kind}: {size} {side} what the other readings allow ({abs(check.t):.1f} sd)."
