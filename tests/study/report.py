"""The figures of a study as Markdown tables."""

from collections import Counter
from collections.abc import Callable, Iterable
from math import isnan

import pandas as pd

WAY_NAMES = {
    "A": "one reading, rolled and bounced",
    "B": "four readings",
    "C": "one from above, one from below",
}
FAR_BEHIND = 3.0  # a truck this many times worse than the ceiling's 95th percentile is listed


def summary(results: pd.DataFrame) -> pd.DataFrame:
    """One row per way, adjustment and method: share inside, worst miss in tolerances, coverage of intervals."""
    rows = []
    played = results[results.way != "-"]
    for (way, adjustment, method), group in played.groupby(["way", "adjustment", "method"], sort=False):
        rows.append({"way": way, "adjustment": adjustment, "method": method, **_figures(group)})
    return pd.DataFrame(rows).sort_values(["way", "adjustment"], kind="stable", ignore_index=True)


def _figures(group: pd.DataFrame) -> dict[str, float]:
    said = group.heights_said.notna().any()
    return {
        "trucks": len(group),
        "inside": float((group.worst <= 1).mean()),
        "median": float(group.worst.median()),
        "p95": float(group.worst.quantile(0.95)),
        "max": float(group.worst.max()),
        "heights": group.heights_held.sum() / group.heights_said.sum() if said else float("nan"),
        "loads": group.loads_held.sum() / group.loads_said.sum() if said else float("nan"),
        "cross": group.cross_held.mean() if said else float("nan"),
        "chance": group.chance.mean() if said else float("nan"),
    }


def far_behind(results: pd.DataFrame) -> pd.DataFrame:
    """The tool's outcomes that are worse than three times the ceiling's 95th percentile, way by way."""
    found = []
    for _, group in results[results.way != "-"].groupby(["way", "adjustment"]):
        ceiling = group[group.method == "ceiling"].worst
        if len(ceiling):
            bar = FAR_BEHIND * ceiling.quantile(0.95)
            found.append(group[(group.method == "tool") & (group.worst > bar)])
    return pd.concat(found) if found else results.iloc[:0]


def as_markdown(results: pd.DataFrame) -> str:
    """All tables, ready for a page."""
    table = summary(results)
    lines = []
    for way, rows in table.groupby("way"):
        lines += [f"Way {way}: {WAY_NAMES[str(way)]}", "", *_table(rows.itertuples()), ""]
    knowing = results[results.way == "-"]
    if len(knowing):
        lines += [f"One who knows the truth: worst miss {knowing.worst.max():.2f} tolerances at most.", ""]
    wishes = Counter(knowing.wish)
    lines.append("Targets: " + ", ".join(f"{wish} {count}" for wish, count in wishes.most_common()))
    behind = far_behind(results)
    lines += ["", f"Further out than {FAR_BEHIND:g} × the ceiling's 95th percentile: {len(behind) or 'none'}"]
    for r in behind.itertuples():
        lines.append(f"- truck {r.truck} ({r.wish}), way {r.way}, adjustment {r.adjustment}: {r.worst:.2f}")
    return "\n".join(lines)


def _table(rows: Iterable[object]) -> list[str]:
    columns: dict[str, Callable[[object], str]] = {
        "after": lambda r: f"{r.adjustment}",
        "by": lambda r: r.method,
        "trucks": lambda r: f"{r.trucks}",
        "inside all": lambda r: f"{r.inside:.1%}",
        "said": lambda r: _share(r.chance),
        "median miss": lambda r: f"{r.median:.2f}",
        "95 %": lambda r: f"{r.p95:.2f}",
        "worst": lambda r: f"{r.max:.2f}",
        "heights held": lambda r: _share(r.heights),
        "loads held": lambda r: _share(r.loads),
        "cross held": lambda r: _share(r.cross),
    }
    head = "| " + " | ".join(columns) + " |"
    rule = "| " + " | ".join("---" for _ in columns) + " |"
    return [head, rule, *("| " + " | ".join(show(row) for show in columns.values()) + " |" for row in rows)]


def _share(value: float) -> str:
    return "" if isnan(value) else f"{value:.1%}"
