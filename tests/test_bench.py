"""`tuning coil` and `tuning press` as people and scripts meet them: keys, words, exit codes, rubbish."""

import json
import subprocess
import sys

import numpy as np
import pytest
from click.testing import CliRunner

from tuning.cli import bench, main
from tuning.coil import ENDS, WIRES, Measured
from tuning.coil import coil as work_out
from tuning.press import press as fit_press
from tuning.report.bench import press_notes

INCH, LBF = 0.0254, 4.4482216152605
SPRING = ("--wire", "0.46 in", "--inside", "2 1/2 in", "--coils", "11 1/2", "--free", "12 in")


def tuning(*words):
    return CliRunner().invoke(main, [str(word) for word in words])


def answered(*words):
    result = tuning(*words)
    assert result.exit_code == 0, result.stderr
    return result.stdout


def document(*words):
    return json.loads(answered(*words, "--json"))


def refused(*words, code=2):
    """Standard error of a command that has to refuse: in plain words, with nothing on standard output."""
    result = tuning(*words)
    assert result.exit_code == code, (result.exit_code, result.stdout, result.stderr)
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    assert "should not happen" not in result.stderr
    return result.stderr


def is_interval(value):
    return set(value) == {"mean", "low", "high"} and value["low"] < value["mean"] < value["high"]


def lines(lengths, free=14.0, soft=130.0, stiff=245.0, knee=10.0):
    """Forces in lbf of a stack with a knee, lengths in inches."""
    lengths = np.array(lengths)
    return soft * (free - lengths) + (stiff - soft) * np.maximum(knee - lengths, 0)


@pytest.fixture
def kneed(tmp_path):
    lengths = np.arange(13.5, 7.0, -0.5)
    wobble = np.resize([2, -3, 1, 0, -2, 3], len(lengths))
    rows = [f"{force:.0f},{length:g}" for force, length in zip(lines(lengths) + wobble, lengths, strict=True)]
    path = tmp_path / "press.csv"
    path.write_text("force [lbf],length [in]\n" + "\n".join(rows), encoding="utf-8")
    return path


# ---------------------------------------------------------------- coil


def test_coil_document_has_its_keys_and_the_unit_of_every_kind():
    found = document("coil", *SPRING)
    assert set(found) == {
        "units", "rate", "rate_percent_per_wire_percent", "rate_uncertainty_percent", "active_coils", "mean_diameter",
        "spring_index", "solid_length", "material", "tensile_strength", "safe", "at_solid", "critical_length",
        "weight", "frequency", "notes",
    }  # fmt: skip
    assert found["units"] == {
        "length": "in", "rate": "lbf/in", "force": "lbf", "stress": "psi", "weight": "lbf", "frequency": "Hz"
    }  # fmt: skip
    assert is_interval(found["rate"])
    assert set(found["safe"]) == {"as_wound", "set_removed"}
    assert all(set(safe) == {"stress", "force", "deflection"} for safe in found["safe"].values())
    assert set(found["at_solid"]) == {"travel", "force", "stress"}
    assert all(isinstance(line, str) for line in found["notes"])


def test_coil_document_carries_the_answer_in_the_units_asked_for():
    own = work_out(Measured(0.46 * INCH, 2.5 * INCH, "inside", 11.5, free_length=12 * INCH))
    us, metric = document("coil", *SPRING), document("coil", *SPRING, "--units", "metric")
    assert us["rate"]["low"] == pytest.approx(own.rate.low * INCH / LBF, rel=1e-9)
    assert metric["rate"]["low"] == pytest.approx(own.rate.low / 1000, rel=1e-9)
    assert us["solid_length"] == pytest.approx(0.46 * 11.5, rel=1e-9)
    assert metric["at_solid"]["travel"] == pytest.approx(1000 * own.at_solid.travel, rel=1e-9)
    assert us["safe"]["as_wound"]["stress"] == pytest.approx(own.as_wound.stress * INCH**2 / LBF, rel=1e-9)
    assert metric["safe"]["as_wound"]["stress"] == pytest.approx(own.as_wound.stress / 1e6, rel=1e-9)
    assert us["weight"] == pytest.approx(own.mass / 0.45359237, rel=1e-9)
    assert metric["weight"] == pytest.approx(own.mass, rel=1e-9)


def test_coil_takes_its_diameter_inside_outside_or_between():
    same = [
        document("coil", "--wire", "0.5 in", option, size, "--coils", "12")["rate"]["mean"]
        for option, size in (("--inside", "2.5 in"), ("--mean", "3 in"), ("--outside", "3.5 in"))
    ]
    assert same == pytest.approx([same[0]] * 3, rel=1e-9)


def test_a_worse_caliper_makes_a_wider_rate():
    def width(*more):
        rate = document("coil", *SPRING, *more)["rate"]
        return rate["high"] - rate["low"]

    assert width("--wire-error", "0.2 mm") > 1.5 * width()
    assert width("--wire-error", "0 mm") < width()


def test_coil_text_says_what_a_percent_of_wire_costs_and_warns():
    text = answered("coil", *SPRING)
    assert "1 % of wire is 3.5 % of rate: measure bare metal" in text
    assert "not tested" in text
    assert "take a set or break" in text
    assert "lbf/in (90 %:" in text
    assert all(len(line) < 250 for line in text.splitlines())


NOTES = [
    (("--free", "12 in"), "Safe down to solid only if the maker has taken the set out"),
    (("--free", "20 in"), "Even with its set taken out the wire carries too much when solid"),
    (("--free", "20 in"), "it bows when pressed"),
    (("--free", "8 in"), "The wire carries it down to solid."),
    ((), "Give the free length"),
    (("--inside", "1 in"), "A coil is usually 4 to 12 wires across, this one 3.2"),
    ((), "carried on beyond, it is a guess"),
]


@pytest.mark.parametrize(("more", "said"), NOTES)
def test_coil_notes_what_is_particular(more, said):
    words = dict(zip(SPRING[:6:2], SPRING[1:6:2], strict=True)) | dict(
        zip(more[::2], more[1::2], strict=True)
    )
    given = [part for pair in words.items() for part in pair]
    assert any(said in line for line in document("coil", *given)["notes"])


def test_choices_of_the_command_are_those_of_the_answer():
    assert bench.ENDS == ENDS
    assert tuple(WIRES) == bench.MATERIALS


RUBBISH = [
    (("--wire", "half an inch"), '--wire: "half an inch" is not a length.'),
    (("--wire", "0.46"), '--wire: "0.46" has no unit.'),
    (("--wire", "0.46 lbf"), '--wire: "0.46 lbf" is not a length.'),
    (("--wire", "10**10**10 in"), "--wire: "),
    (("--wire", ""), "--wire: "),
    (("--wire", "0 in"), "wire: 0 in (0 mm) can't be."),
    (("--wire", "-1 in"), "wire: -1 in (-25.4 mm) can't be. Write 0.00394 in (0.1 mm) to 1.97 in (50 mm)."),
    (("--wire", "9 in"), "wire: 9 in (228.6 mm) can't be."),
    (("--coils", "many"), '--coils: "many" is not a number.'),
    (("--coils", "2"), "2 coils, and 2 of them at the ends do not work"),
    (("--coils", "12 in"), '--coils: "12 in" is not a number.'),
    (("--free", "3 in"), "these coils touch at 5.29 in (134.4 mm)"),
    (("--wire-error", "1 in"), "wire error: 1 in (25.4 mm) can't be."),
    (("--ends", "sawn"), "'sawn' is not one of 'plain'"),
    (("--material", "cheese"), "'cheese' is not one of 'music'"),
    (("--units", "imperial"), "'imperial' is not one of 'us', 'metric'"),
    (("--mean", "3 in"), "Give one of --inside, --mean and --outside."),
    (("--nonsense",), "No such option"),
]


@pytest.mark.parametrize(("more", "said"), RUBBISH, ids=[" ".join(more) for more, _ in RUBBISH])
@pytest.mark.parametrize("how", [(), ("--json",)])
def test_coil_refuses_rubbish_in_plain_words(more, said, how):
    assert said in refused("coil", *SPRING, *more, *how)


@pytest.mark.parametrize("wire", ["-1 in", "0 in", "9 in"])
def test_a_wire_that_can_not_be_is_the_only_thing_said_of_it(wire):
    words = ("coil", "--wire", wire, "--inside", "2 1/2 in", "--coils", "11 1/2")
    assert refused(*words).count("\n") == 1
    assert "wire error" not in refused(*words, "--wire-error", "0.2 mm")


def test_coil_says_what_can_not_be_in_the_units_asked_for_first():
    assert "wire: 9 in (228.6 mm) can't be" in refused("coil", *SPRING, "--wire", "9 in")
    assert "wire: 228.6 mm (9 in) can't be" in refused("coil", *SPRING, "--wire", "9 in", "--units", "metric")


def test_coil_without_a_diameter_is_told_which_to_give():
    assert "Give one of --inside" in refused("coil", "--wire", "0.5 in", "--coils", "12")
    assert "Missing option '--coils'" in refused("coil", "--wire", "0.5 in", "--mean", "3 in")


# ---------------------------------------------------------------- press


def test_press_document_has_its_keys_and_carries_the_answer(kneed):
    found = document("press", kneed)
    assert set(found) == {
        "units", "readings", "rate", "free_length", "scatter", "knee", "knee_looked_for", "doubtful", "solid", "notes"
    }  # fmt: skip
    assert found["units"] == {"length": "in", "rate": "lbf/in", "force": "lbf"}
    assert found["readings"] == 13
    assert set(found["knee"]) == {"length", "force", "rate", "open_ended"}
    for interval in (found["rate"], found["free_length"], found["knee"]["rate"], found["knee"]["length"]):
        assert is_interval(interval)
    assert found["rate"]["mean"] == pytest.approx(130, abs=3)
    assert found["knee"]["rate"]["mean"] == pytest.approx(245, abs=3)
    assert found["knee"]["length"]["mean"] == pytest.approx(10, abs=0.1)
    assert found["free_length"]["mean"] == pytest.approx(14, abs=0.05)
    assert found["doubtful"] is None
    assert found["solid"] == []


def test_press_answers_in_the_units_asked_for(kneed):
    us, metric = document("press", kneed), document("press", kneed, "--units", "metric")
    assert metric["units"] == {"length": "mm", "rate": "N/mm", "force": "N"}
    assert metric["rate"]["mean"] == pytest.approx(us["rate"]["mean"] * LBF / 25.4, rel=1e-9)
    assert metric["knee"]["force"]["high"] == pytest.approx(us["knee"]["force"]["high"] * LBF, rel=1e-9)


def test_press_counts_a_doubtful_reading_from_one_as_the_rows_are_written(kneed):
    head, *rows = kneed.read_text("utf-8").splitlines()
    force, length = rows[3].split(",")
    rows[3] = f"{float(force) + 200:.0f},{length}"
    kneed.write_text("\n".join([head, *rows]), encoding="utf-8")
    assert document("press", kneed)["doubtful"] == 4


def test_press_text_names_the_knee_and_warns_of_the_press(kneed):
    text = answered("press", kneed)
    assert "rate up to the knee" in text
    assert "length at the knee" in text
    assert "A spring in a press holds enough to kill." in text
    assert "never in line with it" in text
    kneed.write_text("force [N],length [mm]\n0,350\n500,340\n1000,330\n", encoding="utf-8")
    text = answered("press", kneed, "--units", "metric")
    assert "Too few lengths to look for a knee" in text
    assert "rate                  50 N/mm" in text
    assert "knee" not in text.split("Note")[0]


def test_press_notes_what_is_particular():
    def said(forces, lengths):
        forces, lengths = np.array(forces) * LBF, np.array(lengths) * INCH
        return " ".join(press_notes(fit_press(forces, lengths), "us"))

    lengths = np.arange(13.5, 7.0, -0.5)
    flat = 300 * (14 - lengths) + np.resize([2, -3, 1, 0, -2, 3], len(lengths))
    assert "No knee: one line does as well as two" in said(flat, lengths)
    assert "turns softer" in said(lines(lengths, soft=245, stiff=130), lengths)
    assert "nearer to an end of the readings" in said(lines(lengths, knee=8.0), lengths)
    close = 13.5 - 0.05 * np.arange(13)
    assert "Press over more of the travel, short of solid." in said(300 * (14 - close), close)
    slip = flat.copy()
    slip[3] += 200
    assert "Reading 4 (" in said(slip, lengths)
    assert all("one that reads 2 % high" in said(*pair) for pair in ((flat, lengths), (slip, lengths)))


def test_press_says_which_readings_look_solid_and_never_to_press_on(tmp_path):
    """A spring of 250 lbf/in, 14 in long, whose coils touch at 9.99 in; the last rows are pressed into that."""
    lengths = np.arange(14.0, 9.9, -0.5)
    rows = [f"{250 * (14 - length):g},{length:g}" for length in lengths]
    path = tmp_path / "p.csv"

    def pressed(*more):
        path.write_text("\n".join(["force [lbf],length [in]", *rows, *more]), encoding="utf-8")
        return document("press", path), answered("press", path)

    sound, text = pressed()
    assert "solid" not in text.split("Note: These")[0]
    for more in (["1500,9.99", "2000,9.988", "2500,9.987"], ["1500,9.99", "2000,9.988"], ["4000,9.9"]):
        found, text = pressed(*more)
        places = list(range(len(rows) + 1, len(rows) + 1 + len(more)))
        assert found["solid"] == places
        assert (found["rate"], found["free_length"], found["knee"]) == (
            sound["rate"], sound["free_length"], None
        )  # fmt: skip
        said = found["notes"][0]
        for place in (places[0], places[-1]):
            assert str(place) in said
        assert f"from about {float(more[0].split(',')[1]):.2f} in on" in said
        assert "Never press on" in said
        assert "beyond" not in text
        assert f"{len(rows)} readings, {len(more)} solid" in text


def test_a_knee_that_hardly_anything_stands_behind_is_never_to_be_pressed_on_either():
    """Ten times as stiff over a third of all that was pressed: too long for coils that touch, but who knows."""
    lengths = np.arange(13.5, 8.0, -0.5)
    forces = lines(lengths, soft=40, stiff=600, knee=10.4)
    answer = fit_press(forces * LBF, lengths * INCH)
    assert answer.solid == ()
    assert answer.knee.rate.mean > 10 * answer.rate.mean
    assert any("Never press on" in line for line in press_notes(answer, "us"))


def test_no_note_sends_anybody_further_without_saying_where_to_stop():
    lengths = np.arange(13.5, 7.0, -0.5)
    notes = press_notes(fit_press(lines(lengths, knee=8.0) * LBF, lengths * INCH), "us")
    assert any("beyond it, short of solid" in line for line in notes)


FILES = [
    ("", 2, "press.csv: no rows. Start with the header force [lbf],length [in]."),
    ("force,length\n1,2\n", 2, "press.csv, line 1, force: no unit is given. Write force [lbf]."),
    ("force [lbf]\n1\n", 2, "press.csv, line 1, length: no such column. Add the column length [in]."),
    ("force [lbf],travel [in]\n1,2\n", 2, "press.csv, line 1, travel [in]: not a column here."),
    ("force [lbf],length [in]\n1,x\n,2\n", 2, 'press.csv, line 2, length: "x" is not a length.'),
    ("force [lbf],length [in]\n1,x\n,2\n", 2, "press.csv, line 3, force: empty. Every row needs a force and a length."),
    ("force [lbf],length [in]\n-5,2\n", 2, 'press.csv, line 2, force: "-5" is not plausible.'),
    ("force [lbf],length [in]\n5,2000\n", 2, 'press.csv, line 2, length: "2000" is not plausible.'),
    ("force [lbf],length [in]\n" + "5,9\n" * 501, 2, "press.csv: 501 readings. Keep to 500: one spring to a file."),
    ("force [lbf],length [in]\n", 1, "Readings: 0. A rate needs 3, better 8"),
    ("force [lbf],length [in]\n5,9\n9,8\n", 1, "Readings: 2. A rate needs 3, better 8"),
    ("force [lbf],length [in]\n5,9\n5,8\n5,7\n", 1, "Every reading has the same force."),
    ("force [lbf],length [in]\n5,9\n6,9\n7,9\n", 1, "Every reading has the same length."),
    ("force [lbf],length [in]\n5,1\n6,2\n7,3\n", 1, "The lengths grow with the force."),
]  # fmt: skip


@pytest.mark.parametrize(("text", "code", "said"), FILES)
def test_press_refuses_rubbish_in_plain_words(tmp_path, text, code, said):
    path = tmp_path / "press.csv"
    path.write_text(text, encoding="utf-8")
    assert said in refused("press", path, code=code)
    assert said in refused("press", path, "--json", code=code)


def test_press_without_a_readable_file_says_so(tmp_path):
    assert "none.csv: can't be opened: No such file" in refused("press", tmp_path / "none.csv")
    assert "can't be opened: Is a directory" in refused("press", tmp_path)
    (tmp_path / "bytes.csv").write_bytes(bytes(range(256)))
    assert "bytes.csv, line" in refused("press", tmp_path / "bytes.csv")
    assert refused("press", ".").startswith(".: can't be opened: Is a directory")
    assert "Missing argument 'FILE'" in refused("press")


# ---------------------------------------------------------------- start


@pytest.mark.parametrize("command", ["coil", "press"])
def test_help_is_there_without_anything_heavy(command):
    code = (
        "import sys; from tuning.cli import main\n"
        f"try: main(['{command}', '--help'])\n"
        "except SystemExit: pass\n"
        "print([m for m in ('numpy', 'pint', 'statsmodels') if m in sys.modules])"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.strip().endswith("[]")
    assert f"{command} [OPTIONS]" in ran.stdout
