"""Where one truck stands, by a rigid-body engine: centres of gravity up in the air, angles as they come.

The frame is two halves on a torsion hinge, free to heave, pitch and roll. A solid axle heaves and rolls on its
two tyres; independent wheels heave each for itself. Struts push along the line between their mounts, so they lean
as the truck does. All of it swings, damped, until it is at rest.
"""

from dataclasses import dataclass

import mujoco
import numpy as np
from numpy.typing import NDArray

from .machine import Machine, seat_force
from .rest import Load

Array = NDArray[np.float64]

GRAVITY = 9.80665
STEP = 0.004  # s
AT_REST = 1e-6  # m/s and rad/s
LONGEST = 60.0  # s


@dataclass(frozen=True)
class Body:
    """What there is to know beyond a `Machine`: wheelbase (m), whether each end's wheels share an axle, and how
    far the sprung centre of gravity is above the frame's marks (m)."""

    wheelbase: float
    solid: tuple[bool, bool]
    gravity_centre: float


def stand(
    machine: Machine, load: Load, preload: Array, body: Body, start: float
) -> tuple[Array, Array, tuple[float, float, float]]:
    """Heights at the marks (m), wheel loads (N), both (4,), and pitch, roll in front and roll behind (rad).

    load: what the axles and their couple would be with the frame dead level; where it leans, its centre of
    gravity moves and they change. start: height of the frame over the axles to let it go from (m).
    Raises ArithmeticError where it does not come to rest.
    """
    model = mujoco.MjModel.from_xml_string(_xml(machine, load, body, start))
    data = mujoco.MjData(model)
    frame, axle, tyre, frame_mark, axle_mark = (
        np.array([model.site(f"{what}{corner}").id for corner in range(4)])
        for what in ("frame", "axle", "tyre", "framemark", "axlemark")
    )
    owner = model.site_bodyid
    rates = np.repeat(2 / machine.tyre_compliance / machine.track**2, 2)
    up = np.array([0.0, 0.0, 1.0])
    no_torque = np.zeros(3)
    wheels = np.zeros(4)
    for _ in range(int(LONGEST / STEP)):
        mujoco.mj_kinematics(model, data)
        mujoco.mj_comPos(model, data)
        line = data.site_xpos[frame] - data.site_xpos[axle]
        length = np.linalg.norm(line, axis=1)
        seat, _ = seat_force(machine, length, preload)
        push = seat[:, None] * line / length[:, None]
        wheels = -rates * data.site_xpos[tyre, 2]
        data.qfrc_applied[:] = 0
        for i in range(4):
            for site, force in ((frame[i], push[i]), (axle[i], -push[i]), (tyre[i], wheels[i] * up)):
                place, which = data.site_xpos[site], owner[site]
                mujoco.mj_applyFT(model, data, force, no_torque, place, which, data.qfrc_applied)
        mujoco.mj_step(model, data)
        if data.time > 1 and np.abs(data.qvel).max() < AT_REST:
            heights = data.site_xpos[frame_mark, 2] - data.site_xpos[axle_mark, 2]
            pitch, roll, twist = (float(data.joint(name).qpos[0]) for name in ("pitch", "roll", "twist"))
            return heights, wheels, (pitch, roll, roll + twist)
    raise ArithmeticError(f"still moving at {np.abs(data.qvel).max():.2g} after {LONGEST:g} s")


def _xml(machine: Machine, load: Load, body: Body, start: float) -> str:
    sprung = np.array([load.front, load.rear]) - machine.unsprung
    offset = (
        0.0,
        float(load.couple) / sprung[1],
    )  # off the middle behind only: the frame's couple is the front's
    halves = []
    for end in (0, 1):
        mass = sprung[end] / GRAVITY
        halves.append(
            f'<inertial pos="0 {offset[end]} {body.gravity_centre}" mass="{mass}"'
            f' diaginertia="{0.12 * mass} {0.5 * mass} {0.5 * mass}"/>' + _frame_sites(machine, end)
        )
    stiffness = 1 / float(machine.frame_compliance)
    return f"""
<mujoco>
  <compiler angle="radian"/>
  <option gravity="0 0 -{GRAVITY}" timestep="{STEP}" integrator="implicitfast"/>
  <worldbody>
    <body name="front" pos="0 0 {start}">
      <joint name="heave" type="slide" axis="0 0 1" damping="20000"/>
      <joint name="pitch" type="hinge" axis="0 1 0" damping="40000"/>
      <joint name="roll" type="hinge" axis="1 0 0" damping="2500"/>
      {halves[0]}
      <body name="rear" pos="-{body.wheelbase} 0 0">
        <joint name="twist" type="hinge" axis="1 0 0" stiffness="{stiffness}" damping="6000"/>
        {halves[1]}
      </body>
    </body>
    {"".join(_axle(machine, body, end) for end in (0, 1))}
  </worldbody>
</mujoco>"""


def _frame_sites(machine: Machine, end: int) -> str:
    return "".join(
        f'<site name="{what}{2 * end + k}" pos="0 {side * spacing[end] / 2} 0"/>'
        for what, spacing in (("frame", machine.spring_spacing), ("framemark", machine.height_spacing))
        for k, side in enumerate((1, -1))
    )


def _axle(machine: Machine, body: Body, end: int) -> str:
    """A beam with both wheels on it, or two wheels that know nothing of each other."""
    x, mass = -end * body.wheelbase, machine.unsprung[end] / GRAVITY
    slide = '<joint type="slide" axis="0 0 1" damping="20000"/>'
    places = [("axle", machine.spring_spacing), ("axlemark", machine.height_spacing), ("tyre", machine.track)]

    def sites(k: int, centre: float) -> str:
        side = (1, -1)[k]
        return "".join(
            f'<site name="{what}{2 * end + k}" pos="0 {side * spacing[end] / 2 - centre} 0"/>'
            for what, spacing in places
        )

    if body.solid[end]:
        inertial = (
            f'<inertial pos="0 0 0" mass="{mass}" diaginertia="{mass * 0.35} {mass * 0.05} {mass * 0.35}"/>'
        )
        roll = '<joint type="hinge" axis="1 0 0" damping="5000"/>'
        return f'<body pos="{x} 0 0">{slide}{roll}{inertial}{sites(0, 0.0)}{sites(1, 0.0)}</body>'
    wheels = []
    for k, side in enumerate((1, -1)):
        centre = side * machine.track[end] / 2
        inertial = f'<inertial pos="0 0 0" mass="{mass / 2}" diaginertia="1 1 1"/>'
        wheels.append(f'<body pos="{x} {centre} 0">{slide}{inertial}{sites(k, centre)}</body>')
    return "".join(wheels)
