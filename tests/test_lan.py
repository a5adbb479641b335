"""The dashboard on a network: what a stranger gets (nothing), what a viewer may do (look), what an owner may."""

import json
import os
import re
import stat
from concurrent.futures import ThreadPoolExecutor
from http.cookies import SimpleCookie

import pytest
from click.testing import CliRunner

from dashboard import login
from dashboard.app import create_app, serve
from dashboard.auth import LOOKING, OPEN
from dashboard.network import answers_to, is_loopback, own_address, own_names
from dashboard.passphrases import OWNER, SHORTEST, VIEWER, AccessFile
from dashboard.source import KEY
from tests.dashboard_truck import NAME, fill, readings
from tuning.cli import main
from tuning.faults import InputError
from tuning.log.database import LogError
from tuning.log.store import Log

OWNERS, VIEWERS = "rust never sleeps here", "only looking thank you"
METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "CONNECT", "PROPFIND")
PAGE = {"Accept": "text/html"}


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """A passphrase file, made once, with hashes that are quick to try."""
    file = AccessFile(tmp_path_factory.mktemp("access") / "access.json")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("dashboard.passphrases._METHOD", "scrypt:1024:8:1")
        file.set(OWNER, OWNERS)
        file.set(VIEWER, VIEWERS)
    return file.path.read_text()


@pytest.fixture
def access(kept, tmp_path):
    path = tmp_path / "access.json"
    path.touch(0o600)
    path.write_text(kept)
    return AccessFile(path)


@pytest.fixture
def app(access, tmp_path):
    fill(str(tmp_path / "log.db"))
    return create_app(tmp_path / "log.db", access, frozenset({"shop.local"}))


@pytest.fixture
def client(app):
    return app.server.test_client()


def token_of(page):
    return re.search(r'name="csrf_token" value="([^"]+)"', page.text)[1]


def enter(client, passphrase=OWNERS, wanted="/", **more):
    token = token_of(client.get("/login", **more))
    return client.post(
        "/login", query_string={"next": wanted}, data={"csrf_token": token, "passphrase": passphrase}, **more
    )


def page_token(client):
    """The token a page hands to Dash, which sends it back as a header."""
    client.get("/", headers=PAGE)
    return {"X-CSRFToken": client.get_cookie("_csrf_token").value}


def inside(client):
    return client.get("/_dash-layout").status_code == 200


def paths_of(server):
    """An address for every rule, and some that no rule of ours names."""
    for rule in server.url_map.iter_rules():
        yield re.sub(r"<[^>]+>", "dash_renderer", str(rule)), rule.endpoint
    for path in ("/log?truck=Night+shift", "/adjust", "/nothing/here", "/assets/../assets/shop.css"):
        yield path, None
    for path in (
        "/login/",
        "/login/../",
        "/LOGIN",
        "/login/style.css/x",
        "/%6cogin/x",
        "/login;x",
        "/.git/config",
    ):
        yield path, None


# ---------------------------------------------------------------- a stranger


def test_a_stranger_gets_nothing_from_any_route_by_any_method(app):
    asked = 0
    for path, endpoint in paths_of(app.server):
        for method in METHODS:
            for accept in ("text/html", "*/*"):
                answer = app.server.test_client().open(path, method=method, headers={"Accept": accept})
                if endpoint in OPEN and method in ("GET", "HEAD", "OPTIONS"):
                    continue
                assert answer.status_code in (303, 308, 401, 403, 405), (method, path)
                assert answer.status_code != 303 or answer.location.startswith("/login?next="), (method, path)
                assert len(answer.data) < 400, (method, path)
                assert NAME not in answer.text, (method, path)
                assert "Allow" not in answer.headers or endpoint in OPEN, (method, path)
                asked += 1
    rules = {str(rule) for rule in app.server.url_map.iter_rules()}
    assert {"/_dash-layout", "/_dash-dependencies", "/_dash-update-component", "/_reload-hash"} <= rules
    assert asked > 20 * len(rules) - 100


def test_the_walk_finds_the_same_routes_open_where_no_passphrase_is_asked(tmp_path):
    fill(str(tmp_path / "log.db"))
    client = create_app(tmp_path / "log.db").server.test_client()
    for path in ("/", "/_dash-layout", "/_dash-dependencies", "/assets/shop.css", "/adjust"):
        assert client.get(path, buffered=True).status_code == 200


def test_only_the_login_page_and_its_style_are_open(app, client):
    assert set(OPEN) == {"login", "login_style"}
    assert client.get("/login").status_code == 200
    style = client.get("/login/style.css")
    assert style.mimetype == "text/css"
    assert ".login" in style.text
    assert NAME not in client.get("/login").text


def test_the_login_page_reads_well_to_a_phone_and_a_password_manager(client):
    page = client.get("/login").text
    assert '<label for="passphrase">' in page
    assert 'autocomplete="current-password"' in page
    assert "not encrypted" in page
    token = token_of(client.get("/login"))
    refused = client.post("/login", data={"csrf_token": token, "passphrase": "x"}).text
    assert 'aria-describedby="fault"' in refused
    assert '<p id="fault"' in refused


# ---------------------------------------------------------------- logging in and out


def test_the_right_passphrase_opens_and_leads_where_one_wanted_to_go(client):
    first = client.get("/log?truck=Night+shift&run=r3", headers=PAGE)
    assert first.location == "/login?next=/log?truck%3DNight%2Bshift%26run%3Dr3"
    token = token_of(client.get(first.location))
    back = client.post(first.location, data={"csrf_token": token, "passphrase": OWNERS})
    assert (back.status_code, back.location) == (303, "/log?truck=Night+shift&run=r3")
    assert inside(client)


@pytest.mark.parametrize("passphrase", ["", "x", OWNERS[:-1], OWNERS.upper(), OWNERS + "x", "é" * 500])
def test_another_passphrase_does_not(client, passphrase):
    assert enter(client, passphrase).status_code == 403
    assert not inside(client)


def test_a_phone_keyboard_may_add_a_space_and_compose_an_accent_in_its_own_way(tmp_path):
    access = AccessFile(tmp_path / "access.json")
    access.set(OWNER, "caf\u00e9 on the corner")
    now = access.read()
    assert now.role_of("cafe\u0301 on the corner ") == OWNER
    assert now.role_of("cafe on the corner") is None


@pytest.mark.parametrize(
    "wanted",
    [
        "//evil.example/",
        "https://evil.example",
        "/\\evil.example",
        "\\\\evil.example",
        "/\t/evil.example",
        "\t//evil.example",
        "javascript:alert(1)",
        "evil.example",
        "/\n/evil.example",
        " //evil.example",
    ],
)
def test_the_way_back_never_leaves_this_server(client, wanted):
    assert enter(client, wanted=wanted).location == "/"


def test_cookies_carry_the_right_flags(client):
    answer = enter(client)
    cookie = SimpleCookie(answer.headers["Set-Cookie"])["session"]
    assert cookie["httponly"]
    assert cookie["samesite"] == "Lax"
    assert cookie["path"] == "/"
    assert not cookie["domain"]
    page = client.get("/", headers=PAGE)
    sent = SimpleCookie()
    for line in page.headers.getlist("Set-Cookie"):
        sent.load(line)
    assert 0 < int(sent["_csrf_token"]["max-age"]) <= 31 * 86400
    assert sent["session"]["expires"]
    assert sent["_csrf_token"]["samesite"] == "Lax"
    assert page.headers["Cache-Control"] == "no-store"


def test_a_session_ends_by_itself(app, client, monkeypatch):
    enter(client)
    assert inside(client)
    later = app.server.config["PERMANENT_SESSION_LIFETIME"].total_seconds() + 60
    import itsdangerous.timed

    real = itsdangerous.timed.time.time
    monkeypatch.setattr(itsdangerous.timed.time, "time", lambda: real() + later)
    assert not inside(client)


def test_logging_out_ends_the_session_and_an_answer_under_way_does_not_bring_it_back(client):
    enter(client)
    token = page_token(client)
    under_way = client.post("/_dash-update-component", json={}, headers=token)
    left = client.post("/logout", headers=token)
    assert (left.status_code, left.location) == (303, "/login")
    assert "session" not in " ".join(under_way.headers.getlist("Set-Cookie"))
    assert not inside(client)


def test_every_page_has_the_way_out_and_a_machine_of_ones_own_has_none(client, tmp_path):
    enter(client)
    assert "Log out" in client.get("/_dash-layout").text
    assert "Log out" not in create_app(tmp_path / "log.db").server.test_client().get("/_dash-layout").text


def test_a_restart_keeps_people_logged_in_and_a_new_passphrase_does_not(app, client, access, tmp_path):
    enter(client)
    cookie = client.get_cookie("session").value
    again = create_app(tmp_path / "log.db", AccessFile(access.path), frozenset()).server.test_client()
    again.set_cookie("session", cookie)
    assert inside(again)
    AccessFile(access.path).set(OWNER, "a new one for the door")
    assert not inside(again)
    assert not inside(client)
    assert enter(client).status_code == 403
    assert enter(client, "a new one for the door").status_code == 303
    assert inside(client)


def test_a_forged_or_foreign_session_is_worth_nothing(app, access, tmp_path):
    other = AccessFile(tmp_path / "other.json")
    other.set(OWNER, OWNERS)
    theirs = create_app(tmp_path / "log.db", other, frozenset()).server.test_client()
    enter(theirs)
    for cookie in (theirs.get_cookie("session").value, "x", "eyJyb2xlIjoib3duZXIifQ.x.y"):
        mine = app.server.test_client()
        mine.set_cookie("session", cookie)
        assert not inside(mine)


def test_without_the_passphrase_file_nobody_is_let_in(client, access):
    enter(client)
    access.path.unlink()
    assert not inside(client)
    assert enter(client).status_code == 403


# ---------------------------------------------------------------- guessing


def test_tries_from_one_address_are_limited_and_the_wait_is_said(client):
    for _ in range(login.TRIES.amount):
        assert enter(client, "wrong").status_code == 403
    refused = enter(client, OWNERS)
    assert refused.status_code == 429
    wait = int(refused.headers["Retry-After"])
    assert 1 <= wait <= 60
    assert f"Wait {wait} s" in refused.text
    assert enter(client, OWNERS, environ_base={"REMOTE_ADDR": "192.0.2.7"}).status_code == 303


def test_the_right_passphrase_clears_the_count(client):
    for _ in range(3):
        for _ in range(login.TRIES.amount - 1):
            assert enter(client, "wrong").status_code == 403
        assert enter(client).status_code == 303
        client.post("/logout", headers=page_token(client))


def test_tries_from_many_addresses_are_limited_together(client, monkeypatch):
    monkeypatch.setattr("dashboard.passphrases.check_password_hash", lambda *_: False)
    token = token_of(client.get("/login"))
    data = {"csrf_token": token, "passphrase": "wrong"}
    codes = [
        client.post("/login", data=data, environ_base={"REMOTE_ADDR": f"198.51.100.{i}"}).status_code
        for i in range(login.TRIES_OF_ALL.amount + 5)
    ]
    assert codes == [403] * login.TRIES_OF_ALL.amount + [429] * 5


def test_one_machine_with_many_long_addresses_counts_once():
    assert login._place("2001:db8::1") == login._place("2001:db8::ffff:1")
    assert login._place("2001:db8:0:1::1") != login._place("2001:db8::1")
    assert login._place("192.0.2.1") != login._place("192.0.2.2")


def test_tries_at_once_are_counted_each(app, monkeypatch):
    monkeypatch.setattr("dashboard.passphrases.check_password_hash", lambda *_: False)
    with ThreadPoolExecutor(8) as pool:
        codes = list(pool.map(lambda _: enter(app.server.test_client(), "wrong").status_code, range(24)))
    assert codes.count(403) == login.TRIES.amount


# ---------------------------------------------------------------- other sites' pages


FOREIGN = (  # headers of what another site's page posts
    {"Origin": "http://evil.example"},
    {"Origin": "null"},
    {"Origin": "http://localhost:9999"},
    {"Origin": "http://localhost.evil.example"},
    {"Sec-Fetch-Site": "cross-site"},
    {"Sec-Fetch-Site": "same-site"},
)


@pytest.mark.parametrize("headers", FOREIGN)
@pytest.mark.parametrize("lan", [True, False])
def test_what_another_sites_page_posts_is_refused_even_with_a_session_and_a_token(
    app, client, tmp_path, headers, lan
):
    if lan:
        enter(client)
        headers = headers | page_token(client)
    else:
        client = create_app(tmp_path / "log.db").server.test_client()
    for path in ("/_dash-update-component", "/login", "/logout", "/api/anything"):
        assert client.post(path, json={}, headers=headers).status_code == 403


def test_our_own_page_may_post(client):
    enter(client)
    own = {"Origin": "http://localhost", "Sec-Fetch-Site": "same-origin"} | page_token(client)
    assert client.post("/logout", headers=own).status_code == 303


@pytest.mark.parametrize("token", [None, "", "x", "another session's"])
def test_a_post_without_the_sessions_own_token_is_refused(app, client, token):
    if token == "another session's":
        other = app.server.test_client()
        enter(other)
        token = page_token(other)["X-CSRFToken"]
    enter(client)
    page_token(client)
    headers = {} if token is None else {"X-CSRFToken": token}
    for path in ("/_dash-update-component", "/logout"):
        refused = client.post(path, json={}, headers=headers)
        assert refused.status_code == 403
        assert "Nothing was saved" in refused.text
    assert inside(client)


def test_a_login_form_without_its_token_is_refused(client):
    assert client.post("/login", data={"passphrase": OWNERS}).status_code == 403
    assert not inside(client)


def test_a_large_form_of_a_stranger_is_not_read(client):
    token = token_of(client.get("/login"))
    sent = client.post("/login", data={"csrf_token": token, "passphrase": "x" * 50_000})
    assert sent.status_code == 413


@pytest.mark.parametrize(
    "host", ["localhost:8050", "127.0.0.1:8050", "192.168.1.20:8050", "[fd00::2]:8050", "shop.local"]
)
def test_an_address_and_the_machines_own_names_are_answered(client, host):
    assert client.get("/login", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "shop.local.evil.example",
        "evilshop.local",
        "192.168.1.20.evil.example",
        "1.2.3",
        "shop.local@x",
        "",
    ],
)
def test_any_other_name_is_refused_even_with_a_session(client, host):
    enter(client)
    for path in ("/", "/login", "/_dash-layout"):
        answer = client.get(path, headers={"Host": host} | PAGE)
        assert answer.status_code == 400
        assert NAME not in answer.text


def test_a_names_endings_are_those_of_a_house():
    names = own_names()
    assert all(answers_to(name, names) or "_" in name for name in names)
    assert not answers_to(f"{min(names, key=len)}.example", names)


def test_own_address_can_be_called_and_is_not_loopback():
    found = own_address()
    if found is not None:
        assert answers_to(f"{found}:8050", frozenset())
        assert not is_loopback(found)


def test_answers_tell_the_browser_what_may_run_here(client):
    enter(client)
    for path in ("/", "/login", "/_dash-layout", "/assets/shop.css", "/nothing"):
        answer = client.get(path, headers=PAGE, buffered=True)
        policy = dict(part.split(" ", 1) for part in answer.headers["Content-Security-Policy"].split("; "))
        assert "unsafe" not in policy["script-src"]
        assert policy["frame-ancestors"] == "'none'"
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Referrer-Policy"] == "same-origin"


def test_scripts_in_the_page_are_the_ones_whose_hash_is_allowed(client):
    import base64
    import hashlib

    enter(client)
    page = client.get("/", headers=PAGE)
    inline = re.findall(
        r"<script(?![^>]*\bsrc=)(?![^>]*application/json)[^>]*>(.*?)</script>", page.text, re.S
    )
    assert inline
    for script in inline:
        digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
        assert f"'sha256-{digest}'" in page.headers["Content-Security-Policy"]


# ---------------------------------------------------------------- a viewer

WRITES = {
    "save_truck": lambda log: log.save_truck("New", "name = 'x'"),
    "add_readings": lambda log: log.add_readings(NAME, readings(4)[-4:]),
    "replace": lambda log: log.replace(1, log.readings(NAME)[1].reading, "why"),
    "withdraw": lambda log: log.withdraw(1, "why"),
    "doubt": lambda log: log.doubt(1, "why"),
    "clear_doubt": lambda log: log.clear_doubt(max(e.id for e in log.readings(NAME)), "why"),
    "add_walk": lambda log: log.add_walk(NAME, []),
    "take_away": lambda log: log.take_away(),
    "load": lambda log: log.load(log.dump(NAME).replace(NAME, "Another")),
}
READS = {
    "open",
    "trucks",
    "state",
    "truck_toml",
    "truck_versions",
    "readings",
    "saved_under",
    "history",
    "walk",
    "walk_saved_under",
    "backup",
    "dump",
    "only_read",
}


def test_every_method_of_the_log_is_known_to_read_or_to_write():
    assert {name for name in vars(Log) if not name.startswith("_")} == READS | set(WRITES)


@pytest.mark.parametrize("name", WRITES)
def test_a_viewers_log_refuses_every_write_and_an_owners_does_not(tmp_path, name):
    log = fill(str(tmp_path / "log.db"))
    log.doubt(2, "tape slipped")
    before = log.dump(NAME)
    with pytest.raises(LogError, match="looking only"):
        WRITES[name](log.only_read(LOOKING))
    assert (log.dump(NAME), log.trucks()) == (before, (NAME,))
    WRITES[name](log)


def callback(client, output, token):
    """A callback's body as a browser posts it, for `corners`: the first reading put in doubt."""
    why, id_ = {"type": "corners-why", "id": 1}, {"type": "corners-doubt", "id": 1}
    body = {
        "output": output,
        "outputs": [{"id": i, "property": "children"} for i in ("corners-said", "corners-body")],
        "inputs": [[{"id": id_, "property": "n_clicks", "value": 1}], []],
        "state": [
            [{"id": why, "property": "value", "value": "tape slipped"}],
            [{"id": why, "property": "id", "value": why}],
            {"id": "corners-store", "property": "data", "value": {"truck": NAME, "corner": "LF", "part": 1}},
        ],
        "changedPropIds": [f"{json.dumps(id_, separators=(',', ':'), sort_keys=True)}.n_clicks"],
    }
    return client.post("/_dash-update-component", json=body, headers=token)


@pytest.mark.parametrize(("passphrase", "doubts"), [(VIEWERS, 0), (OWNERS, 1)])
def test_over_http_a_viewers_save_is_refused_in_a_sentence_and_an_owners_is_done(
    client, tmp_path, passphrase, doubts
):
    enter(client, passphrase)
    wired = client.get("/_dash-dependencies").get_json()
    output = next(d["output"] for d in wired if "corners-body" in d["output"])
    answer = callback(client, output, page_token(client))
    assert answer.status_code == 200
    assert ("You are looking only" in answer.text) == (doubts == 0)
    logged = Log.open(tmp_path / "log.db").readings(NAME)
    assert sum(bool(entry.reading.doubt) for entry in logged) == doubts


def test_a_viewer_sees_every_page_and_that_it_is_for_looking(app, client):
    enter(client, VIEWERS)
    assert "Looking only" in client.get("/_dash-layout").text
    owner = app.server.test_client()
    enter(owner)
    assert "Looking only" not in owner.get("/_dash-layout").text


def test_the_sources_own_log_writes_for_the_owner_after_a_viewer_looked(app):
    with app.server.test_request_context("/"):
        from flask import g

        source = app.server.config[KEY]
        g.role = VIEWER
        with pytest.raises(LogError, match="looking only"):
            source.log.doubt(1, "why")
        g.role = OWNER
        source.log.doubt(1, "why")


# ---------------------------------------------------------------- the file


def test_the_file_holds_hashes_by_a_memory_hard_function_and_no_passphrase(tmp_path):
    file = AccessFile(tmp_path / "access.json")
    file.set(OWNER, OWNERS)
    file.set(VIEWER, VIEWERS)
    kept = file.path.read_text()
    found = json.loads(kept)
    for role, passphrase in ((OWNER, OWNERS), (VIEWER, VIEWERS)):
        method, salt, _ = found[role].split("$")
        name, n, r, _ = method.split(":")
        assert name == "scrypt"
        assert 128 * int(n) * int(r) >= 16 * 2**20  # bytes a try needs (RFC 7914, section 2)
        assert len(salt) >= 16
        assert passphrase not in kept
        assert passphrase.encode().hex() not in kept
    assert len(bytes.fromhex(found["secret"])) >= 32


@pytest.mark.skipif(os.name != "posix", reason="file modes are POSIX")
def test_nobody_else_may_read_the_file_and_one_they_may_is_not_trusted(access, tmp_path):
    fresh = AccessFile(tmp_path / "fresh.json")
    old = os.umask(0)
    try:
        fresh.set(OWNER, OWNERS)
    finally:
        os.umask(old)
    assert stat.S_IMODE(fresh.path.stat().st_mode) == 0o600
    assert list(tmp_path.glob("*.part")) == []
    access.path.chmod(0o640)
    with pytest.raises(InputError, match=r"others on this machine may read it.*chmod 600"):
        AccessFile(access.path).read()


@pytest.mark.parametrize(
    "text",
    ["", "{}", "[1]", '{"owner": "x"}', "\x00", '{"owner": 1, "viewer": 2, "secret": 3, "edition": 4}'],
)
def test_a_damaged_file_is_said_to_be_and_lets_nobody_in(access, text):
    access.path.write_text(text)
    with pytest.raises(InputError, match=r"is damaged.*tuning passphrase"):
        access.read()


@pytest.mark.parametrize(
    "text", ["", "short", "x" * (SHORTEST - 1), "   padded    ", "x" * 201, "line\nbreak in it"]
)
def test_a_passphrase_out_of_bounds_is_refused_and_nothing_changes(access, text):
    before = access.path.read_text()
    with pytest.raises(InputError, match=f"{SHORTEST} to 200"):
        access.set(OWNER, text)
    assert access.path.read_text() == before


def test_owner_and_viewer_never_share_one(access):
    with pytest.raises(InputError, match="same passphrase"):
        access.set(VIEWER, OWNERS)
    with pytest.raises(InputError, match="same passphrase"):
        access.set(OWNER, VIEWERS)


# ---------------------------------------------------------------- the command line


@pytest.fixture
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.setenv("TUNING_LOG", str(tmp_path / "log.db"))
    return tmp_path / "tuning" / "access.json"


def tuning(*words, typed=None):
    return CliRunner().invoke(main, words, input=typed)


def test_a_passphrase_is_set_from_the_terminal_unseen_and_typed_twice(home):
    done = tuning("passphrase", typed=f"{OWNERS}\n{OWNERS}\n")
    assert done.exit_code == 0, done.output
    assert OWNERS not in done.output
    assert AccessFile(home).read().role_of(OWNERS) == OWNER


def test_a_script_sets_both_from_standard_input(home):
    assert tuning("passphrase", "--from-stdin", typed=f"{OWNERS}\n").exit_code == 0
    assert tuning("passphrase", "--viewer", "--from-stdin", typed=f"{VIEWERS}\n").exit_code == 0
    now = AccessFile(home).read()
    assert (now.role_of(OWNERS), now.role_of(VIEWERS), now.role_of("x")) == (OWNER, VIEWER, None)


@pytest.mark.parametrize(
    ("words", "typed", "said"),
    [
        (["passphrase", "--from-stdin"], "short\n", "has 5 characters.*12 to 200"),
        (["passphrase", "--from-stdin"], "", "has 0 characters"),
        (
            ["passphrase", "--viewer", "--from-stdin"],
            f"{VIEWERS}\n",
            "no owner's passphrase.*tuning passphrase",
        ),
        (["serve", "--lan"], "", "no passphrase is set.*tuning passphrase"),
        (["serve", "--host", "0.0.0.0"], "", "without a passphrase.*--lan"),
        (["serve", "--host", "192.168.1.20"], "", "without a passphrase.*--lan"),
        (["serve", "--host", "::"], "", "without a passphrase.*--lan"),
    ],
)
def test_what_would_leave_the_door_open_is_refused_with_what_to_do(home, words, typed, said):
    refused = tuning(*words, typed=typed)
    assert refused.exit_code == 2, refused.output
    assert re.search(said, refused.stderr, re.S), refused.stderr
    assert not home.exists()


@pytest.mark.parametrize("host", ["0.0.0.0", "192.0.2.1", "*", ""])
def test_even_in_python_nothing_is_served_to_a_network_without_passphrases(tmp_path, host):
    with pytest.raises(ValueError, match="without a passphrase"):
        serve(tmp_path / "log.db", host=host)


@pytest.mark.parametrize(
    ("words", "host", "asks"),
    [
        ([], "127.0.0.1", False),
        (["--host", "localhost"], "localhost", False),
        (["--lan"], "*", True),
        (["--lan", "--host", "127.0.0.1"], "127.0.0.1", True),
    ],
)
def test_serve_listens_where_it_should(home, monkeypatch, words, host, asks):
    import waitress

    tuning("passphrase", "--from-stdin", typed=f"{OWNERS}\n")
    called = []
    monkeypatch.setattr(waitress, "serve", lambda app, **how: called.append((app, how)))
    done = tuning("serve", *words)
    assert done.exit_code == 0, done.output
    ((server, how),) = called
    assert how["host"] == host
    assert server.test_client().get("/_dash-layout").status_code == (401 if asks else 200)
