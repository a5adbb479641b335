"""A truck's home without a browser: edits of its file against a plain TOML reader, what is refused, what is saved."""

import base64
import json
import tomllib
from functools import partial

import pytest
from dash.development.base_component import Component
from flask import g
from hypothesis import given, settings
from hypothesis import strategies as st

from dashboard import truck_readings
from dashboard.app import create_app
from dashboard.jobs import Kept
from dashboard.pages import home, new
from dashboard.pages import truck as page
from dashboard.source import Source, source
from dashboard.truck_changes import changes, proposal
from dashboard.truck_edited import edit_faults, edited
from dashboard.truck_parts import TARGETS
from dashboard.uploads import MOST_BYTES
from sample_runs import NAMES, path
from tests.dashboard_truck import NAME, TOML, fill, readings
from tests.test_progress import Listener
from tuning.log.database import LogError
from tuning.log.files import write_readings
from tuning.log.store import Log
from tuning.progress import StoppedError
from tuning.tableedit import MOST_BLOCK, EditError, with_stacks, with_values
from tuning.truckfile import read_truck
from tuning.units import parse

BLOCK = '[[stacks]]\nname = "250 over 300"\nupper = { rate = "250 lbf/in" }\nlower = { rate = "300 lbf/in" }'
SAMPLES = [path(name).joinpath("truck.toml").read_text("utf-8") for name in NAMES]


@pytest.fixture
def place(tmp_path):
    fill(str(tmp_path / "log.db"))
    return tmp_path / "log.db"


def text_of(tree):
    if isinstance(tree, (list, tuple)):
        return " ".join(text_of(part) for part in tree)
    if not isinstance(tree, Component):
        return "" if tree is None else str(tree)
    own = [getattr(tree, name, None) for name in ("label", "description", "children")]
    return " ".join(text_of(part) for part in own)


def with_target(text, **typed):
    return edited(text, {f"target.{key}": value for key, value in typed.items()})


# ---------------------------------------------------------------- the file


@pytest.mark.parametrize("text", SAMPLES)
def test_a_sample_truck_saved_from_unchanged_fields_is_the_same_text(text):
    assert with_target(text) == text
    assert not proposal(text, text, read_truck(text).name).ready


@pytest.mark.parametrize("text", SAMPLES)
def test_a_changed_target_changes_that_alone_and_keeps_every_comment(text):
    new = with_target(text, height_tolerance="3/16", cross_weight="49.5 %", front="", LF="")
    old, now = tomllib.loads(text), tomllib.loads(new)
    for key in ("front", "LF"):
        old["target"].pop(key, None)
    unit = "in" if read_truck(text).units == "us" else "mm"
    assert now == old | {"target": old["target"] | {"height_tolerance": f"3/16 {unit}", "cross_weight": 49.5}}
    whole_lines = [line for line in text.split("\n") if line.lstrip().startswith("#")]
    assert [line for line in new.split("\n") if line.lstrip().startswith("#")] == whole_lines


def test_a_target_of_both_sides_is_read_as_a_plain_reader_reads_it():
    built = read_truck(with_target(TOML, LF="23 3/8", RF="600 mm"))
    assert built.target.heights == {"LF": parse("23 3/8 in", "length"), "RF": 0.6}


def test_what_contradicts_is_said_at_its_field():
    at, others = edit_faults(TOML, {"target.front": "24"})
    assert (set(at), others) == ({"target.front"}, ())
    assert not proposal(with_target(TOML, front="24"), TOML, NAME).ready


@pytest.mark.parametrize("field", TARGETS, ids=lambda f: f.key)
@pytest.mark.parametrize("rubbish", ["abc", "1e9", "-5", "22,5", '"', "\\", "[x]", "9" * 500, "nan", "٣"])
def test_rubbish_in_a_field_is_a_fault_at_that_field(field, rubbish):
    assert not proposal(with_target(TOML, **{field.path[1]: rubbish}), TOML, NAME).ready
    assert field.key in edit_faults(TOML, {field.key: rubbish})[0]


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=40).filter(lambda t: t.strip() and "\r" not in t))
def test_any_text_stays_within_its_value(text):
    new = with_values(TOML, {("target", "LF"): text})
    old = tomllib.loads(TOML)
    assert tomllib.loads(new) == old | {"target": old["target"] | {"LF": text}}


def test_a_key_of_a_table_that_is_not_there_brings_it_and_goes_with_it():
    bare = TOML.replace("[target]", "[noise]", 1).split("[noise]")[0]
    new = with_values(bare, {("target", "LF"): "22 in"})
    assert tomllib.loads(new)["target"] == {"LF": "22 in"}
    assert "target" not in tomllib.loads(with_values(new, {("target", "LF"): None}))


@pytest.mark.parametrize("text", SAMPLES)
def test_a_stack_is_added_and_nothing_else(text):
    new = tomllib.loads(with_stacks(text, BLOCK))
    rows = new.pop("stacks")
    old = tomllib.loads(text)
    assert rows == [*old.pop("stacks", []), tomllib.loads(BLOCK)["stacks"][0]]
    assert new == old
    assert "250 over 300" in read_truck(with_stacks(text, BLOCK)).stacks


@pytest.mark.parametrize(
    "block",
    [
        "",
        "name = 1",
        "[target]\nLF = '20 in'",
        f"{BLOCK}\n[target]",
        "stacks = 3",
        "x" * (MOST_BLOCK + 1),
        "[[",
    ],
)
def test_a_block_that_is_no_stack_is_refused(block):
    with pytest.raises(EditError, match="stack"):
        with_stacks(TOML, block)


def test_a_second_stack_of_the_same_name_that_differs_is_refused_by_the_files_own_check():
    other = BLOCK.replace("250 over 300", "200 over 300")
    proposed = proposal(with_stacks(TOML, other), TOML, NAME)
    assert [f.where for f in proposed.faults] == ["stacks[1].name"]


def test_faults_of_a_file_name_their_lines():
    lines = TOML.split("\n")
    at = next(i for i, line in enumerate(lines) if line.startswith("track"))
    lines[at] = 'track = "6 in"'
    (fault, *_) = proposal("\r\n".join(lines), TOML, NAME).faults
    assert (fault.line, fault.where) == (at + 1, "front.track")


def test_a_truck_keeps_its_name():
    other = TOML.replace('name = "Night shift"', 'name = "Day shift"')
    assert [f.where for f in proposal(other, TOML, NAME).faults] == ["name"]
    assert proposal(other).ready


def test_changed_lines_put_back_give_the_text_before():
    new = with_target(TOML, LF="23 in", cross_weight="")
    gone = [line for sign, line in changes(TOML, new) if sign == "-"]
    come = [line for sign, line in changes(TOML, new) if sign == "+"]
    assert sorted(set(TOML.split("\n")) - set(new.split("\n"))) == sorted(gone)
    assert sorted(set(new.split("\n")) - set(TOML.split("\n"))) == sorted(come)


# ---------------------------------------------------------------- the page


def shown(app, **query):
    with app.server.test_request_context("/"):
        return page.layout(**query)


def test_a_truck_is_shown_as_it_is(place):
    text = text_of(shown(create_app(place), truck=NAME))
    for words in (
        "Night shift",
        "200 over 300",
        "310 lbf/in, no adjuster",
        "3 runs, the latest r3",
        "Version 1",
    ):
        assert words in text


def test_an_unknown_truck_is_a_sentence(place):
    assert "has no truck 'nobody'" in text_of(shown(create_app(place), truck="nobody"))


def test_a_stack_in_the_address_stands_in_its_field_and_one_too_long_does_not(place):
    app = create_app(place)
    field = next(
        p
        for p in shown(app, truck=NAME, stack_toml=BLOCK)._traverse()
        if getattr(p, "id", "") == "truck-stack"
    )
    assert field.value == BLOCK
    tree = shown(app, truck=NAME, stack_toml="x" * (MOST_BLOCK + 1))
    assert "was left out" in text_of(tree)


def saved(app, text, base, reason=""):
    with app.server.test_request_context("/"):
        return page.save(1, {"text": text}, reason, {"truck": NAME, "base": base})


def test_a_change_saved_twice_is_one_version_with_its_reason(place):
    app, log = create_app(place), Log.open(place)
    base = log.truck_versions(NAME)[-1].id
    new = with_target(TOML, LF="24 in")
    first, second = (saved(app, new, base, "  lower at\nthe front ") for _ in range(2))
    assert first == second
    assert [(v.toml, v.note) for v in log.truck_versions(NAME)[1:]] == [(new, "lower at the front")]


def test_a_change_made_from_an_older_version_covers_nobodys(place):
    app, log = create_app(place), Log.open(place)
    base = log.truck_versions(NAME)[-1].id
    log.save_truck(NAME, with_target(TOML, RF="24 in"))
    answer, goto = saved(app, with_target(TOML, LF="24 in"), base)
    assert "changed by somebody else" in text_of(answer)
    assert not isinstance(goto, str)
    assert len(log.truck_versions(NAME)) == 2


def test_what_is_faulty_is_not_saved_even_when_asked_for(place):
    app, log = create_app(place), Log.open(place)
    answer, _ = saved(app, TOML.replace("[rear.spring]", "[rear.sprung]"), log.truck_versions(NAME)[-1].id)
    assert "can't be saved" in text_of(answer)
    assert len(log.truck_versions(NAME)) == 1


def test_all_that_could_change_the_truck_is_among_what_a_viewer_is_not_shown(place):
    page_ = shown(create_app(place), truck=NAME)
    written = [p for p in page_._traverse() if "writes" in (getattr(p, "className", "") or "").split()]
    hidden = {id(part) for one in written for part in [one, *one._traverse()]}
    own = {
        "truck-field",
        "truck-kind",
        "truck-part",
        "truck-see",
        "truck-save",
        "truck-raw",
        "truck-stack",
        "truck-again",
    }
    for part in page_._traverse():
        name = getattr(part, "id", None)
        if (name["type"] if isinstance(name, dict) else name) in own:
            assert id(part) in hidden, name


def test_who_may_only_look_saves_nothing(place):
    app, log = create_app(place), Log.open(place)
    base = log.truck_versions(NAME)[-1].id
    with app.server.test_request_context("/"):
        from flask import g

        g.role = "viewer"
        answer, _ = page.save(1, {"text": with_target(TOML, LF="24 in")}, "", {"truck": NAME, "base": base})
    assert "looking only" in text_of(answer)
    assert len(log.truck_versions(NAME)) == 1


def test_a_new_truck_takes_no_name_that_is_there(place):
    log = Log.open(place)
    with pytest.raises(LogError, match="already has a truck"):
        log.save_truck(NAME, SAMPLES[1], after=0)
    assert log.save_truck(NAME, TOML, after=0) == log.truck_versions(NAME)[0].id


# ---------------------------------------------------------------- downloads


def test_downloads_are_what_the_log_holds(place):
    client, log = create_app(place).server.test_client(), Log.open(place)
    got = {
        f: client.get(f"/download/{f}", query_string={"truck": NAME}) for f in ("truck.toml", "history.json")
    }
    assert got["truck.toml"].get_data(as_text=True) == log.truck_toml(NAME)
    assert got["history.json"].get_data(as_text=True) == log.dump(NAME)
    assert json.loads(got["history.json"].data)["truck"] == NAME
    readings = client.get("/download/readings.csv", query_string={"truck": NAME})
    assert len(readings.get_data(as_text=True).splitlines()) == 13
    assert "attachment" in readings.headers["Content-Disposition"]


@pytest.mark.parametrize(
    ("file", "query"),
    [
        ("truck.toml", {"truck": "nobody"}),
        ("x.exe", {"truck": NAME}),
        ("truck.toml", {"truck": NAME, "version": "99"}),
    ],
)
def test_a_download_that_is_not_there_is_a_sentence(place, file, query):
    got = create_app(place).server.test_client().get(f"/download/{file}", query_string=query)
    assert got.status_code == 404
    assert "Traceback" not in got.get_data(as_text=True)
    assert len(got.data) > 20


# ---------------------------------------------------------------- a new truck, and files


def asked(app, call, *args):
    with app.server.test_request_context("/"):
        return call(*args)


def sent(text):
    return "data:text/plain;base64," + base64.b64encode(text.encode()).decode()


def test_a_new_truck_is_saved_once_and_opens_its_home(tmp_path):
    app = create_app(tmp_path / "log.db")
    assert "No truck yet" in text_of(asked(app, home.layout))
    answers = [asked(app, new.save, 1, SAMPLES[1].replace("\n", "\r\n")) for _ in range(2)]
    name = read_truck(SAMPLES[1]).name
    log = Log.open(tmp_path / "log.db")
    assert [v.toml for v in log.truck_versions(name)] == [SAMPLES[1]]
    assert answers[0] == answers[1]
    assert answers[0][1].startswith("/truck?")
    assert name in text_of(asked(app, home.layout))


def test_a_new_truck_with_faults_is_not_saved_and_the_lines_are_named(tmp_path):
    app = create_app(tmp_path / "log.db")
    said, _ = asked(app, new.save, 1, SAMPLES[1].replace("track =", "trakc =", 1))
    line = next(i for i, one in enumerate(SAMPLES[1].split("\n"), 1) if one.startswith("track"))
    assert f"line {line}" in text_of(said)
    assert "Did you mean track?" in text_of(said)
    assert Log.open(tmp_path / "log.db").trucks() == ()


def test_a_name_that_is_taken_is_refused(place):
    said, _ = asked(create_app(place), new.save, 1, SAMPLES[0].replace(read_truck(SAMPLES[0]).name, NAME))
    assert "already has a truck" in text_of(said)
    assert len(Log.open(place).truck_versions(NAME)) == 1


@pytest.mark.parametrize("text", ["", " ", "\0", "=", "name", "[" * 5000, "a" * 200_000, 'name = "\ud800"'])
def test_no_text_at_all_breaks_the_new_page(tmp_path, text):
    app = create_app(tmp_path / "log.db")
    said, goto = asked(app, new.save, 1, text)
    assert not isinstance(goto, str)
    assert len(text_of(said)) > 20
    assert Log.open(tmp_path / "log.db").trucks() == ()


def test_a_history_goes_from_log_to_log_without_loss_and_not_twice(place, tmp_path):
    dump = Log.open(place).dump(NAME)
    app = create_app(tmp_path / "other.db")
    assert "whole history is in the log" in text_of(asked(app, new.take_history, sent(dump), "history.json"))
    assert Log.open(tmp_path / "other.db").dump(NAME) == dump
    assert "already has a truck" in text_of(asked(app, new.take_history, sent(dump), "history.json"))
    broken = asked(app, new.take_history, sent(dump[:-30]), "history.json")
    assert "Nothing was saved" in text_of(broken)


@pytest.mark.parametrize(
    "contents", ["data:,", "data:;base64,/////w==", "x", "data:;base64,A" + "A" * (2 * MOST_BYTES)]
)
def test_what_is_no_text_is_a_sentence(tmp_path, contents):
    app = create_app(tmp_path / "log.db")
    for take in (new.take_file, lambda *a: (new.take_history(*a), None)):
        assert len(text_of(asked(app, take, contents, "x.bin")[0])) > 20
    assert Log.open(tmp_path / "log.db").trucks() == ()


STORE = {"truck": NAME, "base": 1}


def looked(app, text):
    """As a page does it: asked again until it is there."""
    return there(app, truck_readings.look, sent(text), None, "mine.csv", STORE, "looking")


def readings_saved(app, kept):
    return there(app, truck_readings.save, 1, None, kept, STORE, "saving")[0]


def there(app, call, *args):
    for _ in range(200):
        *answer, under_way = asked(app, call, *args)
        if under_way is None:
            return answer
    raise AssertionError("no answer came")


@pytest.fixture
def empty(tmp_path):
    fill(str(tmp_path / "empty.db"), count=0)
    return tmp_path / "empty.db"


def test_readings_of_a_file_are_told_then_saved_once(empty):
    app = create_app(empty)
    text = write_readings(readings(2), read_truck(TOML))
    words, kept, hidden, _ = looked(app, text)
    assert "8 readings in 2 runs, r1 to r2. Not saved yet." in text_of(words)
    assert not hidden
    log = Log.open(empty)
    assert log.readings(NAME) == ()
    first, second = (readings_saved(app, kept) for _ in range(2))
    assert "8 readings are in the log" in text_of(first)
    assert "8 readings were in the log already" in text_of(second)
    assert write_readings([one.reading for one in log.readings(NAME)], read_truck(TOML)) == text


def test_every_fault_of_a_readings_file_is_listed_and_none_of_it_saved(empty):
    app = create_app(empty)
    lines = write_readings(readings(2), read_truck(TOML)).splitlines()
    lines[2] = lines[2].replace("RF", "XX")
    lines[5] = lines[5].replace("r2", "")
    words, kept, hidden, _ = looked(app, "\n".join(lines))
    assert "line 3" in text_of(words)
    assert "line 6" in text_of(words)
    assert (kept, hidden) == (None, True)
    assert Log.open(empty).readings(NAME) == ()


def test_an_unlikely_reading_is_asked_about_and_kept_as_doubtful_once_confirmed(place):
    app, log = create_app(place), Log.open(place)
    given = list(readings(4)[12:])
    given[0] = type(given[0])(**(vars(given[0]) | {"height": given[0].height + 0.05}))
    words, kept, hidden, button = looked(app, write_readings(given, read_truck(TOML)))
    assert "Look again at these" in text_of(words)
    assert "r4: " in text_of(words)
    assert (hidden, button) == (False, "Save all, these as doubtful")
    assert len(log.readings(NAME)) == 12
    readings_saved(app, kept)
    after = [one.reading for one in log.readings(NAME)][12:]
    assert [bool(r.doubt) for r in after if r.corner == given[0].corner] == [True]
    assert Source(str(place)).question(NAME).shelf.runs[-1].name == "r4"


def test_a_save_that_is_stopped_at_any_word_leaves_the_log_as_it_was(empty):
    app, log = create_app(empty), Log.open(empty)
    text = write_readings(readings(2), read_truck(TOML))
    before = log.dump(NAME)
    with app.server.test_request_context("/"):
        question = source().question(NAME)
    stopped, done = 0, None
    while done is None:
        look_again = partial(truck_readings._looked, Kept(1), question, text, "mine.csv")
        try:
            done = truck_readings._save(log, NAME, "key", look_again, Listener(stopped + 1))
        except StoppedError:
            stopped += 1
            assert Log.open(empty).dump(NAME) == before
    rows, how = done
    assert stopped >= 4  # reading, looking, before and after the rows are in
    assert (len(rows), how) == (8, "are in the log")
    assert len(Log.open(empty).readings(NAME)) == 8


def test_a_viewers_save_is_refused_though_another_thread_does_it(empty):
    app, log = create_app(empty), Log.open(empty)
    _, kept, *_ = looked(app, write_readings(readings(2), read_truck(TOML)))
    with app.server.test_request_context("/"):
        g.role = "viewer"
        words, _ = truck_readings.save(1, None, kept, STORE, "saving")
    assert "You are looking only" in text_of(words)
    assert log.readings(NAME) == ()
