"""Which reading is questioned where one slip bends every line, what is said of it, and what no shock can do."""

import re
from dataclasses import replace

import numpy as np
import pytest

import sample_runs
from tuning.adjust import adjust
from tuning.bench import AdjustError
from tuning.doubt import set_aside, suspects
from tuning.ends import MARKS, reach
from tuning.fit import fit
from tuning.log.files import read_readings_file
from tuning.readings import runs_of
from tuning.statics import struts
from tuning.truck import CORNERS
from tuning.truckfile import load_truck

IN, LBF = 0.0254, 4.4482216152605
TRUCK = load_truck(sample_runs.path("night_shift") / "truck.toml")
READINGS = read_readings_file(sample_runs.path("night_shift") / "readings.csv", TRUCK)


def mistyped(at, **wrong):
    """The sample's readings, one of them typed wrong."""
    return runs_of(replace(r, **wrong) if i == at else r for i, r in enumerate(READINGS))


def questioned(runs):
    return suspects(TRUCK, runs, {run.name for run in runs})


@pytest.mark.parametrize("at", range(len(READINGS)))
@pytest.mark.parametrize(
    ("kind", "factor"), [("height", 0.1), ("height", 2.0), ("load", 0.05), ("load", 10.0)]
)
def test_a_gross_slip_is_questioned_at_its_own_cell(at, kind, factor):
    """Ten times too small, twice too large … whichever reading it is: the sound ones beside it are not blamed."""
    reading = READINGS[at]
    if getattr(reading, kind) is None:
        pytest.skip("was not read there")
    found = questioned(mistyped(at, **{kind: getattr(reading, kind) * factor}))
    gross = [s for s in found if s.kind == kind and s.reading.corner == reading.corner]
    assert any(s.reading.taken_at == reading.taken_at for s in gross)
    blamed = {(s.reading.run, s.reading.corner, s.kind) for s in found}
    other = "load" if kind == "height" else "height"
    assert (reading.run, reading.corner, other) not in blamed


def test_what_is_said_to_be_allowed_is_what_was_read_less_what_it_is_off():
    """Of a small miss, which may be scatter, no slip of the tape is made: the two figures add up."""
    rows = [
        replace(
            r,
            run=f"{r.run}{k}",
            taken_at=r.taken_at.replace(day=10 + k),
            height=r.height + 0.0005 * (-1) ** k,
        )
        for k in range(12)
        for r in READINGS
    ]
    off = replace(rows[5], height=rows[5].height + 0.010)
    (suspect,) = questioned(runs_of([*rows[:5], off, *rows[6:]]))
    assert suspect.reading == off
    said = re.search(
        r"reads ([0-9.]+) in above what the other corners allow: about ([0-9.]+) in", suspect.reason
    )
    assert float(said[1]) + float(said[2]) == pytest.approx(off.height / IN, abs=0.011)


def test_no_corner_stands_where_its_shock_has_ended():
    """Twelve inches up, past all shaft: no turns are advised, and the corner, its height and the end are named."""
    runs = runs_of(replace(r, height=r.height + 12 * IN) for r in READINGS)
    known = fit(TRUCK, set_aside(TRUCK, runs)[0])
    with pytest.raises(AdjustError, match=r"reads 33 .* above where its shock ends"):
        adjust(known)


def test_reach_ends_an_inch_past_no_shaft_and_all_shaft():
    strut = struts(TRUCK, [TRUCK.corners[c].stack for c in CORNERS])
    low, high = reach(TRUCK, strut)
    for i, corner in enumerate(CORNERS):
        table = np.array(TRUCK.corners[corner].cycle)
        stroke = TRUCK.corners[corner].shock.stroke
        slope, level = np.polyfit(table[:, 1], table[:, 0], 1)
        assert high[i] - MARKS == pytest.approx(level + slope * stroke, abs=0.1 * IN)
        assert low[i] + MARKS <= table[:, 0].min() + 1e-9
