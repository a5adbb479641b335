"""The loop closed for springs: python -m tests.study.springs --trucks 100 --seed 1 [--ways A,C] [--keep results.csv].

A truck whose first springs are so wrong at one end that no nut mends it is read once; springs are chosen, put on
with their preload and ring, judged, read again, adjusted once and judged again.

springs_stock   an invented catalogue, and all pairs of it tried by plain arithmetic
springs_cases   the trucks
springs_doers   who chooses: the tool, one without it, one who knows
springs_loop    what becomes of a choice
springs_report  the figures as tables
"""

import argparse
import os

os.environ.setdefault("OMP_NUM_THREADS", "1")  # small matrices: threads only get in each other's way

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

import pandas as pd

from tuning.cli.progress import Line

from .springs_cases import draw_case
from .springs_doers import DOERS
from .springs_loop import play
from .springs_report import as_markdown
from .terminal import append, until_stopped

WAYS = ("A", "C")


def run_study(trucks: int, seed: int, ways: Sequence[str] = WAYS, keep: str | None = None) -> pd.DataFrame:
    """A row per truck, way and doer: the fields of `Outcome`, and the seed.

    keep: a CSV file. Trucks it holds are taken from it, new ones are added as they come.
    """
    file = Path(keep) if keep else None
    kept = pd.read_csv(file, keep_default_na=True) if file and file.exists() else pd.DataFrame()
    tables = []
    with Line() as line:
        for number in range(trucks):
            line("Trucks", number, trucks)
            if len(kept):
                rows = kept[(kept.seed == seed) & (kept.truck == number) & kept.way.isin(list(ways))]
                if len(rows) == len(ways) * len(DOERS):
                    tables.append(rows)
                    continue
            case = draw_case(number, seed)
            outcomes = [asdict(play(case, way, doer, seed)) for way in ways for doer in DOERS]
            tables.append(pd.DataFrame([{"seed": seed, **o} for o in outcomes]))
            if file:
                append(file, tables[-1])
    return pd.concat([t.astype(object) for t in tables], ignore_index=True).infer_objects()


def main() -> None:
    """Run a study and print its tables."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.study.springs", description="The loop closed for springs, on simulated trucks."
    )
    parser.add_argument("--trucks", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--ways", default=",".join(WAYS), help="reading habits, of A, B and C")
    parser.add_argument(
        "--keep", help="CSV file: outcomes found there are not worked out again, new ones are added"
    )
    asked = parser.parse_args()
    print(as_markdown(run_study(asked.trucks, asked.seed, asked.ways.split(","), asked.keep)))


if __name__ == "__main__":
    until_stopped(main)
