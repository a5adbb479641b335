"""python -m tests.study --trucks 200 --seed 1 [--ways A,C] [--no-ceiling] [--keep results.csv]."""

import argparse
import os

os.environ.setdefault("OMP_NUM_THREADS", "1")  # small matrices: threads only get in each other's way


def main() -> None:
    """Run a study and print its tables."""
    from . import run
    from .report import as_markdown

    parser = argparse.ArgumentParser(
        prog="python -m tests.study", description="The loop closed on simulated trucks."
    )
    parser.add_argument("--trucks", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--ways", default="A,B,C", help="reading habits, of A, B and C")
    parser.add_argument("--no-ceiling", action="store_true", help="leave out the slow one")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument(
        "--keep", help="CSV file: outcomes found there are not worked out again, new ones are added"
    )
    parser.add_argument(
        "--mast", type=float, default=0.0, help="m, centre of gravity above the frame's marks"
    )
    asked = parser.parse_args()
    methods = [m for m in run.METHODS if not (asked.no_ceiling and m == "ceiling")]
    results = run.run_study(
        asked.trucks, asked.seed, asked.ways.split(","), methods, asked.workers, asked.keep, asked.mast
    )
    print(as_markdown(results))


if __name__ == "__main__":
    from .terminal import until_stopped

    until_stopped(main)
