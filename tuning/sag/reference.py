"""The run that height lost is counted from, and what to know about a log whose dates are the question."""

from collections import Counter
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import numpy as np

from ..drift import BEDDING
from ..faults import Fault, InputError, nearest
from ..fit import Fit
from ..readings import Run, instant
from ..truck import CORNERS
from .evidence import runs_with, weighed
from .lost import distance_on, served

_CLOCKS_DIFFER = timedelta(days=1)
NEAR_RING = 0.004  # m between slider and ring: a line that bends there is less sure than the fit has it


def run_called(fit: Fit, name: str) -> int:
    """Index of the run of that name. Raises InputError where there is none, more than one, or one without readings."""
    found = [i for i, run in enumerate(fit.runs) if run.name == name]
    if not found:
        names = [run.name for run in fit.runs]
        meant = nearest(name, names)
        mend = f'Did you mean "{meant}"?' if meant else f"Runs are {', '.join(names[-10:])}"
        raise InputError("--since", [Fault("", f'"{name[:40]}" is no run of this truck', mend, found=name)])
    if len(found) > 1:
        dates = " and ".join(f"{fit.runs[i].taken_at:%Y-%m-%d}" for i in found)
        problem = f'{len(found)} runs are called "{name}" ({dates})'
        raise InputError("--since", [Fault("", problem, "Give each visit its own name", found=name)])
    if found[0] not in fit.evidence.rounds.run:
        problem = f'every reading of run "{name}" is in doubt'
        raise InputError("--since", [Fault("", problem, "Clear or correct one, or name another run")])
    return found[0]


def first_read(fit: Fit, corner: int, since: int | None) -> int:
    """Index of the first run from `since` on in which that corner was read; from none, the first with the stack it has
    today. The latest run where there is none."""
    rounds = fit.evidence.rounds
    wanted = runs_with(fit, corner) if since is None else np.arange(len(fit.runs)) >= since
    for run, read in zip(rounds.run.tolist(), rounds.readings, strict=True):
        if wanted[run] and read[corner] is not None:
            return int(run)
    return int(rounds.run[-1])


def last_read(fit: Fit, corner: int) -> int:
    """Index of the latest run in which that corner was read."""
    rounds = fit.evidence.rounds
    read = [row[corner] is not None for row in rounds.readings]
    return int(rounds.run[read].max())


def notes_on(fit: Fit, asked: int | None, now: datetime | None) -> tuple[str, ...]:
    """What the log leaves open, a line each."""
    runs, last = fit.runs, int(fit.evidence.rounds.run[-1])
    notes = _unread(fit, [run for run in (asked, last) if run is not None])
    if last != len(runs) - 1:
        notes.append(f"{runs[-1].name}: every reading is in doubt; this is as of {runs[last].name}")
    new = [c for i, c in enumerate(CORNERS) if served(fit, i)[-1] < BEDDING]
    if new and len(runs) > 1:
        who = "every corner" if len(new) == len(CORNERS) else ", ".join(new)
        notes.append(
            f"{who}: its stack has been on for less than {BEDDING:.0f} days; but for a slip at once, its springs are "
            "taken to have lost nothing yet"
        )
    notes += [
        f"{c}: its slider has stood on its ring and off it, or close to it; its set is less sure than said"
        for i, c in enumerate(CORNERS)
        if _about_the_ring(fit, i)
    ]
    if now is not None:
        notes += [
            f"{run.name} is dated {run.taken_at:%Y-%m-%d}, which is yet to come: trend and forecast count from "
            "there; correct its date"
            for run in runs
            if instant(run) > _on_the_clock_of(run, now) + _CLOCKS_DIFFER
        ]
    twice = [name for name, count in Counter(run.name for run in runs).items() if count > 1]
    notes += [f'two runs are called "{name}": they are told apart by date alone' for name in twice]
    driven = any(r.odometer is not None for run in runs for r in run.readings)
    if driven and distance_on(fit, np.ones(len(runs), dtype=np.bool_)) is None:
        notes.append("the odometer is missing in a run, stands still or runs back: trends go by date alone")
    return tuple(notes)


def _about_the_ring(fit: Fit, corner: int) -> bool:
    """Whether weighed runs stand on both sides of where the slider meets its ring, or one within a few millimetres."""
    evidence = fit.evidence
    seat = evidence.axle.seat_heights(evidence.rounds.height_near)
    force = evidence.strut.spring_force(evidence.axle.seat_loads(evidence.rounds.load), seat)[:, corner]
    share = np.append(fit.theta, 0.0)[evidence.spring_index[:, corner, 0]]
    pressed = force * evidence.strut.compliance[:, corner, 0] * (1 + share)
    two = evidence.strut.compliance[:, corner, 0] > 0
    room = (evidence.strut.limit()[:, corner, 0] - pressed)[weighed(fit)[:, corner] & two]
    return bool(room.size and room.min() < NEAR_RING and room.max() > -NEAR_RING)


def _unread(fit: Fit, which: Sequence[int]) -> list[str]:
    """Runs that are compared and lack a corner."""
    rounds, said = fit.evidence.rounds, []
    last = int(rounds.run[-1])
    for run in which:
        read = [row for at, row in zip(rounds.run.tolist(), rounds.readings, strict=True) if at == run]
        missing = [c for i, c in enumerate(CORNERS) if not any(row[i] is not None for row in read)]
        if missing:
            said.append(
                f"{', '.join(missing)} was not read in {fit.runs[run].name}: "
                + (
                    "the answer is as of the run before"
                    if run == last
                    else "it counts from the next that has it"
                )
            )
    return said


def _on_the_clock_of(run: Run, now: datetime) -> datetime:
    """Now as `instant` has the run's time: a run without a zone goes by the shop's own clock."""
    return now if run.taken_at.tzinfo and now.tzinfo else now.replace(tzinfo=UTC)
