"""One thing looked at, and whether it is as it should be."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Check:
    """name: what was looked at. ok: None where it was not measured. value: SI, of `kind` as units.py names it, None
    where there is no figure. limit: what is allowed, in words, with where that comes from. mend: what would put it
    right, empty where nothing has to."""

    name: str
    ok: bool | None
    value: float | None
    kind: str
    limit: str
    mend: str = ""
