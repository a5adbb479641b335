"""How far a command is, on one line of the terminal, and Ctrl-C heeded between two parts of its work."""

import signal
import sys
import time
from types import TracebackType

from ..progress import StoppedError

COUNTED = 200  # parts up to which they are counted; beyond they are a share
QUIET = 1.0  # s: what is over by then needs no line


class Line:
    """Is told how far work is, and while it is entered shows it on stderr: written over, wiped away at the end, and
    only where there is a terminal.

    The first Ctrl-C ends the work at its next word, never in the middle of a save; a second one ends it at once.
    """

    def __init__(self) -> None:
        """Nothing told yet."""
        self._shown, self._stopped, self._begun = "", False, 0.0
        self._before: signal.Handlers = signal.SIG_DFL

    def __enter__(self) -> "Line":
        """From now on."""
        self._begun = time.monotonic()
        self._before = signal.signal(signal.SIGINT, self._interrupted)  # type: ignore[assignment]
        return self

    def __call__(self, what: str, done: int, of: int) -> None:
        """As `tuning.progress.Tell`. Raises StoppedError after Ctrl-C."""
        if self._stopped:
            raise StoppedError
        if time.monotonic() - self._begun > QUIET:
            self._show(f"{what}: {done} of {of}" if of <= COUNTED else f"{what}: {100 * done // of} %")

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Leave the terminal as it was."""
        signal.signal(signal.SIGINT, self._before)
        if self._shown:
            self._show("")
            sys.stderr.write("\r")

    def _interrupted(self, *_: object) -> None:
        self._stopped = True
        self._show("Stopping")
        signal.signal(signal.SIGINT, signal.default_int_handler)

    def _show(self, text: str) -> None:
        if sys.stderr.isatty():
            sys.stderr.write(f"\r{text:{len(self._shown)}}")
            sys.stderr.flush()
            self._shown = text
