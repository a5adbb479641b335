"""A phone beside the truck, and what may be wrong with it."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from playwright.sync_api import Browser, BrowserContext, Locator, Page

from tests.browser.link import Link
from tests.browser.shop import SIZES

# A storage filled to the last letter, and one that a private window forbids.
FULL = """() => {
    for (let size = 1 << 20; size; size = Math.floor(size / 2)) {
        try { for (let i = 0; ; i++) { localStorage.setItem("filler-" + size + "-" + i, "x".repeat(size)); } } catch {}
    }
}"""
FORBIDDEN = """Object.defineProperty(window, "localStorage", {
    get() { throw new DOMException("no", "SecurityError"); }
});"""


@contextmanager
def a_phone(browser: Browser, link: Link, **more: Any) -> Iterator[BrowserContext]:
    """A phone whose pages come over a link. A lost link makes the browser speak, but no script of the page fails."""
    context = browser.new_context(
        **{"viewport": SIZES["phone"], "base_url": link.url, "has_touch": True} | more
    )
    context.set_default_timeout(20_000)
    faults: list[str] = []
    context.on("weberror", lambda error: faults.append(str(error.error)))
    yield context
    context.close()
    assert faults == []


def status(page: Page) -> Locator:
    """Where the page says what waits on this phone."""
    return page.locator("#outbox")


def try_again(page: Page) -> None:
    """As when the phone finds its network again, without waiting for the next try."""
    page.evaluate("window.dispatchEvent(new Event('online'))")
