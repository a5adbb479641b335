"""How far long work has come, told between its parts. Whoever is told may raise StoppedError: the work ends there."""

from typing import Protocol


class StoppedError(Exception):
    """Somebody stopped the work; nothing was changed by it."""


class Tell(Protocol):
    """Is told what is being done, and how many parts of it."""

    def __call__(self, what: str, done: int, of: int) -> None:
        """what: in words, as `Going through 40,000 stacks`; done: parts behind it, of how many."""


def untold(what: str, done: int, of: int) -> None:
    """Nobody wants to know."""
