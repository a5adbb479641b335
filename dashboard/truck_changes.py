"""A truck file on its way into the log: checked, named, compared with what it was made from. Pure."""

import difflib
from dataclasses import dataclass

from tuning.faults import Fault, InputError
from tuning.tableedit import named
from tuning.truck import Truck
from tuning.truckfile import read_truck

AROUND = 1  # lines shown beside a changed one


@dataclass(frozen=True)
class Proposal:
    """text: a whole truck file. truck: as it reads, None where it has faults."""

    text: str
    truck: Truck | None
    faults: tuple[Fault, ...]
    changed: tuple[tuple[str, str], ...]  # sign (`+`, `-`, `@`, space) and line

    @property
    def ready(self) -> bool:
        """It can be saved, and saving it would change something."""
        return self.truck is not None and bool(self.changed)


def proposal(text: str, before: str = "", name: str = "") -> Proposal:
    """A truck file looked at. before: the text that it was made from; name: what the log calls the truck, both empty
    for a new truck."""
    text = tidy(text)
    try:
        truck = read_truck(text)
    except InputError as error:
        return Proposal(text, None, error.faults, changes(before, text))
    if name and truck.name not in (name, named(before)):
        line = next((i for i, said in enumerate(text.split("\n"), 1) if said.startswith("name")), None)
        mend = f'Write name = "{named(before)}". For another truck like this one, start a new truck from this file'
        fault = Fault("name", "the log knows this truck by its name, which stays", mend, truck.name, line)
        return Proposal(text, None, (fault,), changes(before, text))
    return Proposal(text, truck, (), changes(before, text))


def tidy(text: str) -> str:
    """Line ends of one kind and one at the end, whatever a browser made of them."""
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    return f"{text.rstrip()}\n" if text.strip() else ""


def changes(before: str, after: str) -> tuple[tuple[str, str], ...]:
    """Which lines go and come, with a line beside them; `@` says where in the later text."""
    old, new = tidy(before).split("\n"), tidy(after).split("\n")
    found: list[tuple[str, str]] = []
    for group in difflib.SequenceMatcher(None, old, new, autojunk=False).get_grouped_opcodes(AROUND):
        found.append(("@", f"line {group[0][3] + 1}"))
        for kind, i, j, k, end in group:
            if kind == "equal":
                found += [(" ", line) for line in old[i:j]]
            else:
                found += [("-", line) for line in old[i:j]] + [("+", line) for line in new[k:end]]
    return tuple(found)
