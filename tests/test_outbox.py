"""The routes that a phone's outbox posts to, and the card that brings the page onto the phone. Without a browser."""

import json
import re
from base64 import b64decode
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime
from urllib.parse import unquote

import pytest
from werkzeug.test import EnvironBuilder, run_wsgi_app

from dashboard.app import create_app
from dashboard.auth import LOOKING
from dashboard.entry import HEIGHTS, Form, check, doubts
from dashboard.pages import log as log_page
from dashboard.phone import card, phone_address
from dashboard.source import Source
from tests.dashboard_truck import IN, LBF, NAME, fill, readings
from tests.test_dashboard import FORM, ids_of, text_of
from tests.test_lan import FOREIGN, OWNERS, VIEWERS, access, enter, kept, page_token  # noqa: F401
from tuning.log.database import LogFailedError
from tuning.log.shelf import open_truck
from tuning.log.store import Log
from tuning.readings import runs_of
from tuning.rounds import rounds_of
from tuning.truck import CORNERS

KEY = "0123456789abcdef" * 2
OTHER = "f" * 32
FIRST = 12  # readings of r1 to r3


@pytest.fixture
def place(tmp_path):
    fill(str(tmp_path / "log.db"))
    return str(tmp_path / "log.db")


@pytest.fixture
def client(place):
    return create_app(place).server.test_client()


@pytest.fixture
def shelf(place):
    return open_truck(Log.open(place), NAME)


@pytest.fixture
def body(place):
    """A run as the page sends it."""
    return {
        "key": KEY,
        "log": Source(place).mark(NAME),
        "truck": NAME,
        "run": "r4",
        "taken_at": FORM.taken_at,
        "settled": "",
        "note": "after lunch",
        "corners": {corner: dict(fields) for corner, fields in FORM.corners.items()},
        "confirmed": [],
    }


def with_field(body, corner, **fields):
    return {**body, "corners": {**body["corners"], corner: {**body["corners"][corner], **fields}}}


def logged(place):
    """What counts; and nothing else was ever written."""
    log = Log.open(place)
    found = [entry.reading for entry in log.readings(NAME)]
    assert len(log.history(NAME)) == len(found)
    return found


def saved(answer):
    return answer.status_code == 200 and "saved" in answer.json


# ---------------------------------------------------------------- once


def test_a_run_is_saved_as_typed(client, place, body):
    answer = client.post("/api/runs", json=body)
    assert answer.json["saved"] == "Run r4 is saved: LF, RF, LR, RR."
    new = logged(place)[FIRST:]
    assert [r.corner for r in new] == list(CORNERS)
    assert [r.height for r in new] == pytest.approx([24.625 * IN, 24.75 * IN, 0.5032, 20 * IN])
    assert [r.load for r in new] == pytest.approx([1220 * LBF, 1230 * LBF, None, 1067 * LBF])
    assert [r.preload for r in new] == pytest.approx([IN, 1.25 * IN, None, None])
    assert [r.note for r in new] == ["after lunch", "", "", ""]
    typed = [entry.typed for entry in Log.open(place).history(NAME)[FIRST:]]
    assert [row["height"] for row in typed] == ["24 5/8", "24-3/4", "503.2 mm", "20"]


def test_the_same_run_sent_again_is_answered_as_saved_already(client, place, body):
    first, second = (client.post("/api/runs", json=body).json for _ in range(2))
    assert (first.pop("already"), second.pop("already")) == (False, True)
    assert first == second
    assert len(logged(place)) == FIRST + 4


def test_twenty_threads_with_one_run_save_it_once(client, place, body):
    app = client.application
    with ThreadPoolExecutor(20) as pool:
        answers = list(pool.map(lambda _: app.test_client().post("/api/runs", json=body), range(20)))
    assert all(map(saved, answers))
    assert [answer.json["already"] for answer in answers].count(False) == 1
    assert len(logged(place)) == FIRST + 4


def test_twenty_people_at_once_all_get_in(client, place, body):
    app = client.application
    several = [
        {**body, "key": f"{i:032x}", "run": f"r{i}", "taken_at": f"2025-06-{i:02}T10:00:00"}
        for i in range(4, 24)
    ]
    with ThreadPoolExecutor(20) as pool:
        answers = list(pool.map(lambda one: app.test_client().post("/api/runs", json=one), several))
    assert all(map(saved, answers))
    assert len({(r.run, r.corner) for r in logged(place)}) == len(logged(place)) == FIRST + 80


def test_a_run_that_was_saved_stays_saved_whatever_became_of_truck_and_log_since(client, place, body):
    client.post("/api/runs", json=body)
    log = Log.open(place)
    log.doubt(FIRST + 1, "tape slipped")
    log.save_truck(
        NAME, log.truck_toml(NAME).replace('range = ["0 in", "3 1/2 in"]', 'range = ["3 in", "3 1/2 in"]')
    )
    assert client.post("/api/check", json=body).json["faults"]  # typed anew it would be refused by now
    again = client.post("/api/runs", json=body)
    assert saved(again)
    assert again.json["already"]
    assert len(log.readings(NAME)) == FIRST + 4


def test_other_readings_under_a_spent_key_come_back_to_be_decided_on(client, place, body):
    client.post("/api/runs", json=body)
    answer = client.post("/api/runs", json=with_field(body, "LF", height="24 11/16"))
    assert answer.status_code == 409
    assert answer.json["refused"]
    assert answer.json["renew"]
    assert "was saved before with other readings" in answer.json["error"]
    assert len(logged(place)) == FIRST + 4


def test_the_same_readings_under_another_key_are_no_second_run(client, place, body):
    client.post("/api/runs", json=body)
    answer = client.post("/api/runs", json={**body, "key": OTHER})
    assert answer.json["refused"]
    assert "are in the log already" in answer.json["error"]
    assert len(logged(place)) == FIRST + 4


# ---------------------------------------------------------------- faults and questions


def test_every_fault_is_told_at_its_field_and_nothing_is_saved(client, place, body):
    sent = with_field(with_field(body, "RF", height="22,5"), "LR", **{"height-2": "x"})
    answer = client.post("/api/runs", json=sent).json
    assert answer["refused"]
    assert [(one["corner"], one["field"]) for one in answer["faults"]] == [
        ("RF", "height"),
        ("LR", "height-2"),
    ]
    assert '"22,5" is not a length' in answer["faults"][0]["text"]
    assert answer["error"] == "Nothing is saved. Look at RF height and LR height (reading 2)."
    assert len(logged(place)) == FIRST


def test_what_is_asked_is_saved_once_it_is_confirmed_and_stands_as_doubtful(client, place, body):
    sent = with_field(with_field(body, "LF", height="34 5/8"), "LR", height="")
    asked = client.post("/api/runs", json=sent).json["asked"]
    assert [one["corner"] for one in asked] == ["", "LF"]
    assert asked[0]["text"] == "LR not read: save the other corners alone?"
    assert len(logged(place)) == FIRST
    half = client.post("/api/runs", json={**sent, "confirmed": [asked[0]["key"]]}).json
    assert [one["key"] for one in half["asked"]] == [asked[1]["key"]]
    done = client.post("/api/runs", json={**sent, "confirmed": [one["key"] for one in asked]})
    assert saved(done)
    assert [bool(r.doubt) for r in logged(place)[FIRST:]] == [True, False, False]


def test_what_was_confirmed_of_one_value_is_asked_of_another(client, body):
    wrong = with_field(body, "LF", height="34 5/8")
    key = client.post("/api/check", json=wrong).json["asked"][0]["key"]
    other = with_field({**body, "confirmed": [key]}, "LF", height="14 5/8")
    assert [one["corner"] for one in client.post("/api/runs", json=other).json["asked"]] == ["LF"]


def test_nuts_that_stand_elsewhere_than_the_run_has_them_are_asked_about(client, place, body):
    client.post("/api/runs", json=body)
    later = with_field({**body, "key": OTHER, "taken_at": "2025-06-01T11:00:00"}, "LF", preload="1 1/4")
    answer = client.post("/api/runs", json=later).json
    assert [(one["corner"], one["field"]) for one in answer["asked"]] == [("LF", "preload")]
    assert "r4 has LF at 1 in of preload already, this says 1 1/4 in" in answer["asked"][0]["text"]
    assert saved(client.post("/api/runs", json={**later, "run": "r5"}))


def test_a_check_writes_nothing_and_knows_no_corner_as_missing(client, place, body):
    part = {**body, "corners": {"LF": body["corners"]["LF"]}}
    answer = client.post("/api/check", json=part).json
    assert answer["faults"] == answer["asked"] == []
    assert answer["sums"] == [["Sum", "1220 lbf", "of LF"]]
    assert len(logged(place)) == FIRST


def test_cross_weight_is_rf_and_lr_of_all(client, body):
    sent = with_field(body, "LR", load="1083")
    sums = {term: value for term, value, _ in client.post("/api/check", json=sent).json["sums"]}
    total = 1220 + 1230 + 1083 + 1067
    assert sums["Sum"] == f"{total} lbf"
    assert sums["Cross-weight"] == f"{(1230 + 1083) / total * 100:.1f} %"
    assert sums["Front"] == f"{(1220 + 1230) / total * 100:.1f} %"


# ---------------------------------------------------------------- what is no run


def test_a_truck_that_is_not_in_the_log_is_named_with_those_that_are(client, body):
    answer = client.post("/api/runs", json={**body, "truck": "Day shift"})
    assert answer.status_code == 404
    assert answer.json["refused"]
    assert answer.json["error"] == f"This log has no truck 'Day shift'. It has {NAME}."


def test_a_run_typed_for_another_logs_truck_of_the_same_name_is_not_mixed_in(client, place, tmp_path, body):
    fill(str(tmp_path / "other.db"))
    mark = Source(str(tmp_path / "other.db")).mark(NAME)
    answer = client.post("/api/runs", json={**body, "log": mark})
    assert answer.status_code == 409
    assert "another log" in answer.json["error"]
    assert len(logged(place)) == FIRST


def test_a_log_keeps_its_mark_where_it_is_moved_and_when_its_truck_file_changes(place, tmp_path):
    mark = Source(place).mark(NAME)
    log = Log.open(place)
    log.save_truck(NAME, log.truck_toml(NAME) + "\n# painted\n")
    log.backup(tmp_path / "moved.db")
    assert Source(str(tmp_path / "moved.db")).mark(NAME) == mark


@pytest.mark.parametrize(
    "wrong",
    [
        b"",
        b"{",
        b"[]",
        b"null",
        b'"run"',
        b"\xff\xfe",
        b"[" * 50_000,
        json.dumps({"key": KEY}).encode(),
    ],
)
def test_what_is_no_run_is_refused(client, place, wrong):
    answer = client.post("/api/runs", data=wrong, content_type="application/json")
    assert answer.status_code == 400
    assert answer.json["refused"]
    assert len(logged(place)) == FIRST


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("key", "short"),
        ("key", KEY + "\n"),
        ("key", KEY.upper()),
        ("key", 1),
        ("run", None),
        ("run", ["r4"]),
        ("settled", "sideways"),
        ("corners", {"XX": {}}),
        ("corners", {"LF": {"height": 24.625}}),
        ("corners", {"LF": {"height": "1" * 200}}),
        ("corners", {"LF": {"odometer": "1"}}),
        ("confirmed", "all"),
        ("surprise", True),
    ],
)
def test_a_field_of_the_wrong_kind_is_refused_by_name(client, place, body, field, value):
    answer = client.post("/api/runs", json={**body, field: value})
    assert answer.status_code == 400
    assert field in answer.json["error"]
    assert len(logged(place)) == FIRST


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("run", ""),
        ("run", "a\tb\0"),
        ("run", "\ud800"),
        ("note", "\0"),
        ("note", "x" * 3000),
        ("taken_at", "yesterday"),
        ("taken_at", "2999-01-01T00:00:00"),
        ("taken_at", "2025-06-01T10:00:00+02:00"),
    ],
)
def test_a_text_that_no_log_can_keep_is_refused_and_nothing_is_saved(client, place, body, field, value):
    answer = client.post("/api/runs", json={**body, field: value})
    assert answer.json["refused"]
    assert len(logged(place)) == FIRST


@pytest.mark.parametrize(
    "kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", ""]
)
def test_only_json_is_taken(client, place, body, kind):
    answer = client.post("/api/runs", data=json.dumps(body), content_type=kind)
    assert answer.status_code == 415
    assert len(logged(place)) == FIRST


def test_a_huge_body_is_refused_and_never_read_to_its_end(client, place, body):
    answer = client.post("/api/runs", json={**body, "note": "x" * 100_000})
    assert answer.status_code == 413
    environ = EnvironBuilder("/api/runs", method="POST", content_type="application/json").get_environ()
    endless = _Endless()
    _, status, _ = run_wsgi_app(
        client.application, environ | {"wsgi.input": endless, "wsgi.input_terminated": True}
    )
    assert status.startswith("400")
    assert endless.given <= 64_000
    assert len(logged(place)) == FIRST


class _Endless:
    """A sender that never says how much it sends, and never ends."""

    def __init__(self):
        self.given = 0

    def read(self, size=-1):
        self.given += max(size, 1)
        return b" " * max(size, 1) if self.given < 1_000_000 else b""


@pytest.mark.parametrize("method", ["put", "delete", "patch"])
def test_only_a_post_is_taken(client, method):
    assert getattr(client, method)("/api/runs").status_code == 405


@pytest.mark.parametrize("headers", FOREIGN)
def test_a_page_of_another_site_saves_nothing(client, place, body, headers):
    assert client.post("/api/runs", json=body, headers=headers).status_code == 403
    assert len(logged(place)) == FIRST


def test_a_page_of_our_own_does(client, body):
    headers = {"Origin": "http://localhost", "Sec-Fetch-Site": "same-origin"}
    assert saved(client.post("/api/runs", json=body, headers=headers))


# ---------------------------------------------------------------- trouble that passes


def test_a_log_that_is_busy_asks_for_another_try_and_takes_it(client, place, body, monkeypatch):
    def busy(*_, **__):
        raise LogFailedError(
            "log.db: another program has been writing for 10 s. Nothing was saved; try again."
        )

    with monkeypatch.context() as patch:
        patch.setattr(Log, "add_readings", busy)
        answer = client.post("/api/runs", json=body)
    assert answer.status_code == 503
    assert "refused" not in answer.json
    assert saved(client.post("/api/runs", json=body))


def test_a_log_that_cannot_be_opened_asks_for_another_try(tmp_path, body):
    (tmp_path / "words.db").write_text("these are no readings, only words" * 50)
    answer = create_app(tmp_path / "words.db").server.test_client().post("/api/runs", json=body)
    assert answer.status_code == 503
    assert "refused" not in answer.json


# ---------------------------------------------------------------- behind a login


@pytest.fixture
def guarded(access, place):  # noqa: F811
    return create_app(place, access).server.test_client()


def test_who_is_not_logged_in_saves_nothing(guarded, place, body):
    assert guarded.post("/api/runs", json=body).status_code in (401, 403)
    assert len(logged(place)) == FIRST


def test_an_owner_with_the_pages_token_saves(guarded, place, body):
    enter(guarded, OWNERS)
    assert guarded.post("/api/runs", json=body).status_code == 403  # without the token
    assert saved(guarded.post("/api/runs", json=body, headers=page_token(guarded)))
    assert len(logged(place)) == FIRST + 4


def test_a_viewer_looks_and_is_told_why_nothing_was_saved(guarded, place, body):
    enter(guarded, VIEWERS)
    token = page_token(guarded)
    assert guarded.post("/api/check", json=body, headers=token).json["faults"] == []
    answer = guarded.post("/api/runs", json=body, headers=token)
    assert answer.status_code == 403
    assert answer.json["error"] == LOOKING
    assert "refused" not in answer.json  # it waits for an owner
    assert len(logged(place)) == FIRST


# ---------------------------------------------------------------- heights read again


def form(**corners):
    return Form("r4", "2025-06-01T10:00:00", "", "", {**FORM.corners, **corners})


def test_a_height_read_again_is_a_reading_of_its_own_with_the_same_nut_and_no_second_load(shelf):
    again = {
        "height": "24 5/8",
        "height-2": "24 11/16",
        "height-4": "24 9/16",
        "load": "1220",
        "preload": "1",
    }
    found = check(form(LF=again), shelf).readings
    mine = [r for r in found if r.corner == "LF"]
    assert [r.height for r in mine] == pytest.approx([24.625 * IN, 24.6875 * IN, 24.5625 * IN])
    assert [r.load for r in mine] == pytest.approx([1220 * LBF, None, None])
    assert [r.preload for r in mine] == pytest.approx([IN] * 3)


def test_the_fit_takes_repeats_as_rounds_of_one_run_weighed_once(shelf):
    again = {"height": "24 5/8", "height-2": "24 11/16", "load": "1220", "preload": "1"}
    rounds = rounds_of(runs_of(check(form(LF=again), shelf).readings))
    assert rounds.height[:, 0] == pytest.approx([24.625 * IN, 24.6875 * IN])
    assert rounds.load[:, 0] == pytest.approx([1220 * LBF] * 2)
    assert rounds.run.tolist() == [0, 0]


@pytest.mark.parametrize("name", HEIGHTS)
def test_a_doubt_about_a_repeat_is_asked_at_its_own_field(shelf, name):
    texts = dict.fromkeys(HEIGHTS, "24 5/8") | {name: "34 5/8", "load": "1220", "preload": "1"}
    asked = doubts(check(form(LF=texts), shelf).readings, shelf).asked
    assert [(one.corner, one.field) for one in asked] == [("LF", name)]


def test_a_slip_in_a_repeat_sent_later_into_the_same_run_is_questioned_too(client, body):
    client.post("/api/runs", json=body)
    later = {
        **body,
        "key": OTHER,
        "taken_at": "2025-06-01T10:20:00",
        "corners": {"LF": body["corners"]["LF"]},
    }
    wrong = with_field(later, "LF", height="34 5/8")
    assert client.post("/api/check", json=later).json["asked"] == []
    assert [one["field"] for one in client.post("/api/check", json=wrong).json["asked"]] == ["height"]


# ---------------------------------------------------------------- the page


def field(tree, name):
    return next(part for part in tree._traverse() if getattr(part, "id", None) == f"log-{name}")


def drawn(place, **query):
    app = create_app(place)
    with app.server.test_request_context("/log"):
        return log_page.layout(truck=NAME, **query)


def test_corners_come_in_the_order_of_the_walk_as_text_fields_with_a_keypad(place):
    tree = drawn(place)
    heights = [i for i in ids_of(tree) if re.fullmatch(r"log-..-height", str(i))]
    assert heights == [f"log-{corner}-height" for corner in ("LF", "RF", "RR", "LR")]
    attributes = field(tree, "LF-height").attributes["input"]
    assert attributes["inputMode"] == "decimal"
    assert "type" not in attributes


def test_the_reading_before_and_the_advice_stand_beside_their_fields(place, shelf):
    tree = drawn(place)
    assert field(tree, "LF-height").description.startswith("r3: ")
    nut = field(tree, "RF-preload")  # the one that is to be turned
    assert nut.value == "1 1/4"
    assert nut.description.startswith("as in r3: 1 1/4 in; advised ")


def test_a_nut_that_an_address_says_was_turned_is_put_in_and_rubbish_is_not(place):
    tree = drawn(place, preload_LF="1 5/8", preload_RF="<script>", preload_LR="2")
    assert field(tree, "LF-preload").value == "1 5/8"
    assert field(tree, "LF-preload").description == "as you turned it; r3: 1 in"
    assert field(tree, "RF-preload").value == "1 1/4"
    assert "log-LR-preload" not in ids_of(tree)


def test_times_go_with_a_zone_where_the_logs_do(tmp_path):
    zoned = str(tmp_path / "zoned.db")
    log = fill(zoned, count=0)
    rows = [replace(r, taken_at=r.taken_at.replace(tzinfo=UTC)) for r in readings()]
    log.add_readings(NAME, rows)
    for path, expected in ((zoned, True), (str(tmp_path / "plain.db"), False)):
        if not expected:
            fill(path)
        assert field(drawn(path), "store").data["zoned"] is expected
    body = {
        **{
            "key": KEY,
            "log": Source(zoned).mark(NAME),
            "truck": NAME,
            "run": "r4",
            "settled": "",
            "note": "",
        },
        "taken_at": "2025-06-01T10:00:00-05:00",
        "corners": {corner: dict(fields) for corner, fields in FORM.corners.items()},
    }
    assert saved(create_app(zoned).server.test_client().post("/api/runs", json=body))
    assert log.readings(NAME)[-1].reading.taken_at == datetime(2025, 6, 1, 15, tzinfo=UTC)


def test_the_page_says_how_to_measure_well_and_what_can_hurt(place):
    text = text_of(drawn(place))
    for words in (
        "Level floor",
        "Tyre pressures equal",
        "Sway bar disconnected",
        "steering straight",
        "zeroed",
    ):
        assert words in text
    for words in ("bounce", "Read each height twice", "stands", "Lock", "Hands and head out"):
        assert words in text


# ---------------------------------------------------------------- onto the phone


def test_the_address_for_the_phone_is_this_machines_own_on_its_network():
    assert phone_address("http://127.0.0.1:8050", "/log?truck=A", lambda: "192.0.2.7") == (
        "http://192.0.2.7:8050/log?truck=A"
    )
    assert phone_address("http://localhost:8050", "/log", lambda: None) is None
    assert (
        phone_address("http://[::1]:8050", "/log", lambda: "[2001:db8::7]") == "http://[2001:db8::7]:8050/log"
    )


def test_an_address_that_came_over_the_network_is_the_phones_too():
    assert (
        phone_address("http://shop.local:8050", "/log", lambda: "192.0.2.7") == "http://shop.local:8050/log"
    )


def test_the_card_shows_the_address_as_text_and_code_and_says_where_it_does_not_work_yet():
    tree = card("http://192.0.2.7:8050/log?truck=A", reachable=False)
    assert "http://192.0.2.7:8050/log?truck=A" in text_of(tree)
    assert "tuning serve --lan" in text_of(tree)
    code = next(part.src for part in tree._traverse() if getattr(part, "src", None))
    kind, data = code.split(",", 1)
    svg = b64decode(data).decode() if kind.endswith("base64") else unquote(data)
    assert kind.startswith("data:image/svg+xml")
    assert "<path" in svg
    assert "tuning serve --lan" not in text_of(card("http://192.0.2.7:8050/log", reachable=True))
    assert "no network" in text_of(card(None, reachable=False))
