"""Every truck, way and method, on several processes, and begun again where it was left."""

from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict
from functools import cache
from pathlib import Path

import pandas as pd

from .cases import Case, draw_case
from .loop import METHODS, Outcome, play, play_knowing

WAYS = ("A", "B", "C")
KNOWING = "one who knows"

Job = tuple[int, int, str, str]  # truck, seed, way, method


def run_study(
    trucks: int,
    seed: int,
    ways: Sequence[str] = WAYS,
    methods: Sequence[str] = tuple(METHODS),
    workers: int = 1,
    keep: str | None = None,
) -> pd.DataFrame:
    """A row per truck, way, method and adjustment: the fields of `Outcome`, and the seed.

    keep: a CSV file. What it holds of this study is taken from it, what is new is added as it comes.
    """
    jobs = [(truck, seed, way, m) for truck in range(trucks) for way in ways for m in methods]
    jobs += [(truck, seed, "-", KNOWING) for truck in range(trucks)]
    file = Path(keep) if keep else None
    known = pd.read_csv(file) if file and file.exists() else pd.DataFrame()
    done = (
        set(known[["truck", "seed", "way", "method"]].itertuples(index=False, name=None))
        if len(known)
        else set()
    )
    found = (
        [known[known.apply(lambda r: (r.truck, r.seed, r.way, r.method) in set(jobs), axis=1)]]
        if len(known)
        else []
    )
    fresh = [job for job in jobs if job not in done]
    for outcomes, job in zip(_each(fresh, workers), fresh, strict=True):
        table = pd.DataFrame([{"seed": job[1], **asdict(o)} for o in outcomes])
        found.append(table)
        if file:
            table.to_csv(file, mode="a", header=not file.exists(), index=False)
    return pd.concat([t.astype(object) for t in found], ignore_index=True).infer_objects()


def _each(jobs: list[Job], workers: int):
    if workers == 1:
        yield from map(_work, jobs)
        return
    with ProcessPoolExecutor(workers) as pool:
        yield from pool.map(_work, jobs, chunksize=4)


def _work(job: Job) -> list[Outcome]:
    truck, seed, way, method = job
    case = _case(truck, seed)
    return [play_knowing(case)] if method == KNOWING else play(case, way, method, seed)


@cache
def _case(truck: int, seed: int) -> Case:
    return draw_case(truck, seed)
