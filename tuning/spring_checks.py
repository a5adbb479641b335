"""What was looked at for a pair of springs, and in one line why it was turned away."""

from .check import Check
from .fit import Fit
from .springs import REASONS, Search
from .stack import NO_STOP
from .units import decimal_length, shop_length, shop_rate


def checks_of(fit: Fit, one: Search, at: int) -> tuple[Check, ...]:
    """What was looked at for one pair, the worst corner's figure each; enough to say why it lost."""
    system, practice = fit.truck.units, fit.truck.practice
    found, broken = one.outcome, dict(zip(REASONS, one.broken[at], strict=True))
    at_most = practice.clear_of_solid

    def sound(*reasons: str) -> bool:
        return all(broken[reason] <= 1e-6 for reason in reasons)

    upper, lower = one.springs(at)
    spare = found.spare[at]
    below, above = (shop_length(float(v), system) for v in spare.min(axis=0))
    where = f" ({one.corners[0]})" if len(one.corners) == 1 else ""
    checks = [
        Check(
            f"preload inside the thread{where}",
            sound("needs more preload than the thread has", "needs less preload than the thread allows"),
            float(found.preload[at].mean()),
            "preload",
            f"{below} of thread left below, {above} above",
            "shorter or softer springs" if spare[:, 0].min() < 0 else "longer or stiffer springs",
        ),
        Check(
            f"spring travel to solid at ride{where}",
            sound("solid under the load at ride"),
            float(found.at_ride[at].min()),
            "length",
            "more than nothing",
            "a stiffer spring, or one with more travel",
        ),
    ]
    names = ("upper", "lower") if upper is not None else ("", "spring")
    for place, name in enumerate(names):
        if name:
            left = float(found.left[at, :, place].min())
            checks.append(
                Check(
                    f"{name}: travel to solid left at full bump{where}",
                    left >= at_most - 1e-6,
                    left,
                    "length",
                    f"at least {shop_length(at_most, system)}, common practice",
                    "a spring with more travel, or a stiffer one",
                )
            )
    checks.append(
        Check(
            f"seated at strapped droop{where}",
            sound("loose at strapped droop"),
            float(found.at_strap[at].min()),
            "length",
            f"pressed by at least {shop_length(practice.seated, system)}, common practice",
            "longer or softer springs with more preload, or a shorter strap",
        )
    )
    if found.ring_gap[at] < NO_STOP / 2:
        heights = found.crossover[at]
        low, high = one.ring.crossover.min(axis=0)[0], one.ring.crossover.max(axis=0)[1]
        checks.append(
            Check(
                f"crossover height{where}",
                bool(one.distance[at, 2] <= 1e-9) and sound("slider on its ring at ride"),
                float(heights.mean()),
                "height",
                f"{decimal_length(low, system)} to {decimal_length(high, system)}",
                "move the ring, or other rates",
            )
        )
    checks.append(
        Check(
            f"ride frequency{where}",
            bool(one.distance[at, 1] <= 1e-9),
            float(found.frequency[at]),
            "frequency",
            f"{one.wanted.frequency[0]:.2f} to {one.wanted.frequency[1]:.2f} Hz; sprung mass on the wheel rate",
            "softer springs" if found.frequency[at] > one.wanted.frequency[1] else "stiffer springs",
        )
    )
    diameters = {c.inside_diameter for c in (upper, lower) if c is not None and c.inside_diameter is not None}
    if diameters:
        checks.append(
            Check(
                f"inside diameter{where}",
                sound("inside diameters differ", "inside diameter does not suit the shock"),
                max(diameters),
                "length",
                "alike, and as the shock's springs",
                "springs of one inside diameter",
            )
        )
    return tuple(checks)


def why(fit: Fit, one: Search, at: int) -> str:
    """In one line: why a pair was turned away, or what it does."""
    name, system, found = one.said(at), fit.truck.units, one.outcome
    broken = one.breaks(at)
    preload = float(found.preload[at].mean())
    size = shop_length(abs(preload), system)
    needs = f"needs {size} of preload" if preload >= 0 else f"nut {size} short of snug"
    if not broken:
        return (
            f"{name}: fits; {needs}, {shop_rate(1 / float(one.pairs.soft[at].mean()), system)} at ride, "
            f"{found.frequency[at]:.2f} Hz"
        )
    amount = float(one.broken[at][REASONS.index(broken[0])])
    size = "" if amount > 1 else f" by {decimal_length(amount, system)}"
    return f"{name}: {broken[0]}{size} ({needs})"
