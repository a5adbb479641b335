"""Invented trucks to try the tool on: a truck file, its readings and the story, one folder each.

Trucks, people and figures are made up; `make_samples` says how, `truths` holds the truth behind the readings. So is
springs.csv, a catalogue for trucks like these: nobody sells such springs, and `make_springs` says how they were wound.
"""

from importlib.resources import files
from pathlib import Path

NAMES = ("night_shift", "market_van", "hill_pony", "water_wagon")


def path(name: str) -> Path:
    """The folder of a sample, with truck.toml, readings.csv and STORY.md. Raises KeyError for any other."""
    if name not in NAMES:
        raise KeyError(f"no sample called {name}; there are {', '.join(NAMES)}")
    return Path(str(files(__package__) / name))


def springs_path() -> Path:
    """The invented catalogue of springs."""
    return Path(str(files(__package__) / "springs.csv"))
