"""The truck as built: ends, corners, springs, shocks, targets. SI base units, plain floats, frozen.

Axes as in ISO 8855: x forward, y left, z up. A corner's height is its frame mark above its axle mark.
Nothing here reads a file or checks a value; `truckfile` does both.
"""

from dataclasses import dataclass, field, replace
from typing import Literal

CORNERS = ("LF", "RF", "LR", "RR")
END_NAMES = ("front", "rear")
SIDES = {"front": ("LF", "RF"), "rear": ("LR", "RR")}
END_OF = {"LF": "front", "RF": "front", "LR": "rear", "RR": "rear"}


@dataclass(frozen=True)
class Spring:
    """One coil or leaf. rate N/m; lengths m, None where not known (then it never binds)."""

    rate: float
    free_length: float | None = None
    solid_length: float | None = None

    @property
    def travel_to_solid(self) -> float:
        """How far it can be pressed before it is coil-bound (m)."""
        if self.free_length is None or self.solid_length is None:
            return float("inf")
        return self.free_length - self.solid_length


@dataclass(frozen=True)
class Stack:
    """Springs in series on one shock. `ring_gap`: slider to stop ring, springs snug, no preload (m)."""

    name: str
    lower: Spring
    upper: Spring | None = None
    ring_gap: float | None = None

    @property
    def springs(self) -> tuple[Spring, ...]:
        """From the nut down: upper, lower; or the lower alone."""
        return (self.lower,) if self.upper is None else (self.upper, self.lower)

    @property
    def free_length(self) -> float | None:
        """Total free length (m), None where a spring's is not known."""
        lengths = [s.free_length for s in self.springs]
        return None if None in lengths else sum(v for v in lengths if v is not None)


@dataclass(frozen=True)
class Shock:
    """stroke: shaft showing at full extension (m). Gas at full extension: gauge Pa, m³; None: no gas force.

    spring_inside_diameter: of the springs that fit over it (m). side_lean: off vertical as seen from the side, at
    ride (rad). None where not known.
    """

    stroke: float
    shaft_diameter: float | None = None
    gas_pressure: float | None = None
    gas_volume: float | None = None
    spring_inside_diameter: float | None = None
    side_lean: float | None = None


@dataclass(frozen=True)
class Adjuster:
    """Nut on its thread: m of preload per turn, preload allowed with the end's own stack, step in turns."""

    travel_per_turn: float
    preload_min: float
    preload_max: float
    step: float = 0.25


@dataclass(frozen=True)
class Travel:
    """Planned ends of axle travel as heights (m), where known. bump_stop_contact: height at which it first touches;
    bump_stop_travel: how far it goes until it is solid (m)."""

    height_full_bump: float | None = None
    height_strap: float | None = None
    bump_stop: Literal["hydraulic", "soft"] | None = None
    bump_stop_travel: float | None = None
    bump_stop_contact: float | None = None


@dataclass(frozen=True)
class Corner:
    """What stands between frame and axle at one corner.

    cycle: (height, shaft) pairs in m, taken while the axle was cycled. A leaf or a fixed coil has
    neither shock nor adjuster nor cycle: its own height is all that is known of it.
    """

    stack: Stack
    shock: Shock | None = None
    adjuster: Adjuster | None = None
    cycle: tuple[tuple[float, float], ...] = ()
    travel: Travel = field(default_factory=Travel)

    def preload_range(self, stack: Stack) -> tuple[float, float]:
        """Preload the thread allows with `stack` on (m): the nut's place on the thread stays what it is."""
        if self.adjuster is None:
            raise ValueError("a corner without adjuster has no preload range")
        own, other = self.stack.free_length, stack.free_length
        shift = 0.0 if own is None or other is None else other - own
        return self.adjuster.preload_min + shift, self.adjuster.preload_max + shift


@dataclass(frozen=True)
class End:
    """One axle. Spacings are seat to seat and mark to mark across the truck (m); friction N a corner, half band;
    unsprung_weight N, both wheels together; tyre_rate N/m each, None where not known."""

    solid: bool
    track: float
    spring_spacing: float
    height_spacing: float
    unsprung_weight: float
    friction: float
    tyre_rate: float | None = None


@dataclass(frozen=True)
class Target:
    """What is wanted. Heights m by corner and, as a mean, by end; cross_weight a share (0.5 is even)."""

    heights: dict[str, float] = field(default_factory=dict)
    ends: dict[str, float] = field(default_factory=dict)
    cross_weight: float | None = None
    height_tolerance: float = 0.125 * 0.0254
    cross_weight_tolerance: float = 0.005


@dataclass(frozen=True)
class Noise:
    """One standard deviation each; the defaults are common practice.

    height: tape, m. load: scale, share of reading. spring_rate: share of nominal. datum: a corner's marks, mount
    and free length together, m. floor: one wheel's stand against the others from run to run, m.
    """

    height: float = 0.0254 / 16
    load: float = 0.002
    spring_rate: float = 0.03
    datum: float = 0.004
    floor: float = 0.001


@dataclass(frozen=True)
class Practice:
    """What is good practice where nothing else is known; all common practice without a source, and an owner may
    think otherwise. Pairs are least and most.

    shaft_at_bump: shaft still showing at full bump (m). strap_before_extension: travel the shock has left when the
    strap stops the axle (m). first_preload: for the first set-down (m). side_lean: of a shock, at most (rad).
    ride_frequency: of an end's sprung mass on its wheel rate (Hz). crossover: where the slider should meet its ring,
    as shares of the way from ride (0) to full bump (1). clear_of_solid: spring travel left to coil bind at full
    bump; seated: compression left in the springs at strapped droop, both at least (m).
    """

    shaft_at_bump: tuple[float, float] = (0.5 * 0.0254, 1.0 * 0.0254)
    strap_before_extension: tuple[float, float] = (1.5 * 0.0254, 2.0 * 0.0254)
    first_preload: float = 0.5 * 0.0254
    side_lean: float = 0.08726646259971647  # five degrees
    ride_frequency: tuple[float, float] = (1.0, 1.5)
    crossover: tuple[float, float] = (0.0, 1.0)
    clear_of_solid: float = 0.25 * 0.0254
    seated: float = 0.25 * 0.0254


@dataclass(frozen=True)
class CycleWalk:
    """Where to look for clearance while an axle is cycled with its springs out. All common practice; an owner adds
    what the truck has besides and leaves out what it has not.

    front_at_locks: those of the front that the steering moves, also looked at with the wheels at both locks.
    least_clearance: less than this is a close pass (m).
    """

    front: tuple[str, ...] = (
        "tyre to frame",
        "tyre to fender",
        "tyre to link or shock",
        "steering link to frame",
        "axle to oil pan",
        "driveshaft to crossmember",
        "link to bracket or frame",
        "shock and spring to bracket",
        "brake hose slack",
        "wiring and vent hose slack",
        "exhaust to axle or link",
    )
    front_at_locks: tuple[str, ...] = (
        "tyre to frame",
        "tyre to fender",
        "tyre to link or shock",
        "steering link to frame",
        "brake hose slack",
    )
    rear: tuple[str, ...] = (
        "tyre to frame",
        "tyre to fender or bed",
        "axle to frame or crossmember",
        "axle to fuel tank",
        "driveshaft to crossmember",
        "link to bracket or frame",
        "shock and spring to bracket",
        "brake hose slack",
        "wiring and vent hose slack",
        "exhaust to axle or link",
    )
    least_clearance: float = 0.5 * 0.0254

    def places(self, end: str, steering: str = "straight") -> tuple[str, ...]:
        """What to look at on an end with the steering so."""
        if end == "rear":
            return self.rear
        return self.front if steering == "straight" else self.front_at_locks


@dataclass(frozen=True)
class Truck:
    """A whole truck. `stacks`: every stack a reading may name, the corners' own among them."""

    name: str
    units: Literal["us", "metric"]
    wheelbase: float
    front: End
    rear: End
    corners: dict[str, Corner]
    stacks: dict[str, Stack]
    target: Target = field(default_factory=Target)
    noise: Noise = field(default_factory=Noise)
    practice: Practice = field(default_factory=Practice)
    walk: CycleWalk = field(default_factory=CycleWalk)
    frame_twist_stiffness: float | None = None  # N·m/rad

    def end(self, name: str) -> End:
        """The end called `front` or `rear`, or the one a corner belongs to."""
        return self.front if END_OF.get(name, name) == "front" else self.rear

    def with_target(self, target: Target) -> "Truck":
        """The same truck with other wishes."""
        return replace(self, target=target)
