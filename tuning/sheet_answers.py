"""All that a set-up sheet is made from: one fit, the turns, the travel after them, and what was foretold. SI."""

from collections.abc import Sequence
from dataclasses import dataclass

from .adjust import Adjustment, adjust, predict
from .bench import AdjustError
from .faults import Fault, InputError, NoAnswerError
from .fit import Fit, fit
from .foretold import Foretold, foretell
from .readings import Run
from .travel import TravelAnswer, travel
from .truck import Truck
from .units import shown


@dataclass(frozen=True)
class SheetAnswers:
    """advice: the turns, none where `no_advice` says why there can be none. travel: after those turns.

    foretold: None where `not_foretold` says why.
    """

    fit: Fit
    advice: Adjustment
    no_advice: str
    travel: TravelAnswer
    foretold: Foretold | None
    not_foretold: str


def as_of(
    name: str | None, truck: Truck, runs: Sequence[Run], trucks: Sequence[Truck] | None = None
) -> tuple[Truck, tuple[Run, ...], tuple[Truck, ...] | None]:
    """Truck and runs as they were when the run called `name` was the latest; as they are where that is None.

    Raises InputError for a run that is not there.
    """
    known = None if trucks is None else tuple(trucks)
    if name is None or (runs and name == runs[-1].name):
        return truck, tuple(runs), known
    found = [i for i, run in enumerate(runs) if run.name == name]
    if not found:
        names = ", ".join(run.name for run in runs[-5:]) or "none yet"
        problem = f'"{shown(name)}" is no run of {truck.name}'
        raise InputError("", [Fault("run", problem, f"Its latest: {names}", found=name)])
    end = found[0] + 1
    return (
        truck if known is None else known[end - 1],
        tuple(runs[:end]),
        None if known is None else known[:end],
    )


def sheet_answers(
    truck: Truck,
    runs: Sequence[Run],
    trucks: Sequence[Truck] | None = None,
    fitted: Fit | None = None,
) -> SheetAnswers:
    """Every answer on the sheet of the latest run. fitted: the fit of just these, where it was made before.

    Raises FitError where the readings can't be fitted.
    """
    fitted = fitted or fit(truck, runs, trucks)
    no_advice = not_foretold = ""
    try:
        advice = adjust(fitted)
    except AdjustError as error:
        advice, no_advice = predict(fitted, {}), str(error)
    turns = {name: corner.turns for name, corner in advice.corners.items() if corner.turns}
    foretold: Foretold | None = None
    try:
        foretold = foretell(truck, runs, trucks)
    except NoAnswerError as error:
        not_foretold = str(error)
    return SheetAnswers(fitted, advice, no_advice, travel(fitted, turns), foretold, not_foretold)
