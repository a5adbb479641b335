"""Trying turns, ticking them off and going on to the next run, on a phone and on a laptop."""

import re
from urllib.parse import parse_qs, urlsplit

import numpy as np
import pytest
from playwright.sync_api import expect

from tests.dashboard_truck import IN
from tuning.adjust import adjust
from tuning.fit import fit
from tuning.log.shelf import open_truck
from tuning.units import parse

MOVES = 36  # of a slider, timed
LIMIT_MS = 100.0
SHARE = 4.0  # empty callbacks that a move may take, where the machine is busy with other things

# Times of a key going down and of the picture after it: the frame in which the changed text is drawn.
WATCH = """() => {
    window.timed = []; window.pressed = 0;
    document.addEventListener('keydown', () => { window.pressed = performance.now(); }, true);
    new MutationObserver(() => {
        const begun = window.pressed;
        if (begun) { window.pressed = 0; requestAnimationFrame(() => window.timed.push(performance.now() - begun)); }
    }).observe(document.querySelector('.stand.LF'), {subtree: true, childList: true, characterData: true});
}"""

# An empty callback's round trip: a question to the server that there is nothing to work out for, until its answer
# is here.
EMPTY = """async () => {
    const real = window.fetch;
    const answered = new Promise((done) => {
        window.fetch = (...request) => real(...request).then((answer) => {
            const read = answer.json.bind(answer);
            answer.json = () => read().finally(() => done(performance.now()));
            return answer;
        });
    });
    const begun = performance.now();
    window.dash_clientside.set_props('adjust-turned', {data: {turns: {}, at: String(begun)}});
    const ended = await answered;
    window.fetch = real;
    return ended - begun;
}"""


def ready(page, truck):
    page.goto(f"/adjust{truck.query}")
    expect(page.locator("#adjust-count .count")).to_have_count(2)
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    return page.get_by_role("slider", name="LF turns")


def fitted(truck):
    shelf = open_truck(truck.log, truck.name)
    return fit(shelf.truck, shelf.runs, shelf.trucks)


def test_a_moved_slider_is_drawn_within_a_tenth_of_a_second(page, truck, record_property):
    slider = ready(page, truck)
    slider.focus()
    slider.press("ArrowRight")
    page.wait_for_timeout(500)
    page.evaluate(WATCH)
    rounds, empty = [], []
    for _ in range(3):
        for move in range(MOVES):
            done = page.evaluate("timed.length")
            slider.press("ArrowRight" if move < MOVES / 2 else "ArrowLeft")
            page.wait_for_function("n => timed.length > n", arg=done, polling=20)
        rounds.append(page.evaluate("timed.splice(0)")[:MOVES])
        empty.append([page.evaluate(EMPTY) for _ in range(MOVES)])
    moved, idle = (np.median(times, axis=0) for times in (rounds, empty))
    figures = {
        "move to picture, median ms": np.median(moved),
        "move to picture, p95 ms": np.quantile(moved, 0.95),
        "empty callback, median ms": np.median(idle),
        "empty callback, p95 ms": np.quantile(idle, 0.95),
    }
    for name, value in figures.items():
        record_property(name, round(float(value)))
    print({name: round(float(value)) for name, value in figures.items()})
    slow = SHARE * figures["empty callback, p95 ms"]
    assert figures["move to picture, p95 ms"] <= max(LIMIT_MS, slow)


def test_turns_ticked_off_survive_a_reload_and_begin_the_next_run(page, truck):
    ready(page, truck)
    page.locator("#adjust-count .count").first.get_by_role("button", name=re.compile("^All ")).click()
    done = page.get_by_role("link", name="Done: I turned these")
    expect(done).to_be_visible()
    page.reload()
    expect(done).to_be_visible()
    done.click()
    page.wait_for_url(re.compile("/log"))
    begun = parse_qs(urlsplit(page.url).query)
    advised = adjust(fitted(truck)).corners["LF"]
    assert parse(begun["preload_LF"][0], "length", default_unit="in") == pytest.approx(
        advised.preload_after, abs=IN / 32
    )
    assert begun["note"][0].startswith("Turned LF ")
