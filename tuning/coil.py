"""An unmarked spring from its wire: rate, solid length, how far it may be pressed, its own frequency, its weight.

    round wire d, mean diameter D = inside + d = outside − d, index C = D/d, active coils n

SI. Source, where no other is named: Budynas and Nisbett, Shigley's Mechanical Engineering Design, 10th ed. 2015,
chapter 10 (from memory; the tests hold it against worked examples of seven books). EN 13906-1 has the same rate.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from math import exp, hypot, inf, pi, sqrt
from typing import Literal

from .faults import Fault, InputError
from .interval import NORMAL_HALF_WIDTH, Interval
from .units import System, to_unit

Ends = Literal["plain", "plain-ground", "squared", "squared-ground"]
Across = Literal["inside", "mean", "outside"]

# Table 10-1: coils that do not work, and coils more than the total that lie on each other when solid.
_DEAD: dict[Ends, float] = {"plain": 0, "plain-ground": 1, "squared": 2, "squared-ground": 2}
_MORE_WHEN_SOLID: dict[Ends, float] = {"plain": 1, "plain-ground": 0, "squared": 1, "squared-ground": 0}
ENDS = tuple(_DEAD)
_WIRES_TO_MEAN: dict[Across, float] = {"inside": 1.0, "mean": 0.0, "outside": -1.0}

# One standard deviation each, common practice: a caliper on bare metal; where the last dead coil ends.
WIRE_ERROR = 0.05e-3  # m
DIAMETER_ERROR = 0.5e-3  # m
COIL_ERROR = 0.25
MODULUS_ERROR = 0.015  # share: handbooks give one steel anything from 77.2 to 81.5 GPa

STANDARD_GRAVITY = 9.80665  # m/s²
INDEX_USUAL = (4.0, 12.0)  # section 10-3: outside of it a spring is hard to wind, or tangles
_CRITICAL = 2.63 / 0.5  # mean diameters, steel between parallel plates: equation 10-13 and Table 10-2


_WIRE = (0.1e-3, 50e-3)  # m, least and most that is believed


class CoilError(InputError):
    """Measures that no spring can have; `faults` names each."""


@dataclass(frozen=True)
class Wire:
    """A kind of spring steel. shear_modulus Pa; density kg/m³.

    Tensile strength A (1 mm/d)^m: strength_at_1_mm is A (Pa), exponent m; tested_for: least and most d (m) that the
    law was made for. as_wound, set_removed: share of it that the coil may carry in shear under a resting load, before
    and after the maker has taken the set out of the spring.
    """

    name: str
    shear_modulus: float
    strength_at_1_mm: float
    exponent: float
    tested_for: tuple[float, float]
    as_wound: float
    set_removed: float
    density: float = 7850.0

    def strength(self, wire: float) -> float:
        """Tensile strength (Pa) of wire of this diameter (m), equation 10-14."""
        return float(self.strength_at_1_mm * (wire / 1e-3) ** -self.exponent)


# Tables 10-4, 10-5 (the row of the thickest wire) and 10-6 (the lower ends of its spans). All from memory;
# the strengths of earlier printings are up to a fifth lower.
WIRES = {
    "music": Wire("music wire", 80.0e9, 2211e6, 0.145, (0.1e-3, 6.5e-3), 0.45, 0.60),
    "hard-drawn": Wire("hard-drawn wire", 78.6e9, 1783e6, 0.190, (0.7e-3, 12.7e-3), 0.45, 0.60),
    "oil-tempered": Wire("oil-tempered wire", 77.2e9, 1855e6, 0.187, (0.5e-3, 12.7e-3), 0.50, 0.65),
    "chrome-vanadium": Wire("chrome-vanadium wire", 77.2e9, 2005e6, 0.168, (0.8e-3, 11.1e-3), 0.50, 0.65),
    "chrome-silicon": Wire("chrome-silicon wire", 77.2e9, 1974e6, 0.108, (1.6e-3, 9.5e-3), 0.50, 0.65),
}


@dataclass(frozen=True)
class Measured:
    """A spring on the bench. Lengths m; coils: all of them, tip to tip of the wire; diameter is taken `across`.

    wire_error: of the wire's diameter, one standard deviation.
    """

    wire: float
    diameter: float
    across: Across
    coils: float
    ends: Ends = "squared-ground"
    material: Wire = WIRES["chrome-silicon"]
    free_length: float | None = None
    wire_error: float = WIRE_ERROR

    @property
    def mean_diameter(self) -> float:
        """D, m."""
        return self.diameter + _WIRES_TO_MEAN[self.across] * self.wire

    @property
    def active_coils(self) -> float:
        """Coils that work, Table 10-1."""
        return self.coils - _DEAD[self.ends]

    @property
    def solid_length(self) -> float:
        """All coils touching (m), Table 10-1."""
        return self.wire * (self.coils + _MORE_WHEN_SOLID[self.ends])


@dataclass(frozen=True)
class Safe:
    """How far a resting load may go: shear stress allowed (Pa), force (N) and deflection (m) that bring it there."""

    stress: float
    force: float
    deflection: float


@dataclass(frozen=True)
class Solid:
    """Pressed until all coils touch: travel to there (m), force (N), shear stress with Wahl's factor (Pa)."""

    travel: float
    force: float
    stress: float


@dataclass(frozen=True)
class Coil:
    """What the wire says of a spring. SI.

    wire_share: percent of rate for each percent of wire. doubt: share of the rate (one standard deviation) that each
    measure leaves open. as_wound: the safe one; set_removed: where the maker has taken the set out. frequency: first
    of its own, both ends held, no load (Hz). critical_length: a spring with a longer free length bows unless guided.
    at_solid: None where the free length is not known.
    """

    measured: Measured
    rate: Interval
    wire_share: float
    doubt: dict[str, float]
    index: float
    strength: float
    as_wound: Safe
    set_removed: Safe
    mass: float
    frequency: float
    critical_length: float
    at_solid: Solid | None

    @property
    def weight(self) -> float:
        """What a scale reads under it (N)."""
        return self.mass * STANDARD_GRAVITY

    @property
    def strength_is_a_guess(self) -> bool:
        """The wire is thinner or thicker than the law of its strength was made for."""
        low, high = self.measured.material.tested_for
        return not low <= self.measured.wire <= high


# ---------------------------------------------------------------- formulas


def helical_rate(shear_modulus: float, wire: float, mean_diameter: float, active_coils: float) -> float:
    """Rate (N/m): G d⁴ / (8 D³ n), equation 10-9 and EN 13906-1."""
    return shear_modulus * wire**4 / (8 * mean_diameter**3 * active_coils)


def shear_stress(force: float, wire: float, mean_diameter: float) -> float:
    """Shear in the wire by torsion alone (Pa): 8 F D / (π d³). What bend and direct shear add is a factor on it."""
    return 8 * force * mean_diameter / (pi * wire**3)


def wahl_factor(index: float) -> float:
    """Stress at the inside of the coil over torsion's: (4C − 1)/(4C − 4) + 0.615/C (A. M. Wahl 1929)."""
    return (4 * index - 1) / (4 * index - 4) + 0.615 / index


def direct_shear_factor(index: float) -> float:
    """The same without the coil's bend, which a spring has yielded out of once its set is removed: 1 + 1/(2C)."""
    return 1 + 0.5 / index


def coil_mass(density: float, wire: float, mean_diameter: float, coils: float) -> float:
    """Mass of so many coils (kg): ρ π² d² D n / 4."""
    return density * pi**2 * wire**2 * mean_diameter * coils / 4


def surge_frequency(rate: float, active_mass: float) -> float:
    """First frequency of a spring between two plates (Hz): ½ √(k/m), m of the coils that work, equation 10-25."""
    return 0.5 * sqrt(rate / active_mass)


# ---------------------------------------------------------------- answer


def coil(spring: Measured, system: System = "metric") -> Coil:
    """Everything that the wire tells of a spring.

    Raises CoilError where the measures can't be; system: whose units stand first in it.
    """
    if faults := _faults(spring, partial(_both, system=system)):
        raise CoilError("", faults)
    wire, mean, material = spring.wire, spring.mean_diameter, spring.material
    index = mean / wire
    rate = helical_rate(material.shear_modulus, wire, mean, spring.active_coils)
    strength = material.strength(wire)
    wire_share, doubt = _doubt(spring)

    def safe(share: float, factor: float) -> Safe:
        force = share * strength / (factor * shear_stress(1.0, wire, mean))
        return Safe(share * strength, force, force / rate)

    return Coil(
        measured=spring,
        rate=_log_interval(rate, hypot(*doubt.values())),
        wire_share=wire_share,
        doubt=doubt,
        index=index,
        strength=strength,
        as_wound=safe(material.as_wound, wahl_factor(index)),
        set_removed=safe(material.set_removed, direct_shear_factor(index)),
        mass=coil_mass(material.density, wire, mean, spring.coils),
        frequency=surge_frequency(rate, coil_mass(material.density, wire, mean, spring.active_coils)),
        critical_length=_CRITICAL * mean,
        at_solid=_solid(spring, rate),
    )


def _solid(spring: Measured, rate: float) -> Solid | None:
    if spring.free_length is None:
        return None
    travel = spring.free_length - spring.solid_length
    force, mean = rate * travel, spring.mean_diameter
    return Solid(travel, force, wahl_factor(mean / spring.wire) * shear_stress(force, spring.wire, mean))


def _doubt(spring: Measured) -> tuple[float, dict[str, float]]:
    """Percent of rate for each percent of wire, and what each measure's error does to the logarithm of the rate.

    ln k = ln G + 4 ln d − 3 ln D − ln n, and D itself holds the wire unless it was measured as such.
    """
    mean = spring.mean_diameter
    wire_share = 4 - 3 * _WIRES_TO_MEAN[spring.across] * spring.wire / mean
    return wire_share, {
        "wire": wire_share * spring.wire_error / spring.wire,
        "diameter": 3 * DIAMETER_ERROR / mean,
        "coils": COIL_ERROR / spring.active_coils,
        "steel": MODULUS_ERROR,
    }


def _log_interval(value: float, share: float) -> Interval:
    """90 % interval of a product of many factors, each unsure by a share."""
    spread = exp(NORMAL_HALF_WIDTH * share)
    return Interval(value, value / spread, value * spread)


# ---------------------------------------------------------------- what can't be


def _faults(spring: Measured, said: Callable[[float], str]) -> list[Fault]:
    faults = [
        Fault(what, f"{said(value)} can't be", f"Write {said(low)} to {said(high)}")
        for what, value, low, high in _spans(spring)
        if value is not None and not low <= value <= high
    ]
    if not 1 <= spring.active_coils <= 200:
        dead = f"{_DEAD[spring.ends]:g} of them at the ends do not work" if _DEAD[spring.ends] else "all work"
        mend = "Count every coil from tip to tip of the wire, at least one at work and at most 200"
        faults.append(Fault("coils", f"{spring.coils:g} coils, and {dead}", mend))
    if faults:
        return faults
    if not 2 <= spring.mean_diameter / spring.wire <= 50:
        faults.append(
            Fault(
                f"{spring.across} diameter",
                f"{said(spring.diameter)} is no coil of a wire of {said(spring.wire)}",
                "A mean diameter is 2 to 50 wires; see which of the two was measured, and from where to where",
            )
        )
    if spring.free_length is not None and spring.free_length <= spring.solid_length:
        found = f"{said(spring.free_length)}, but these coils touch at {said(spring.solid_length)}"
        faults.append(Fault("free length", found, "Measure it without load, count the coils again"))
    return faults


def _both(length: float, system: System) -> str:
    """A length for whoever measures, in either system: `12 mm (0.472 in)`."""
    metric, us = f"{1e3 * length:.4g} mm", f"{to_unit(length, 'in'):.3g} in"
    return f"{us} ({metric})" if system == "us" else f"{metric} ({us})"


def _spans(spring: Measured) -> list[tuple[str, float | None, float, float]]:
    """Lengths with the least and most that is believed (m). What hangs on a wire that can't be is not judged."""
    widest_error = spring.wire / 4 if _WIRE[0] <= spring.wire <= _WIRE[1] else inf
    return [
        ("wire", spring.wire, *_WIRE),
        (f"{spring.across} diameter", spring.diameter, 1e-3, 0.5),
        ("free length", spring.free_length, 1e-3, 2.0),
        ("wire error", spring.wire_error, 0.0, widest_error),
    ]
