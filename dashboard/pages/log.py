"""Log a run: four corners at once, as somebody walks round the truck."""

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any
from uuid import uuid4

import dash
import dash_mantine_components as dmc
from dash import ALL, MATCH, Input, Output, State, ctx, dcc, html

from dashboard.entry import Checked, Form, amount, check, doubts, latest_by_corner, next_run
from dashboard.pages.home import choose
from dashboard.shell import Component, address, fact, guarded, one, said, sentence, tabs
from dashboard.source import Question, source
from dashboard.words import CORNER_WORDS, SETTLED_WORDS, entry_length, listed, share
from tuning.adjust import AdjustError
from tuning.fit import FitError
from tuning.log.database import LogError
from tuning.log.shelf import Shelf
from tuning.readings import Reading
from tuning.statics import StaticsError
from tuning.truck import CORNERS, Truck
from tuning.units import from_unit, shop_length, shop_load, unit_in

WALK = ("LF", "RF", "RR", "LR")  # as one walks round; the page's grid puts them where they stand
NUDGE = {"us": (1 / 16, "in", "1/16 in"), "metric": (1.0, "mm", "1 mm")}
FIELDS = ("height", "load", "preload", "stack")

_MEASURE_WELL = [
    "Level floor, or the same marked spots every time; tyre pressures equal side to side and as always.",
    "Sway bar disconnected, the usual fuel and load aboard, nobody in the cab unless always.",
    "Roll the truck back and forth and bounce it before reading, so that it sits where it wants to.",
    "Read each height twice, from frame mark to axle mark; write what the tape says, to the sixteenth.",
    "Friction is the largest error. Bracket it: read all corners once let down gently from above, once let up "
    "gently from below, and log both under the same run name. Their middle is nearly free of friction.",
]
_CAUTION = (
    "Before turning a nut: weight off the springs and the frame on stands, never on a jack alone. Springs under load "
    "let go hard. Lock the nuts again before the truck goes down."
)


# ---------------------------------------------------------------- layout


@guarded
def layout(truck: Any = None, run: Any = None, **_: object) -> Component:
    """The form for a truck. run: go on with a run, for a repeat of it."""
    name = one(truck)
    if name is None:
        return html.Div([choose("log"), html.Div(_parts([], {}, "", ""), hidden=True)])
    question = source().question(name)
    advised = {} if one(run) else _advised(question)
    fields = form(name, question.shelf, one(run), datetime.now(), advised)
    return html.Div([tabs(name, "log"), html.H1("Log a run"), *fields])


def _advised(question: Question) -> dict[str, float]:
    """Preload each nut should have been turned to (m), where there is advice."""
    try:
        corners = question.advice.corners
    except (FitError, AdjustError, StaticsError):
        return {}
    return {c: a.preload_after for c, a in corners.items() if a.preload_after is not None and a.turns}


def form(
    name: str, shelf: Shelf, run: str | None, now: datetime, advised: Mapping[str, float] | None = None
) -> list[Component]:
    """The form and the help beside it. advised: preload each nut was advised to be turned to (m). Pure."""
    last = latest_by_corner(shelf)
    run = run or next_run(shelf.runs)
    shown = f"{now:%Y-%m-%d %H:%M}"
    store = {"truck": name, "key": str(uuid4()), "shown": shown, "opened": now.isoformat(timespec="seconds")}
    corners = [_corner(corner, shelf, last.get(corner), (advised or {}).get(corner)) for corner in WALK]
    before = f"Last was {shelf.runs[-1].name}." if shelf.runs else "The first of this truck."
    return [_help(not shelf.runs), *_parts(corners, store, run, before)]


def _parts(corners: list[Component], store: dict[str, str], run: str, before: str) -> list[Component]:
    ways = [
        dmc.Radio(label=words.capitalize(), value=way or "rolled") for way, words in SETTLED_WORDS.items()
    ]
    top = html.Div(
        [
            dmc.TextInput(id="log-run", label="Run name", description=before, value=run, autoComplete="off"),
            dmc.TextInput(
                id="log-taken",
                label="When",
                description="yyyy-mm-dd hh:mm",
                value=store.get("shown", ""),
                autoComplete="off",
            ),
        ],
        className="pair",
    )
    return [
        dcc.Store(id="log-store", data=store),
        dcc.Store(id="log-strict", data=0),
        html.Div(
            [
                top,
                dmc.RadioGroup(
                    html.Div(ways, className="ways"),
                    id="log-settled",
                    label="How the truck came to rest",
                    value="rolled",
                ),
                html.P("As seen from above, the front at the top.", className="more"),
                html.Div(corners, className="above"),
                html.Div(id="log-sums", **{"aria-live": "polite"}),
                dmc.TextInput(
                    id="log-note", label="Note (optional)", value="", autoComplete="off", className="wide"
                ),
                dmc.Button("Save the run", id="log-save", size="md"),
            ],
            id="log-form",
        ),
        html.Div(id="log-answer", role="status"),
    ]


def _corner(corner: str, shelf: Shelf, last: Reading | None, advised: float | None) -> Component:
    truck, own = shelf.truck, shelf.truck.corners[corner]
    system = truck.units
    length, force = unit_in("length", system), unit_in("force", system)
    before = f"{last.run}: " if last else ""
    step = NUDGE[system][2]
    height = html.Div(
        [
            _field(
                "height",
                corner,
                f"Height ({length})",
                f"{before}{shop_length(last.height, system)}"
                if last and last.height is not None
                else "frame to axle mark",
            ),
            html.Div(
                [
                    _nudge("less", corner, "−", f"{corner} height less {step}"),
                    html.Span(step, className="more"),
                    _nudge("more", corner, "+", f"{corner} height more {step}"),
                ],
                className="nudge",
            ),
        ]
    )
    load = _field(
        "load",
        corner,
        f"Load ({force}), optional",
        f"{before}{shop_load(last.load, system)}"
        if last and last.load is not None
        else "what the scale reads",
    )
    parts = [html.H2([corner, html.Small(f" {CORNER_WORDS[corner]}")]), height, load]
    if own.adjuster is not None:
        known = last.preload if last else None
        text = entry_length(known, system) if known is not None else ""
        words = f"{before}{text} {length}" if text else "nut's travel from snug"
        if advised is not None:
            words += f". Turned as advised? Then {entry_length(advised, system)} {length}"
        parts.append(_field("preload", corner, f"Preload ({length})", words, text))
        if len(choices := _stacks(truck)) > 1:
            on = (last.stack if last else None) or own.stack.name
            parts.append(
                dmc.Select(
                    id=_id("stack", corner),
                    label=f"{corner} stack",
                    data=choices,
                    value=on,
                    allowDeselect=False,
                    comboboxProps={"withinPortal": True},
                )
            )
    return html.Section(parts, className=f"corner {corner}", **{"aria-label": CORNER_WORDS[corner]})


def _stacks(truck: Truck) -> list[str]:
    """Stacks that go on a corner with an adjuster."""
    fixed = {own.stack.name for own in truck.corners.values() if own.adjuster is None}
    return sorted(set(truck.stacks) - fixed)


def _field(name: str, corner: str, label: str, description: str, value: str = "") -> Component:
    return dmc.TextInput(
        id=_id(name, corner),
        label=[html.Span(f"{corner} ", className="unseen"), label],
        description=description,
        value=value,
        autoComplete="off",
    )


def _nudge(way: str, corner: str, sign: str, label: str) -> Component:
    return html.Button(sign, id=_id(way, corner), type="button", className="step", **{"aria-label": label})


def _id(what: str, corner: Any) -> dict[str, Any]:
    return {"type": f"log-{what}", "corner": corner}


def _help(unfold: bool) -> Component:
    lines = html.Ul([html.Li(line) for line in _MEASURE_WELL])
    fold = html.Details([html.Summary("How to measure well"), lines], open=unfold)
    return html.Div([fold, sentence(_CAUTION, "warn")])


# ---------------------------------------------------------------- pure parts


def sums(form: Form, shelf: Shelf) -> Component:
    """Total, front, left and cross-weight of the loads typed so far; what is typed at all four, once it is there."""
    loads = {c: amount(form.typed(c, "load"), "force", shelf.truck) for c in CORNERS}
    known = {c: v for c, v in loads.items() if v is not None}
    if not known:
        return html.P("No loads typed: cross-weight stays unknown.", className="more")
    total = sum(known.values())
    facts = [
        fact("Sum", shop_load(total, shelf.truck.units), "" if len(known) == 4 else f" of {', '.join(known)}")
    ]
    if len(known) == 4 and total > 0:
        facts += [
            fact("Cross-weight", share((known["RF"] + known["LR"]) / total), " RF and LR of all"),
            fact("Front", share((known["LF"] + known["RF"]) / total)),
            fact("Left", share((known["LF"] + known["LR"]) / total)),
        ]
    return html.Dl(facts, className="facts")


def nudged(text: str, ways: int, before: float | None, shelf: Shelf) -> str:
    """A height a step up or down; from the reading before where nothing is typed. Rubbish stays as it is."""
    size, unit, _ = NUDGE[shelf.truck.units]
    height = amount(text, "length", shelf.truck) if text.strip() else before
    if height is None:
        return text
    return entry_length(height + ways * from_unit(size, unit), shelf.truck.units)


def asked(questions: tuple[str, ...], ticked: set[str]) -> Component:
    """What to confirm before it is saved."""
    boxes = [
        dmc.Checkbox(id={"type": "log-tick", "key": key_of(q)}, label=q, checked=key_of(q) in ticked, mb="sm")
        for q in questions
    ]
    head = html.P(
        "Nothing is saved yet. Look again; tick what is so, or mend it above, then save.", className="strong"
    )
    return html.Div([head, *boxes], className="note warn")


def key_of(question: str) -> str:
    """A short name for a question, the same for the same words."""
    return hashlib.sha256(question.encode()).hexdigest()[:16]


def saved(name: str, readings: tuple[Reading, ...]) -> Component:
    """What was saved and where to go on."""
    run = readings[0].run
    doubtful = [r.corner for r in readings if r.doubt]
    text = f"Run {run} is saved: {', '.join(r.corner for r in readings)}."
    if doubtful:
        text += f" {', '.join(doubtful)} as doubtful: in the log, out of the fit."
    links = [
        ("See what to turn", address("adjust", truck=name)),
        ("See the fit", address("corners", truck=name)),
        (f"Read again in {run}", address("log", truck=name, run=run)),
        ("Log the next run", address("log", truck=name)),
    ]
    return html.Div(
        [sentence(text, "good"), html.P([dcc.Link(t, href=to, className="go") for t, to in links])]
    )


def faults_said(checked: Checked) -> Component:
    """Which fields need a look, and what belongs to no field."""
    named = {"run": "run name", "taken_at": "when"}
    fields = [f"{corner} {named.get(name, name)}".strip() for corner, name in checked.faults]
    homeless = [text for (_, name), text in checked.faults.items() if name not in (*FIELDS, *named)]
    return sentence("\n".join([f"Nothing is saved. Look at {listed(fields)}.", *homeless]), "bad")


# ---------------------------------------------------------------- callbacks


def _form(
    run: str, taken: str, settled: str, note: str, typed: dict[str, list[Any]], store: dict[str, str]
) -> Form:
    """The form from what Dash hands over. A time left as it stood is the moment the page was opened."""
    taken = store["opened"] if taken == store["shown"] else taken or ""
    corners: dict[str, dict[str, str]] = {}
    for name in FIELDS:
        for where, text in zip(typed[f"{name}_id"], typed[name], strict=True):
            corners.setdefault(where["corner"], {})[name] = str(text or "")
    return Form(
        str(run or ""), taken, settled if settled in ("above", "below") else "", str(note or ""), corners
    )


def look(
    run: str,
    taken: str,
    settled: str,
    note: str,
    typed: dict[str, list[Any]],
    strict: int,
    store: dict[str, str],
) -> tuple[Any, ...]:
    """Errors at their fields, and the sums. Until a save was tried, an empty field is no error."""
    shelf = source().question(store["truck"]).shelf
    form = _form(run, taken, settled, note, typed, store)
    faults = check(form, shelf).faults

    def error(corner: str, name: str, text: str) -> str | None:
        return faults.get((corner, name)) if strict or text.strip() else None

    by_field = [
        [
            error(where["corner"], name, str(text or ""))
            for where, text in zip(typed[f"{name}_id"], typed[name], strict=True)
        ]
        for name in FIELDS
    ]
    return (*by_field, error("", "run", form.run), error("", "taken_at", form.taken_at), sums(form, shelf))


def save(
    _: Any,
    run: str,
    taken: str,
    settled: str,
    note: str,
    typed: dict[str, list[Any]],
    ticks: dict[str, list[Any]],
    store: dict[str, str],
) -> tuple[Component, int, bool]:
    """Save the form, or say what stands in the way. Returns the answer, whether to be strict, whether it is done."""
    shelf = source().question(store["truck"]).shelf
    form = _form(run, taken, settled, note, typed, store)
    checked = check(form, shelf)
    if checked.faults:
        return faults_said(checked), 1, False
    found = doubts(checked.readings, shelf)
    ticked = {where["key"] for where, on in zip(ticks["id"], ticks["on"], strict=True) if on}
    if any(key_of(question) not in ticked for question in found.questions):
        return asked(found.questions, ticked), 1, False
    readings = tuple(replace(r, doubt=found.doubted.get(i, "")) for i, r in enumerate(checked.readings))
    as_typed = [dict(form.corners[r.corner]) for r in readings]
    try:
        source().log.add_readings(store["truck"], readings, entry_key=store["key"], typed=as_typed)
    except LogError as error:
        return sentence(said(error)), 1, False
    return saved(store["truck"], readings), 0, True


def nudge(_less: Any, _more: Any, text: str, store: dict[str, str]) -> str:
    """A height a step up or down."""
    shelf = source().question(store["truck"]).shelf
    which = ctx.triggered_id
    before = latest_by_corner(shelf).get(which["corner"])
    return nudged(
        str(text or ""), 1 if which["type"] == "log-more" else -1, before.height if before else None, shelf
    )


def register(app: dash.Dash) -> None:
    """Put the page at its address and wire it."""
    dash.register_page("log", path="/log", title="Log a run", layout=layout)

    def typed(kind: type) -> dict[str, Any]:
        values = {name: kind(_id(name, ALL), "value") for name in FIELDS}
        return values | {f"{name}_id": State(_id(name, ALL), "id") for name in FIELDS}

    def whole(kind: type) -> dict[str, Any]:
        return {
            "run": kind("log-run", "value"),
            "taken": kind("log-taken", "value"),
            "settled": kind("log-settled", "value"),
            "note": kind("log-note", "value"),
            "typed": typed(kind),
        }

    app.callback(
        [
            *(Output(_id(name, ALL), "error") for name in FIELDS),
            Output("log-run", "error"),
            Output("log-taken", "error"),
            Output("log-sums", "children"),
        ],
        inputs=whole(Input) | {"strict": Input("log-strict", "data"), "store": State("log-store", "data")},
        prevent_initial_call=True,
    )(look)
    app.callback(
        Output("log-answer", "children"),
        Output("log-strict", "data"),
        Output("log-form", "hidden"),
        inputs={"_": Input("log-save", "n_clicks")}
        | whole(State)
        | {
            "ticks": {
                "id": State({"type": "log-tick", "key": ALL}, "id"),
                "on": State({"type": "log-tick", "key": ALL}, "checked"),
            },
            "store": State("log-store", "data"),
        },
        prevent_initial_call=True,
    )(save)
    app.callback(
        Output(_id("height", MATCH), "value"),
        Input(_id("less", MATCH), "n_clicks"),
        Input(_id("more", MATCH), "n_clicks"),
        State(_id("height", MATCH), "value"),
        State("log-store", "data"),
        prevent_initial_call=True,
    )(nudge)
