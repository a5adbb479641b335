"""The command line as people and scripts meet it: keys, exit codes, what is refused and how."""

import csv
import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

import sample_runs
from tuning.cli import main
from tuning.truck import CORNERS

NIGHT, VAN, PONY = (sample_runs.path(name) for name in ("night_shift", "market_van", "hill_pony"))
TRUCK, READINGS = NIGHT / "truck.toml", NIGHT / "readings.csv"
NAME = "Night shift"

RUN, TIME, CORNER, HEIGHT, LOAD, PRELOAD, STACK, SETTLED = range(8)


def tuning(*words):
    return CliRunner().invoke(main, [str(word) for word in words])


def answered(*words):
    """Standard output of a command that has to answer."""
    result = tuning(*words)
    assert result.exit_code == 0, result.stderr
    return result.stdout


def document(*words):
    return json.loads(answered(*words, "--json"))


def refused(result, code=2):
    """Standard error of a command that has to refuse: in plain words, with nothing on standard output."""
    assert result.exit_code == code, (result.exit_code, result.stdout, result.stderr)
    assert result.stdout == ""
    assert result.stderr.strip()
    assert "Traceback" not in result.stderr
    assert "should not happen" not in result.stderr
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result.stderr


def rows_of(path=READINGS):
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.reader(file))


def written(path, rows):
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(rows)
    return path


def edited(path, change, rows=None):
    """The sample's readings, every row passed through `change` (None drops it)."""
    head, *body = rows_of() if rows is None else rows
    kept = [changed for row in body if (changed := change(list(row))) is not None]
    return written(path, [head, *kept])


def later_run(path, heights, name="r4"):
    """A run after the sample's last, rolled and bounced, nothing turned: heights in inches by corner."""
    head, *body = rows_of()
    last = {row[CORNER]: row for row in body if row[RUN] == "r3"}
    rows = []
    for corner in CORNERS:
        row = list(last[corner])
        row[RUN], row[TIME], row[HEIGHT], row[SETTLED] = name, "2024-03-10T10:00", heights[corner], ""
        rows.append(row)
    return written(path, [head, *rows])


SOUND = {"LF": "21 11/16", "RF": "21 13/16", "LR": "22 13/16", "RR": "22 15/16"}
MISREAD = SOUND | {"RF": "31 13/16"}  # ten inches: the tape's first figure


# ---------------------------------------------------------------- the documents


INTERVAL = {"mean", "low", "high"}


def is_interval(value):
    return set(value) == INTERVAL and value["low"] <= value["mean"] <= value["high"]


def test_adjust_document_has_the_keys_of_the_contract():
    answer = document("adjust", "--truck", TRUCK, "--readings", READINGS)
    assert {
        "run", "units", "corners", "cross_weight", "probability_in_tolerance", "reachable", "limits", "next_reading"
    } <= set(answer)  # fmt: skip
    assert answer["run"] == "r3"
    assert {"height": "in", "load": "lbf", "preload": "in"}.items() <= answer["units"].items()
    assert list(answer["corners"]) == list(CORNERS)
    for corner in answer["corners"].values():
        assert {
            "turns", "preload_now", "preload_after", "height_now", "height_after", "load_after"
        } <= set(corner)  # fmt: skip
        assert is_interval(corner["height_after"])
        assert is_interval(corner["load_after"])
        assert corner["turns"] % 0.25 == 0
        assert corner["preload_after"] == pytest.approx(corner["preload_now"] + corner["turns"] / 12)
    assert 40 < answer["cross_weight"]["now"] < 60
    assert is_interval(answer["cross_weight"]["after"])
    assert 0 <= answer["probability_in_tolerance"] <= 1
    assert isinstance(answer["reachable"], bool)
    assert all(isinstance(line, str) for line in answer["limits"])
    assert answer["next_reading"] is None or isinstance(answer["next_reading"], str | dict)


def test_adjust_document_says_what_was_read_last():
    """Means of the readings of the last run, in the owner's units."""
    answer = document("adjust", "--truck", TRUCK, "--readings", READINGS)
    for corner in CORNERS:
        last = [row for row in rows_of()[1:] if (row[RUN], row[CORNER]) == ("r3", corner)]
        shown = answer["corners"][corner]
        assert shown["height_now"] == pytest.approx(sum(float(row[HEIGHT]) for row in last) / len(last))
        assert shown["preload_now"] == pytest.approx(float(last[-1][PRELOAD]))


def test_adjust_document_of_a_truck_with_leaves_has_turns_only_where_nuts_are():
    answer = document("adjust", "--truck", VAN / "truck.toml", "--readings", VAN / "readings.csv")
    assert {"height": "mm", "load": "N", "preload": "mm"}.items() <= answer["units"].items()
    for name, corner in answer["corners"].items():
        has_nut = name in ("LF", "RF")
        assert all((key in corner) == has_nut for key in ("turns", "preload_now", "preload_after"))
        assert is_interval(corner["height_after"])


def test_adjust_document_without_scales_has_no_cross_weight_and_says_so_in_limits():
    answer = document("adjust", "--truck", PONY / "truck.toml", "--readings", PONY / "readings.csv")
    assert answer["cross_weight"] == {"now": None, "after": None}
    assert any("cross-weight" in line and "unknown" in line for line in answer["limits"])


def test_fit_document_has_the_keys_of_the_contract():
    answer = document("fit", "--truck", TRUCK, "--readings", READINGS)
    assert {"height", "load", "rate"} <= set(answer["units"])
    assert list(answer["corners"]) == list(CORNERS)
    for name, corner in answer["corners"].items():
        assert {"datum", "rate_factor", "rate_now", "readings", "residual_sd"} <= set(corner)
        assert is_interval(corner["datum"])
        assert is_interval(corner["rate_now"])
        stack = "275 over 425" if name in ("LF", "RF") else "225 over 350"
        assert list(corner["rate_factor"]) == [stack]
        assert is_interval(corner["rate_factor"][stack])
        assert corner["readings"] == 4
        assert corner["residual_sd"] > 0
    assert is_interval(answer["twist"]["compliance"])
    assert is_interval(answer["twist"]["offset"])


def test_rate_now_of_the_fit_is_near_the_springs_in_series():
    """Sliders of the sample are off their rings."""
    answer = document("fit", "--truck", TRUCK, "--readings", READINGS)
    for name, upper, lower in (("LF", 275, 425), ("RR", 225, 350)):
        found = answer["corners"][name]["rate_now"]
        assert found["low"] < upper * lower / (upper + lower) < found["high"]


def test_the_same_question_gets_the_same_answer_to_the_last_digit():
    first, second = (answered("adjust", "--truck", TRUCK, "--readings", READINGS, "--json") for _ in range(2))
    assert first == second


@pytest.mark.parametrize("command", ["adjust", "fit", "runs"])
@pytest.mark.parametrize("sample", [NIGHT, VAN, PONY], ids=lambda path: path.name)
def test_every_sample_is_answered_as_a_table_and_as_json(command, sample):
    source = ("--truck", sample / "truck.toml", "--readings", sample / "readings.csv")
    table = answered(command, *source)
    assert all(corner in table for corner in CORNERS)
    assert "nan" not in table.lower()
    document(command, *source)


# ---------------------------------------------------------------- turns


def test_turns_are_predicted_instead_of_chosen():
    source = ("adjust", "--truck", TRUCK, "--readings", READINGS)
    chosen = document(*source)
    turns = {corner: shown["turns"] for corner, shown in chosen["corners"].items()}
    repeated = document(*source, "--turns", ",".join(f"{c}={n}" for c, n in turns.items()))
    assert repeated["corners"] == chosen["corners"]
    assert repeated["cross_weight"] == chosen["cross_weight"]
    assert repeated["probability_in_tolerance"] == chosen["probability_in_tolerance"]


def test_turns_left_out_are_none_and_fractions_are_read():
    answer = document("adjust", "--truck", TRUCK, "--readings", READINGS, "--turns", "lf=1 1/4, RR=-.5")
    assert {c: shown["turns"] for c, shown in answer["corners"].items()} == {
        "LF": 1.25,
        "RF": 0,
        "LR": 0,
        "RR": -0.5,
    }
    assert answer["corners"]["LF"]["height_after"]["mean"] > answer["corners"]["LF"]["height_now"] - 0.5


@pytest.mark.parametrize(
    "text",
    ["", "LF", "LF=", "=1", "XX=1", "LF=x", "LF=1,LF=2", "LF=1;RF=2", "LF=1e5", "LF=nan", "LF=inf", "LF=1000",
     "LF=٢", "LF==1", ",", "LF=1,", "LF=1 in", "LF=" + "9" * 5000],
)  # fmt: skip
def test_rubbish_for_turns_is_refused(text):
    said = refused(tuning("adjust", "--truck", TRUCK, "--readings", READINGS, "--json", "--turns", text))
    assert "--turns" in said


def test_turns_at_a_leaf_are_refused_by_name():
    result = tuning(
        "adjust", "--truck", VAN / "truck.toml", "--readings", VAN / "readings.csv", "--turns", "LR=1"
    )
    assert "LR has no adjuster" in refused(result, result.exit_code)
    assert result.exit_code in (1, 2)


def test_turns_past_the_thread_are_predicted_and_called_past_it():
    answer = document("adjust", "--truck", TRUCK, "--readings", READINGS, "--turns", "LF=60")
    assert any(line.startswith("LF") and "past" in line for line in answer["limits"])


def test_turns_of_a_truck_without_target_have_no_chance_of_meeting_it(tmp_path):
    answer = document(
        "adjust", "--truck", without_target(tmp_path), "--readings", READINGS, "--turns", "LF=1"
    )
    assert answer["probability_in_tolerance"] != 1.0
    assert answer["reachable"] is not True


# ---------------------------------------------------------------- files that can't be used


def binary(path):
    path.write_bytes(bytes(range(256)) * 40)
    return path


def text(path, content):
    path.write_text(content, encoding="utf-8")
    return path


def unusable(tmp_path):
    """Truck and readings, one of them of no use, by what is wrong."""
    return {
        "no readings": (TRUCK, tmp_path / "nowhere.csv"),
        "no truck": (tmp_path / "nowhere.toml", READINGS),
        "folder for readings": (TRUCK, tmp_path),
        "folder for truck": (tmp_path, READINGS),
        "binary readings": (TRUCK, binary(tmp_path / "b.csv")),
        "binary truck": (binary(tmp_path / "b.toml"), READINGS),
        "empty readings": (TRUCK, text(tmp_path / "e.csv", "")),
        "empty truck": (text(tmp_path / "e.toml", ""), READINGS),
        "header only": (TRUCK, written(tmp_path / "h.csv", rows_of()[:1])),
        "cut in a quote": (TRUCK, text(tmp_path / "c.csv", READINGS.read_text()[:700])),
        "cut in a row": (TRUCK, text(tmp_path / "r.csv", READINGS.read_text()[: READINGS.read_text().index(",1683")])),
        "each for the other": (READINGS, TRUCK),
        "two runs of one name": (
            TRUCK,
            written(
                tmp_path / "s.csv",
                [*rows_of(), *([r[0], "2024-04-02T10:00", *r[2:]] for r in rows_of()[1:5])],
            ),
        ),
        "a truck of nothing but brackets": (text(tmp_path / "n.toml", "[" * 1900), READINGS),
        "a key of ten thousand dots": (text(tmp_path / "d.toml", "a." * 10_000 + "b = 1"), READINGS),
        "a string never closed": (text(tmp_path / "q.toml", 'name = """' + "x\n" * 2000), READINGS),
        "a null character": (text(tmp_path / "0.toml", "name = \x00"), READINGS),
        "a number for a table": (text(tmp_path / "f.toml", "front = 3\nrear = []\n"), READINGS),
        "no track at all": (text(tmp_path / "t.toml", TRUCK.read_text().replace('"66 in"', '"0 in"')), READINGS),
        "nan for a step": (text(tmp_path / "na.toml", TRUCK.read_text().replace("= 0.25", "= nan")), READINGS),
        "a step of none": (text(tmp_path / "st.toml", TRUCK.read_text().replace("= 0.25", "= 0")), READINGS),
        "a huge exponent": (
            text(tmp_path / "x.toml", TRUCK.read_text().replace('"66 in"', '"1e999999999 in"')), READINGS,
        ),
    }  # fmt: skip


UNUSABLE = [
    "no readings", "no truck", "folder for readings", "folder for truck", "binary readings", "binary truck",
    "empty readings", "empty truck", "header only", "cut in a quote", "cut in a row", "each for the other",
    "two runs of one name", "a truck of nothing but brackets", "a key of ten thousand dots",
    "a string never closed", "a null character", "a number for a table", "no track at all", "nan for a step",
    "a step of none", "a huge exponent",
]  # fmt: skip


@pytest.mark.parametrize("fault", UNUSABLE)
@pytest.mark.parametrize("command", ["adjust", "fit", "runs"])
def test_files_that_cannot_be_used_are_refused_by_name(tmp_path, command, fault):
    cases = unusable(tmp_path)
    assert list(cases) == UNUSABLE
    truck, readings = cases[fault]
    said = refused(tuning(command, "--truck", truck, "--readings", readings, "--json"))
    assert truck.name in said or readings.name in said
    assert all(len(line) < 400 for line in said.splitlines())


@pytest.mark.parametrize("column", [HEIGHT, LOAD, PRELOAD])
@pytest.mark.parametrize(
    "bad", ["nan", "inf", "-inf", "1e308", "99999999999999999999", "-5000", "22,5", "٢٢", "1/0"]
)
def test_numbers_that_are_none_are_refused_with_line_and_column(tmp_path, column, bad):
    def change(row):
        row[column] = bad if (row[RUN], row[CORNER]) == ("r2", "RF") else row[column]
        return row

    said = refused(tuning("adjust", "--truck", TRUCK, "--readings", edited(tmp_path / "n.csv", change)))
    named = {HEIGHT: "height", LOAD: "load", PRELOAD: "preload"}[column]
    assert said.startswith(f"n.csv, line 7, {named}:")


def test_every_bad_cell_is_named_at_once(tmp_path):
    def change(row):
        row[HEIGHT] = "x" if row[RUN] == "r2" else row[HEIGHT]
        return row

    said = refused(tuning("adjust", "--truck", TRUCK, "--readings", edited(tmp_path / "n.csv", change)))
    assert len(said.splitlines()) == 4


# ---------------------------------------------------------------- readings that say too little


def without_target(tmp_path):
    whole = TRUCK.read_text()
    return text(tmp_path / "no_target.toml", whole[: whole.index("[target]")])


def leaves_only(tmp_path):
    """The sample on four leaf springs: nothing to turn."""
    whole = TRUCK.read_text()
    for end, after in (("front", "[rear]"), ("rear", "[target]")):
        start = whole.index(f"[{end}.shock]")
        whole = f'{whole[:start]}[{end}.spring]\nrate = "170 lbf/in"\n\n{whole[whole.index(after) :]}'
    readings = edited(tmp_path / "leaves.csv", lambda row: [*row[:PRELOAD], "", "", *row[SETTLED:]])
    return text(tmp_path / "leaves.toml", whole), readings


def test_a_truck_without_target_has_no_answer_but_a_fit(tmp_path):
    truck = without_target(tmp_path)
    assert "no target" in refused(
        tuning("adjust", "--truck", truck, "--readings", READINGS, "--json"), code=1
    )
    document("fit", "--truck", truck, "--readings", READINGS)


def test_a_truck_without_adjusters_has_no_answer_but_a_fit(tmp_path):
    truck, readings = leaves_only(tmp_path)
    source = ("--truck", truck, "--readings", readings, "--keep-doubtful")
    assert "no adjuster" in refused(tuning("adjust", *source, "--json"), code=1)
    document("fit", *source)


def test_a_corner_that_was_never_read_is_asked_for(tmp_path):
    readings = edited(tmp_path / "r.csv", lambda row: None if row[CORNER] == "LF" else row)
    said = refused(tuning("adjust", "--truck", TRUCK, "--readings", readings, "--json"), code=1)
    assert "LF" in said
    assert "RF" not in said


@pytest.mark.parametrize("unread", [("LF",), ("RF", "LR", "RR")])
def test_a_corner_unread_in_the_last_run_is_answered_from_the_runs_before(tmp_path, unread):
    readings = edited(
        tmp_path / "r.csv", lambda row: None if row[RUN] == "r3" and row[CORNER] in unread else row
    )
    answer = document("adjust", "--truck", TRUCK, "--readings", readings)
    assert list(answer["corners"]) == list(CORNERS)
    assert "nan" not in answered("adjust", "--truck", TRUCK, "--readings", readings).lower()


def test_one_run_is_answered_from_nominal_springs_with_wider_intervals(tmp_path):
    one = edited(tmp_path / "r.csv", lambda row: row if row[RUN] == "r1" else None)
    wide, narrow = (
        document("adjust", "--truck", TRUCK, "--readings", r, "--turns", "LF=0") for r in (one, READINGS)
    )
    widths = [
        sum(a["corners"][c]["height_after"]["high"] - a["corners"][c]["height_after"]["low"] for c in CORNERS)
        for a in (wide, narrow)
    ]
    assert widths[0] > 1.5 * widths[1]
    assert wide["run"] == "r1"


@pytest.mark.parametrize(
    ("corners", "runs"),
    [
        (CORNERS, ("r1", "r2", "r3")),
        (CORNERS, ("r3",)),
        (("LR", "RR"), ("r1", "r2", "r3")),
        (("LF", "RF"), ("r1", "r2", "r3")),
        (("LF", "RF", "LR"), ("r1", "r2", "r3")),
        (("RR",), ("r3",)),
    ],
)
def test_heights_without_loads_are_answered(tmp_path, corners, runs):
    def change(row):
        row[LOAD] = "" if row[CORNER] in corners and row[RUN] in runs else row[LOAD]
        return row

    readings = edited(tmp_path / "r.csv", change)
    answer = document("adjust", "--truck", TRUCK, "--readings", readings)
    assert all(is_interval(corner["height_after"]) for corner in answer["corners"].values())
    weighed_once = runs == ("r3",)
    assert (answer["cross_weight"]["after"] is not None) == weighed_once
    assert answer["cross_weight"]["now"] is None
    assert any("cross-weight left out" in line for line in answer["limits"]) != weighed_once
    document("fit", "--truck", TRUCK, "--readings", readings)


@pytest.mark.parametrize("command", ["adjust", "fit", "runs"])
def test_scales_that_read_nothing_are_refused_or_answered_but_not_stumbled_over(tmp_path, command):
    readings = edited(tmp_path / "r.csv", lambda row: [*row[:LOAD], "0", *row[PRELOAD:]])
    result = tuning(command, "--truck", TRUCK, "--readings", readings, "--json")
    assert "should not happen" not in result.stderr
    assert "Warning" not in result.stderr


HOPELESS = {
    "ten tonnes a wheel": (LOAD, "20000", ()),
    "less than the axles weigh": (LOAD, "200", ()),
    "five feet high": (HEIGHT, "60", ()),
    "an inch high": (HEIGHT, "1", ("--keep-doubtful",)),
}


@pytest.mark.parametrize("fault", HOPELESS)
def test_readings_that_fit_no_such_truck_are_answered_or_refused_in_words(tmp_path, fault):
    column, value, words = HOPELESS[fault]
    readings = edited(tmp_path / "r.csv", lambda row: [*row[:column], value, *row[column + 1 :]])
    result = tuning("adjust", "--truck", TRUCK, "--readings", readings, "--json", *words)
    assert result.exit_code in (0, 1, 2)
    assert "should not happen" not in result.stderr


def with_doubts(path, is_doubtful):
    head, *body = rows_of()
    full = [[*row, *[""] * (len(head) - len(row)), "smudged" if is_doubtful(row) else ""] for row in body]
    return written(path, [[*head, "doubt"], *full])


def test_readings_that_are_all_doubtful_have_no_answer(tmp_path):
    readings = with_doubts(tmp_path / "r.csv", lambda row: True)
    for command in ("adjust", "fit"):
        assert "no height" in refused(
            tuning(command, "--truck", TRUCK, "--readings", readings, "--json"), code=1
        )
    assert (
        document("runs", "--truck", TRUCK, "--readings", readings)["runs"][0]["readings"][0]["doubt"]
        == "smudged"
    )


@pytest.mark.parametrize("corners", [("RF",), CORNERS])
def test_a_last_run_in_doubt_is_answered_from_the_others(tmp_path, corners):
    readings = with_doubts(tmp_path / "r.csv", lambda row: row[RUN] == "r3" and row[CORNER] in corners)
    answer = document("adjust", "--truck", TRUCK, "--readings", readings)
    assert list(answer["corners"]) == list(CORNERS)


def test_a_doubtful_height_does_not_move_the_nut_back(tmp_path):
    readings = with_doubts(
        tmp_path / "r.csv", lambda row: (row[RUN], row[CORNER]) == ("r3", "RF") and row[SETTLED] == "above"
    )
    one_left = document("adjust", "--truck", TRUCK, "--readings", readings)
    assert one_left["corners"]["RF"]["preload_now"] == pytest.approx(1.25)  # the sample's r3
    readings = with_doubts(tmp_path / "r.csv", lambda row: (row[RUN], row[CORNER]) == ("r3", "RF"))
    none_left = document("adjust", "--truck", TRUCK, "--readings", readings)
    assert none_left["corners"]["RF"]["preload_now"] == pytest.approx(1.25)  # and not r2's 0.917


# ---------------------------------------------------------------- unlikely readings


def test_an_unlikely_reading_is_refused_then_kept_as_doubtful_then_cleared(tmp_path):
    log = tmp_path / "log.db"
    misread = later_run(tmp_path / "r4.csv", MISREAD)
    answered("import", "--truck", TRUCK, "--readings", READINGS, "--log", log)
    before = answered("fit", "--truck", NAME, "--log", log, "--json")

    said = refused(tuning("import", "--truck", NAME, "--readings", misread, "--log", log))
    assert "RF height 31 13/16 in reads" in said
    assert "21 13/16 in?" in said
    assert "LF" not in said
    assert answered("fit", "--truck", NAME, "--log", log, "--json") == before  # nothing was stored

    assert "1 of them doubtful" in answered(
        "import", "--truck", NAME, "--readings", misread, "--log", log, "--confirm"
    )
    logged = document("runs", "--truck", NAME, "--log", log)["runs"][-1]["readings"]
    assert [bool(r["doubt"]) for r in logged] == [False, True, False, False]
    kept_out = document("fit", "--truck", NAME, "--log", log)
    assert [kept_out["corners"][c]["readings"] for c in CORNERS] == [5, 4, 5, 5]

    answered(
        "correct",
        "--truck",
        NAME,
        "--run",
        "r4",
        "--corner",
        "RF",
        "--clear",
        "--because",
        "was so",
        "--log",
        log,
    )
    back = document("fit", "--truck", NAME, "--log", log)
    assert [back["corners"][c]["readings"] for c in CORNERS] == [5, 5, 5, 5]


@pytest.mark.parametrize(("corner", "slip"), [("RF", 10), ("RF", -10), ("LR", 1), ("LF", 2), ("RR", 20)])
def test_a_slip_of_the_tape_is_told_with_what_was_meant(tmp_path, corner, slip):
    log = tmp_path / "log.db"
    answered("import", "--truck", TRUCK, "--readings", READINGS, "--log", log)
    whole, _, part = SOUND[corner].partition(" ")
    slipped = SOUND | {corner: f"{int(whole) + slip} {part}"}
    said = refused(
        tuning("import", "--truck", NAME, "--readings", later_run(tmp_path / "r4.csv", slipped), "--log", log)
    )
    assert f"{corner} height" in said
    assert f"{SOUND[corner]} in?" in said


def test_likely_readings_are_taken_without_question(tmp_path):
    log = tmp_path / "log.db"
    answered("import", "--truck", TRUCK, "--readings", READINGS, "--log", log)
    said = answered(
        "import", "--truck", NAME, "--readings", later_run(tmp_path / "r4.csv", SOUND), "--log", log
    )
    assert "4 readings stored, 0 of them doubtful" in said


def test_one_gross_slip_in_a_file_costs_no_other_reading(tmp_path):
    readings = written(
        tmp_path / "r.csv", [*rows_of(), *rows_of(later_run(tmp_path / "r4.csv", MISREAD))[1:]]
    )
    result = tuning("fit", "--truck", TRUCK, "--readings", readings, "--json")
    assert result.exit_code == 0
    assert len(result.stderr.strip().splitlines()) == 1
    assert "21 13/16 in?" in result.stderr
    answer = json.loads(result.stdout)
    assert [answer["corners"][c]["readings"] for c in CORNERS] == [5, 4, 5, 5]


# ---------------------------------------------------------------- the log


def without_notes(text):
    return {key: value for key, value in json.loads(text).items() if key != "notes"}


@pytest.mark.parametrize("sample", [NIGHT, VAN, PONY], ids=lambda path: path.name)
def test_log_export_and_history_answer_as_the_files_do_to_the_last_digit(tmp_path, sample):
    files = ("--truck", sample / "truck.toml", "--readings", sample / "readings.csv")
    log, other = tmp_path / "log.db", tmp_path / "other.db"
    name = answered("import", *files, "--log", log, "--confirm").partition(":")[0]
    out = tmp_path / "out"
    answered("export", "--truck", name, "--out", out, "--log", log)
    answered("import", "--history", out / "history.json", "--log", other)
    for command in ("adjust", "fit"):
        from_files = answered(command, *files, "--json")
        for source in (
            ("--truck", name, "--log", log),
            ("--truck", name, "--log", other),
            ("--truck", out / "truck.toml", "--readings", out / "readings.csv"),
        ):
            assert without_notes(answered(command, *source, "--json")) == without_notes(from_files)
    assert answered("export", "--truck", name, "--log", log) == answered(
        "export", "--truck", name, "--log", other
    )
    assert (out / "truck.toml").read_text("utf-8") == (sample / "truck.toml").read_text("utf-8")


def test_history_carries_doubts_and_corrections(tmp_path):
    log, other, out = tmp_path / "log.db", tmp_path / "other.db", tmp_path / "out"
    answered("import", "--truck", TRUCK, "--readings", READINGS, "--log", log)
    change = ("correct", "--truck", NAME, "--log", log, "--because", "misread", "--run", "r2")
    answered(*change, "--corner", "LF", "--height", "21 1/2 in")
    answered(*change, "--corner", "RR", "--doubt")
    answered(*change, "--corner", "LR", "--withdraw")
    answered("export", "--truck", NAME, "--out", out, "--log", log)
    answered("import", "--history", out / "history.json", "--log", other)
    answers = [answered("adjust", "--truck", NAME, "--log", place, "--json") for place in (log, other)]
    assert answers[0] == answers[1]
    assert (
        without_notes(answers[0])["corners"]
        != document("adjust", "--truck", TRUCK, "--readings", READINGS)["corners"]
    )
    again = tmp_path / "again"
    answered("export", "--truck", NAME, "--out", again, "--log", other)
    assert (again / "history.json").read_bytes() == (out / "history.json").read_bytes()


def test_nothing_is_taken_in_twice(tmp_path):
    log, out = tmp_path / "log.db", tmp_path / "out"
    answered("import", "--truck", TRUCK, "--readings", READINGS, "--log", log)
    held = answered("runs", "--truck", NAME, "--log", log, "--json")
    assert "in the log already" in refused(
        tuning("import", "--truck", TRUCK, "--readings", READINGS, "--log", log)
    )
    answered("export", "--truck", NAME, "--out", out, "--log", log)
    assert "already" in refused(tuning("import", "--history", out / "history.json", "--log", log))
    assert "already" in refused(tuning("export", "--truck", NAME, "--out", out, "--log", log))
    assert answered("runs", "--truck", NAME, "--log", log, "--json") == held


def test_a_file_with_one_bad_cell_stores_nothing(tmp_path):
    log = tmp_path / "log.db"

    def change(row):
        row[HEIGHT] = "22,5" if (row[RUN], row[CORNER]) == ("r3", "RR") else row[HEIGHT]
        return row

    refused(
        tuning("import", "--truck", TRUCK, "--readings", edited(tmp_path / "r.csv", change), "--log", log)
    )
    assert not log.exists()
    answered("import", "--truck", TRUCK, "--readings", READINGS, "--log", log)


def test_an_unknown_truck_is_refused_with_the_nearest_name(tmp_path):
    log = tmp_path / "log.db"
    answered("import", "--truck", TRUCK, "--readings", READINGS, "--log", log)
    for command in ("adjust", "fit", "runs", "export"):
        assert NAME in refused(tuning(command, "--truck", "Nigth shift", "--log", log))


def test_a_truck_in_the_log_that_was_never_read_asks_for_readings(tmp_path):
    log = tmp_path / "log.db"
    answered("import", "--truck", TRUCK, "--log", log)
    assert "read all four corners" in refused(
        tuning("adjust", "--truck", NAME, "--log", log, "--json"), code=1
    )
    answered("runs", "--truck", NAME, "--log", log)


def test_places_that_are_no_log_are_refused(tmp_path):
    for place in (tmp_path, READINGS, "foo://bar", tmp_path / "no" / "folder" / "log.db"):
        refused(tuning("runs", "--truck", NAME, "--log", place))
    assert READINGS.read_text().startswith("run,taken_at")


def test_files_and_log_at_once_are_refused(tmp_path):
    refused(tuning("adjust", "--truck", TRUCK, "--readings", READINGS, "--log", tmp_path / "log.db"))


@pytest.mark.parametrize(
    "content",
    [b"\x9a\xff\x00\x01", b"", b"{}", b"[1, 2]",
     b'{"format": "tuning log 1"}', b"[" * 100_000],
    ids=["binary", "empty", "no keys", "a list", "half", "deep"],
)  # fmt: skip
def test_a_history_that_is_none_is_refused_and_stores_nothing(tmp_path, content):
    log, history = tmp_path / "log.db", tmp_path / "history.json"
    history.write_bytes(content)
    refused(tuning("import", "--history", history, "--log", log))
    refused(tuning("import", "--history", tmp_path / "nowhere.json", "--log", log))
    answered("import", "--truck", TRUCK, "--readings", READINGS, "--log", log)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (
            "[]",
            "history.json: a list, not the history of a truck. Nothing was saved. Give the history.json that",
        ),
        (
            '{"format": "tuning log 1"',
            "history.json: no whole JSON text: it goes wrong at line 1, letter 25.",
        ),
        ("", "history.json: no whole JSON text"),
        ('{"format": 5}', "history.json: format: 5 is not 'tuning log 1'"),
        ('{"format": "tuning log 1", "truck": "T", "versions": []}', "history.json: readings: missing"),
        ("{}", "history.json: format: missing"),
    ],
)
def test_a_history_that_is_none_is_named_with_what_was_found_and_leaves_no_log(tmp_path, content, said):
    history = tmp_path / "history.json"
    history.write_text(content, encoding="utf-8")
    for mark in ("", "\ufeff"):
        history.write_text(mark + content, encoding="utf-8")
        found = refused(tuning("import", "--history", history, "--log", tmp_path / "new.sqlite"))
        assert said in found
        assert "tuning export --out FOLDER" in found
        assert not {"Input", "JSON:", "sqlite"} & set(found.split())
        assert os.listdir(tmp_path) == ["history.json"]


def test_a_history_with_a_byte_order_mark_is_taken_in(tmp_path):
    one, two, out = tmp_path / "one.db", tmp_path / "two.db", tmp_path / "out"
    answered("import", "--truck", TRUCK, "--readings", READINGS, "--log", one)
    answered("export", "--truck", NAME, "--out", out, "--log", one)
    text = (out / "history.json").read_text("utf-8")
    (out / "history.json").write_text("\ufeff" + text, encoding="utf-8")
    answered("import", "--history", out / "history.json", "--log", two)
    said = answered("export", "--truck", NAME, "--log", two)
    assert said.splitlines() == (out / "readings.csv").read_text("utf-8").splitlines()


def test_whatever_fails_leaves_no_new_log_and_an_old_one_as_it_was(tmp_path):
    """A bad cell, an unlikely reading, a truck that nobody knows, a walk that is none."""
    there, files = tmp_path / "log.db", tmp_path / "files"
    files.mkdir()
    answered("import", "--truck", PONY / "truck.toml", "--log", there)
    bad = edited(files / "bad.csv", lambda row: [*row[:HEIGHT], "tall", *row[HEIGHT + 1 :]])
    misread = later_run(files / "misread.csv", MISREAD)
    for words in (
        ("import", "--truck", TRUCK, "--readings", bad),
        ("import", "--truck", TRUCK, "--readings", files / "none.csv"),
        ("import", "--truck", "Nobody", "--readings", READINGS),
        ("import", "--history", bad),
        ("walk", "--truck", TRUCK, "--record", bad),
    ):
        for place in (there, tmp_path / "new.db"):
            refused(tuning(*words, "--log", place))
            assert sorted(os.listdir(tmp_path)) == ["files", "log.db"], words
            assert document("runs", "--truck", "Hill pony", "--log", there)["runs"] == []
    alone = edited(files / "alone.csv", lambda row: row if row[RUN] != "r1" else None)
    head, *rows = rows_of(alone)
    rows[0][HEIGHT] = "31 3/8"
    written(alone, [head, *rows])
    assert "Nothing was stored" in refused(
        tuning("import", "--truck", TRUCK, "--readings", alone, "--log", tmp_path / "new.db")
    )
    assert misread.exists()
    assert sorted(os.listdir(tmp_path)) == ["files", "log.db"]


def test_a_device_is_no_log_and_a_folder_neither(tmp_path):
    said = refused(tuning("import", "--truck", TRUCK, "--log", "/dev/null"))
    assert said.startswith("/dev/null: is a device, and a log is a file.")
    assert "is a folder, and a log is a file" in refused(
        tuning("import", "--truck", TRUCK, "--log", tmp_path)
    )


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
@pytest.mark.parametrize("words", [("runs",), ("sheet", "--out", "-")], ids=" ".join)
def test_a_full_standard_output_is_called_by_its_name(words):
    command = [sys.executable, "-c", "from tuning.cli import main; main()", words[0]]
    command += ["--truck", str(TRUCK), "--readings", str(READINGS), *words[1:]]
    with Path("/dev/full").open("w") as full:
        found = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert (found.returncode, found.stderr) == (
        2, "standard output: No space left on device. Make room there.\n"
    )  # fmt: skip


@pytest.mark.parametrize("command", [("sheet", "--run"), ("sag", "--since")], ids=" ".join)
def test_a_run_that_is_not_there_is_bad_input_with_the_runs_there_are(command):
    word, option = command
    said = refused(tuning(word, "--truck", TRUCK, "--readings", READINGS, option, "nope"))
    assert '"nope" is no run' in said
    assert "r1, r2, r3" in said


def test_a_correction_is_refused_without_a_line_of_any_file_and_its_reason_is_as_long_as_a_note(tmp_path):
    log = tmp_path / "log.db"
    answered("import", "--truck", TRUCK, "--readings", READINGS, "--log", log)
    where = ("correct", "--truck", NAME, "--run", "r1", "--corner", "LF", "--log", log, "--because")
    said = refused(tuning(*where, "test", "--height", "200 in"))
    assert "line" not in said
    assert said.startswith('r1 LF, height: "200" is not plausible.')
    assert "--because: 2001 characters. Keep it under 2000." in refused(tuning(*where, "x" * 2001, "--doubt"))
    assert "has 1 reading of LF" in refused(tuning(*where, "test", "--doubt", "--nth", "2"))


@pytest.mark.parametrize(
    "change",
    [
        ("--height", "22,5 in"), ("--height", "-3 in"), ("--height", "22 1/2"), ("--load", "x"),
        ("--nth", "9", "--doubt"), ("--nth", "0", "--doubt"), ("--doubt", "--clear"),
        ("--height", "22 in", "--withdraw"), (), ("--clear",),
    ],
    ids=" ".join,
)  # fmt: skip
def test_corrections_that_make_no_sense_are_refused(tmp_path, change):
    log = tmp_path / "log.db"
    answered("import", "--truck", TRUCK, "--readings", READINGS, "--log", log)
    held = answered("runs", "--truck", NAME, "--log", log, "--json")
    where = ("--truck", NAME, "--run", "r1", "--corner", "LF", "--because", "test", "--log", log)
    refused(tuning("correct", *where, *change))
    assert answered("runs", "--truck", NAME, "--log", log, "--json") == held


@pytest.mark.parametrize(
    "change", [("--height", "9999 in"), ("--load", "9999999999 lbf"), ("--preload", "900 in")]
)
def test_a_correction_is_held_to_what_a_readings_file_is_held_to(tmp_path, change):
    log = tmp_path / "log.db"
    answered("import", "--truck", TRUCK, "--readings", READINGS, "--log", log)
    where = ("--truck", NAME, "--run", "r1", "--corner", "LF", "--because", "test", "--log", log)
    refused(tuning("correct", *where, *change))


# ---------------------------------------------------------------- starting out


def test_new_writes_a_truck_file_that_can_be_used_and_never_writes_over_one(tmp_path):
    file = tmp_path / "truck.toml"
    answered("new", file)
    written_first = file.read_bytes()
    answered("import", "--truck", file, "--log", tmp_path / "log.db")
    file.write_bytes(written_first + b"# mine\n")
    assert "left alone" in refused(tuning("new", file))
    assert file.read_bytes() == written_first + b"# mine\n"
    refused(tuning("new", tmp_path))
    refused(tuning("new", tmp_path / "no" / "folder.toml"))


@pytest.mark.parametrize("words", [("frob",), ("adjust",), ("adjust", "--frob"), ("correct", "--truck", "x")])
def test_words_that_are_no_command_are_refused(words):
    refused(tuning(*words))


def in_a_process(code, **env):
    return subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        cwd=Path(sample_runs.__file__).parents[1],
        env={**os.environ, **env},
    )


HEAVY = (
    "numpy",
    "pandas",
    "scipy",
    "statsmodels",
    "dash",
    "plotly",
    "sqlalchemy",
    "alembic",
    "pint",
    "pydantic",
)


def test_help_loads_nothing_heavy():
    code = f"""
import sys
from tuning.cli import main
try:
    main(["--help"])
except SystemExit as end:
    assert end.code == 0
loaded = [name for name in {HEAVY} if name in sys.modules]
assert not loaded, loaded
"""
    found = in_a_process(code)
    assert found.returncode == 0, found.stderr
    assert "adjust" in found.stdout


def test_heavy_names_are_loaded_where_they_are_needed():
    """Or the test above would prove nothing of its list."""
    code = f"""
import sys
from tuning.cli import main
try:
    main(["adjust", "--truck", {str(TRUCK)!r}, "--readings", {str(READINGS)!r}])
except SystemExit as end:
    assert end.code == 0
assert "numpy" in sys.modules and "statsmodels" in sys.modules
assert "dash" not in sys.modules and "sqlalchemy" not in sys.modules
"""
    found = in_a_process(code)
    assert found.returncode == 0, found.stderr


def test_errors_of_a_process_go_to_standard_error_with_the_exit_code(tmp_path):
    words = ["adjust", "--truck", str(TRUCK), "--readings", str(tmp_path / "nowhere.csv"), "--json"]
    found = in_a_process(f"from tuning.cli import main; main({words!r})")
    assert found.returncode == 2
    assert found.stdout == ""
    assert found.stderr.count("\n") == 1


def test_the_log_named_in_the_environment_is_used(tmp_path, monkeypatch):
    monkeypatch.setenv("TUNING_LOG", str(tmp_path / "own.db"))
    answered("import", "--truck", TRUCK, "--readings", READINGS)
    assert document("adjust", "--truck", NAME)["run"] == "r3"
    assert (tmp_path / "own.db").exists()


def test_exported_csv_is_plain_csv(tmp_path):
    log = tmp_path / "log.db"
    answered("import", "--truck", TRUCK, "--readings", READINGS, "--log", log)
    rows = list(csv.reader(io.StringIO(answered("export", "--truck", NAME, "--log", log), newline="")))
    assert len(rows) == len(rows_of())
    assert [float(row[HEIGHT]) for row in rows[1:]] == [float(row[HEIGHT]) for row in rows_of()[1:]]


def test_demo_prints_an_answer_and_ends():
    said = answered("demo", "--no-serve")
    assert all(corner in said for corner in CORNERS)
