"""Every truck, way and method, on several processes, and begun again where it was left."""

from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict
from functools import cache
from pathlib import Path
from signal import SIG_IGN, SIGINT, signal
from typing import NamedTuple

import pandas as pd

from tuning.cli.progress import Line

from .cases import Case, draw_case
from .loop import METHODS, Outcome, play, play_knowing
from .terminal import append

WAYS = ("A", "B", "C")
KNOWING = "one who knows"


class Job(NamedTuple):
    """One truck set up by one method, read one way. mast: as in `real_truck` (m)."""

    seed: int
    mast: float
    truck: int
    way: str
    method: str


def run_study(
    trucks: int,
    seed: int,
    ways: Sequence[str] = WAYS,
    methods: Sequence[str] = tuple(METHODS),
    workers: int = 1,
    keep: str | None = None,
    mast: float = 0.0,
) -> pd.DataFrame:
    """A row per truck, way, method and adjustment: the fields of `Outcome`, seed and mast.

    keep: a CSV file. What it holds of this study is taken from it, what is new is added as it comes.
    """
    jobs = [Job(seed, mast, truck, way, m) for truck in range(trucks) for way in ways for m in methods]
    jobs += [Job(seed, mast, truck, "-", KNOWING) for truck in range(trucks)]
    tables, file = [], Path(keep) if keep else None
    if file and file.exists():
        kept = pd.read_csv(file)
        asked = pd.MultiIndex.from_frame(kept[list(Job._fields)]).isin(jobs)
        tables.append(kept[asked])
        done = set(kept[list(Job._fields)].itertuples(index=False, name=None))
        jobs = [job for job in jobs if job not in done]
    with Line() as line:
        for number, (job, outcomes) in enumerate(zip(jobs, _each(jobs, workers), strict=True)):
            line("Trucks, ways and methods", number, len(jobs))
            table = pd.DataFrame([{"seed": job.seed, "mast": job.mast, **asdict(o)} for o in outcomes])
            tables.append(table)
            if file:
                append(file, table)
    return pd.concat([t.astype(object) for t in tables], ignore_index=True).infer_objects()


def _each(jobs: list[Job], workers: int) -> Iterable[list[Outcome]]:
    if workers == 1:
        yield from map(_work, jobs)
        return
    # Ctrl-C reaches every process of a terminal: the helpers leave it to this one.
    with ProcessPoolExecutor(workers, initializer=signal, initargs=(SIGINT, SIG_IGN)) as pool:
        yield from pool.map(_work, jobs, chunksize=4)


def _work(job: Job) -> list[Outcome]:
    case = _case(job.truck, job.seed, job.mast)
    return [play_knowing(case)] if job.method == KNOWING else play(case, job.way, job.method, job.seed)


@cache
def _case(truck: int, seed: int, mast: float) -> Case:
    return draw_case(truck, seed, mast)
