"""A browser without a screen: what Dash's page asks the server, asked by hand and timed."""

import json
import re
import secrets
import time
from http.client import HTTPConnection
from http.cookies import SimpleCookie
from typing import Any
from urllib.parse import quote, urlencode, urlsplit

from tests.dashboard_truck import IN, LBF
from tuning.readings import Reading


class Visitor:
    """One person's browser. spent: (what, seconds) of everything asked."""

    def __init__(self, url: str, passphrase: str) -> None:
        """Log in and read what is wired to what."""
        self._link = HTTPConnection(urlsplit(url).netloc, timeout=60)
        self._cookies: SimpleCookie = SimpleCookie()
        self.spent: list[tuple[str, float]] = []
        token = re.search(r'name="csrf_token" value="([^"]+)"', self._ask("GET", "/login"))
        assert token
        form = urlencode({"csrf_token": token[1], "passphrase": passphrase})
        self._ask("POST", "/login", form, "application/x-www-form-urlencoded", expect=303)
        self._ask("GET", "/")
        wired = json.loads(self._ask("GET", "/_dash-dependencies"))
        self._outputs = [d["output"] for d in wired]

    def close(self) -> None:
        """Leave."""
        self._link.close()

    def page(self, what: str, path: str, **query: str) -> Any:
        """A page's components, as Dash asks for them at an address."""
        place = [("pathname", path), ("search", "?" + urlencode(query, quote_via=quote))]
        return self._call(
            what,
            "_pages_content",
            [("_pages_content", "children"), ("_pages_store", "data")],
            [{"id": "_pages_location", "property": name, "value": value} for name, value in place],
            [],
            "_pages_location.pathname",
        )

    def move(self, what: str, adjust: Any, turns: dict[str, float]) -> Any:
        """The sliders of an adjust page at these turns."""
        store = found(adjust, "adjust-store")
        asked = {"truck": store["truck"], "state": ",".join(map(str, store["state"]))}
        asked |= {c: str(turns[c]) for c in store["advised"] if c in turns}
        return json.loads(self._timed(what, "GET", f"/adjust/try?{urlencode(asked, quote_via=quote)}"))

    def run(self, what: str, log: Any, readings: list[Reading], route: str = "/api/runs") -> dict[str, Any]:
        """A run as the form of a log page sends it; a second time with everything asked confirmed."""
        store = found(log, "log-store")
        typed = {
            r.corner: {"height": f"{(r.height or 0) / IN:.4f}", "load": f"{(r.load or 0) / LBF:.0f}"}
            | ({"preload": f"{r.preload / IN:.4f}", "stack": r.stack} if r.preload is not None else {})
            for r in readings
        }
        body = {
            "key": secrets.token_hex(16),
            "log": store["log"],
            "truck": store["truck"],
            "run": readings[0].run,
            "taken_at": readings[0].taken_at.isoformat(),
            "settled": "",
            "note": "",
            "corners": typed,
        }
        said = json.loads(self._timed(what, "POST", route, json.dumps(body), expect=None))
        if said.get("asked"):
            body["confirmed"] = [one["key"] for one in said["asked"]]
            said = json.loads(self._timed(what, "POST", route, json.dumps(body), expect=None))
        return dict(said)

    def _call(
        self,
        what: str,
        output: str,
        outputs: list[Any],
        inputs: list[Any],
        state: list[Any],
        changed: str,
    ) -> Any:
        def named(part: Any) -> Any:
            return (
                [named(p) for p in part] if isinstance(part, list) else {"id": part[0], "property": part[1]}
            )

        body = {
            "output": next(name for name in self._outputs if output in name),
            "outputs": named(outputs),
            "inputs": inputs,
            "state": state,
            "changedPropIds": [changed],
        }
        return json.loads(self._timed(what, "POST", "/_dash-update-component", json.dumps(body)))

    def _timed(self, what: str, *request: Any, **how: Any) -> str:
        begun = time.perf_counter()
        text = self._ask(*request, **how)
        self.spent.append((what, time.perf_counter() - begun))
        return text

    def _ask(
        self,
        method: str,
        path: str,
        body: str | None = None,
        kind: str = "application/json",
        expect: int | None = 200,
    ) -> str:
        sent = {
            "Accept": "text/html",
            "Cookie": "; ".join(f"{k}={v.value}" for k, v in self._cookies.items()),
        }
        if body is not None:
            sent["Content-Type"] = kind
        if "_csrf_token" in self._cookies:
            sent["X-CSRFToken"] = self._cookies["_csrf_token"].value
        self._link.request(method, path, body, sent)
        answer = self._link.getresponse()
        text = answer.read().decode()
        for line in answer.headers.get_all("Set-Cookie") or []:
            self._cookies.load(line)
        if expect is not None and answer.status != expect:
            raise AssertionError(f"{method} {path}: {answer.status} {text[:300]}")
        return text


KINDS = {"out": "children", "words": "children", "slider": "attributes"}


def parts(tree: Any) -> Any:
    """Every component's properties in an answer of Dash."""
    if isinstance(tree, list):
        for one in tree:
            yield from parts(one)
    elif isinstance(tree, dict):
        if "props" in tree:
            yield tree["props"]
        for value in tree.values():
            if isinstance(value, dict | list):
                yield from parts(value)


def ids(tree: Any) -> list[dict[str, str]]:
    """Ids made of a kind and a corner, in the order of the page."""
    return [p["id"] for p in parts(tree) if isinstance(p.get("id"), dict) and "corner" in p["id"]]


def found(tree: Any, name: str) -> Any:
    """What a store on the page holds."""
    return next(p["data"] for p in parts(tree) if p.get("id") == name)
