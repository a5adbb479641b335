"""Load on the dashboard: `python -m tests.load [--clients 20] [--runs 2000] [--seconds 30]`. Prints a table.

The real server, in a process of its own and with a passphrase, on a log of many runs. A visitor
does what somebody in a shop does, with a second or so between one thing and the next: moves sliders, opens the page
of a corner, leaves a field of the log page; somebody saves a run now and then. Once alone, then all at once.
"""

import argparse
import random
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np

from dashboard.passphrases import OWNER, AccessFile
from tests.browser import shop
from tests.dashboard_truck import NAME, TOML, many_readings
from tests.visitor import Visitor
from tuning.log.store import Log
from tuning.readings import Reading
from tuning.truck import CORNERS

PASSPHRASE = "twenty people in a shop"
PAUSE = (0.5, 1.5)  # seconds between one thing and the next
SAVE_EVERY = 10.0  # seconds between two saves, whoever makes them
KINDS = {"slider": 12, "corner page": 2, "adjust page": 1, "log page": 1, "field left": 3}  # how often of 19

Spent = list[tuple[str, float]]


@contextmanager
def served(folder: Path, runs: int) -> Iterator[tuple[str, list[list[Reading]]]]:
    """A server on a log of that many runs: its address, and runs that are not in the log yet."""
    rows = many_readings(runs + 400)
    size = len(CORNERS)
    log = Log.open(folder / "log.db")
    log.save_truck(NAME, TOML)
    log.add_readings(NAME, rows[: runs * size])
    AccessFile(folder / "access.json").set(OWNER, PASSPHRASE)
    later = rows[runs * size :]
    with shop.served(folder / "log.db", folder / "access.json") as site:
        yield site.url, [later[i : i + size] for i in range(0, len(later), size)]


@contextmanager
def people(url: str, count: int) -> Iterator[list[Visitor]]:
    """Visitors who have logged in."""
    visitors = [Visitor(url, PASSPHRASE) for _ in range(count)]
    yield visitors
    for visitor in visitors:
        visitor.close()


def at_once(
    visitors: list[Visitor],
    seconds: float,
    new: list[list[Reading]],
    pause: tuple[float, float],
    every: float = SAVE_EVERY,
) -> Spent:
    """What everything took while all of them work. new: runs to save, taken off this list, one `every` so often."""
    faults: list[BaseException] = []
    for visitor in visitors:
        visitor.spent.clear()
    until, due = time.monotonic() + seconds, [time.monotonic() + every / 2]
    turn = threading.Lock()

    def work(number: int, visitor: Visitor) -> None:
        dice = random.Random(number)
        try:
            time.sleep(dice.uniform(0.0, 2 * pause[1]))  # nobody opens the door all at once
            adjust = visitor.page("adjust page", "/adjust", truck=NAME)
            log = visitor.page("log page", "/log", truck=NAME)
            while time.monotonic() < until:
                time.sleep(dice.uniform(*pause))
                what = dice.choices(list(KINDS), list(KINDS.values()))[0]
                with turn:
                    saves = time.monotonic() >= due[0]
                    if saves:
                        due[0] += every
                        run = new.pop(0)
                if saves:
                    said = visitor.run("save", log, run)
                    assert "saved" in said, said
                elif what == "slider":
                    visitor.move(what, adjust, {c: dice.randrange(-4, 5) / 4 for c in ("LF", "RF")})
                elif what == "corner page":
                    visitor.page(what, "/corners", truck=NAME, corner=dice.choice(CORNERS))
                elif what == "adjust page":
                    adjust = visitor.page(what, "/adjust", truck=NAME)
                elif what == "log page":
                    log = visitor.page(what, "/log", truck=NAME)
                else:
                    visitor.run(what, log, later(new[-1], number), "/api/check")
        except BaseException as error:
            faults.append(error)

    threads = [threading.Thread(target=work, args=pair) for pair in enumerate(visitors)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    if faults:
        raise faults[0]
    return [spent for visitor in visitors for spent in visitor.spent]


def later(run: list[Reading], number: int) -> list[Reading]:
    """A run of a visitor's own, not to be saved."""
    at = run[0].taken_at + timedelta(days=1, minutes=number)
    return [replace(r, run=f"v{number}", taken_at=at) for r in run]


def percentiles(spent: Spent, what: str | None = None) -> tuple[int, float, float, float]:
    """How many, and the middle one, the 95th of a hundred and the longest (s); NaN of none."""
    took = np.array([seconds for kind, seconds in spent if what in (None, kind)])
    if not len(took):
        return 0, np.nan, np.nan, np.nan
    return len(took), *(float(np.quantile(took, q)) for q in (0.5, 0.95, 1.0))


def table(alone: Spent, many: Spent, clients: int) -> str:
    """Milliseconds, a row for each thing done."""
    lines = [
        f"| ms | alone: median | 95 % | {clients} at once: median | 95 % | longest | asked |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    for what in (*KINDS, "save", None):
        _, *one = percentiles(alone, what)
        asked, *all_ = percentiles(many, what)
        figures = " | ".join("" if np.isnan(s) else f"{s * 1000:.0f}" for s in (*one[:2], *all_))
        lines.append(f"| {what or 'all together'} | {figures} | {asked} |")
    return "\n".join(lines)


def main() -> None:
    """Measure and print."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--clients", type=int, default=20)
    words.add_argument("--runs", type=int, default=2000)
    words.add_argument("--seconds", type=float, default=60.0)
    words.add_argument(
        "--no-pause", action="store_true", help="everybody asks again as soon as there is an answer"
    )
    words.add_argument("--save-every", type=float, default=SAVE_EVERY, help="seconds between two saves")
    asked = words.parse_args()
    pause = (0.0, 0.0) if asked.no_pause else PAUSE
    with (
        tempfile.TemporaryDirectory() as folder,
        served(Path(folder), asked.runs) as (url, new),
        people(url, asked.clients) as visitors,
    ):
        at_once(visitors[:1], 3.0, new, (0.0, 0.0), every=60.0)  # imports and the first fit
        alone = at_once(visitors[:1], asked.seconds, new, pause, asked.save_every)
        many = at_once(visitors, asked.seconds, new, pause, asked.save_every)
    print(
        f"{asked.clients} visitors, {asked.runs} runs, {asked.seconds:g} s each, pause {pause[0]:g} to {pause[1]:g} s,"
    )
    print(f"a run saved every {asked.save_every:g} s\n")
    print(table(alone, many, asked.clients))


if __name__ == "__main__":
    main()
