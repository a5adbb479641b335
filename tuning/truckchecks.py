"""What the tables of a truck file must agree on. Each check yields what it finds; none stops the others."""

from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from tuning.truck import SIDES, Adjuster, Shock, Stack
from tuning.trucktables import EndTable, TargetTable, in_shop_units
from tuning.units import System

Path = tuple[str | int, ...]
Cycle = tuple[tuple[float, float], ...]
PathOf = Callable[[str], Path]

_COILOVER = ("shock", "adjuster", "cycle", "stack")
_SHAFT_SLACK = 0.25 * 0.0254  # m; a tape beside a shaft under the truck is read no better
_TARGET_SLACK = 0.0254  # m beyond the cycled heights where a target is still believed
_MOTION_RATIOS = (0.2, 1.6)  # shaft per height; a shock that moves outside these is mounted on no truck


class Found(NamedTuple):
    """A fault and the keys that lead to it."""

    path: Path
    problem: str
    mend: str
    found: str = ""


def axle_findings(end: str, axle: EndTable, system: System) -> Iterator[Found]:
    """Spring and mark spacings against the track."""
    spacing, track = axle.spring_spacing, axle.track
    at_most = f"Write at most {in_shop_units(track, 'length', system)}"
    if axle.axle == "independent" and spacing is not None:
        mend = 'Leave it out, or write axle = "solid"'
        yield Found(
            (end, "spring_spacing"), "an independent end has none: its springs work at the track", mend
        )
    if axle.axle == "solid" and spacing is None:
        yield Found((end, "spring_spacing"), "missing", 'Write spring_spacing = "34 in", seat to seat')
    if axle.axle == "solid" and spacing is not None and spacing > track:
        yield Found((end, "spring_spacing"), "the springs stand wider than the wheels", at_most)
    if axle.height_spacing is not None and axle.height_spacing > 1.2 * track:
        yield Found((end, "height_spacing"), "the height marks stand far outside the wheels", at_most)


def suspension_findings(end: str, keys: set[str]) -> Iterator[Found]:
    """An end carries a coilover, whole, or a spring without adjuster; not both, not half of one."""
    present = [part for part in _COILOVER if part in keys]
    choice = (
        f"A coilover needs shock, adjuster, cycle and stack; a spring without adjuster only [{end}.spring]"
    )
    if "spring" in keys:
        for part in present:
            yield Found((end, part), f"[{end}.spring] says that this end has no coilover", choice)
        return
    for part in _COILOVER:
        if part not in keys:
            yield Found((end, part), "missing", choice)


def cycle_findings(
    cycle: Cycle, shock: Shock | None, path_of: PathOf, system: System, names: Sequence[str] | None = None
) -> Iterator[Found]:
    """The cycle table: positions enough, shaft growing with height, at a motion ratio a truck can have.

    names: what its positions are called; without, they are counted.
    """
    path = path_of("cycle")
    names = names or [f"position {row}" for row in range(1, len(cycle) + 1)]
    order = sorted(range(len(cycle)), key=lambda row: cycle[row])
    if len({height for height, _ in cycle}) < 2:
        yield Found(path, "fewer than two heights", "Cycle the axle and measure at full bump and full droop")
    for below, above in pairwise(order):
        (low, shaft_low), (high, shaft_high) = cycle[below], cycle[above]
        if high == low:
            yield Found(
                (*path, above, "height"), f"the same height as {names[below]}", "Give each height once"
            )
        elif shaft_high <= shaft_low:
            problem = f"less shaft shows than at {names[below]}, which is lower"
            yield Found(
                (*path, above, "shaft"), problem, "Shaft showing grows with height; see which is wrong"
            )
        elif not _MOTION_RATIOS[0] <= (ratio := (shaft_high - shaft_low) / (high - low)) <= _MOTION_RATIOS[1]:
            problem = f"from {names[below]} the shaft moves {ratio:.2f} of the height"
            mend = f"Between {_MOTION_RATIOS[0]} and {_MOTION_RATIOS[1]} is plausible; see which is wrong"
            yield Found((*path, above, "shaft"), problem, mend)
    for row, (_, shaft) in enumerate(cycle):
        if shock is not None and not -_SHAFT_SLACK <= shaft <= shock.stroke + _SHAFT_SLACK:
            stroke = in_shop_units(shock.stroke, "length", system)
            problem = f"{in_shop_units(shaft, 'length', system)} of shaft is more than the stroke has"
            yield Found((*path, row, "shaft"), problem, f"Write 0 to {stroke}, or mend the stroke")


def adjuster_findings(adjuster: Adjuster, stack: Stack, path_of: PathOf, system: System) -> Iterator[Found]:
    """The thread can't press the springs past coil bind."""
    travel = sum(spring.travel_to_solid for spring in stack.springs)
    if adjuster.preload_max > travel:
        most = in_shop_units(travel, "length", system)
        yield Found(
            (*path_of("adjuster"), "range"),
            "the springs are coil-bound before that preload",
            f"Write at most {most}",
        )


def target_findings(target: TargetTable, cycles: dict[str, Cycle], system: System) -> Iterator[Found]:
    """Targets that contradict or are out of the axle's reach. cycles: by corner, where there is one."""
    for end, (left, right) in SIDES.items():
        if len(target.heights(left, right, end)) == 3:
            problem = f"{left} and {right} already fix this end"
            yield Found(("target", end), problem, f"Leave out {end}, or one of {left} and {right}")
        for name, sides in ((left, (left,)), (right, (right,)), (end, (left, right))):
            cycled = [height for corner in sides for height, _ in cycles.get(corner, ())]
            for wanted in target.heights(name).values() if len(set(cycled)) > 1 else ():
                if not min(cycled) - _TARGET_SLACK <= wanted <= max(cycled) + _TARGET_SLACK:
                    reach = " to ".join(
                        in_shop_units(h, "length", system) for h in (min(cycled), max(cycled))
                    )
                    yield Found(("target", name), "the axle was not cycled to that height", f"Write {reach}")
