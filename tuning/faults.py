"""What is wrong with a file somebody wrote, said so that they can mend it: all at once, one line each."""

import difflib
from collections.abc import Iterable
from dataclasses import dataclass

_PRINTED = 50  # faults that a message lists; the rest stay in `faults`


@dataclass(frozen=True)
class Fault:
    """One fault. where: key path or column; problem: what was found, in words; mend: what to do about it.

    found: the offending text as it stood, empty where nothing stood there. line counts from one, None where
    no one line is to blame.
    """

    where: str
    problem: str
    mend: str = ""
    found: str = ""
    line: int | None = None

    def said(self, file: str = "") -> str:
        """One line: `truck.toml, line 7, front.track: "6 in" is … . Write … .`"""
        place = ", ".join(
            part for part in (file, f"line {self.line}" if self.line else "", self.where) if part
        )
        mend = self.mend if self.mend.endswith("?") or not self.mend else f"{self.mend}."
        return f"{place}: {self.problem}. {mend}".rstrip()


class NoAnswerError(Exception):
    """No answer is possible from what there is; the message says why and what to do."""


class InputError(ValueError):
    """A file that can't be used. `file` is its name, `faults` all that is wrong with it."""

    def __init__(self, file: str, faults: Iterable[Fault]) -> None:
        """The message has one line for each of the first fifty faults, and says how many more there are."""
        self.file, self.faults = file, tuple(faults)
        lines = [fault.said(file) for fault in self.faults[:_PRINTED]]
        if len(self.faults) > _PRINTED:
            lines.append(f"{file}: and {len(self.faults) - _PRINTED} more.")
        super().__init__("\n".join(lines))


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that `word` was probably meant to be; None where nothing is close."""
    if len(word) > 60:  # nobody's slip of the finger, and slow to compare
        return None
    by_lower = {name.lower(): name for name in known}
    close = difflib.get_close_matches(word.lower(), by_lower, n=1)
    return by_lower[close[0]] if close else None
