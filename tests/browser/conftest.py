"""One browser and one server for all tests, a new context and a new truck for each; its output where one fails."""

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlencode
from zlib import crc32

import pytest

from tests.browser.link import Link, link_to
from tests.browser.shop import CHROMIUM, FLAGS, SIZES, Served, served
from tests.dashboard_truck import fill
from tuning.log.store import Log


@pytest.fixture(scope="session")
def browser():
    """Debian's chromium. Where there is none the test is skipped, unless TUNING_CI is 1: then it fails."""
    reason = None
    try:
        from playwright.sync_api import expect, sync_playwright
    except ImportError:
        reason = "playwright is not installed"
    if reason is None and not Path(CHROMIUM).exists():
        reason = f"there is no browser at {CHROMIUM}"
    if reason:
        if os.environ.get("TUNING_CI") == "1":
            pytest.fail(f"{reason}, and TUNING_CI asks for it")
        pytest.skip(reason)
    expect.set_options(timeout=20_000)
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        yield browser
        browser.close()


def pytest_collection_modifyitems(config, items):
    """Each journey, and each walk by keys alone, at one size drawn by its name, or all of them would take a quarter of
    an hour; every page's look and access at both. With TUNING_SIZES=all everything at both."""
    if os.environ.get("TUNING_SIZES") == "all":
        return
    journeys: dict[str, list[Any]] = {}
    for item in items:
        size = item.callspec.params.get("page") if hasattr(item, "callspec") else None
        looked_at = item.path.stem == "test_access" and not item.originalname.startswith("test_keys_alone")
        if size in SIZES and item.path.parent == Path(__file__).parent and not looked_at:
            journeys.setdefault(item.nodeid.replace(size, ""), []).append(item)
    left_out = [
        item
        for name, sizes in journeys.items()
        for item in sizes
        if item is not sizes[crc32(name.encode()) % len(sizes)]
    ]
    config.hook.pytest_deselected(items=left_out)
    out = set(map(id, left_out))
    items[:] = [item for item in items if id(item) not in out]


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_makereport(item, call):
    outcome = yield
    site = item.funcargs.get("site") if hasattr(item, "funcargs") else None
    report = outcome.get_result()
    if site is not None and report.failed:
        report.sections.append(("dashboard's output", site.output.read_text()[-5000:]))


@pytest.fixture(scope="session")
def site(tmp_path_factory) -> Iterator[Served]:
    """One dashboard for all tests."""
    log = tmp_path_factory.mktemp("site") / "log.db"
    Log.open(log)
    with served(log) as running:
        yield running


@dataclass(frozen=True)
class Bench:
    """A truck of a test's own in the log. query: its part of an address."""

    name: str
    log: Log

    @property
    def query(self) -> str:
        return "?" + urlencode({"truck": self.name})

    @property
    def readings(self):
        return [entry.reading for entry in self.log.readings(self.name)]


@pytest.fixture
def truck(request, site) -> Bench:
    """Three runs of the invented truck, under a name that no other test has."""
    name = f"{request.path.stem} {request.node.name}".replace("test_", "")
    return Bench(name, fill(str(site.log), name=name))


@pytest.fixture
def console() -> list[str]:
    """What the browser's console said so far; a test that makes it speak clears it."""
    return []


@pytest.fixture(params=list(SIZES))
def page(request, browser, site, console):
    """A page at phone and at laptop size; afterwards its console is empty and nothing left the machine."""
    context = browser.new_context(viewport=SIZES[request.param], base_url=site.url)
    context.set_default_timeout(20_000)
    page = context.new_page()
    strangers = []
    page.on("console", lambda message: console.append(f"{message.type}: {message.text}"))
    page.on("pageerror", lambda error: console.append(str(error)))
    page.on(
        "request",
        lambda r: None if r.url.startswith((site.url, "data:", "blob:")) else strangers.append(r.url),
    )
    yield page
    context.close()
    assert strangers == []
    assert console == []


@pytest.fixture
def link(site) -> Iterator[Link]:
    """The air between a phone and the dashboard."""
    with link_to(site.url) as link:
        yield link


@pytest.fixture
def phone(browser, link):
    """A phone on that link."""
    from tests.browser.phone import a_phone

    with a_phone(browser, link) as context:
        yield context
