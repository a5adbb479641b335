"""The most that can be got out of the readings: every law and every prior known, all of it carried through.

Who stands here knows how trucks are drawn and read (`tests.truth.shop`), but sees only the readings. Unknown are
at each corner the datum, the rate of each spring and the friction; of the whole truck the frame's stiffness and
the set. Scales are ten times better than the tape, so under the loads as read

- every corner by itself says how likely its tape readings are, friction being uniform within its band (or at the
  end of it where the corner was let down or up): a sum over points of the band, springs' knee and all;
- the frame ties them: the corners' tilt less what the couple twists must be the one set. Four uniform heights, each
  narrowed by its tape, sum to what is normal for all that matters, and so the set integrates out.

Datum, rates and friction are proposed where the readings put them and weighed back, ends are drawn and weighed each
for itself, then paired, weighed by the frame and drawn again. The turns are those with the best chance of being
inside all tolerances at once.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from tests.truth import rest, shop
from tests.truth.machine import ATMOSPHERE, Machine, machine_of, seat_force
from tests.truth.shop import Real, Visit, stand
from tuning.truck import CORNERS, Truck

from .cases import misses
from .lattice import Lattice
from .methods import Advice

Array = NDArray[np.float64]

PROPOSED, PAIRED, KEPT = 2000, 6000, 500
FEW, SOME = 4, 32  # of those kept, to look everywhere with and then nearby
BAND_POINTS = 10
UNKNOWN = 10.0  # m: free height of a leaf
WIDER = 1.2  # proposals against what they aim at
FAR = 25.0  # squared tolerances: past this, all misses are as bad
TAPE = np.hypot(shop.TAPE, shop.TAPE_GRID / np.sqrt(12))
TILT = np.array([1.0, -1.0, -1.0, 1.0])  # front tilt less rear tilt


@dataclass(frozen=True)
class Readings:
    """All readings so far, one row each (n, 4); what rubs is known in kind only: ways (n,)."""

    machine: Machine  # as listed, but with the gas as it is
    friction: Array  # of the file, (4,)
    heights: Array  # at the seats
    wheels: Array
    preload: Array
    ways: Array

    @staticmethod
    def of(truck: Truck, visits: list[Visit]) -> "Readings":
        """Gathered, and the heights taken from marks to seats."""
        machine = machine_of(truck, ATMOSPHERE)
        heights = np.concatenate([v.heights for v in visits])
        middle = (heights[:, [0, 2]] + heights[:, [1, 3]]) / 2
        lean = (heights[:, [0, 2]] - heights[:, [1, 3]]) / 2 * machine.spring_spacing / machine.height_spacing
        return Readings(
            machine,
            np.array([truck.end(c).friction for c in CORNERS]),
            np.stack([middle + lean, middle - lean], -1).reshape(-1, 4),
            np.concatenate([v.wheels for v in visits]),
            np.concatenate([np.broadcast_to(v.preload, v.heights.shape) for v in visits]),
            np.concatenate([v.ways for v in visits]),
        )

    @cached_property
    def couples(self) -> Array:
        """Roll couple of each end, (n, 2)."""
        return (self.wheels[:, [0, 2]] - self.wheels[:, [1, 3]]) * self.machine.track / 2

    @cached_property
    def seats(self) -> Array:
        """Seat loads, springs and friction together."""
        sums = self.wheels[:, [0, 2]] + self.wheels[:, [1, 3]] - self.machine.unsprung
        halves = self.couples * 2 / self.machine.spring_spacing
        return np.stack([sums + halves, sums - halves], -1).reshape(-1, 4) / 2

    @cached_property
    def seat_blur(self) -> Array:
        """Variance of the seat loads from the scales' error."""
        reach = np.repeat(self.machine.track / self.machine.spring_spacing, 2)
        own = (self.wheels * shop.SCALE / 2) ** 2
        return (1 + reach) ** 2 * own + (1 - reach) ** 2 * own[:, [1, 0, 3, 2]]

    @cached_property
    def band(self) -> tuple[Array, Array]:
        """Where in the band the friction may be, as shares of it, and how likely: (n, points) each."""
        points, weights = np.polynomial.legendre.leggauss(BAND_POINTS)
        if self.ways.all():
            return self.ways[:, None].astype(float), np.ones((len(self.ways), 1))
        known = self.ways[:, None] != 0
        spread = np.broadcast_to(points, (len(self.ways), BAND_POINTS))
        return np.where(known, self.ways[:, None], spread), np.broadcast_to(weights / 2, spread.shape)


@dataclass(frozen=True)
class Cloud:
    """Trucks that could have given the readings, all alike likely."""

    machine: Machine
    load: rest.Load

    def misses(self, truck: Truck, preload: Array) -> Array:
        """(settings, trucks, wishes) at settings (k, 4)."""
        shape = (len(preload), *self.machine.datum.shape)
        return misses(truck.target, self.standing(np.broadcast_to(preload[:, None], shape)))

    def standing(self, preload: Array) -> rest.Rest:
        """Where each would stand if nothing rubbed."""
        return stand(Real(self.machine, self.load, np.zeros(4)), preload)


def ceiling(truck: Truck, visits: list[Visit]) -> Advice:
    """The setting with the best chance, and the intervals, of one who knows how trucks are drawn and read."""
    cloud = posterior(Readings.of(truck, visits), np.random.default_rng(0))
    preload = best_chance(truck, cloud, visits[-1].preload)
    after = cloud.standing(preload)
    miss = misses(truck.target, after)
    return Advice(
        preload,
        heights=np.quantile(after.heights, (0.05, 0.95), axis=0).T,
        wheels=np.quantile(after.wheels, (0.05, 0.95), axis=0).T,
        cross=np.quantile(after.cross, (0.05, 0.95)),
        chance=float((np.abs(miss) <= 1).all(-1).mean()),
    )


def posterior(readings: Readings, rng: Generator) -> Cloud:
    """Draws of the truck given the readings."""
    corners = _corner_draws(readings, rng)
    ends = [_drawn(rng, corners.weight[:, pair].sum(-1), PAIRED) for pair in (slice(0, 2), slice(2, 4))]
    order = np.stack(
        [np.repeat(ends[0][:, None], 2, 1), np.repeat(rng.permutation(ends[1])[:, None], 2, 1)], 1
    )
    place = (order.reshape(PAIRED, 4), np.arange(4))
    tilt = (
        corners.height[place[0], :, place[1]] * (TILT / _by_corner(readings.machine.spring_spacing))[:, None]
    ).sum(1)
    blur = corners.variance[place[0], :, place[1]] / _by_corner(readings.machine.spring_spacing)[:, None] ** 2
    frame = readings.machine.frame_compliance / rng.uniform(*shop.FRAME_STIFFNESS, PAIRED)
    tyres = readings.machine.tyre_compliance
    twist = (frame[:, None] + tyres[0]) * readings.couples[:, 0] - tyres[1] * readings.couples[:, 1]
    known = 1 / (blur.sum(1) + _scale_blur(readings, corners, place))
    precision = 1 / shop.SET**2 + known.sum(1)
    own_set = ((tilt - twist) * known).sum(1) / precision
    likely = (
        np.log(known).sum(1)
        - np.log(precision)
        - ((tilt - twist) ** 2 * known).sum(1)
        + own_set**2 * precision
    )
    kept = _drawn(rng, likely / 2, KEPT)
    order = (place[0][kept], place[1])
    machine = replace(
        readings.machine,
        datum=corners.machine.datum[order],
        upper_rate=corners.machine.upper_rate[order],
        lower_rate=corners.machine.lower_rate[order],
        frame_compliance=frame[kept],
        set=rng.normal(own_set[kept], precision[kept] ** -0.5),
    )
    spread = shop.SCALE / np.sqrt(len(readings.wheels))
    wheels = readings.wheels.mean(0) * (1 + rng.normal(0, spread, (KEPT, 4)))
    return Cloud(machine, rest.Load.of(wheels, readings.machine.track))


@dataclass(frozen=True)
class CornerDraws:
    """Each corner for itself. machine: (draws, 4). weight: log, (draws, 4). Where each reading's true height must
    have been: mean and variance over the friction that it leaves possible, (draws, readings, 4)."""

    machine: Machine
    weight: Array
    height: Array
    variance: Array
    rate: Array


def _corner_draws(readings: Readings, rng: Generator) -> CornerDraws:
    aim = _aim(readings)
    off = rng.normal(0, 1, (PROPOSED, 4, 4))
    about = aim.centre + WIDER * np.einsum("cij,dcj->dci", aim.root, off)
    height, rate = _heights(readings, aim.base + about)
    chance = readings.band[1][..., None]
    off_by = (height - readings.heights[:, None]) / aim.blur[:, None]
    fit = chance * np.exp(-0.5 * off_by**2) + 1e-300
    total = fit.sum(2)
    mean = (fit * height).sum(2) / total
    variance = (fit * (height - mean[:, :, None]) ** 2).sum(2) / total
    weight = np.log(total).sum(1) - 0.5 * (about**2 * aim.prior).sum(-1) + 0.5 * (off**2).sum(-1)
    weight += _sides_agree(about[..., 3])
    return CornerDraws(_machine(readings, aim.base + about), weight, mean, variance, rate.mean((1, 2)))


def _sides_agree(friction: Array) -> Array:
    """Log weight (draws, 4) of logs of friction drawn each for itself, whose sides have most of it in common.

    Half of an end's weight at either side; only their sum is used.
    """
    left, right = friction[:, [0, 2]], friction[:, [1, 3]]
    ends, sides = shop.FRICTION_SPREAD**2, shop.FRICTION_SIDES**2
    own = (left**2 + right**2) / (ends + sides)
    joint = ((left + right) ** 2 / (2 * ends + sides) + (left - right) ** 2 / sides) / 2
    return np.repeat((own - joint) / 4, 2, axis=1)


@dataclass(frozen=True)
class Aim:
    """Where the readings would put the unknowns of each corner if all were straight and every error bell-shaped.

    base (4, 4): datum, upper and lower rate over listed and log of friction, to be straight about. prior: 1 /
    variance of what is added to it. centre (4, 4), root (4, 4, 4): what the readings add, and how surely.
    blur (readings, 4): one sd of a height read under a load read (m), friction apart.
    """

    base: Array
    prior: Array
    centre: Array
    root: Array
    blur: Array


def _aim(readings: Readings) -> Aim:
    listed = readings.machine
    leaf = ~np.array(listed.adjustable)
    stands_free = readings.heights.mean(0) + readings.seats.mean(0) / listed.lower_rate
    base = np.stack([np.where(leaf, -stands_free, 0.0), np.ones(4), np.ones(4), np.zeros(4)], -1)
    spread = np.array([shop.DATUM, shop.RATE, shop.RATE, np.hypot(shop.FRICTION_SPREAD, shop.FRICTION_SIDES)])
    prior = np.tile(1 / spread**2, (4, 1))
    prior[leaf, 0] = 1 / UNKNOWN**2
    steps = np.array([1e-3, 0.01, 0.01, 0.1])
    height, rate = _heights(readings, np.concatenate([base[None], base + np.eye(4)[:, None] * steps]))
    blur = np.sqrt(TAPE**2 + readings.seat_blur / rate[0].mean(1) ** 2)
    chance = readings.band[1][..., None]
    mean = (height * chance).sum(2)
    band = ((height - mean[:, :, None]) ** 2 * chance).sum(2)[0]
    slope = (mean[1:] - mean[0]) / steps[:, None, None]  # (4, readings, 4)
    known = 1 / (blur**2 + band)
    covariance = np.linalg.inv(np.einsum("irc,jrc,rc->cij", slope, slope, known) + np.eye(4) * prior[:, None])
    told = np.einsum("irc,rc,rc->ci", slope, known, readings.heights - mean[0])
    centre = np.einsum("cij,cj->ci", covariance, told)
    return Aim(base, prior, centre, np.linalg.cholesky(covariance), blur)


def _machine(readings: Readings, unknown: Array) -> Machine:
    """The listed truck with these datums and rates (draws, 4, 4)."""
    datum, upper, lower, _ = np.moveaxis(unknown, -1, 0)
    listed = readings.machine
    return replace(
        listed, datum=datum, upper_rate=listed.upper_rate * upper, lower_rate=listed.lower_rate * lower
    )


def _heights(readings: Readings, unknown: Array) -> tuple[Array, Array]:
    """Seat heights (draws, readings, points, 4) under the loads as read, for every place in the band, and rates."""
    friction = readings.friction * np.exp(unknown[..., 3])
    pushed = readings.seats[:, None] - readings.band[0][..., None] * friction[:, None, None]
    start = np.broadcast_to(readings.heights[:, None], pushed.shape)
    return _height_under(_machine(readings, unknown), pushed, readings.preload[:, None], start)


def _height_under(machine: Machine, load: Array, preload: Array, start: Array) -> tuple[Array, Array]:
    """Seat heights (draws, readings, points, 4) under seat loads, and rates there.

    Load falls ever more slowly with height, so Newton comes to the root from one side, knee or not.
    """
    own = {name: getattr(machine, name)[:, None, None] for name in ("upper_rate", "lower_rate", "datum")}
    machine, height = replace(machine, **own), start
    for _ in range(20):
        force, rate = seat_force(machine, height, preload)
        step = (force - load) / np.maximum(rate, 1e3)
        height = height + step
        if np.abs(step).max() < 1e-6:
            break
    return height, rate


def _scale_blur(readings: Readings, corners: CornerDraws, place: tuple[Array, Array]) -> Array:
    """Variance of each reading's tilt from the scales' error, (draws, readings)."""
    machine = readings.machine
    arm = (machine.track / machine.spring_spacing) / machine.spring_spacing
    give = 1 / corners.rate[place]
    error = (readings.wheels * shop.SCALE) ** 2
    own = _by_corner(arm) ** 2 * give**2
    return (own[:, None] * error).sum(-1)


def _by_corner(by_end: Array) -> Array:
    return np.repeat(by_end, 2)


def _drawn(rng: Generator, log_weight: Array, count: int) -> Array:
    """Places drawn in proportion to their weight, evenly spread."""
    weight = np.exp(log_weight - log_weight.max())
    ladder = np.cumsum(weight) / weight.sum()
    return np.minimum(np.searchsorted(ladder, (rng.random() + np.arange(count)) / count), len(weight) - 1)


def best_chance(truck: Truck, cloud: Cloud, now: Array) -> Array:
    """The setting with the best chance of being inside all tolerances; among equals the least squared miss.

    First the least squared miss of a few of the drawn trucks, anywhere, and of some more nearby. Then, with each of
    them all taken as straight about there, the best chance; and last a step about that, nothing taken as straight.
    """
    lattice = Lattice.of(truck, now)

    def squared(count: int) -> Callable[[Array], Array]:
        part = slice(0, KEPT, KEPT // count)
        some = Cloud(cloud.machine.at(part), cloud.load.at(part))
        return lambda preload: (some.misses(truck, preload) ** 2).sum(-1).mean(-1)

    here = lattice.search(squared(SOME), lattice.sweep(squared(FEW)), (2, 1))
    steps = np.diag(lattice.step * 2)
    tried = cloud.misses(truck, np.vstack([here, here + steps, here - steps]))
    width = np.where(lattice.step > 0, lattice.step * 4, 1.0)
    middle, slope = tried[0], (tried[1:5] - tried[5:]) / width[:, None, None]

    def straight(preload: Array) -> Array:
        return cost_of(middle + np.einsum("kc,cpw->kpw", preload - here, slope))

    near = lattice.search(straight, here, (4, 2, 1))
    around = np.unique(
        lattice.snapped(near + np.vstack([np.eye(4), -np.eye(4), np.zeros(4)]) * lattice.step), axis=0
    )
    settings = np.vstack([here, around])
    return np.asarray(settings[cost_of(cloud.misses(truck, settings)).argmin()])


def cost_of(miss: Array) -> Array:
    """Of settings (k,) from misses (k, trucks, wishes): chance of being outside, and a little of how far."""
    inside = (np.abs(miss) <= 1).all(-1).mean(-1)
    return 0.01 * np.minimum((miss**2).sum(-1), FAR).mean(-1) - inside
