"""Arrays, and dataclasses whose fields are arrays."""

from collections.abc import Sequence
from dataclasses import fields, is_dataclass
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Places = NDArray[np.intp]
Flags = NDArray[np.bool_]
T = TypeVar("T")


def stacked(items: Sequence[T]) -> T:
    """Dataclasses of arrays joined along a new first axis, field by field."""
    first: Any = items[0]
    if not is_dataclass(first):
        joined: Any = np.stack([np.asarray(item) for item in items])
        return joined  # type: ignore[no-any-return]
    kind: Any = type(first)
    return kind(**{f.name: stacked([getattr(item, f.name) for item in items]) for f in fields(first)})  # type: ignore[no-any-return]


def taken(item: T, places: Places, **changed: Array) -> T:
    """The rows `places` of every array in a dataclass, some fields replaced."""
    whole: Any = item
    if not is_dataclass(whole):
        return whole[places]  # type: ignore[no-any-return]
    kind: Any = type(whole)
    return kind(**{**{f.name: taken(getattr(whole, f.name), places) for f in fields(whole)}, **changed})  # type: ignore[no-any-return]
