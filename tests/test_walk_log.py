"""The cycle walk in the log: saved once, never rewritten, carried by dumps, on SQLite and on PostgreSQL."""

import json
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.config import Config
from hypothesis import given, settings
from hypothesis import strategies as st

from tuning.findings import LEVEL, LOOKED_AT, RESULTS, STEERING, Finding, Measured, WalkRow
from tuning.log import schema
from tuning.log.store import Log, LogError
from tuning.log.walk_intake import Recorded, record
from tuning.log.walks import WalkHeld, WalkSaved
from tuning.truckfile import read_truck, truck_template
from tuning.walk import WalkError

pytest_plugins = "tests.log_urls"

IN = 0.0254
NAME = "Night shift"
TOML = truck_template()
EVENING = datetime(2026, 3, 1, 20, 30)
FENDER = Finding(
    "front", "left up", "right lock", "tyre to fender", "contact", None, "½ in lip", "a.jpg", EVENING
)
HOSE = Finding("rear", "droop", "", "brake hose slack", "pass", 0.03, by="Wren")
BUMP = Measured("front", "bump", 16 * IN, 0.75 * IN, by="Wren")
DROOP = Measured("front", "droop", 29 * IN, 13.75 * IN)


@pytest.fixture
def log(log_url: str) -> Log:
    log = Log.open(log_url)
    log.save_truck(NAME, TOML)
    return log


@contextmanager
def refused(pattern: str) -> Iterator[None]:
    with pytest.raises(LogError, match=pattern) as caught:
        yield
    assert "\n" not in str(caught.value)


@contextmanager
def raw(log_url: str) -> Iterator[sa.Connection]:
    engine = sa.create_engine(log_url, poolclass=sa.NullPool)
    with engine.connect() as conn:
        yield conn


def rows(log: Log, truck: str = NAME) -> list[WalkRow]:
    return [one.row for one in log.walk(truck)]


# What is saved


def test_a_saved_walk_is_seen_by_another_log_object_with_when_it_was_put_down(log: Log, log_url: str) -> None:
    before = datetime.now(UTC)
    saved = log.add_walk(NAME, [FENDER, HOSE, BUMP])
    logged = Log.open(log_url).walk(NAME)
    assert [one.row for one in logged] == [FENDER, HOSE, BUMP]
    assert tuple(one.id for one in logged) == saved.ids
    assert all(before <= one.recorded_at <= datetime.now(UTC) for one in logged)


texts = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=20)
lengths = st.floats(1e-9, 1e11)
zones = st.none() | st.integers(-1439, 1439).map(lambda m: timezone(timedelta(minutes=m)))
times = st.none() | zones.flatmap(
    lambda zone: st.datetimes(datetime(1, 1, 3), datetime(9999, 12, 29), timezones=st.just(zone))
)


@st.composite
def walk_rows(draw: st.DrawFn) -> WalkRow:
    end = draw(st.sampled_from(["front", "rear"]))
    same: dict[str, Any] = {
        "note": draw(texts),
        "photo": draw(texts),
        "taken_at": draw(times),
        "by": draw(texts),
    }
    if draw(st.booleans()):
        pair = draw(st.tuples(lengths, lengths | lengths.map(lambda v: -v)) | st.just((None, None)))
        return Measured(end, draw(st.sampled_from(LEVEL)), *pair, **same)
    return Finding(
        end,
        draw(st.sampled_from(LOOKED_AT)),
        draw(st.sampled_from(STEERING[end])),
        draw(texts.filter(str.strip)),
        draw(st.sampled_from(RESULTS)),
        draw(st.none() | lengths | st.just(0.0)),
        **same,
    )


def test_whatever_is_saved_comes_back_to_the_last_bit_and_through_a_dump(shared_url: str) -> None:
    log = Log.open(shared_url)

    @settings(deadline=None, max_examples=25 if shared_url.startswith("sqlite") else 5)
    @given(st.lists(walk_rows(), min_size=1, max_size=6, unique_by=lambda row: row.key))
    def check(walk: list[WalkRow]) -> None:
        truck = f"truck {time.monotonic_ns()}"
        log.save_truck(truck, "")
        log.add_walk(truck, walk)
        assert [(r, r.taken_at and r.taken_at.isoformat()) for r in rows(log, truck)] == [
            (r, r.taken_at and r.taken_at.isoformat()) for r in walk
        ]
        text = log.dump(truck)
        copy = log.load(json.dumps(json.loads(text) | {"truck": truck + " again"}))
        assert json.loads(log.dump(copy)) | {"truck": truck} == json.loads(text)
        assert rows(log, copy) == walk

    check()


# Once and not twice; later rows count


def test_what_the_log_says_already_is_not_written_again(log: Log) -> None:
    log.add_walk(NAME, [FENDER, HOSE])
    assert log.add_walk(NAME, [FENDER, HOSE]) == WalkSaved(())
    assert len(log.add_walk(NAME, [FENDER, BUMP]).ids) == 1
    trimmed = replace(FENDER, result="pass", clearance=0.01)
    log.add_walk(NAME, [trimmed])
    log.add_walk(NAME, [FENDER])  # it touches again: news once more
    assert rows(log) == [FENDER, HOSE, BUMP, trimmed, FENDER]


def test_a_second_save_under_the_same_key_is_answered_as_saved_already(log: Log) -> None:
    saved = log.add_walk(NAME, [FENDER, HOSE], "k1")
    log.add_walk(NAME, [replace(FENDER, note="trimmed", result="pass")], "k2")  # somebody else, meanwhile
    assert log.add_walk(NAME, [FENDER, HOSE], "k1") == WalkSaved(saved.ids, already=True)
    assert len(rows(log)) == 3


def test_a_keyed_save_stands_whole_under_its_key_also_where_the_log_said_the_same(log: Log) -> None:
    """Or a second try would be taken for another save, and cover what somebody found in between."""
    log.add_walk(NAME, [FENDER])
    saved = log.add_walk(NAME, [FENDER, HOSE], "k1")
    trimmed = replace(FENDER, result="pass", clearance=0.01)
    log.add_walk(NAME, [trimmed], "k2")
    assert log.add_walk(NAME, [FENDER, HOSE], "k1") == WalkSaved(saved.ids, already=True)
    assert rows(log) == [FENDER, FENDER, HOSE, trimmed]
    assert log.walk_saved_under("k1") == WalkHeld(NAME, TOML, (FENDER, HOSE))
    assert log.walk_saved_under("k3") is None


def test_what_was_saved_under_a_key_comes_with_the_truck_file_of_then(log: Log) -> None:
    record(log, NAME, [BUMP], "k1")
    record(log, NAME, [DROOP], "k2")
    log.save_truck(NAME, TOML + "\n# painted\n")
    before, after = log.walk_saved_under("k1"), log.walk_saved_under("k2")
    assert before
    assert after
    assert (before.toml, after.toml) == (TOML, log.truck_versions(NAME)[1].toml)
    assert record(log, NAME, [DROOP], "k2") == Recorded(NAME, 1, 0, (), already=True)
    assert len(log.truck_versions(NAME)) == 3


def test_the_table_itself_takes_an_entry_key_once(log: Log, log_url: str) -> None:
    log.add_walk(NAME, [FENDER, HOSE], "k1")
    with raw(log_url) as conn:
        stored = dict(conn.exec_driver_sql("SELECT * FROM walk WHERE entry_row = 0").one()._mapping)
        other = stored | {"id": 99, "place": "exhaust to axle or link"}
        with pytest.raises(sa.exc.DBAPIError, match=r"append-only|walk_entry_once"):
            conn.execute(sa.insert(sa.table("walk", *map(sa.column, stored))), other)
    assert rows(log) == [FENDER, HOSE]


def test_a_key_used_for_another_save_is_refused_rather_than_losing_it(log: Log) -> None:
    log.add_walk(NAME, [FENDER, HOSE], "k1")
    log.save_truck("Day shift", TOML)
    for truck, walk in ((NAME, [HOSE, FENDER]), (NAME, [FENDER, HOSE, BUMP]), ("Day shift", [FENDER, HOSE])):
        with refused("'k1' was used for another save.*Nothing was saved"):
            log.add_walk(truck, walk, "k1")
    assert rows(log) == [FENDER, HOSE]
    assert rows(log, "Day shift") == []


def test_many_who_send_one_walk_at_once_save_it_once(log: Log) -> None:
    with ThreadPoolExecutor(8) as pool:
        saves = list(pool.map(lambda _: log.add_walk(NAME, [FENDER, HOSE, BUMP], "k1"), range(8)))
    assert rows(log) == [FENDER, HOSE, BUMP]
    assert len({save.ids for save in saves}) == 1
    assert [save.already for save in saves].count(False) == 1


# What can't be


@pytest.mark.parametrize(
    ("row", "what"),
    [
        (replace(FENDER, end="middle"), "end middle"),
        (replace(FENDER, position="ride"), "position ride"),
        (replace(FENDER, steering=""), "steering"),
        (replace(HOSE, steering="straight"), "steering straight"),
        (replace(FENDER, place=" "), "place"),
        (replace(FENDER, result="fine"), "result fine"),  # type: ignore[arg-type]
        (replace(HOSE, clearance=-0.1), "clearance -0.1"),
        (replace(HOSE, clearance=float("nan")), "clearance nan"),
        (replace(HOSE, clearance=float("inf")), "clearance inf"),
        (replace(BUMP, position="left up"), "position left up"),
        (replace(BUMP, shaft=None), "height and shaft"),
        (replace(BUMP, height=0.0), "height 0.0"),
        (replace(BUMP, shaft=float("-inf")), "shaft -inf"),
    ],
)
def test_a_row_that_cannot_be_is_refused_by_place_and_value_and_nothing_of_its_walk_is_saved(
    shared_url: str, row: WalkRow, what: str
) -> None:
    log, truck = Log.open(shared_url), f"truck {time.monotonic_ns()}"
    log.save_truck(truck, "")
    with refused(f"walk, row 2 .*: {what}.* can't be. It must be .*Nothing was saved"):
        log.add_walk(truck, [HOSE, row])
    assert rows(log, truck) == []


@pytest.mark.parametrize("field", ["note", "photo", "by"])
def test_what_is_no_text_is_refused(log: Log, field: str) -> None:
    for text in ("a\0b", "\ud800"):
        with refused(f"the {field} holds a character that is no text"):
            log.add_walk(NAME, [replace(HOSE, **{field: text})])
    assert rows(log) == []


@pytest.mark.parametrize(
    "change",
    [
        {"axle": "middle"},
        {"position": "low"},
        {"position": "left up", "place": "", "result": ""},
        {"result": ""},
        {"steering": "ahead"},
        {"clearance_m": -1.0},
        {"height_m": 0.4, "shaft_m": 0.1},
        {"height_m": 0.4},
        {"place": "", "result": ""},  # a clearance without a place
        {"entry_key": "k"},
    ],
)
def test_the_tables_themselves_refuse_what_cannot_be(
    log: Log, log_url: str, change: dict[str, object]
) -> None:
    log.add_walk(NAME, [HOSE])
    with raw(log_url) as conn:
        stored = dict(conn.exec_driver_sql("SELECT * FROM walk").one()._mapping)
        with pytest.raises(sa.exc.IntegrityError):
            conn.execute(sa.insert(sa.table("walk", *map(sa.column, stored))), stored | {"id": 99} | change)


def test_a_truck_that_is_not_there_is_named_with_the_ones_there_are(log: Log) -> None:
    with refused(r"no truck 'Nigt shift'.*It has: Night shift\."):
        log.add_walk("Nigt shift", [HOSE])
    with refused(r"no truck 'Nigt shift'"):
        log.walk("Nigt shift")


# The cycle table comes with the walk, or nothing does


def test_the_walks_cycle_table_is_a_new_version_of_the_truck_file_and_old_versions_stay(log: Log) -> None:
    assert record(log, NAME, [BUMP, FENDER]).ends == ()
    done = record(log, NAME, [DROOP])
    assert (done.rows, done.same, done.ends) == (1, 0, ("front",))
    first, second = log.truck_versions(NAME)
    assert (first.toml, second.note) == (TOML, "cycle table of the walk")
    assert read_truck(second.toml).corners["LF"].cycle == (
        (BUMP.height, BUMP.shaft),
        (DROOP.height, DROOP.shaft),
    )
    assert [one.truck_version_id for one in log.walk(NAME)] == [first.id, first.id, second.id]
    assert record(log, NAME, [BUMP, DROOP]).ends == ()
    assert len(log.truck_versions(NAME)) == 2


def test_a_table_that_does_not_check_stops_the_whole_save(log: Log) -> None:
    before = log.dump(NAME)
    with pytest.raises(WalkError, match="less shaft shows than at bump"):
        record(log, NAME, [FENDER, BUMP, replace(DROOP, shaft=0.01)])
    assert log.dump(NAME) == before
    record(log, NAME, [BUMP])
    before = log.dump(NAME)
    with pytest.raises(WalkError, match="less shaft shows than at bump"):  # against what was there before
        record(log, NAME, [HOSE, replace(DROOP, shaft=0.01)])
    assert log.dump(NAME) == before


def test_a_truck_file_and_its_walk_come_in_together_or_not_at_all(log: Log) -> None:
    other = TOML.replace('name = "Night shift"', 'name = "Day shift"')
    with pytest.raises(WalkError):
        record(log, "Day shift", [BUMP, replace(DROOP, shaft=0.01)], toml=other)
    assert log.trucks() == (NAME,)
    assert record(log, "Day shift", [BUMP, DROOP], toml=other).ends == ("front",)
    record(log, "Day shift", [BUMP, DROOP], toml=other)  # the same file again, older than the log
    assert len(log.truck_versions("Day shift")) == 1


# Append-only, migrated, dumped


def test_no_stored_row_of_a_walk_can_be_changed(log: Log, log_url: str) -> None:
    log.add_walk(NAME, [FENDER, HOSE, BUMP], "k1")
    changes = ["UPDATE walk SET result = 'pass'", "DELETE FROM walk"]
    changes += (
        [
            "INSERT OR REPLACE INTO walk SELECT * FROM walk",
            "INSERT OR REPLACE INTO walk SELECT id + 9, truck_id, truck_version_id, axle, position, steering, place, "
            "result, clearance_m, height_m, shaft_m, note, photo, taken_at, taken_by, recorded_at, entry_key, "
            "entry_row FROM walk",
        ]
        if log_url.startswith("sqlite")
        else ["TRUNCATE walk"]
    )
    for statement in changes:
        with raw(log_url) as conn, pytest.raises(sa.exc.DBAPIError, match="append-only"):
            conn.exec_driver_sql(statement)
        assert rows(log) == [FENDER, HOSE, BUMP]


def test_a_log_from_before_there_were_walks_is_brought_up_to_date_and_keeps_all(
    log_url: str,
) -> None:
    config = Config()
    config.set_main_option("script_location", str(schema.MIGRATIONS))
    engine = sa.create_engine(log_url, poolclass=sa.NullPool)
    with engine.begin() as conn:
        config.attributes["connection"] = conn
        command.upgrade(config, "0001")
        conn.execute(sa.insert(schema.truck), {"id": 1, "name": NAME})
        old = {"id": 1, "truck_id": 1, "recorded_at": EVENING, "toml": TOML, "note": ""}
        conn.execute(sa.insert(schema.truck_version), old)
    log = Log.open(log_url)
    assert [(v.toml, v.recorded_at) for v in log.truck_versions(NAME)] == [(TOML, EVENING)]
    log.add_walk(NAME, [FENDER])
    with raw(log_url) as conn, pytest.raises(sa.exc.DBAPIError, match="append-only"):
        conn.exec_driver_sql("DELETE FROM walk")


def test_a_dump_from_before_there_were_walks_is_taken_in(log: Log) -> None:
    dump = json.loads(log.dump(NAME)) | {"truck": "Day shift"}
    del dump["walk"]
    log.load(json.dumps(dump))
    assert rows(log, "Day shift") == []


def test_a_dump_carries_a_walk_with_its_versions_and_keys_into_a_log_that_holds_others(
    log: Log, log_url: str, tmp_path: Any
) -> None:
    log.add_walk(NAME, [BUMP, FENDER], "k1")
    record(log, NAME, [DROOP, replace(FENDER, result="open", note="trimmed")])
    other = Log.open(tmp_path / "other.db")
    other.save_truck("Day shift", TOML)
    other.add_walk("Day shift", [HOSE])
    text = log.dump(NAME)
    assert other.load(text) == NAME
    assert other.dump(NAME) == text
    assert rows(other) == rows(log)
    assert rows(other, "Day shift") == [HOSE]
    assert other.add_walk(NAME, [BUMP, FENDER], "k1").already
    versions = {v.id: number for number, v in enumerate(other.truck_versions(NAME))}
    assert [versions[one.truck_version_id] for one in other.walk(NAME)] == [0, 0, 1, 1]


@pytest.mark.parametrize(
    ("number", "change", "message"),
    [
        (1, {"version": 2}, "walk, 1: there is no version 2"),
        (1, {"result": "fine"}, "walk, 1, result: "),
        (1, {"result": ""}, "walk, 1: neither a finding nor a height with its shaft"),
        (1, {"height": 0.4}, "walk, 1: neither a finding nor a height with its shaft"),
        (1, {"position": "ride"}, r"walk row 1 .*position ride can't be"),
        (1, {"clearance": "0.5"}, "walk, 1, clearance: "),
        (1, {"clearance": -0.5}, r"walk row 1 .*clearance -0.5 can't be"),
        (1, {"taken_at": "yesterday"}, "walk, 1, taken_at: "),
        (1, {"note": "a\0"}, "walk row 1 .*the note holds a character that is no text"),
        (1, {"weather": "dry"}, "walk, 1, weather: "),
        (2, {"steering": "straight"}, "walk, 2: neither a finding nor a height with its shaft"),
        (2, {"shaft": None}, r"walk row 2 .*height and shaft"),
        (2, {"entry_row": 0}, "refused this"),
    ],
)
def test_a_dump_somebody_changed_is_refused_where_it_is_wrong(
    shared_url: str, number: int, change: dict[str, object], message: str
) -> None:
    log, truck = Log.open(shared_url), f"truck {time.monotonic_ns()}"
    log.save_truck(truck, TOML)
    log.add_walk(truck, [FENDER, BUMP])
    dump = json.loads(log.dump(truck)) | {"truck": truck + " again"}
    dump["walk"][number - 1] |= change
    before = log.trucks()
    with refused(message):
        log.load(json.dumps(dump))
    assert log.trucks() == before
