"""How a truck stood as read, against plain arithmetic; laws of swapping sides."""

from dataclasses import replace
from datetime import datetime

import pytest

from dashboard.standing import mean_of, miss_words, misses, standing
from tests.dashboard_truck import IN, LBF, truck
from tests.test_dashboard import text_of
from tuning.readings import Reading, Run
from tuning.truck import CORNERS, Target

AT = datetime(2025, 5, 1, 9)


def run(heights, loads=None, **more):
    rows = tuple(
        Reading("r1", AT, c, h * IN, None if loads is None else loads[c] * LBF, **more)
        for c, h in heights.items()
    )
    return Run("r1", AT, rows)


def wanting(**target):
    return replace(truck(), target=Target(**target))


def test_a_corner_read_twice_counts_with_its_mean_and_a_reading_in_doubt_not_at_all():
    first = run({"LF": 22.0})
    again = Reading("r1", AT, "LF", 22.25 * IN)
    wild = Reading("r1", AT, "LF", 40 * IN, doubt="tape slipped")
    both = Run("r1", AT, (*first.readings, again, wild))
    assert mean_of(both, "height")["LF"] == pytest.approx(22.125 * IN)
    assert "load" not in mean_of(both, "load")


def test_each_miss_is_plain_arithmetic():
    heights = {"LF": 22.5, "RF": 22.0, "LR": 23.0, "RR": 23.5}
    loads = {"LF": 1100, "RF": 1000, "LR": 900, "RR": 1000}
    built = wanting(heights={"LF": 22 * IN}, ends={"rear": 23.5 * IN}, cross_weight=0.5)
    found = {w.name: miss for w, miss in misses(run(heights, loads), built)}
    assert found == {
        "LF": pytest.approx(0.5 * IN),
        "rear": pytest.approx(-0.25 * IN),
        "cross_weight": pytest.approx(1900 / 4000 - 0.5),
    }


def test_what_was_not_read_is_not_judged():
    built = wanting(heights={"LF": 22 * IN, "RF": 22 * IN}, ends={"rear": 23 * IN}, cross_weight=0.5)
    assert [w.name for w, _ in misses(run({"LF": 22.0, "LR": 23.0}), built)] == ["LF"]
    assert "What was read is inside tolerance." in text_of(standing(run({"LF": 22.0}), built))
    assert "Its targets were not read." in text_of(standing(run({"LR": 22.0}), built))
    assert "No target" in text_of(standing(run({"LR": 22.0}), wanting()))


@pytest.mark.parametrize(
    ("height", "said"),
    [(22.125, "As read, inside tolerance."), (22.1875, "LF 3/16 in high"), (21.5, "LF 1/2 in low")],
)
def test_a_tolerance_counts_as_inside(height, said):
    built = wanting(heights={"LF": 22 * IN}, height_tolerance=IN / 8)
    assert said in text_of(standing(run({"LF": height}), built))


def test_left_and_right_swapped_is_the_same_said_of_the_other_side():
    built = wanting(heights={"LF": 22 * IN, "RF": 22 * IN}, cross_weight=0.5)
    one = misses(
        run({"LF": 22.5, "RF": 21.0, "LR": 23, "RR": 23}, dict(zip(CORNERS, (9, 8, 7, 9), strict=True))),
        built,
    )
    other = misses(
        run({"LF": 21.0, "RF": 22.5, "LR": 23, "RR": 23}, dict(zip(CORNERS, (8, 9, 9, 7), strict=True))),
        built,
    )
    assert [m for _, m in one[:2]] == [m for _, m in reversed(other[:2])]
    assert one[2][1] == pytest.approx(-other[2][1])
    assert miss_words(*one[2], built) != miss_words(*other[2], built)
