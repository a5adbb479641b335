"""What every study does at a terminal: one line of how far it is, and an end by Ctrl-C that loses nothing finished."""

import sys
from collections.abc import Callable
from pathlib import Path

import pandas as pd

from tuning.progress import StoppedError

INTERRUPTED = 130


def until_stopped(study: Callable[[], None]) -> None:
    """Run a study; Ctrl-C ends it with one line."""
    try:
        study()
    except (KeyboardInterrupt, StoppedError):
        print(
            "Stopped. A file that --keep was given is whole, and the same command goes on from it.",
            file=sys.stderr,
        )
        sys.exit(INTERRUPTED)


def append(file: Path, table: pd.DataFrame) -> None:
    """Add finished rows to a CSV file, all of them in one piece."""
    text = table.to_csv(header=not file.exists(), index=False)
    with file.open("a", encoding="utf-8", newline="") as out:
        out.write(text)
