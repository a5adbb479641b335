"""The rows of the fit: what each round of readings says of the unknowns, and how surely. SI.

A round gives five rows, straight in the unknowns. Four corner lines,

    x = d + D(F; g) ∓ C f / m        stack compression = datum + deflection of the springs ∓ friction held

and one twist line, the frame tying the corners,

    warp(h) = c0 + c1 (M − share · couple),

with the heights written as the corner lines say they are for that round's loads, so that the tape's error is
counted once. Errors of the five rows come from the same sources (tape, friction, scales, floor) and go together:
each round is whitened by the Cholesky root of its own 5 × 5 covariance.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from . import stack as springs
from .arrays import Array, Flags, Places, stacked, taken
from .drift import Drift, drift_of
from .friction import Held
from .readings import Run
from .rounds import Rounds, rounds_of, stacks_of
from .statics import Axles, Struts, Weight, axles, struts, weight_of, wheel_loads
from .truck import CORNERS, END_NAMES, END_OF, Noise, Stack, Truck

UNREAD = 1.0  # m: a tape this poor says nothing
NUT_UNSAID = 0.05  # m: by how much a nut may have been turned that nobody wrote down
UNHELD = (
    0.15  # share of the friction band by which settling from one side may fail to use it up (from memory)
)
WEIGHT_DRIFT = 0.005  # share of an end's load that fuel and tools change between weighed and unweighed runs
SCALE_STEP = 2.0  # N: what a scale rounds to, however little stands on it (from memory)
LOPSIDED = (
    0.05  # share of its weight by which one side of an unweighed truck may outweigh the other (from memory)
)
FREE_DATUM = 2.0  # m: prior spread of a spring whose free height nobody knows
FREE_OFFSET = 0.003  # rad: prior spread of the unloaded frame's warp, marks and floor included
OWN_FRICTION = 0.5  # prior spread of an end's friction, as a share
TWIST_GIVEN, TWIST_GUESSED = 1 / 3, 1 / 2  # prior spread of the twist compliance, as a share

CORNER_END = [END_NAMES.index(END_OF[c]) for c in CORNERS]


@dataclass(frozen=True)
class Unknowns:
    """Where each unknown of the fit stands in its vector.

    First the datum of each corner (m), then the compliance of each spring as a share over nominal, then the warp
    of the unloaded truck (rad), its twist compliance as a share of nominal, the friction of each end (N), the
    weight: axle sums (N) and roll couple (N·m), and last how the datums drifted (`drift.py`).
    """

    springs: tuple[tuple[str, Stack, int], ...]  # corner, stack, 0 upper or 1 lower
    drifts: int = 0

    @property
    def datum(self) -> slice:
        """Of LF, RF, LR, RR."""
        return slice(0, 4)

    def springs_at(self, stacks: Sequence[Stack]) -> Places:
        """Places of the upper and lower spring at each corner, (4, 2); one past the end for one that is not there."""
        place = {key: 4 + i for i, key in enumerate(self.springs)}
        pairs = zip(CORNERS, stacks, strict=True)
        return np.array([[place.get((c, s, i), self.size) for i in (0, 1)] for c, s in pairs], dtype=np.intp)

    @property
    def offset(self) -> int:
        """c0."""
        return 4 + len(self.springs)

    @property
    def twist(self) -> int:
        """c1 over nominal."""
        return self.offset + 1

    @property
    def friction(self) -> slice:
        """Front, rear."""
        return slice(self.offset + 2, self.offset + 4)

    @property
    def weight(self) -> slice:
        """Front, rear, couple."""
        return slice(self.offset + 4, self.offset + 7)

    @property
    def drift(self) -> slice:
        """In the order of `Drift.owner`."""
        return slice(self.offset + 7, self.size)

    @property
    def size(self) -> int:
        """How many."""
        return self.offset + 7 + self.drifts


@dataclass(frozen=True)
class Evidence:
    """All rounds with the truck as it was at each: what the rows are made from."""

    rounds: Rounds
    strut: Struts
    axle: Axles
    unknowns: Unknowns
    spring_index: Places  # (n, 4, 2): place of each corner's springs among the unknowns
    has_datum: Flags  # (4,): the datum is known to a few millimetres
    noise: Noise
    stacks: tuple[tuple[str, ...], ...]  # names of those at the corners in each run
    drift: Drift

    def datum(self, theta: Array) -> Array:
        """Datum of each corner at each round (m), (n, 4)."""
        drifted = self.drift.since_now[self.rounds.run] @ theta[self.unknowns.drift]
        return np.asarray(theta[self.unknowns.datum] + drifted)


@dataclass(frozen=True)
class Loads:
    """Wheel loads of every round: as read or, unweighed, as the springs and the weight have them, (n, 4) N; root of
    their covariance (n, 4, 4); how they follow the unknown weight (n, 4, 3), zero where they were weighed."""

    read: Array
    weighed: Flags
    factor: Array
    link: Array


@dataclass(frozen=True)
class Rows:
    """Five rows a round before whitening. columns (n, 5, p), response (n, 5).

    covariance: of everything, (n, 5, 5). friction, tape and scale, (n, 5, 4): how a row moves with a unit of
    friction held at each corner, with one height, with one wheel load as read.
    """

    columns: Array
    response: Array
    covariance: Array
    friction: Array
    tape: Array
    scale: Array


def evidence_of(runs: Sequence[Run], trucks: Sequence[Truck], today: Sequence[Stack]) -> Evidence:
    """What the runs say, each read against the truck as it was then. today: stacks that stand at the corners now."""
    rounds = rounds_of(runs)
    mounted = stacks_of(runs, trucks)
    pairs = [pair for stacks in [*mounted, today] for pair in zip(CORNERS, stacks, strict=True)]
    known = [(c, s, i) for c, s in dict.fromkeys(pairs) for i in (0, 1) if i == 1 or s.upper is not None]
    names = tuple(tuple(s.name for s in stacks) for stacks in mounted)
    drift = drift_of(runs, names)
    unknowns = Unknowns(tuple(known), drift.count)
    setups = list(zip(map(id, trucks), mounted, strict=True))
    distinct = list(dict.fromkeys(setups))
    by_id = {id(truck): truck for truck in trucks}
    which = np.array([distinct.index(setup) for setup in setups], dtype=np.intp)
    place = which[rounds.run]
    strut = stacked([struts(by_id[truck], stacks) for truck, stacks in distinct])
    axle = stacked([axles(by_id[truck]) for truck, _ in distinct])
    return Evidence(
        rounds=rounds,
        strut=taken(strut, place, preload=rounds.preload),
        axle=taken(axle, place),
        unknowns=unknowns,
        spring_index=np.stack([unknowns.springs_at(stacks) for _, stacks in distinct])[place],
        has_datum=np.array([trucks[-1].corners[c].shock is not None for c in CORNERS]),
        noise=trucks[-1].noise,
        stacks=names,
        drift=drift,
    )


def bands(evidence: Evidence, theta: Array) -> Array:
    """Friction half band at each reading's corner by the present estimate, (n, 4) N."""
    ends = np.maximum(theta[evidence.unknowns.friction], 1.0)[CORNER_END]
    return np.broadcast_to(ends, evidence.rounds.height.shape)


def rows_of(evidence: Evidence, theta: Array, held: Held, loads: Loads, near: Array) -> Rows:
    """The five rows of every round, straight about `theta` (p,) and the wheel loads `near` (n, 4).

    held: what is known of the friction in each reading.
    """
    rounds, strut, axle, unknowns = evidence.rounds, evidence.strut, evidence.axle, evidence.unknowns
    n, p = len(rounds.run), unknowns.size
    corner = np.arange(4)
    share = np.append(theta, 0.0)[evidence.spring_index]  # the place past the end is for springs not there
    compliance = strut.compliance * (1 + share)
    limit = strut.limit()
    seat = axle.seat_heights(rounds.height_near)
    seat_load = axle.seat_loads(near)
    ratio = strut.cycle.motion_ratio(seat)
    # What the springs carry themselves: near a knee, friction decides which side of it they are on.
    settled = bands(evidence, theta) * rounds.settled
    force = strut.spring_force(seat_load, seat) - settled / ratio
    on = springs.working(force, compliance, limit)
    pressed = force[..., None] * strut.compliance * on
    # Not clipped at zero: a standing spring is never loose, but a mistyped height can make it look so.
    deflected = np.minimum(force[..., None] * compliance, limit).sum(axis=-1)
    local = (compliance * on).sum(axis=-1)
    slope = ratio + local * strut.force_slope(seat_load, seat)  # fall of a corner line's residual with height

    columns = np.zeros((n, 5, p + 1))
    columns[:, corner, corner] = 1.0
    columns[:, :4, unknowns.drift] = evidence.drift.since_now[rounds.run]
    for i in (0, 1):
        np.put_along_axis(columns[:, :4], evidence.spring_index[..., i, None], pressed[..., i, None], axis=-1)
    per_force = -local / ratio  # of a corner line with friction that holds the truck up (m/N)
    columns[:, corner, unknowns.friction.start + np.array(CORNER_END)] = per_force * rounds.settled
    columns[..., p] = 0.0
    columns = columns[..., :p]
    response = np.zeros((n, 5))
    response[:, :4] = strut.compression(seat) - deflected + (pressed * share).sum(-1) + per_force * settled

    to_seat = _linear_part(axle.seat_loads, axle)
    scale = np.zeros((n, 5, 4))
    scale[:, :4] = (local / ratio)[..., None] * to_seat
    columns[:, :4, unknowns.weight] = scale[:, :4] @ loads.link

    # The twist line, with each height where its corner line puts it.
    tilt = np.array([1.0, -1.0, -1.0, 1.0]) / axle.spring_spacing
    lift = tilt / slope
    columns[:, 4] = np.einsum("nc,ncp->np", lift, columns[:, :4])
    response[:, 4] = axle.warp(seat) + (lift * response[:, :4]).sum(axis=-1)
    twisting = axle.twisting_couple(axle.front_couple(near), np.asarray(weight_of(near, axle).couple))
    columns[:, 4, unknowns.offset] = 1.0
    columns[:, 4, unknowns.twist] = axle.twist_compliance * twisting
    turned = (theta[unknowns.twist] * axle.twist_compliance)[:, None] * _twisting_part(axle)
    scale[:, 4] = np.einsum("nc,nck->nk", lift, scale[:, :4]) + turned
    columns[:, 4, unknowns.weight] += np.einsum("nk,nkw->nw", turned, loads.link)
    response += np.einsum(
        "nrw,nw->nr", columns[..., unknowns.weight], _as_vector(weight_of(loads.read, axle))
    )
    response -= np.einsum("nrk,nk->nr", scale, loads.read - near)

    friction = np.zeros((n, 5, 4))
    friction[:, corner, corner] = per_force
    friction[:, 4] = lift * per_force
    response -= np.einsum("nrc,nc->nr", friction, held.mean)

    tape = np.zeros((n, 5, 4))
    tape[:, :4] = -slope[..., None] * _linear_part(axle.seat_heights, axle)
    tape_sd = np.where(np.isnan(rounds.height), UNREAD, evidence.noise.height)
    nut = np.zeros((n, 5, 4))
    nut[:, corner, corner] = 1.0
    nut[:, 4] = lift
    nut_sd = np.where(rounds.nut_unsaid, NUT_UNSAID, 0.0)
    floor = evidence.noise.floor * np.sqrt(2 / axle.track[:, 0] ** 2 + 2 / axle.track[:, 2] ** 2)
    friction_sd = np.sqrt(held.variance)
    parts = [
        tape * tape_sd[:, None],
        friction * friction_sd[:, None],
        nut * nut_sd[:, None],
        scale @ loads.factor,
    ]
    sources = np.concatenate(parts, axis=-1)
    covariance = sources @ sources.transpose(0, 2, 1)
    covariance[:, 4, 4] += floor**2
    return Rows(columns, response, covariance, friction, tape, -scale)


def _linear_part(function: Callable[[Array], Array], axle: Axles) -> Array:
    """Matrix (n, 4, 4) of an affine function of four corner values."""
    zero = np.zeros(axle.track.shape)
    unit = [function(zero + np.eye(4)[k]) - function(zero) for k in range(4)]
    return np.stack(unit, axis=-1)


def _twisting_part(axle: Axles) -> Array:
    """How the twisting couple follows each wheel load, (n, 4)."""
    arm = np.array([1.0, -1.0, 1.0, -1.0]) * axle.track / 2
    front = np.array([1.0, 1.0, 0.0, 0.0])
    return arm * (front - axle.rear_tyre_share[:, None])


def _as_vector(weight: Weight) -> Array:
    return np.stack(np.broadcast_arrays(weight.front, weight.rear, weight.couple), axis=-1)


def load_by_weight(axle: Axles) -> Array:
    """How wheel loads follow front sum, rear sum, roll couple and front couple: (n, 4, 4)."""
    zero = np.zeros(len(axle.track))
    columns = []
    for k in range(4):
        one = [zero + (k == j) for j in range(4)]
        columns.append(wheel_loads(Weight(one[0], one[1], one[2]), one[3], axle))
    return np.stack(columns, axis=-1)
