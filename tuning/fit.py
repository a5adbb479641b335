"""The fit: a load-versus-height model per corner from every reading in the log. SI.

Mixed estimation (Theil and Goldberger 1961, IER 2, 65): rows of the readings, whitened, over prior rows from the
truck file, solved at once; three or four passes, each straight about the last. With one run it answers from the
springs' nominal data with an honest spread, with many from the log.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np

from . import lines
from . import stack as springs
from .arrays import Array, Places
from .faults import NoAnswerError
from .friction import Held, learnt, unknown
from .lines import Evidence, Loads, Rows, Unknowns, evidence_of, load_by_weight, rows_of
from .noise import friction_from_repeats, sharpened
from .readings import Reading, Run
from .regression import Regression, regress
from .rounds import nuts_of, stacks_of
from .statics import Axles, Struts, Weight, axles, struts
from .truck import CORNERS, Stack, Truck

MAX_PASSES = 12
SETTLED = 0.02  # standard errors that the estimate may still move between passes
DOUBTFUL = 3.2905267314919255  # a normal number lies outside ± this once in a thousand times
FLAT_SHARE = 1e-3  # what is drawn as normal has this much of a flat error's excess kurtosis at most
ROBUST_DISAGREES = 1.0  # standard errors between the fit and its robust twin
Kind = Literal["height", "load"]
KINDS: tuple[Kind, ...] = ("height", "load")


class FitError(NoAnswerError):
    """The readings can't be fitted; the message says why and what to do."""


@dataclass(frozen=True)
class Parameters:
    """Draws of everything the equilibrium needs; the first axis runs over the draws."""

    compliance: Array  # (n, 4, 2) m/N
    datum: Array  # (n, 4) m
    offset: Array  # (n,) rad
    twist: Array  # (n,) rad per N·m
    weight: Weight  # (n,) each


@dataclass(frozen=True)
class Check:
    """What the rest of the log says of one reading.

    error, t, influence: as in `Fit.deletions`, SI.
    """

    reading: Reading
    kind: Kind
    error: float
    t: float
    influence: float


@dataclass(frozen=True)
class Fit:
    """The fitted truck and where it stands after its latest run."""

    truck: Truck
    runs: tuple[Run, ...]
    stacks: tuple[Stack, ...]  # at the corners today
    evidence: Evidence
    rows: Rows
    held: Held
    regression: Regression  # over whitened rows, prior rows last
    whitened: Array  # (n, 5, p) columns after whitening
    response: Array  # (n, 5) after whitening
    prior: Array  # (p,)
    prior_sd: Array  # (p,)
    root: Array  # (n, 5, 5) Cholesky root of each round's covariance
    weighed_ends: tuple[bool, bool]  # an end whose wheel loads are known from scales

    @cached_property
    def robust_shift(self) -> float:
        """Largest difference to a refit that gives wild readings less say, in standard errors."""
        robust = _robust(self.whitened, self.response, self.prior_rows, self.regression)
        return float(np.max(np.abs(robust - self.theta) / self.regression.sd))

    @property
    def prior_rows(self) -> tuple[Array, Array]:
        """Columns (p, p) and response (p,) of the prior rows."""
        return prior_rows(self.evidence, self.prior, self.prior_sd)

    @property
    def theta(self) -> Array:
        """Best estimate of the unknowns, in the order of `unknowns`."""
        return self.regression.estimate

    @property
    def unknowns(self) -> Unknowns:
        """Which unknown stands where."""
        return self.evidence.unknowns

    @cached_property
    def axle(self) -> Axles:
        """Today's axles, (4,)."""
        return axles(self.truck)

    @cached_property
    def strut(self) -> Struts:
        """Today's corners at today's preload, nominal, (4,)."""
        return replace(struts(self.truck, self.stacks), preload=self.preload)

    @cached_property
    def preload(self) -> Array:
        """Today's preload (m), zero at a corner without adjuster."""
        return np.asarray(nuts_of(self.runs)[-1])

    @cached_property
    def spring_index(self) -> Places:
        """Place of today's springs among the unknowns, (4, 2)."""
        return self.unknowns.springs_at(self.stacks)

    @cached_property
    def force_now(self) -> Array:
        """Force in the springs at each corner by the last round (N, (4,)): from its loads, else from its heights."""
        near = self.axle.seat_heights(self.evidence.rounds.height_near[-1])
        load = self.evidence.rounds.load[-1]
        if not np.isnan(load).any():
            return self.strut.spring_force(self.axle.seat_loads(load), near)
        best, limit = self.parameters(self.theta[None]), self.strut.limit()
        pressed = np.minimum(self.strut.compression(near) - best.datum[0], 0.99 * limit.sum(axis=-1))
        return springs.force(pressed, best.compliance[0], limit)

    @property
    def loads_known(self) -> bool:
        """Whether scales have told what every wheel carries."""
        return all(self.weighed_ends)

    def parameters(self, theta: Array) -> Parameters:
        """Vectors of unknowns (n, p) as what the equilibrium needs, held inside what is physically possible."""
        padded = np.concatenate([theta, np.zeros((len(theta), 1))], axis=1)
        share = np.maximum(padded[:, self.spring_index], -0.5)
        front, rear, couple = theta[:, self.unknowns.weight].T
        return Parameters(
            compliance=self.strut.compliance * (1 + share),
            datum=theta[:, self.unknowns.datum],
            offset=theta[:, self.unknowns.offset],
            twist=np.maximum(theta[:, self.unknowns.twist], 0.05) * self.axle.twist_compliance,
            weight=Weight(np.maximum(front, 1.0), np.maximum(rear, 1.0), couple),
        )

    def draws(self, count: int, seed: int = 0) -> Array:
        """Equally likely vectors of unknowns, (count, p).

        The error of a straight estimator is the same straight function of the errors that went in. Those of a
        rolled-and-bounced reading's friction are flat, not bell-shaped, and after one run they are the largest:
        they are drawn as they are and carried through; all others are normal. So are those that make less than
        `FLAT_SHARE` of the variance of every unknown: in a long log a sum of thousands.
        """
        if (count, seed) not in self._drawn:
            self._drawn[count, seed] = self._draws(count, seed)
        return self._drawn[count, seed]

    @cached_property
    def _drawn(self) -> dict[tuple[int, int], Array]:
        """Whoever tries turns asks for the same draws at every move."""
        return {}

    def _draws(self, count: int, seed: int) -> Array:
        random = np.random.default_rng(seed)
        covariance = self.regression.covariance
        effect = self.rows.friction * np.sqrt(self.held.flat_variance)[:, None]
        white = np.linalg.solve(self.root, effect)
        flat = covariance @ np.einsum("nrp,nrc->pnc", self.whitened, white).reshape(len(covariance), -1)
        telling = (flat**2 >= FLAT_SHARE * np.diagonal(covariance)[:, None]).any(axis=0)
        flat = flat[:, telling]
        rest = covariance - flat @ flat.T
        values, vectors = np.linalg.eigh(_scaled(rest, self.regression.sd))
        # The symmetric root: vectors of like values turn freely under rounding, and the draws would turn with them.
        root = self.regression.sd[:, None] * (vectors * np.sqrt(np.maximum(values, 0))) @ vectors.T
        normal = random.standard_normal((count, len(covariance)))
        held = self.held.draws(count, random, telling)
        errors = normal @ root.T + held @ flat.T
        drawn = np.asarray(self.theta + errors - errors.mean(axis=0))  # luck shall not pull to one side
        drawn.setflags(write=False)
        return drawn

    def deletions(self, kind: Kind) -> tuple[Array, Array, Array]:
        """Every reading against all the others: (error in its own unit, t, influence), (n, 4) each.

        As if the reading were left out: error is how far it stands from what the others allow; t the same in
        standard deviations (studentised deleted residual, known variances); influence how much the corner's line
        moves at that load with the reading (m of height).
        """
        effect = self.rows.tape if kind == "height" else self.rows.scale
        part, left, gain = _against(effect, self.root, self.whitened, self.regression)
        slope = -np.diagonal(self.rows.tape[:, :4], axis1=1, axis2=2)
        moved = -np.einsum("ncp,ncp->nc", gain, self.rows.columns[:, :4]) * part / left / slope
        return part / left, part / np.sqrt(left), moved

    @cached_property
    def checks(self) -> tuple[Check, ...]:
        """`deletions` with the readings they belong to."""
        return tuple(check for kind in KINDS for corner in CORNERS for check in self.checks_at(corner, kind))

    def checks_at(self, corner: str, kind: Kind) -> tuple[Check, ...]:
        """Those of one corner, oldest first."""
        place = CORNERS.index(corner)
        found = zip(*(part[:, place].tolist() for part in self._deleted[kind]), strict=True)
        readings = (row[place] for row in self.evidence.rounds.readings)
        return tuple(
            Check(reading, kind, *numbers)
            for reading, numbers in zip(readings, found, strict=True)
            if reading is not None and getattr(reading, kind) is not None
        )

    @cached_property
    def _deleted(self) -> dict[Kind, tuple[Array, Array, Array]]:
        return {kind: self.deletions(kind) for kind in KINDS}


def _against(effect: Array, root: Array, white: Array, solved: Regression) -> tuple[Array, Array, Array]:
    """One source of error in each reading against all rows: aᵀ V⁻¹ r, aᵀ (V⁻¹ − V⁻¹ X P Xᵀ V⁻¹) a, aᵀ V⁻¹ X P.

    effect: (n, 5, 4), how the rows move with it; r are the residuals. Returns (n, 4), (n, 4), (n, 4, p).
    """
    residuals = solved.residuals[: len(white) * 5].reshape(-1, 5)
    z = np.linalg.solve(root, effect)
    seen = np.einsum("nrp,nrc->ncp", white, z)
    gain = seen @ solved.covariance
    left = np.einsum("nrc,nrc->nc", z, z) - np.einsum("ncp,ncp->nc", gain, seen)
    return np.einsum("nrc,nr->nc", z, residuals), np.maximum(left, 1e-12), gain


def _scaled(covariance: Array, sd: Array) -> Array:
    return covariance / sd / sd[:, None]


def fit(truck: Truck, runs: Sequence[Run], trucks: Sequence[Truck] | None = None) -> Fit:
    """Fit the corner lines, the twist line and friction to every reading that is not in doubt.

    truck: as it is now. runs: oldest first. trucks: the truck as it was at each run, the same throughout if left
    out. Raises FitError where there is nothing to fit.
    """
    runs = tuple(runs)
    then = list(trucks) if trucks is not None else [truck] * len(runs)
    read = {r.corner for run in runs for r in run.readings if r.height is not None and not r.doubt}
    missing = [corner for corner in CORNERS if corner not in read]
    if missing:
        raise FitError(
            f"no height has been read at {', '.join(missing)}: read all four corners once, then ask again"
        )
    truck = replace(truck, noise=sharpened(truck, runs))
    today = tuple(truck.stacks.get(s.name, s) for s in stacks_of(runs, then)[-1])
    evidence = replace(evidence_of(runs, then, today), noise=truck.noise)
    prior, sd, weighed = _prior(truck, evidence)
    held = unknown(lines.bands(evidence, prior), evidence.rounds.settled)
    prior = _with_friction_from_repeats(evidence, prior, held)
    theta, held = prior, unknown(lines.bands(evidence, prior), evidence.rounds.settled)
    near: Array | None = None
    for attempt in range(MAX_PASSES):
        loads = _loads(evidence, theta)
        rows, root, white, response = _whitened(evidence, theta, held, loads, near)
        solved = solve(white, response, prior_rows(evidence, prior, sd))
        step = np.max(np.abs(solved.estimate - theta) / solved.sd)
        theta = solved.estimate
        if step < SETTLED or attempt == MAX_PASSES - 1:
            break
        near = _likely_loads(loads, rows, root, white, solved)
        evidence = _with_likely_heights(evidence, rows, theta)
        pull, hold, _ = _against(rows.friction, root, white, solved)
        held = learnt(held, lines.bands(evidence, theta), pull, hold)
    return Fit(truck, runs, today, evidence, rows, held, solved, white, response, prior, sd, root, weighed)


def _with_friction_from_repeats(evidence: Evidence, prior: Array, held: Held) -> Array:
    """The prior with each end's friction sharpened by repeats."""
    loads = _loads(evidence, prior)
    rows = rows_of(evidence, prior, held, loads, loads.read)
    slope = -np.diagonal(rows.tape[:, :4], axis1=1, axis2=2)
    residual = (rows.response - rows.columns @ prior)[:, :4] / slope
    per_force = np.abs(np.diagonal(rows.friction[:, :4], axis1=1, axis2=2)) / slope
    sharper = prior.copy()
    own = prior[evidence.unknowns.friction]
    sharper[evidence.unknowns.friction] = friction_from_repeats(
        evidence.rounds, residual, per_force, own, evidence.noise.height
    )
    return sharper


def _whitened(
    evidence: Evidence, theta: Array, held: Held, loads: Loads, near: Array | None
) -> tuple[Rows, Array, Array, Array]:
    rows = rows_of(evidence, theta, held, loads, loads.read if near is None else near)
    root = np.asarray(np.linalg.cholesky(rows.covariance), dtype=np.float64)
    both = np.concatenate([rows.columns, rows.response[..., None]], axis=-1)
    white = np.asarray(np.linalg.solve(root, both), dtype=np.float64)
    return rows, root, white[..., :-1], white[..., -1]


def _likely_loads(loads: Loads, rows: Rows, root: Array, white: Array, solved: Regression) -> Array:
    """Wheel loads (n, 4) as scales and fit together have them.

    A curve that is straight about what the scales read would be pulled flat by the scales' errors (York 1966).
    """
    residuals = solved.residuals[: len(white) * 5].reshape(-1, 5)
    z = np.linalg.solve(root, rows.scale @ loads.factor)
    moved = loads.read - np.einsum("nkj,nrj,nr->nk", loads.factor, z, residuals)
    return np.where(loads.weighed, moved, _within_reason(moved, np.median(moved, axis=1, keepdims=True)))


def _with_likely_heights(evidence: Evidence, rows: Rows, theta: Array) -> Evidence:
    """Corners that were not read, straight about the height their own line gives."""
    rounds = evidence.rounds
    unread = np.isnan(rounds.height)
    if not unread.any():
        return evidence
    slope = -np.diagonal(rows.tape[:, :4], axis1=1, axis2=2)
    off = (rows.response - rows.columns @ theta)[:, :4] / slope
    likely = np.where(unread, np.maximum(rounds.height_near + off, 1e-3), rounds.height_near)
    return replace(evidence, rounds=replace(rounds, height_near=likely))


def prior_rows(evidence: Evidence, prior: Array, sd: Array) -> tuple[Array, Array]:
    """Columns (p, p) and response (p,) of the prior rows, over their standard deviations.

    A datum is known from the file as it was when the log began, before anything was lost since.
    """
    columns, unknowns = np.diag(1 / sd), evidence.unknowns
    columns[unknowns.datum, unknowns.drift] = evidence.drift.since_now[0] / sd[unknowns.datum, None]
    return columns, prior / sd


def solve(
    white: Array, response: Array, below: tuple[Array, Array], weights: Array | None = None
) -> Regression:
    """Whitened rows over prior rows; weights (5n,) thin out rows for the robust twin."""
    columns, right = white.reshape(-1, white.shape[-1]), response.reshape(-1)
    if weights is not None:
        columns, right = columns * np.sqrt(weights)[:, None], right * np.sqrt(weights)
    return regress(np.vstack([columns, below[0]]), np.concatenate([right, below[1]]), known_variance=True)


def _robust(white: Array, response: Array, below: tuple[Array, Array], start: Regression) -> Array:
    """Estimate of Huber's regression (1.345 standard deviations) with the same known scale and prior rows."""
    from statsmodels.robust.norms import HuberT  # slow to import, and an answer to adjust does not need it

    norm, estimate = HuberT(), start.estimate
    for _ in range(2):
        residuals = (response - white @ estimate).reshape(-1)
        if np.abs(residuals).max() <= norm.t:
            break
        estimate = solve(white, response, below, np.asarray(norm.weights(residuals))).estimate
    return estimate


def _prior(truck: Truck, evidence: Evidence) -> tuple[Array, Array, tuple[bool, bool]]:
    """Prior mean and standard deviation of every unknown, and which ends have been on scales."""
    unknowns, noise = evidence.unknowns, truck.noise
    mean, sd = np.zeros(unknowns.size), np.full(unknowns.size, noise.spring_rate)
    sd[unknowns.datum] = np.where(evidence.has_datum, noise.datum, lines.FREE_DATUM)
    given = truck.frame_twist_stiffness is not None
    mean[unknowns.twist], sd[unknowns.twist] = 1.0, lines.TWIST_GIVEN if given else lines.TWIST_GUESSED
    sd[unknowns.offset] = lines.FREE_OFFSET
    friction = np.array([truck.front.friction, truck.rear.friction])
    mean[unknowns.friction], sd[unknowns.friction] = friction, lines.OWN_FRICTION * friction + 1.0
    weight, weight_sd, weighed = _weight_prior(evidence, mean)
    mean[unknowns.weight], sd[unknowns.weight] = weight, weight_sd
    sd[unknowns.drift] = evidence.drift.sd
    return mean, sd, weighed


def _weight_prior(evidence: Evidence, theta: Array) -> tuple[Array, Array, tuple[bool, bool]]:
    """Axle sums and roll couple now: from the last run that was weighed, else a guess from the springs, wide."""
    load, run = evidence.rounds.load, evidence.rounds.run
    arm = evidence.axle.track[-1, [0, 2]] / 2
    sums, spreads, halves = np.zeros(2), np.zeros(2), np.zeros(2)
    weighed = [False, False]
    guess = _seat_guess(evidence, theta)
    for end in (0, 1):
        pair = load[:, 2 * end : 2 * end + 2]
        rows = np.nonzero(~np.isnan(pair).any(axis=1))[0]
        if rows.size:
            last = pair[run == run[rows[-1]]]
            last = last[~np.isnan(last).any(axis=1)]
            mean = last.mean(axis=0)
            noise = evidence.noise.load * mean / np.sqrt(len(last))
            drift = 0.0 if run[rows[-1]] == run[-1] else lines.WEIGHT_DRIFT
            weighed[end] = True
        else:
            mean = guess[2 * end : 2 * end + 2]
            mean = np.full(2, mean.mean())
            noise, drift = np.zeros(2), 0.3
        sums[end], halves[end] = mean.sum(), (mean[0] - mean[1]) * arm[end]
        spreads[end] = np.hypot(np.sqrt((noise**2).sum()), drift * mean.sum())
    lopsided = 0.0 if all(weighed) else lines.LOPSIDED * float(sums @ arm)
    couple_sd = np.hypot(np.hypot(*(spreads * arm * weighed)), lopsided)
    spreads = np.hypot(spreads, lines.SCALE_STEP)
    return (
        np.array([*sums, halves.sum()]),
        np.array([*spreads, np.hypot(couple_sd, lines.SCALE_STEP)]),
        (weighed[0], weighed[1]),
    )


def _seat_guess(evidence: Evidence, theta: Array) -> Array:
    """Wheel loads (4,) that the springs' nominal data give for the latest heights; an end without shocks is taken
    to carry what the other carries."""
    seat = evidence.axle.seat_heights(evidence.rounds.height_near)
    wheel = _spring_wheel_loads(evidence, theta, seat)[-1]
    known = evidence.has_datum
    fallback = float(np.mean(wheel[known])) if known.any() else 4000.0
    return np.where(known, wheel, fallback)


def _spring_wheel_loads(evidence: Evidence, theta: Array, seat: Array) -> Array:
    """Wheel loads (n, 4) from stack compression alone; only of use where the datum is known."""
    strut = evidence.strut
    share = np.append(theta, 0.0)[evidence.spring_index]
    compressed = strut.compression(seat) - evidence.datum(theta)
    limit = strut.limit()
    most = 0.98 * limit.sum(axis=-1)
    force = springs.force(np.minimum(compressed, most), strut.compliance * (1 + share), limit)
    wheel = evidence.axle.wheel_loads(strut.seat_load(force, seat))
    known = evidence.has_datum if evidence.has_datum.any() else slice(None)
    return _within_reason(wheel, np.median(wheel[:, known], axis=1, keepdims=True))


def _within_reason(wheel: Array, middle: Array) -> Array:
    """Unweighed loads held within half and twice the middle one: a mistyped height must not unload a spring."""
    return np.clip(wheel, 0.5 * middle, 2 * middle)


def _loads(evidence: Evidence, theta: Array) -> Loads:
    """What is known of the wheel loads of every round.

    Weighed: what the scales say. Not weighed at all: the weight now, give or take what fuel and tools change, and
    a front couple that nobody knows. Weighed in part: the unweighed wheels could carry anything.
    """
    load, axle = evidence.rounds.load, evidence.axle
    n = len(load)
    known = ~np.isnan(load)
    factor = np.zeros((n, 4, 4))
    link = np.zeros((n, 4, 3))
    corner = np.arange(4)
    if known.all():
        factor[:, corner, corner] = np.hypot(evidence.noise.load * load, lines.SCALE_STEP)
        return Loads(load, known, factor, link)
    spread = load_by_weight(axle)
    seat = axle.seat_heights(evidence.rounds.height_near)
    guess = _spring_wheel_loads(evidence, theta, seat)
    front, rear, couple = theta[evidence.unknowns.weight]
    by_front = axle.front_couple(guess)
    by_rear = couple - (guess[:, 2] - guess[:, 3]) * axle.track[:, 2] / 2
    ends = [e for e in (0, 1) if evidence.has_datum[2 * e]]
    front_couple = np.mean([(by_front, by_rear)[e] for e in ends], axis=0) if ends else np.full(n, couple / 2)
    model = np.einsum(
        "nkj,jn->nk", spread, np.array([np.full(n, v) for v in (front, rear, couple)] + [front_couple])
    )
    loads = np.where(known, load, model)
    size = np.where(known, np.hypot(evidence.noise.load * loads, lines.SCALE_STEP), np.abs(model))
    factor[:, corner, corner] = size
    unweighed = ~known.any(axis=1)
    arm = axle.track.mean(axis=1) / 4
    drift = lines.WEIGHT_DRIFT * np.array([front, rear, front + rear])
    free = np.stack(
        [np.full(n, drift[0]), np.full(n, drift[1]), drift[2] * arm, (front + rear) * arm], axis=-1
    )
    factor[unweighed] = (spread * free[:, None])[unweighed]
    link[unweighed] = spread[unweighed][..., :3]
    return Loads(loads, known, factor, link)
