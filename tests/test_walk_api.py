"""The routes that a phone's outbox posts positions of a cycle walk to. Without a browser."""

import json
from concurrent.futures import ThreadPoolExecutor

import pytest

import sample_runs
from dashboard.app import create_app
from dashboard.auth import LOOKING
from dashboard.source import Source
from dashboard.walk_form import texts_of
from tests.test_lan import FOREIGN, OWNERS, VIEWERS, access, enter, kept, page_token  # noqa: F401
from tuning.findings import latest
from tuning.log.database import LogFailedError
from tuning.log.intake import take_in
from tuning.log.store import Log
from tuning.log.walk_intake import record_file
from tuning.truckfile import read_truck

IN = 0.0254
NAME = "Night shift"
FOLDER = sample_runs.path("night_shift")
TOML = (FOLDER / "truck.toml").read_text("utf-8")
TRUCK = read_truck(TOML)
KEY = "0123456789abcdef" * 2
OTHER = "f" * 32
FENDER, FRAME = "tyre to fender", "tyre to frame"
BLANK = {"result": "open", "clearance": "", "note": "", "photo": ""}


@pytest.fixture
def place(tmp_path):
    """Night shift as it comes, not walked."""
    log = Log.open(tmp_path / "log.db")
    take_in(log, str(FOLDER / "truck.toml"), None, confirm=True)
    return str(tmp_path / "log.db")


@pytest.fixture
def client(place):
    return create_app(place).server.test_client()


@pytest.fixture
def body(place):
    """A position as the page sends it: two places looked at at bump."""
    return {
        "key": KEY,
        "log": Source(place).mark(NAME),
        "truck": NAME,
        "end": "front",
        "position": "bump",
        "steering": "straight",
        "units": "us",
        "taken_at": "2024-03-01T20:30:05",
        "by": "Wren",
        "typed": {
            FENDER: BLANK | {"result": "contact", "note": "inner lip", "photo": "fender.jpg"},
            FRAME: BLANK | {"result": "pass", "clearance": "1-1/4"},
        },
        "shown": {FENDER: BLANK, FRAME: BLANK},
        "confirmed": [],
    }


def pair(body, position, height, shaft, **more):
    typed = {"": {"height": height, "shaft": shaft}}
    shown = {"": {"height": "", "shaft": ""}}
    return {**body, "position": position, "typed": typed, "shown": shown, **more}


def only(body, name, was=BLANK, **fields):
    """The same position with one place changed."""
    return {**body, "typed": {name: was | fields}, "shown": {name: was}}


def rows(place):
    return [one.row for one in Log.open(place).walk(NAME)]


def saved(answer):
    return answer.status_code == 200 and "saved" in answer.json


# ---------------------------------------------------------------- once


def test_a_position_is_saved_as_typed(client, place, body):
    answer = client.post("/api/walk", json=body)
    assert answer.json["saved"].startswith(
        "Saved: Front: full bump, both wheels up; steering straight. 2 of 84"
    )
    fender, frame = rows(place)
    assert (fender.result, fender.clearance, fender.note, fender.photo, fender.by) == (
        "contact",
        None,
        "inner lip",
        "fender.jpg",
        "Wren",
    )
    assert (frame.result, frame.clearance) == ("pass", pytest.approx(1.25 * IN))
    assert frame.taken_at.isoformat() == "2024-03-01T20:30:05"
    told = answer.json["state"]["stations"][0]
    assert told["shown"][FRAME]["clearance"] == "1 1/4"
    assert answer.json["state"]["close"] == [f"{FENDER}: contact at bump, straight (inner lip; fender.jpg)"]


def test_the_same_position_sent_again_is_answered_as_saved_already(client, place, body):
    first, second = (client.post("/api/walk", json=body).json for _ in range(2))
    assert (first.pop("already"), second.pop("already")) == (False, True)
    assert first == second
    assert len(rows(place)) == 2


def test_twenty_threads_with_one_position_save_it_once(client, place, body):
    app = client.application
    with ThreadPoolExecutor(20) as pool:
        answers = list(pool.map(lambda _: app.test_client().post("/api/walk", json=body), range(20)))
    assert all(map(saved, answers))
    assert [answer.json["already"] for answer in answers].count(False) == 1
    assert len(rows(place)) == 2


def test_all_who_walk_at_once_get_in(client, place, body):
    app = client.application
    names = TRUCK.walk.places("front")
    several = [
        only({**body, "key": f"{i:032x}", "by": f"walker {i}"}, name, result="pass")
        for i, name in enumerate(names)
    ]
    with ThreadPoolExecutor(len(several)) as pool:
        answers = list(pool.map(lambda one: app.test_client().post("/api/walk", json=one), several))
    assert all(map(saved, answers))
    assert sorted(row.place for row in rows(place)) == sorted(names)


def test_what_was_saved_stays_saved_whatever_others_found_since(client, place, body):
    """Also where the log said the same already: the second try must not cover what came in between."""
    client.post("/api/walk", json={**body, "key": OTHER})
    was = {FENDER: body["typed"][FENDER], FRAME: body["typed"][FRAME]}
    same = only(body, FENDER, BLANK, **was[FENDER])
    assert saved(client.post("/api/walk", json=same))  # found again: nothing new
    trimmed = only({**body, "key": "a" * 32}, FENDER, was[FENDER], result="pass", note="trimmed")
    assert saved(client.post("/api/walk", json=trimmed))
    again = client.post("/api/walk", json=same).json
    assert again["already"]
    (now,) = [row for row in latest(rows(place)) if row.place == FENDER]
    assert (now.result, now.note) == ("pass", "trimmed")


def test_what_was_saved_stays_saved_when_its_place_and_units_are_gone_from_the_truck_file(
    client, place, body
):
    client.post("/api/walk", json=body)
    log = Log.open(place)
    other = TOML.replace('units = "us"', 'units = "metric"') + f'\n[walk]\nfront = ["{FRAME}"]\n'
    log.save_truck(NAME, other)
    assert client.post("/api/walk/check", json=body).json["faults"]  # typed anew it would be refused by now
    assert client.post("/api/walk", json=body).json["already"]
    assert len(rows(place)) == 2


def test_another_position_under_a_spent_key_comes_back_to_be_decided_on(client, place, body):
    client.post("/api/walk", json=body)
    for other in (only(body, FENDER, result="pass"), {**body, "position": "droop"}, {**body, "by": "Rook"}):
        answer = client.post("/api/walk", json=other)
        assert answer.status_code == 409
        assert answer.json["refused"]
        assert answer.json["renew"]
    assert len(rows(place)) == 2


def test_two_who_send_other_things_under_one_key_at_once_are_not_both_told_saved(client, place, body):
    app = client.application
    several = [only(body, name, result="pass") for name in (FENDER, FRAME)] * 5
    with ThreadPoolExecutor(10) as pool:
        answers = list(pool.map(lambda one: app.test_client().post("/api/walk", json=one), several))
    (row,) = rows(place)
    for sent, answer in zip(several, answers, strict=True):
        assert saved(answer) == (list(sent["typed"]) == [row.place])
        assert saved(answer) or answer.json["renew"]


# ---------------------------------------------------------------- the cycle table


def test_bump_and_droop_make_the_cycle_table_once(client, place, body):
    log, first = Log.open(place), len(Log.open(place).truck_versions(NAME))
    bump = pair(body, "bump", "16", "3/4")
    droop = pair(body, "droop", "28 1/2", "11 7/8", key=OTHER)
    assert "it needs droop" in client.post("/api/walk", json=bump).json["saved"]
    assert len(log.truck_versions(NAME)) == first
    low, high = (
        pair(body, "low", "19 1/2", "3 7/8", key="a" * 32),
        pair(body, "high", "25", "8 3/4", key="b" * 32),
    )
    for sent in (low, high, droop, droop, bump):
        assert saved(client.post("/api/walk", json=sent))
    assert "cycle table of the truck file now" in client.post("/api/walk", json=droop).json["saved"]
    versions = log.truck_versions(NAME)
    assert [v.note for v in versions[first:]] == ["cycle table of the walk"]
    cycle = read_truck(versions[-1].toml).corners["LF"].cycle
    assert [tuple(round(v / IN, 6) for v in row) for row in cycle] == [
        (16, 0.75),
        (19.5, 3.875),
        (25, 8.75),
        (28.5, 11.875),
    ]


def test_a_save_repeated_after_the_table_was_written_by_hand_leaves_that_alone(client, place, body):
    log = Log.open(place)
    sent = [pair(body, "bump", "16", "3/4"), pair(body, "low", "19 1/2", "3 7/8", key="a" * 32)]
    sent += [
        pair(body, "high", "25", "8 3/4", key="b" * 32),
        pair(body, "droop", "28 1/2", "11 7/8", key=OTHER),
    ]
    for one in sent:
        client.post("/api/walk", json=one)
    log.save_truck(NAME, TOML)
    for one in sent:
        assert client.post("/api/walk", json=one).json["already"]
    assert log.truck_toml(NAME) == TOML


def test_a_height_that_contradicts_is_refused_with_what_it_contradicts(client, place, body):
    client.post("/api/walk", json=pair(body, "bump", "16", "3/4"))
    before = Log.open(place).dump(NAME)
    answer = client.post("/api/walk", json=pair(body, "droop", "29", "1/2", key=OTHER)).json
    assert answer["refused"]
    assert "less shaft shows than at bump" in answer["error"]
    assert Log.open(place).dump(NAME) == before


# ---------------------------------------------------------------- faults and what somebody else found


def test_every_fault_is_told_at_its_field_and_nothing_is_saved(client, place, body):
    sent = {
        **body,
        "typed": {FENDER: BLANK | {"note": "rubs"}, FRAME: BLANK | {"result": "pass", "clearance": "1,5"}},
    }
    answer = client.post("/api/walk", json=sent).json
    assert answer["refused"]
    assert {(one["place"], one["field"]) for one in answer["faults"]} == {
        (FENDER, "result"),
        (FRAME, "clearance"),
    }
    assert '"1,5" is not a length' in next(o["text"] for o in answer["faults"] if o["place"] == FRAME)
    assert answer["error"].startswith("Nothing is saved. Look at ")
    looked = client.post("/api/walk/check", json=sent).json
    assert looked["faults"] == answer["faults"]
    assert rows(place) == []


def test_nothing_changed_is_nothing_saved(client, place, body):
    for same in ({**body, "typed": {}, "shown": {}}, {**body, "shown": body["typed"]}):
        answer = client.post("/api/walk", json=same).json
        assert answer["refused"]
        assert "Nothing was changed" in answer["error"]
    assert rows(place) == []


def test_a_place_that_somebody_else_put_down_since_is_asked_about_and_saved_once_confirmed(
    client, place, body
):
    client.post("/api/walk", json=body)
    mine = only({**body, "key": OTHER, "by": "Rook"}, FENDER, result="pass", clearance="1/4")
    answer = client.post("/api/walk", json=mine).json
    assert answer["refused"]
    (asked,) = answer["asked"]
    assert asked["place"] == FENDER
    assert "Wren put down here: contact; inner lip; fender.jpg" in asked["text"]
    assert asked["there"] == texts_of(FENDER, rows(place)[0], TRUCK)
    assert client.post("/api/walk/check", json=mine).json["asked"] == answer["asked"]
    assert len(rows(place)) == 2
    assert saved(client.post("/api/walk", json={**mine, "confirmed": [asked["key"]]}))
    assert [(row.result, row.by) for row in rows(place) if row.place == FENDER] == [
        ("contact", "Wren"),
        ("pass", "Rook"),
    ]


def test_what_was_confirmed_of_one_finding_is_asked_of_the_next(client, body):
    client.post("/api/walk", json=body)
    mine = only({**body, "key": OTHER}, FENDER, result="pass")
    key = client.post("/api/walk", json=mine).json["asked"][0]["key"]
    there = body["typed"][FENDER]
    client.post(
        "/api/walk", json=only({**body, "key": "a" * 32}, FENDER, there, result="open", note="", photo="")
    )
    again = client.post("/api/walk", json={**mine, "confirmed": [key]})
    assert saved(again)  # taken back: nothing stands there, as when the form was drawn
    third = only({**body, "key": "b" * 32}, FENDER, result="contact")
    assert client.post("/api/walk", json={**third, "confirmed": [key]}).json["asked"]


def test_who_found_the_same_or_another_place_is_not_asked(client, place, body):
    client.post("/api/walk", json=body)
    same = only({**body, "key": OTHER, "by": "Rook"}, FRAME, result="pass", clearance="1.25 in")
    other = only({**body, "key": "a" * 32}, "axle to oil pan", result="pass")
    drawn = {"result": "pass", "clearance": "1 1/4", "note": "", "photo": ""}
    later = only({**body, "key": "b" * 32}, FRAME, drawn, clearance="1")
    for sent in (same, other, later):
        assert saved(client.post("/api/walk", json=sent))
    assert len(rows(place)) == 5


def test_a_pair_that_somebody_else_measured_since_is_asked_about(client, place, body):
    client.post("/api/walk", json=pair(body, "bump", "16", "3/4"))
    answer = client.post("/api/walk", json=pair(body, "bump", "16 1/8", "3/4", key=OTHER)).json
    assert [(one["place"], one["there"]) for one in answer["asked"]] == [
        ("", {"height": "16", "shaft": "3/4"})
    ]
    assert "height 16 in, shaft 3/4 in" in answer["asked"][0]["text"]
    assert len(rows(place)) == 1


# ---------------------------------------------------------------- what is no position


def test_a_truck_that_is_not_in_the_log_is_named_with_those_that_are(client, body):
    answer = client.post("/api/walk", json={**body, "truck": "Day shift"})
    assert answer.status_code == 404
    assert answer.json["error"] == f"This log has no truck 'Day shift'. It has {NAME}."


def test_a_walk_typed_for_another_logs_truck_of_the_same_name_is_not_mixed_in(client, place, body):
    answer = client.post("/api/walk", json={**body, "log": "0" * 16})
    assert answer.status_code == 409
    assert "another log" in answer.json["error"]
    assert rows(place) == []


@pytest.mark.parametrize(
    "wrong",
    [b"", b"{", b"[]", b"null", b'"walk"', b"\xff\xfe", b"[" * 50_000, json.dumps({"key": KEY}).encode()],
)
def test_what_is_no_position_is_refused(client, place, wrong):
    for route in ("/api/walk", "/api/walk/check"):
        answer = client.post(route, data=wrong, content_type="application/json")
        assert answer.status_code == 400
        assert answer.json["refused"]
    assert rows(place) == []


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("key", "short"),
        ("key", KEY.upper()),
        ("end", "middle"),
        ("end", ["front"]),
        ("steering", "ahead"),
        ("units", "furlong"),
        ("position", None),
        ("by", 1),
        ("by", "x" * 101),
        ("typed", []),
        ("typed", {FENDER: "pass"}),
        ("typed", {FENDER: {"result": 1}}),
        ("typed", {FENDER: {"weather": "dry"}}),
        ("typed", {FENDER: {"note": "x" * 3000}}),
        ("typed", {"x" * 101: {"result": "pass"}}),
        ("shown", None),
        ("confirmed", "all"),
        ("surprise", True),
    ],
)
def test_a_field_of_the_wrong_kind_is_refused_by_name(client, place, body, field, value):
    answer = client.post("/api/walk", json={**body, field: value})
    assert answer.status_code == 400
    assert field in answer.json["error"]
    assert "Not a position of a walk" in answer.json["error"]
    assert rows(place) == []


@pytest.mark.parametrize(
    "change",
    [
        {"position": "sideways"},
        {"position": "low"},
        {"position": "left up", "end": "rear"},
        {"end": "rear", "steering": "straight"},
        {"taken_at": "yesterday"},
        {"taken_at": "2999-01-01T00:00:00"},
        {"by": "a\0b"},
        {"by": "\ud800"},
        {"by": "x" * 90},
        {"typed": {FENDER: {"result": "fine"}}},
        {"typed": {FENDER: {"result": "pass", "clearance": "nan"}}},
        {"typed": {FENDER: {"result": "pass", "clearance": "10**10**10"}}},
        {"typed": {FENDER: {"result": "pass", "clearance": "9" * 2000}}},
        {"typed": {FENDER: {"result": "pass", "note": "\0"}}},
        {"typed": {FENDER: {"result": "pass", "note": "\ud800"}}},
        {"typed": {FENDER: {"result": "pass", "note": "x" * 2050}}},
        {"typed": {FENDER: {"result": "pass", "photo": "../../etc/passwd"}}},
        {"typed": {FENDER: {"result": "pass", "photo": "a\\b.jpg"}}},
        {"typed": {"<script>": {"result": "pass"}}},
        {"typed": {"a\nb,c": {"result": "pass"}}},
        {"typed": {"": {"height": "16 in"}}},
        {"typed": {"": {"height": "1e9", "shaft": "1"}}},
        {"typed": {f"place {i}": {"result": "pass"} for i in range(500)}},
    ],
)
def test_what_no_walk_can_hold_is_refused_and_nothing_is_saved(client, place, body, change):
    before = Log.open(place).dump(NAME)
    for route in ("/api/walk/check", "/api/walk"):
        answer = client.post(route, json={**body, "shown": {}, **change})
        assert answer.status_code < 500
    assert answer.json["refused"]
    assert answer.json["error"]
    assert Log.open(place).dump(NAME) == before


def test_markup_in_a_note_is_kept_as_the_text_it_is(client, place, body):
    nasty = '=cmd|"/c calc"!A1 <script>alert(1)</script>, "quoted"'
    client.post("/api/walk", json=only(body, FENDER, result="contact", note=nasty, photo="=1+1.jpg"))
    (row,) = rows(place)
    assert (row.note, row.photo) == (nasty, "=1+1.jpg")


@pytest.mark.parametrize(
    "kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", ""]
)
def test_only_json_is_taken(client, place, body, kind):
    assert client.post("/api/walk", data=json.dumps(body), content_type=kind).status_code == 415
    assert rows(place) == []


def test_a_huge_body_is_refused(client, place, body):
    typed = {f"place {i}": {"result": "pass", "note": "x" * 2000} for i in range(40)}
    assert client.post("/api/walk", json={**body, "typed": typed}).status_code == 413
    assert rows(place) == []


@pytest.mark.parametrize("method", ["put", "delete", "patch"])
def test_only_a_post_is_taken(client, method):
    assert getattr(client, method)("/api/walk").status_code == 405


@pytest.mark.parametrize("headers", FOREIGN)
def test_a_page_of_another_site_saves_nothing_and_our_own_does(client, place, body, headers):
    assert client.post("/api/walk", json=body, headers=headers).status_code == 403
    assert rows(place) == []
    own = {"Origin": "http://localhost", "Sec-Fetch-Site": "same-origin"}
    assert saved(client.post("/api/walk", json=body, headers=own))


# ---------------------------------------------------------------- trouble that passes, and logins


def test_a_log_that_is_busy_asks_for_another_try_and_takes_it(client, place, body, monkeypatch):
    def busy(*_, **__):
        raise LogFailedError(
            "log.db: another program has been writing for 10 s. Nothing was saved; try again."
        )

    with monkeypatch.context() as patch:
        patch.setattr(Log, "add_walk", busy)
        answer = client.post("/api/walk", json=body)
    assert answer.status_code == 503
    assert "refused" not in answer.json
    assert saved(client.post("/api/walk", json=body))


@pytest.fixture
def guarded(access, place):  # noqa: F811
    return create_app(place, access).server.test_client()


def test_who_is_not_logged_in_saves_nothing(guarded, place, body):
    assert guarded.post("/api/walk", json=body).status_code in (401, 403)
    assert rows(place) == []


def test_an_owner_with_the_pages_token_saves(guarded, place, body):
    enter(guarded, OWNERS)
    assert guarded.post("/api/walk", json=body).status_code == 403  # without the token
    assert saved(guarded.post("/api/walk", json=body, headers=page_token(guarded)))


def test_a_viewer_looks_and_is_told_why_nothing_was_saved(guarded, place, body):
    enter(guarded, VIEWERS)
    token = page_token(guarded)
    assert guarded.post("/api/walk/check", json=body, headers=token).json["faults"] == []
    answer = guarded.post("/api/walk", json=body, headers=token)
    assert answer.status_code == 403
    assert answer.json["error"] == LOOKING
    assert rows(place) == []


def test_the_sample_walk_sent_position_by_position_is_the_sample_walk(client, place, tmp_path, body):
    """As a file and through the form: the same rows."""
    other = Log.open(tmp_path / "other.db")
    take_in(other, str(FOLDER / "truck.toml"), None, confirm=True)
    record_file(other, NAME, str(FOLDER / "walk.csv"))
    wanted = [one.row for one in other.walk(NAME)]
    sent: dict[tuple[str, str, str], dict[str, dict[str, str]]] = {}
    for row in wanted:
        steering = getattr(row, "steering", "straight" if row.end == "front" else "")
        place_ = getattr(row, "place", "")
        sent.setdefault((row.end, row.position, steering), {})[place_] = texts_of(place_, row, TRUCK)
    for number, ((end, position, steering), typed) in enumerate(sent.items()):
        one = {**body, "key": f"{number:032x}", "end": end, "position": position, "steering": steering}
        assert saved(client.post("/api/walk", json={**one, "typed": typed, "shown": {}})), typed

    def told(rows_):
        return {row.key: texts_of(getattr(row, "place", ""), row, TRUCK) for row in rows_}

    assert told(rows(place)) == told(wanted)
