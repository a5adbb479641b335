"""What trucks are, as arrays over trucks (leading axes) and corners (last axis: LF, RF, LR, RR). SI."""

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from tuning.truck import CORNERS, Corner, Truck

Array = NDArray[np.float64]

NO_SPRING = 1e15  # N/m: a spring that is not there
NO_LIMIT = 1e3  # m: a stop that is not there
HARD_STOP = 1e8  # N/m: springs pressed solid
ATMOSPHERE = 101325.0  # Pa


@dataclass(frozen=True)
class Machine:
    """Corner arrays (..., 4); end arrays (2,), front and rear; twist arrays (...).

    `datum` is how much shorter than listed a stack is, mounts and marks included (m): it is pressed by
    datum + deflection in all. A leaf is a corner whose height is its shaft, whose stroke is nil and whose
    datum is minus its free height.
    """

    shaft_terms: Array  # (..., 4, 3): shaft = a + b h + c h²
    stroke: Array
    gas_area: Array  # nil: no gas
    gas_pressure: Array  # gauge, at full extension
    gas_volume: Array  # at full extension; inf: the pressure does not grow
    atmosphere: float  # nil: the gas grows on its gauge pressure
    upper_rate: Array
    upper_travel: Array
    ring_gap: Array
    lower_rate: Array
    lower_travel: Array
    datum: Array
    track: Array
    spring_spacing: Array
    height_spacing: Array
    unsprung: Array  # N, both wheels of an end
    frame_compliance: Array  # rad per N·m
    tyre_compliance: Array  # (..., 2) rad per N·m of couple at that end
    set: Array  # rad: twist of the axles against each other with no couple in the frame
    adjustable: tuple[bool, ...] = (True,) * 4

    def at(self, index: object) -> "Machine":
        """One truck, or some, of many (first axis); what they all share stays shared."""
        return replace(self, **{name: getattr(self, name)[index] for name in self._own()})

    def spread(self) -> "Machine":
        """With an axis for settings put in after the trucks', to meet preloads (trucks, settings, 4)."""
        return replace(self, **{name: getattr(self, name)[:, None] for name in self._own()})

    def _own(self) -> list[str]:
        """Fields that differ from truck to truck."""
        arrays = [f.name for f in fields(self) if f.name not in ("atmosphere", "adjustable")]
        shared = {"shaft_terms": 2, "frame_compliance": 0, "set": 0}
        return [name for name in arrays if getattr(self, name).ndim > shared.get(name, 1)]


def machine_of(truck: Truck, atmosphere: float = 0.0) -> Machine:
    """The truck exactly as listed: no datum, no set, springs at their nominal rates.

    A leaf's free height is on no list: its datum is nil here and must be put in. `atmosphere` (Pa): with it
    the gas grows on its absolute pressure, as gas does; without, on the gauge pressure.
    """
    corners = [truck.corners[c] for c in CORNERS]
    ends = (truck.front, truck.rear)
    each = {name: np.array([getattr(e, name) for e in ends], float) for name in
            ("track", "spring_spacing", "height_spacing")}  # fmt: skip
    couple = [np.inf if e.tyre_rate is None else e.tyre_rate * e.track**2 / 2 for e in ends]
    stiffness = truck.frame_twist_stiffness
    return Machine(
        shaft_terms=np.array([_shaft_terms(c) for c in corners]),
        stroke=np.array([0.0 if c.shock is None else c.shock.stroke for c in corners]),
        **dict(
            zip(
                ("gas_area", "gas_pressure", "gas_volume"),
                np.array([_gas(c) for c in corners]).T,
                strict=True,
            )
        ),
        atmosphere=atmosphere,
        upper_rate=np.array([NO_SPRING if c.stack.upper is None else c.stack.upper.rate for c in corners]),
        upper_travel=np.array([_travel(c.stack.upper) for c in corners]),
        ring_gap=np.array([NO_LIMIT if c.stack.ring_gap is None else c.stack.ring_gap for c in corners]),
        lower_rate=np.array([c.stack.lower.rate for c in corners]),
        lower_travel=np.array([_travel(c.stack.lower) for c in corners]),
        datum=np.zeros(4),
        unsprung=np.array([e.unsprung_weight for e in ends], float),
        frame_compliance=np.array(0.0 if stiffness is None else 1 / stiffness),
        tyre_compliance=1 / np.array(couple),
        set=np.array(0.0),
        adjustable=tuple(c.adjuster is not None for c in corners),
        **each,
    )


def _shaft_terms(corner: Corner) -> list[float]:
    if not corner.cycle:
        return [0.0, 1.0, 0.0]
    height, shaft = np.array(corner.cycle).T
    terms = np.polynomial.Polynomial.fit(height, shaft, 1 if len(height) < 4 else 2).convert().coef
    return [*terms, *[0.0] * (3 - len(terms))]


def _gas(corner: Corner) -> tuple[float, float, float]:
    shock = corner.shock
    if shock is None or shock.gas_pressure is None or shock.shaft_diameter is None:
        return 0.0, 0.0, np.inf
    return (
        np.pi * shock.shaft_diameter**2 / 4,
        shock.gas_pressure,
        np.inf if shock.gas_volume is None else shock.gas_volume,
    )


def _travel(spring: object) -> float:
    travel = getattr(spring, "travel_to_solid", np.inf)
    return travel if np.isfinite(travel) else NO_LIMIT


def stack_force(machine: Machine, pressed: Array, preload: Array) -> tuple[Array, Array]:
    """Force (N) and rate (N/m) of each corner's stack pressed together by `pressed` (m) from snug.

    Two springs one on the other carry the same force; each gives way in proportion until its stop. So the
    whole is soft (both), then stiffer (the one that is left), then solid.
    """
    up, low = 1 / machine.upper_rate, 1 / machine.lower_rate
    upper_limit = np.minimum(machine.ring_gap + preload, machine.upper_travel)
    upper_stops, lower_stops = upper_limit / up, machine.lower_travel / low  # force at which each one stops
    first = np.minimum(upper_stops, lower_stops)
    rest = np.where(upper_stops < lower_stops, low, up)  # compliance of the one that is left
    last = np.maximum(upper_stops, lower_stops)
    knee = first * (up + low)
    solid = knee + (last - first) * rest
    soft_part = np.clip(pressed, 0, knee) / (up + low)
    stiff_part = np.clip(pressed - knee, 0, solid - knee) / rest
    force = soft_part + stiff_part + np.maximum(pressed - solid, 0) * HARD_STOP
    rate = np.where(pressed < knee, 1 / (up + low), np.where(pressed < solid, 1 / rest, HARD_STOP))
    return force, np.where(pressed > 0, rate, 0.0)


def gas_force(machine: Machine, used: Array) -> tuple[Array, Array]:
    """Force of the gas on the shaft (N) and its growth (N/m) with `used` travel (m), p V constant."""
    absolute = machine.gas_pressure + machine.atmosphere
    left = np.maximum(1 - machine.gas_area * used / machine.gas_volume, 0.05)
    force = machine.gas_area * (absolute / left - machine.atmosphere)
    return force, machine.gas_area**2 * absolute / (machine.gas_volume * left**2)


def seat_force(machine: Machine, height: Array, preload: Array) -> tuple[Array, Array]:
    """Vertical force at each seat (N) and its loss per metre of height (N/m), springs and gas, no friction.

    Work done on the shaft is work done at the seat: force × d shaft / d height.
    """
    a, b, c = np.moveaxis(machine.shaft_terms, -1, 0)
    used = machine.stroke - (a + height * (b + c * height))
    ratio = b + 2 * c * height
    spring, rate = stack_force(machine, preload + used - machine.datum, preload)
    gas, growth = gas_force(machine, used)
    return (spring + gas) * ratio, (rate + growth) * ratio**2 - (spring + gas) * 2 * c
