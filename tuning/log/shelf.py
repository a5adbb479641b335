"""A truck taken off the shelf: its file as it is now, its runs, and the truck as it was at each of them."""

from dataclasses import dataclass
from functools import lru_cache

from tuning.log.store import Log
from tuning.readings import Run, runs_of
from tuning.truck import Truck
from tuning.truckfile import read_truck


@dataclass(frozen=True)
class Shelf:
    """truck: now. runs: effective readings, oldest first, doubtful ones marked. trucks: one for each run.

    reading_ids: place in the log of every reading in `runs`, by identity (`id`) of the reading.
    """

    truck: Truck
    runs: tuple[Run, ...]
    trucks: tuple[Truck, ...]
    reading_ids: dict[int, int]


@lru_cache(maxsize=256)
def _truck(toml: str, where: str) -> Truck:
    """A version read once: it never changes, and a log may hold many."""
    return read_truck(toml, where)


def open_truck(log: Log, name: str) -> Shelf:
    """Everything the answers need of one truck. Raises LogError for a truck that is not there."""
    parsed = {v.id: _truck(v.toml, f"{name} in the log") for v in log.truck_versions(name)}
    logged = log.readings(name)
    runs = runs_of(entry.reading for entry in logged)
    version = {id(entry.reading): entry.truck_version_id for entry in logged}
    trucks = tuple(parsed[version[id(run.readings[0])]] for run in runs)
    return Shelf(parsed[max(parsed)], runs, trucks, {id(entry.reading): entry.id for entry in logged})
