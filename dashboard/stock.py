"""Lists of springs that browsers have sent, and the answers asked of them.

A browser keeps its own list and sends it once; from then on both call it by its hash. The server may forget: it says
so, and the browser sends the list again.
"""

import hashlib
from collections.abc import Hashable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from dashboard.jobs import Kept
from tuning.catalogue import Catalogue
from tuning.choices import EndAnswer, choose
from tuning.faults import Fault, NoAnswerError
from tuning.log.catalogue_file import CatalogueError, read_catalogue
from tuning.progress import Tell, untold
from tuning.spring_places import Wanted

if TYPE_CHECKING:
    from dashboard.source import Question

MOST_SPRINGS = 600  # a third of a million stacks: a second or two, and as many hundred megabytes
MOST_TEXT = 200_000  # characters; 600 springs need a tenth of it
KEPT_LISTS = 20
KEPT_ANSWERS = 4  # each holds every stack that was looked at


class ForgottenError(NoAnswerError):
    """The server has no list of this hash any more."""


@dataclass(frozen=True)
class Sought:
    """What is asked for an end. stock: hash of the list."""

    end: str
    stock: str
    wanted: Wanted
    alike: bool


class Stock:
    """What has been sent and what was answered, the latest of each. Safe to share between threads."""

    def __init__(self) -> None:
        """Nothing yet."""
        self._lists = Kept[str, Catalogue](KEPT_LISTS)
        self._answers = Kept[Hashable, EndAnswer](KEPT_ANSWERS)

    def take(self, text: str, name: str) -> tuple[str, Catalogue]:
        """A list as CSV: its hash and its springs. Raises CatalogueError with every fault."""
        if len(text) > MOST_TEXT:
            found = f"{len(text):,} characters, more than {MOST_TEXT:,}"
            raise CatalogueError(name, [Fault("", found, "Leave out springs that can't fit")])
        catalogue = read_catalogue(text, name)
        if len(catalogue) > MOST_SPRINGS:
            mend = f"Keep the {MOST_SPRINGS} that could fit, such as those of one inside diameter"
            raise CatalogueError(name, [Fault("", f"{len(catalogue)} springs", mend)])
        key = hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:24]
        return key, self._lists.put(key, catalogue)

    def catalogue(self, key: str) -> Catalogue:
        """The springs of a list. Raises ForgottenError."""
        found = self._lists.get(key)
        if found is None:
            raise ForgottenError("the list of springs has to be sent again: press “Use this list”")
        return found

    def known(self, question: "Question", sought: Sought) -> EndAnswer | None:
        """The answer for an end at this state of the log, where it has been worked out and is not forgotten."""
        return self._answers.get((question, sought))

    def answer(self, question: "Question", sought: Sought, tell: Tell = untold) -> EndAnswer:
        """The answer for an end, worked out once for each state of the log.

        Raises ForgottenError, and what `choose`, the fit and `tell` raise.
        """
        found = self.known(question, sought)
        if found is None:
            stock = self.catalogue(sought.stock)
            tell("Fitting the readings", 0, 1)
            (found,) = choose(question.fit, stock, (sought.end,), sought.wanted, sought.alike, tell=tell)
        return self._answers.put((question, sought), found)
