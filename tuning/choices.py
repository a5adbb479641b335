"""The springs to put on, what to expect of them and how sure that is. SI inside."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from .arrays import Array
from .bench import CROSS, Outlook, Wish, load_known, wishes_of
from .catalogue import StockSpring
from .check import Check
from .fit import Fit
from .interval import Interval, from_draws
from .pairs import preload_needed
from .plan import Plan, plan
from .progress import Tell, untold
from .spring_checks import checks_of
from .spring_places import Candidate, SpringsError, Wanted, place_of
from .springs import Search, search
from .stack import NO_STOP
from .statics import equilibrium
from .truck import CORNERS, END_OF, SIDES, Stack

DRAWS = 400
SHOWN = 10
MOST = 1000  # springs: a million pairs, some seconds and a gigabyte
PER_CORNER = 30  # of each side's best that are put together where left and right may differ
EVEN = (4.0, 8.0, 16.0)  # as `plan` has it: tried in turn while nothing is found for an end
SPENT = 0.5  # of a tolerance may be given away for springs that fit; tape, springs and friction take the rest
FEWER_PARTS = 0.05  # of the distance that a spring not bought is worth where left and right may differ


@dataclass(frozen=True)
class Choice:
    """Springs for one end. By corner where they may differ; lengths m, loads N, rates N/m at the shock.

    preload: on the lattice of whole steps. other_preload: of the nuts at the other end, where it keeps its springs.
    rates: both springs together, and the lower alone; the latter None without a ring. distance: from what was asked
    for: preload, frequency, crossover. ring_moves: the ring has to be moved or fitted. changes: anything differs from
    what is on. gives: the limits this choice breaks, empty for a sound one.
    """

    end: str
    springs: dict[str, tuple[Candidate | None, Candidate]]
    stacks: dict[str, Stack]
    preload: dict[str, float]
    other_preload: dict[str, float]
    height_after: dict[str, Interval]
    load_after: dict[str, Interval | None]
    cross_weight_after: Interval | None
    frequency: float
    rates: tuple[float, float | None]
    crossover: dict[str, float | None]
    probability_reachable: float
    distance: tuple[float, float, float]
    bought: int
    ring_moves: bool
    changes: bool
    checks: tuple[Check, ...]
    gives: tuple[str, ...] = ()

    @property
    def mean_crossover(self) -> float | None:
        """Height of the crossover (m), the mean of both sides; None where there is none."""
        heights = [height for height in self.crossover.values() if height is not None]
        return sum(heights) / len(heights) if heights else None

    @property
    def alike(self) -> bool:
        """Left and right wear the same."""
        first, *others = self.springs.values()
        return all(other == first for other in others)


@dataclass(frozen=True)
class EndAnswer:
    """One end: the best choices, best first; how many pairs each reason turned away; where nothing fits, the least
    bad. searches: one for the end, or one for each side where they may differ. limits: what no springs can do."""

    end: str
    choices: tuple[Choice, ...]
    rejected: dict[str, int]
    least_bad: Choice | None
    searches: tuple[Search, ...]
    limits: tuple[str, ...] = ()


def choose(
    fit: Fit,
    catalogue: Sequence[StockSpring],
    ends: Sequence[str] | None = None,
    wanted: Wanted | None = None,
    alike: bool = True,
    shown: int = SHOWN,
    draws: int = DRAWS,
    tell: Tell = untold,
) -> tuple[EndAnswer, ...]:
    """The springs for each of `ends`, by default every end with coilovers. tell: may stop it.

    Raises SpringsError where an end has no coilovers, lengths of its springs are unknown, there is no target or the
    catalogue is too long to try every pair of it.
    """
    coilovers = [end for end, sides in SIDES.items() if all(fit.truck.corners[c].adjuster for c in sides)]
    for end in ends or ():
        if end not in coilovers:
            raise SpringsError(
                f"the {end} has no coilovers, so there is nothing to choose: {_list(coilovers)}"
            )
    if not coilovers:
        raise SpringsError(f"{fit.truck.name} has no coilovers")
    if len(catalogue) > MOST:
        raise SpringsError(
            f"{len(catalogue)} springs make too many pairs; at most {MOST} at a time: leave out those whose inside "
            "diameter or length can't be used"
        )
    wishes = wishes_of(fit.truck.target, fit.loads_known)
    if not wishes:
        raise SpringsError("no target that can be judged: write heights under [target], or weigh the wheels")
    sought = tuple(ends or coilovers)
    theta = fit.draws(draws)
    asked = wanted or Wanted(fit.truck.practice.ride_frequency)

    def answers(best: Plan, even: float) -> tuple[EndAnswer, ...]:
        bench = _Bench(fit, theta, best, plan(fit, sought, wishes, theta, even), sought, tell)
        limits = _limits(fit, best, wishes, even)
        return tuple(
            replace(_end(bench, catalogue, end, asked, alike, shown), limits=limits) for end in sought
        )

    exact = plan(fit, sought, wishes, fit.theta[None])
    found = answers(exact, 0.0)
    most = max(SPENT, _worst(exact, wishes))
    for even in EVEN if alike else ():
        if all(answer.choices for answer in found):
            break
        best = plan(fit, sought, wishes, fit.theta[None], even)
        if _worst(best, wishes) > most:
            break
        nearly = answers(best, even)
        if sum(bool(a.choices) for a in nearly) > sum(bool(a.choices) for a in found):
            found = nearly
    return found


def _worst(best: Plan, wishes: tuple[Wish, ...]) -> float:
    """Largest miss of a place to stand, in tolerances."""
    return float(np.abs(Outlook(best.heights[0], best.loads[0]).miss(wishes)).max())


def _limits(fit: Fit, best: Plan, wishes: Sequence[Wish], even: float) -> tuple[str, ...]:
    """What no springs can do, a line each."""
    said = []
    if fit.truck.target.cross_weight is not None and not fit.loads_known:
        said.append("cross-weight left out: the wheel loads are unknown; weigh all four wheels once")
    miss = Outlook(best.heights[0], best.loads[0]).miss(tuple(wishes))
    if np.any(np.abs(miss) > 1):
        names = ", ".join(w.name.replace("_", "-") for w, m in zip(wishes, miss, strict=True) if abs(m) > 1)
        said.append(
            f"whatever the springs, {names} can't all be met: the frame ties them; this is the best trade"
        )
    if even:
        share = f"{100 * np.abs(miss).max():.0f} %"
        said.append(
            f"nothing on the list meets every target dead on; these aim up to {share} of the tolerance off, so that "
            "left and right carry more alike"
        )
    return tuple(said)


def _list(ends: Sequence[str]) -> str:
    return f"ends with coilovers: {', '.join(ends) or 'none'}"


def _end(
    bench: "_Bench", catalogue: Sequence[StockSpring], end: str, wanted: Wanted, alike: bool, shown: int
) -> EndAnswer:
    groups: list[tuple[str, ...]] = [SIDES[end]] if alike else [(c,) for c in SIDES[end]]
    searches = tuple(search(bench.fit, catalogue, group, wanted, bench.best, bench.tell) for group in groups)
    picks = _best_picks(searches, shown)
    rejected: dict[str, int] = {}
    for one in searches:
        for reason, count in one.rejected.items():
            rejected[reason] = rejected.get(reason, 0) + count
    least_bad = None
    if not picks:
        worst = [one.order[0] if len(one.order) else one.least_bad() for one in searches]
        known = [int(at) for at in worst if at is not None]
        least_bad = bench.choice(searches, known) if len(known) == len(searches) else None
    choices = []
    for number, pick in enumerate(picks):
        bench.tell(f"Working out the best {len(picks)}", number, len(picks))
        choices.append(bench.choice(searches, pick))
    return EndAnswer(
        end,
        tuple(choices),
        dict(sorted(rejected.items(), key=lambda item: -item[1])),
        least_bad,
        searches,
    )


def _best_picks(searches: Sequence[Search], shown: int) -> list[list[int]]:
    """The best pairs; where each side was searched alone, the best of their combinations."""
    if len(searches) == 1:
        return [[int(at)] for at in searches[0].order[:shown]]
    left, right = searches
    combined = []
    for i in left.order[:PER_CORNER]:
        for j in right.order[:PER_CORNER]:
            far = float(left.distance[i].sum() + right.distance[j].sum())
            far += FEWER_PARTS * float(left.bought[i] + right.bought[j])
            combined.append((far, [int(i), int(j)]))
    return [pick for _, pick in sorted(combined)[:shown]]


@dataclass(frozen=True)
class _Bench:
    """The fitted truck, where it should stand by the best estimate, and by each draw."""

    fit: Fit
    theta: Array
    best: Plan
    spread: Plan
    sought: tuple[str, ...]
    tell: Tell

    def choice(self, searches: Sequence[Search], at: Sequence[int]) -> Choice:
        """One choice worked out: searches cover the end's corners in order, at says which pair of each."""
        fit, each = self.fit, []
        for one, pair in zip(searches, at, strict=True):
            each += [(corner, one, pair, side) for side, corner in enumerate(one.corners)]
        rest = self._other_nuts(searches[0].end)
        still = np.array([rest.get(c, p) for c, p in zip(CORNERS, self.best.preload[0], strict=True)])
        strut = replace(self.spread.strut, preload=np.tile(still, (len(self.theta), 1)))
        compliance = np.array(np.broadcast_to(strut.compliance, (len(self.theta), 4, 2)))
        ring, solid, preload = strut.ring_gap.copy(), strut.solid_travel.copy(), strut.preload.copy()
        inside = np.ones(len(self.theta), dtype=bool)
        random = np.random.default_rng(0)
        nuts = {}
        for corner, one, pair, side in each:
            i = CORNERS.index(corner)
            drawn = self._compliance(random, one, pair, i)
            place = place_of(fit, self.spread, [i])
            needed = preload_needed(place, drawn[:, None], one.pairs.solid_travel[pair])[:, 0]
            low, high = (float(end[0] + one.pairs.free_length[pair]) for end in (place.low, place.high))
            inside &= (needed >= low) & (needed <= high)
            nuts[corner] = self._lattice(corner, float(one.outcome.preload[pair, side]), low, high)
            compliance[:, i], ring[i] = drawn, one.outcome.ring_gap[pair]
            solid[i], preload[:, i] = one.pairs.solid_travel[pair], nuts[corner]
        strut = replace(strut, compliance=compliance, ring_gap=ring, solid_travel=solid, preload=preload)
        p = fit.parameters(self.theta)
        heights, loads = equilibrium(strut, fit.axle, p.weight, p.offset, p.twist)
        corners = [corner for corner, *_ in each]
        one, pair = searches[0], at[0]
        soft = float(one.pairs.soft[pair].mean())
        stiff = float(one.pairs.compliance[pair, :, 1].mean())
        ringed = bool(one.outcome.ring_gap[pair] < NO_STOP / 2)
        gaps = [float(s.outcome.crossover[p, i]) for _, s, p, i in each]
        return Choice(
            end=one.end,
            springs={c: s.springs(p) for c, s, p, _ in each},
            stacks={c: s.stack(p) for c, s, p, _ in each},
            preload=nuts,
            other_preload=rest,
            height_after={c: from_draws(heights[:, CORNERS.index(c)]) for c in CORNERS},
            load_after={
                c: from_draws(loads[:, i]) if load_known(fit, i) else None for i, c in enumerate(CORNERS)
            },
            cross_weight_after=from_draws(loads @ CROSS / loads.sum(axis=-1)) if fit.loads_known else None,
            frequency=float(np.mean([s.outcome.frequency[p] for s, p in zip(searches, at, strict=True)])),
            rates=(1 / soft, 1 / stiff if ringed else None),
            crossover={c: None if np.isnan(g) else g for c, g in zip(corners, gaps, strict=True)},
            probability_reachable=float(inside.mean()),
            distance=_worst_distance(searches, at),
            bought=sum(int(s.bought[p]) * len(s.corners) for s, p in zip(searches, at, strict=True)),
            changes=any(s.changed(p) for s, p in zip(searches, at, strict=True)),
            ring_moves=any(s.ring_moved(p) for s, p in zip(searches, at, strict=True)),
            checks=tuple(check for s, p in zip(searches, at, strict=True) for check in checks_of(fit, s, p)),
            gives=tuple(s_reason for s, p in zip(searches, at, strict=True) for s_reason in s.breaks(p)),
        )

    def _other_nuts(self, end: str) -> dict[str, float]:
        """Preload of the nuts at the other end, in whole steps from today; none where that end gets springs too."""
        found = {}
        for i, corner in enumerate(CORNERS):
            adjuster = self.fit.truck.corners[corner].adjuster
            if corner in SIDES[end] or adjuster is None or END_OF[corner] in self.sought:
                continue
            step = adjuster.travel_per_turn * adjuster.step
            now, wanted = float(self.fit.preload[i]), float(self.best.preload[0, i])
            found[corner] = now + step * round((wanted - now) / step)
        return found

    def _compliance(self, random: np.random.Generator, one: Search, pair: int, corner: int) -> Array:
        """Draws of (upper, lower) compliance at a corner (n, 2): a kept spring as fitted, a new one by tolerance."""
        drawn = np.zeros((len(self.theta), 2))
        fitted = self.fit.parameters(self.theta).compliance[:, corner]
        for place, spring in enumerate(one.springs(pair)):
            if spring is not None and spring.kept is not None:
                drawn[:, place] = fitted[:, spring.kept]
            elif spring is not None:
                share = self.fit.truck.noise.spring_rate * random.standard_normal(len(self.theta))
                drawn[:, place] = (1 + share) / spring.spring.rate
        return drawn

    def _lattice(self, corner: str, preload: float, low: float, high: float) -> float:
        """The nearest whole step of the nut inside its thread (m)."""
        adjuster = self.fit.truck.corners[corner].adjuster
        assert adjuster is not None  # only such ends are searched
        step = adjuster.travel_per_turn * adjuster.step
        lowest, highest = np.ceil(low / step - 1e-9), np.floor(high / step + 1e-9)
        return float(np.clip(np.round(preload / step), lowest, max(lowest, highest)) * step)


def _worst_distance(searches: Sequence[Search], at: Sequence[int]) -> tuple[float, float, float]:
    parts = np.max([one.distance[pair] for one, pair in zip(searches, at, strict=True)], axis=0)
    return float(parts[0]), float(parts[1]), float(parts[2])
