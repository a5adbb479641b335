"""The sag and history pages without a browser: what they show against the answers and the log they came from."""

import csv
import io
import json
from dataclasses import replace
from datetime import date, datetime, timedelta

import numpy as np
import pytest

from dashboard.app import create_app
from dashboard.history import Range, visits_of
from dashboard.history_figure import history_figure, label
from dashboard.pages import history, sag
from dashboard.sag_cards import not_known
from dashboard.sag_figures import (
    chart_figure,
    parts_of,
    split_figure,
    to_come_figure,
    trend_figure,
    trend_line,
)
from dashboard.source import Source
from sample_runs import path
from tests.dashboard_truck import NAME, TOML, fill, readings
from tests.test_dashboard import drawn, ids_of, key, text_of
from tuning.fit import fit
from tuning.log.intake import take_in
from tuning.log.store import Log
from tuning.readings import runs_of
from tuning.report.sag import corner_words
from tuning.sag.answer import sag as ask
from tuning.sag.chart import FALSE_ALARM, H, K
from tuning.truck import CORNERS
from tuning.truckfile import read_truck

IN, LBF, MILE = 0.0254, 4.4482216152605, 1609.344
WAGON = "Water wagon"
PAGES = (sag, history)


@pytest.fixture(scope="module")
def wagon(tmp_path_factory):
    """The sample truck with two years of runs, in a log of its own."""
    place, folder = tmp_path_factory.mktemp("wagon") / "log.db", path("water_wagon")
    log = Log.open(place)
    take_in(log, str(folder / "truck.toml"), str(folder / "readings.csv"), confirm=True)
    return place


@pytest.fixture(scope="module")
def app(wagon):
    return create_app(wagon)


@pytest.fixture(scope="module")
def question(wagon):
    return Source(str(wagon)).question(WAGON)


@pytest.fixture(scope="module")
def found(question):
    return ask(question.fit)


@pytest.fixture(scope="module")
def visits(wagon, question):
    return visits_of(question.shelf, Log.open(wagon).history(WAGON))


def asked(app, output, values, store):
    """A callback over HTTP, as a browser posts it; the answer by id."""
    wired = app.server.test_client().get("/_dash-dependencies").get_json()
    one = next(d for d in wired if output in d["output"])
    parts = one["output"].strip(".").split("...")
    body = {
        "output": one["output"],
        "outputs": [dict(zip(("id", "property"), part.rsplit(".", 1), strict=True)) for part in parts],
        "inputs": [{**i, "value": v} for i, v in zip(one["inputs"], values, strict=True)],
        "state": [{**one["state"][0], "value": store}],
        "changedPropIds": [f"{one['inputs'][0]['id']}.{one['inputs'][0]['property']}"],
    }
    answer = app.server.test_client().post("/_dash-update-component", json=body)
    assert answer.status_code == 200
    return answer.get_json()["response"]


# ---------------------------------------------------------------- the pages


@pytest.mark.parametrize("page", PAGES)
def test_a_page_has_every_id_once_and_its_skeleton_has_those_that_callbacks_name(app, page):
    full = [key(i) for i in [*ids_of(drawn(app, page, truck=WAGON)), *ids_of(app.layout())]]
    assert len(full) == len(set(full))
    named = {i for i in full if i.startswith(("sag-", "history-"))}
    assert len(named) >= 4
    assert named <= {i for i in ids_of(drawn(app, page)) if isinstance(i, str)}


@pytest.mark.parametrize(
    ("page", "query", "said"),
    [
        (sag, {"truck": "Wagon"}, "has no truck 'Wagon'"),
        (history, {"truck": "Wagon"}, "has no truck 'Wagon'"),
        (sag, {"truck": WAGON, "corner": "XX"}, "There is no corner XX. Corners are LF, RF, LR and RR."),
        (
            sag,
            {"truck": WAGON, "since": "2024-3"},
            '"2024-3" is no run of this truck. Did you mean "2024-03"?',
        ),
        (sag, {"truck": WAGON, "since": "<b>" * 99}, "is no run of this truck"),
        (history, {"truck": WAGON, "from": "last year"}, '"last year" is no date. Write 2025-03-16'),
        (history, {"truck": WAGON, "to": "2025-02-30"}, '"2025-02-30" is no date'),
        (history, {"truck": WAGON, "from": "2025-02-01", "to": "2024-02-01"}, "Ends before it begins"),
        (history, {"truck": WAGON, "odometer_from": "1e999"}, "is not a distance"),
        (history, {"truck": WAGON, "from": "2031-01-01"}, "The log goes from 2024-03-16 to 2026-03-13."),
        (history, {"truck": WAGON, "part": "9" * 99}, "25 of 25 runs"),
    ],
)
def test_rubbish_in_the_address_is_one_sentence(app, page, query, said):
    text = text_of(drawn(app, page, **query))
    assert said in text
    assert "Something went wrong" not in text


@pytest.mark.parametrize("count", [0, 1])
def test_too_few_runs_are_told(tmp_path, count):
    fill(str(tmp_path / "log.db"), count=count)
    short = create_app(tmp_path / "log.db")
    expected = ("ead all four corners", "too few readings to say")[count]
    assert expected in text_of(drawn(short, sag, truck=NAME))
    assert ("No run yet", "1 of 1 runs")[count] in text_of(drawn(short, history, truck=NAME))


def test_a_truck_that_the_log_has_under_another_name_than_its_file_has_its_history(tmp_path):
    fill(str(tmp_path / "log.db"), name="Day shift")
    assert "3 of 3 runs" in text_of(drawn(create_app(tmp_path / "log.db"), history, truck="Day shift"))


def test_the_verdicts_stand_first_in_the_words_of_the_command_line(app, question, found):
    page = drawn(app, sag, truck=WAGON)
    text = text_of(page)
    assert text.index("Settling") < text.index("What took how much")
    steps = sag.answer(question, "")[1]
    assert steps
    for corner in CORNERS:
        assert corner_words(corner, found.corners[corner], steps.get(corner), "us") in text
    links = [
        part.href
        for part in page._traverse()
        if getattr(part, "children", "") == "Turns for all four corners"
    ]
    assert links == ["/adjust?truck=Water+wagon"] * len(steps)


def test_another_reference_run_gives_another_split_and_stays_in_the_address(app):
    store = {"truck": WAGON, "corner": ""}
    first, later = (asked(app, "sag-body", [since], store) for since in ("", "2025-05"))
    assert later["sag-where"]["search"] == "?truck=Water+wagon&since=2025-05"
    assert "since 2024-03" in json.dumps(first["sag-body"])
    assert "since 2025-05" in json.dumps(later["sag-body"])
    assert "since 2024-03" not in json.dumps(later["sag-body"])


def test_every_run_but_the_last_may_be_the_reference(question):
    choices = [c["value"] for c in sag.reference_choices(question.shelf.runs)]
    assert choices[0] == ""
    assert choices[1:] == [run.name for run in reversed(question.shelf.runs[:-1])]


# ---------------------------------------------------------------- sag, drawn


def test_the_bars_of_each_corner_lead_from_zero_to_its_height_lost(found):
    figure = split_figure(found, "us")
    for name in CORNERS:
        bars = [bar for bar in figure.data if bar.name.startswith(name)]
        at = 0.0
        for bar in bars[:-1]:
            assert bar.base[0] == pytest.approx(at, abs=1e-9)
            at += bar.x[0]
        assert bars[-1].base[0] == 0
        assert bars[-1].x[0] == pytest.approx(at, abs=1e-9)
        assert bars[-1].x[0] * IN == pytest.approx(found.corners[name].parts.height_lost.mean)


def test_the_whiskers_are_the_intervals(found):
    for name in CORNERS:
        bars = [bar for bar in split_figure(found, "metric").data if bar.name.startswith(name)]
        for bar, (_, part) in zip(bars, parts_of(found.corners[name].parts), strict=True):
            assert bar.x[0] + bar.error_x.array[0] == pytest.approx(part.high * 1000)
            assert bar.x[0] - bar.error_x.arrayminus[0] == pytest.approx(part.low * 1000)


def test_what_can_not_be_told_apart_is_one_bar_and_is_said(question):
    unweighed = [
        replace(run, readings=tuple(replace(r, load=None) for r in run.readings)) for run in question.fit.runs
    ]
    blind = ask(fit(question.truck, unweighed))
    assert [name for name, _ in parts_of(blind.corners["LF"].parts)] == [
        "set or load",
        "nut or stack",
        "height lost",
    ]
    lines = not_known(blind, question.truck)
    assert any(line.startswith("LF: how much is spring set and how much is weight") for line in lines)
    assert all("LF" in bar.name for bar in split_figure(blind, "us").data[:3])


def test_the_trend_is_the_weighted_straight_line_of_a_general_library(found):
    corner = found.corners["LF"]
    line, half = trend_line(corner)
    lost = corner.history
    slope, start = np.polyfit(corner.trend.basis(lost.days), lost.length, 1, w=1 / lost.spread)
    assert np.allclose(line, start + slope * corner.trend.basis(lost.days), atol=1e-9)
    assert (half >= 0).all()


def test_only_a_trend_that_stands_out_is_drawn(question, found):
    assert len(trend_figure(question.fit, found.corners["LF"], "us").data) == 3
    steady = found.corners["RF"]
    assert steady.trend.shape == "none"
    assert len(trend_figure(question.fit, steady, "us").data) == 1


def test_the_height_to_come_has_its_bands_one_in_the_other_and_the_days_it_leaves(question, found):
    figure = to_come_figure(question.fit, found, "LF")
    wide, narrow, mean = (np.array(trace.y) for trace in figure.data[:3])
    n = len(mean)
    edges = [(band[:n], band[n:][::-1]) for band in (wide, narrow)]
    assert (edges[0][0] > edges[1][0]).all()
    assert (edges[1][0] >= mean).all()
    assert (edges[0][1] < edges[1][1]).all()
    days = {note.text: note.x.date() for note in figure.layout.annotations}
    leaves = zip(("10 %", "50 %", "90 %"), found.corners["LF"].leaves_on, strict=True)
    assert days == {odds: day for odds, day in leaves if day is not None}
    assert days


def test_the_alarm_chart_shows_its_limit_and_every_alarm(question, found):
    corner = found.corners["LF"]
    figure = chart_figure(question.fit, corner)
    assert list(figure.data[0].y) == pytest.approx(corner.chart.total)
    assert (np.array(figure.data[1].y) > H).all()
    assert len(figure.data[1].x) == len(corner.chart.alarms)
    assert [shape.y0 for shape in figure.layout.shapes] == [H]


def test_the_false_alarm_rate_that_is_said_is_that_of_a_million_sound_runs():
    z = np.random.default_rng(3).standard_normal((1000, 1000))
    total, alarms = np.zeros(1000), 0
    for row in z:
        total = np.maximum(0, total + row - K)
        alarms += int((total > H).sum())
        total[total > H] = 0
    assert 1e6 / alarms == pytest.approx(FALSE_ALARM, rel=0.03)


# ---------------------------------------------------------------- history


def test_a_visit_is_the_mean_of_what_nobody_doubts(question, visits):
    assert len(visits) == len(question.shelf.runs)
    for visit, run in zip(visits, question.shelf.runs, strict=True):
        for corner in CORNERS:
            heights = [r.height for r in run.at(corner) if not r.doubt]
            assert visit.heights.get(corner) == (pytest.approx(np.mean(heights)) if heights else None)
        if visit.cross is not None:
            loads = visit.loads
            assert visit.cross == pytest.approx((loads["RF"] + loads["LR"]) / sum(loads.values()))


def test_what_happened_is_told_where_it_happened(visits):
    happened = {v.run: [(e.kind, e.text) for e in v.events] for v in visits if v.events}
    assert set(happened) == {"2024-12", "2025-08"}
    assert happened["2025-08"] == [("nut", "RR 3 turns down the thread, raises")]
    ((kind, text),) = happened["2024-12"]
    assert kind == "doubtful"
    assert "RF in doubt: RF height 33" in text
    at = {v.run: v for v in visits}
    assert "RF" not in at["2024-12"].heights
    assert at["2024-12"].cross is None
    assert "RF  in doubt" in label(at["2024-12"], "us")
    assert "pump bolted on" in label(at["2025-05"], "us")


def test_corrections_withdrawals_and_stack_changes_are_events_with_their_reasons(tmp_path):
    toml = TOML + (
        '\n[[stacks]]\nname = "stiffer"\nlower = { rate = "300 lbf/in", free_length = "16 in", '
        'solid_length = "6.4 in" }\n'
    )
    log = fill(str(tmp_path / "log.db"), count=0, toml=toml)
    changed = {("r3", "LF"), ("r4", "LF")}
    rows = [replace(r, stack="stiffer") if (r.run, r.corner) in changed else r for r in readings(4, toml)]
    log.add_readings(NAME, rows)
    held = {(e.reading.run, e.reading.corner): e for e in log.readings(NAME)}
    wrong = held["r2", "RF"]
    log.replace(wrong.id, replace(wrong.reading, height=wrong.reading.height + IN), "read upside down")
    for corner in CORNERS:
        log.withdraw(held["r1", corner].id, "other truck")
    put = log.doubt(held["r4", "RR"].id, "wind")
    log.clear_doubt(put, "no wind")
    shelf = Source(str(tmp_path / "log.db")).question(NAME).shelf
    found = {v.run: [e.text for e in v.events] for v in visits_of(shelf, log.history(NAME))}
    assert list(found) == ["r1", "r2", "r3", "r4"]
    assert found["r1"] == [f"{c} withdrawn: other truck" for c in CORNERS]
    assert any(
        t.startswith("RF height corrected from ") and t.endswith(": read upside down") for t in found["r2"]
    )
    assert any(t.startswith("LF stack ") and t.endswith("changed for stiffer") for t in found["r3"])
    assert [t for t in found["r4"] if "RR" in t] == ["RR put in doubt: wind", "RR cleared of doubt: no wind"]
    assert read_truck(toml).stacks["stiffer"]


@pytest.mark.parametrize("system", ["us", "metric"])
def test_the_picture_draws_every_figure_on_one_time_axis(visits, system):
    figure = history_figure(visits, system)
    assert {trace.xaxis for trace in figure.data} == {None}
    length, force = (IN, LBF) if system == "us" else (0.001, 1.0)
    for trace in figure.data:
        if trace.name not in CORNERS:
            continue
        what, unit = {"y5": ("heights", length), "y3": ("loads", force), "y2": ("preload", length)}[
            trace.yaxis
        ]
        expected = [getattr(v, what).get(trace.name) for v in visits]
        assert [None if y is None else y * unit for y in trace.y] == [
            None if e is None else pytest.approx(e) for e in expected
        ]
    told = next(trace for trace in figure.data if trace.name == "visit")
    assert len(told.text) == len(visits)
    assert np.isfinite(np.array(told.y, dtype=float)).all()


def test_a_single_run_has_days_on_its_time_axis(visits):
    start, end = history_figure(visits[:1], "us").layout.xaxis.range
    assert end - start >= timedelta(days=14)
    assert start < visits[0].taken_at < end


def test_a_log_without_scales_says_that_nothing_was_weighed(visits):
    blind = [replace(v, loads={}, cross=None) for v in visits]
    titles = [note.text for note in history_figure(blind, "us").layout.annotations]
    assert "load (lbf): nothing read" in titles
    assert "cross-weight (%): nothing read" in titles
    assert "height (in)" in titles


def test_names_and_notes_can_not_put_marks_into_a_label(visits):
    text = label(replace(visits[0], run="<b onclick=x>", note="%{x} & <i>"), "us")
    assert "<b onclick" not in text
    assert "<i>" not in text
    assert "%{x}" not in text


@pytest.mark.parametrize(
    ("limits", "expected"),
    [
        (Range(), 25),
        (Range(start=date(2025, 1, 1), end=date(2025, 12, 31)), 12),
        (Range(end=date(2024, 3, 16)), 1),
        (Range(low=31_000 * MILE), 1),
        (Range(high=20_410 * MILE + 1), 1),
    ],
)
def test_a_range_has_both_its_ends_in_it(visits, limits, expected):
    assert sum(limits.holds(v) for v in visits) == expected


def test_a_run_without_odometer_is_in_no_range_of_the_odometer(visits):
    unread = replace(visits[0], odometer=None)
    assert Range().holds(unread)
    assert not Range(low=0.0).holds(unread)


def test_the_filter_over_http_narrows_picture_table_and_file(app):
    answer = asked(app, "history-body", ["2025-01-01", "2025-12-31", "", "26,200 mi"], {"truck": WAGON})
    said = json.dumps(answer["history-body"])
    assert "4 of 25 runs" in said
    assert "2025-04" in said
    assert "2025-06" not in said
    assert "from=2025-01-01" in answer["history-where"]["search"]
    assert "odometer_to=26%2C200+mi" in answer["history-where"]["search"]
    wrong = asked(app, "history-body", ["", "", "far", ""], {"truck": WAGON})
    assert "far" in wrong["history-odometer_from"]["error"]
    assert "25 of 25 runs" in json.dumps(wrong["history-body"])


def test_the_file_holds_what_is_shown_with_its_units(app, visits):
    client = app.server.test_client()
    answer = client.get("/history.csv", query_string={"truck": WAGON, "from": "2025-08-01"})
    assert answer.mimetype == "text/csv"
    rows = list(csv.DictReader(io.StringIO(answer.get_data(as_text=True))))
    shown = [v for v in visits if v.taken_at.date() >= date(2025, 8, 1)]
    assert [row["run"] for row in rows] == [v.run for v in shown]
    for row, visit in zip(rows, shown, strict=True):
        assert float(row["LF height [in]"]) * IN == pytest.approx(visit.heights["LF"], abs=1e-5)
        assert float(row["odometer [mi]"]) * MILE == pytest.approx(visit.odometer, abs=1)
        assert (row["cross-weight [%]"] == "") == (visit.cross is None)
    assert rows[0]["events"] == "RR 3 turns down the thread, raises"


@pytest.mark.parametrize(
    ("query", "status"), [({}, 404), ({"truck": "x"}, 404), ({"truck": WAGON, "from": "soon"}, 400)]
)
def test_a_file_that_can_not_be_is_refused_in_words(app, query, status):
    answer = app.server.test_client().get("/history.csv", query_string=query)
    assert answer.status_code == status
    assert answer.mimetype == "text/plain"


def test_a_cell_of_the_file_is_no_formula(tmp_path):
    log = fill(str(tmp_path / "log.db"), count=0)
    log.add_readings(NAME, [replace(r, note="=1+1") for r in readings(1)])
    answer = (
        create_app(tmp_path / "log.db").server.test_client().get("/history.csv", query_string={"truck": NAME})
    )
    assert "'=1+1" in answer.get_data(as_text=True)


def test_ten_years_of_weekly_runs_are_drawn_small_and_listed_in_parts(tmp_path):
    log = fill(str(tmp_path / "log.db"), count=0)
    start = datetime(2016, 1, 4, 9)
    rows = [
        replace(r, run=f"w{week}", taken_at=start + timedelta(weeks=week))
        for week in range(520)
        for r in readings(1)
    ]
    log.add_readings(NAME, rows)
    shelf = Source(str(tmp_path / "log.db")).question(NAME).shelf
    all_visits = visits_of(shelf, log.history(NAME))
    assert len(all_visits) == len(runs_of(rows)) == 520
    assert len(history_figure(all_visits, "us").to_json()) < 1e6
    query = history.asked_of({}, "us")
    text = text_of(history.shown_history(NAME, all_visits, query, "us", part=2))
    assert "41 to 80 of 520" in text
    assert "Later runs" in text
    assert "Earlier runs" in text
