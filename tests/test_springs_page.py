"""The page for choosing springs without a browser: fields, the server's memory, words, picture, wiring."""

import json
import random
from dataclasses import replace
from types import SimpleNamespace
from urllib.parse import parse_qs

import numpy as np
import pytest
from dash.development.base_component import Component

from dashboard import stock as stock_module
from dashboard.app import create_app
from dashboard.pages import springs
from dashboard.source import Source
from dashboard.spring_answer import picture
from dashboard.spring_cards import EXAMPLES, examples, own_place, reasons, verdict, why_not
from dashboard.spring_figures import front, spring_figure, thinned
from dashboard.spring_form import FIELDS, Asked, asked_of, read_windows, sought_of
from dashboard.spring_table import choices
from dashboard.stock import KEPT_ANSWERS, KEPT_LISTS, MOST_SPRINGS, MOST_TEXT, ForgottenError, Sought, Stock
from sample_runs import springs_path
from tests.dashboard_truck import IN, NAME, TOML, fill, readings, truck
from tuning.choices import choose
from tuning.fit import fit
from tuning.log.catalogue_file import CatalogueError, read_catalogue
from tuning.readings import runs_of
from tuning.report.springs import stacks_toml
from tuning.spring_checks import why
from tuning.spring_places import Wanted
from tuning.springs import REASONS
from tuning.tableedit import MOST_BLOCK, with_stacks
from tuning.truck import CORNERS, SIDES

HEADER = "spring,rate [lbf/in],free_length [in],solid_length [in],inside_diameter [in]"
STOCK = springs_path().read_text("utf-8").splitlines()
LIST = "\n".join([STOCK[0], *STOCK[1::4]])
TALL = TOML.replace('LF = "24 1/2 in"', 'LF = "28 1/4 in"').replace('RF = "24 1/2 in"', 'RF = "28 1/4 in"')


@pytest.fixture(scope="module")
def fitted():
    return fit(truck(), runs_of(readings()))


@pytest.fixture(scope="module")
def answer(fitted):
    return choose(fitted, read_catalogue(LIST), ("front",))[0]


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    path = tmp_path_factory.mktemp("springs") / "log.db"
    fill(str(path))
    return path


@pytest.fixture
def app(place):
    return create_app(place)


def text_of(tree):
    if isinstance(tree, (list, tuple)):
        return " ".join(text_of(part) for part in tree)
    if not isinstance(tree, Component):
        return "" if tree is None else str(tree)
    return text_of(getattr(tree, "children", None))


# ---------------------------------------------------------------- fields


def test_empty_fields_mean_the_trucks_own_practice():
    windows, faults = read_windows(dict.fromkeys(FIELDS, " "), truck())
    assert (windows, faults) == ({"frequency": None, "crossover": None}, {})
    built = replace(truck(), practice=replace(truck().practice, ride_frequency=(1.7, 2.1)))
    assert sought_of(Asked(), "front", "x", built).wanted.frequency == (1.7, 2.1)


def test_windows_take_fractions_and_units():
    texts = dict(zip(FIELDS, ("1 1/4", "1.5 Hz", "18 1/2", "500 mm"), strict=True))
    windows, faults = read_windows(texts, truck())
    assert faults == {}
    assert windows["frequency"] == (1.25, 1.5)
    assert windows["crossover"] == pytest.approx((18.5 * IN, 0.5))


@pytest.mark.parametrize(
    ("field", "text", "said"),
    [
        ("frequency-least", "1,2", "is not a frequency"),
        ("frequency-least", "1 in", "is not a frequency"),
        ("frequency-least", "-1", "0.3 Hz to 5 Hz"),
        ("frequency-most", "1200", "0.3 Hz to 5 Hz"),
        ("frequency-most", "0.9", "not above"),
        ("frequency-most", "", "both ends"),
        ("crossover-least", "soft", "is not a length"),
        ("crossover-least", "20", "not above"),
        ("crossover-least", "", "both ends"),
        ("crossover-most", "9999", "in"),
        ("crossover-most", "9" * 5000, "characters long"),
    ],
)
def test_rubbish_is_said_at_one_field(field, text, said):
    good = dict(zip(FIELDS, ("1", "1.5", "18", "20"), strict=True))
    _, faults = read_windows(good | {field: text}, truck())
    told = field.replace("least", "most") if said == "not above" else field
    assert list(faults) == [told]
    assert said in faults[told]


def test_what_is_asked_survives_the_browsers_store():
    asked = Asked((1.0, 1.25), (0.4, 0.5), ring_moves=False, alike=False)
    assert asked_of(json.loads(json.dumps(asked.data))) == asked
    assert asked_of(json.loads(json.dumps(Asked().data))) == Asked()


# ---------------------------------------------------------------- the server's memory


class Asking:
    """A truck at one state of the log: each is another."""

    def __init__(self, fitted):
        self.fit = fitted


def sought(key, **more):
    return Sought(**({"end": "front", "stock": key, "wanted": Wanted((1.0, 1.5)), "alike": True} | more))


def test_a_list_is_called_by_its_text():
    shelf = Stock()
    key, found = shelf.take(LIST, "list")
    assert found == shelf.catalogue(key) == read_catalogue(LIST)
    assert shelf.take(LIST, "other name")[0] == key
    assert shelf.take(LIST + "\n", "list")[0] != key


def test_an_answer_is_worked_out_once_and_the_oldest_forgotten(fitted, monkeypatch):
    asked = []
    monkeypatch.setattr(stock_module, "choose", lambda *a, **more: asked.append(a) or choose(*a, **more))
    shelf, question = Stock(), Asking(fitted)
    key, _ = shelf.take(HEADER, "list")
    first = shelf.answer(question, sought(key))
    assert shelf.answer(question, sought(key)) is first
    assert len(asked) == 1
    for number in range(KEPT_ANSWERS):
        shelf.answer(question, sought(key, wanted=Wanted((1.0, 1.6 + number))))
    assert len(asked) == 1 + KEPT_ANSWERS
    assert shelf.answer(question, sought(key)) is not first
    assert shelf.answer(Asking(fitted), sought(key)) is not None  # another state of the log
    assert len(asked) == 3 + KEPT_ANSWERS


def test_a_list_that_was_pushed_out_is_asked_for_again(fitted):
    shelf = Stock()
    key, _ = shelf.take(LIST, "list")
    for number in range(KEPT_LISTS):
        shelf.take(f"{HEADER}\nS{number},200,12,4,2.5", "list")
    with pytest.raises(ForgottenError):
        shelf.answer(Asking(fitted), sought(key))


def test_what_is_too_much_to_search_is_refused_in_a_sentence():
    rows = "\n".join(f"S{i},200,12,4,2.5" for i in range(MOST_SPRINGS + 1))
    with pytest.raises(CatalogueError, match=f"{MOST_SPRINGS + 1} springs. Keep the {MOST_SPRINGS}"):
        Stock().take(f"{HEADER}\n{rows}", "list")
    assert len(Stock().take(f"{HEADER}\n{rows.rsplit(chr(10), 1)[0]}", "list")[1]) == MOST_SPRINGS
    with pytest.raises(CatalogueError, match="characters"):
        Stock().take("x" * (MOST_TEXT + 1), "list")


# ---------------------------------------------------------------- words


def test_the_verdict_names_the_best_and_that_what_is_on_would_do(fitted, answer):
    best, own = answer.choices[0], answer.searches[0]
    assert own.reason[own_place(own)] == -1  # the invented truck's own springs hold every limit
    said = text_of(verdict(answer, fitted, 70))
    assert best.changes
    assert said.startswith("Best for the front: ")
    assert all(spring.name in said for spring in best.springs["LF"] if spring)
    assert (
        f"What is on fits too, but less well by what is asked for: {why(fitted, own, own_place(own))}."
        in said
    )


def test_an_empty_list_is_answered_with_what_is_on(fitted):
    (only,) = choose(fitted, (), ("front",))
    said = text_of(verdict(only, fitted, 0))
    assert "The list is empty" in said
    assert "What is on the front can do it: no springs to buy" in said


def test_a_hopeless_list_says_what_would_have_to_give():
    high = fit(truck(TALL), runs_of(readings(toml=TALL)))
    (found,) = choose(high, read_catalogue(f"{HEADER}\nS1,60,6,2,2.5"), ("front",))
    assert found.choices == ()
    said = text_of(verdict(found, high, 1))
    assert said.startswith("Nothing on the list fits the front. Least bad is ")
    assert all(limit in said for limit in found.least_bad.gives)
    assert len(found.least_bad.gives) > 0


def test_a_window_that_no_stack_keeps_is_said(fitted):
    (found,) = choose(fitted, read_catalogue(LIST), ("front",), Wanted((4.0, 4.5)))
    said = text_of(verdict(found, fitted, 70))
    assert f"Its ride frequency is {found.choices[0].frequency:.2f} Hz, not 4.00 to 4.50 Hz" in said
    assert "No stack that fits keeps that" in said


def test_counts_by_reason_add_up_and_open_to_their_nearest_misses(fitted, answer):
    one, said = answer.searches[0], text_of(reasons(answer, fitted))
    assert f"{len(one.reason):,} stacks looked at, {len(one.order):,} fit." in said
    assert sum(answer.rejected.values()) + len(one.order) == len(one.reason)
    for reason, count in answer.rejected.items():
        assert f"{count:,}  {reason}" in said
        lines = examples(answer, fitted, reason)
        assert len(lines) == min(EXAMPLES, count)
        assert all(f": {reason}" in line for line in lines)
        column = REASONS.index(reason)
        mine = [at for at in range(len(one.reason)) if one.reason[at] == column]
        nearest = min(mine, key=lambda at: one.broken[at, column])
        assert lines[0] == why(fitted, one, nearest)


def test_why_not_answers_for_the_pair_that_was_named(fitted, answer):
    one = answer.searches[0]
    for at in random.Random(3).sample(range(len(one.reason)), 40):
        upper, lower = one.springs(at)
        said = text_of(why_not(answer, fitted, upper.name if upper else "", f" {lower.name} "))
        assert said == why(fitted, one, at)


@pytest.mark.parametrize(
    ("upper", "lower", "said"),
    [
        ("R150 L14 B300", "own front lower", "no spring that was looked at. Did you mean"),
        ("", "zz" * 400, "no spring that was looked at. Choose a name"),
        ("own front upper", "own front upper", "can't stand on itself"),
        ("own front upper", "", "Choose the lower spring"),
        ("", "", ""),
    ],
)
def test_why_not_says_what_it_can_not_look_up(fitted, answer, upper, lower, said):
    found = text_of(why_not(answer, fitted, upper, lower))
    assert said in found
    assert len(found) < 300


def test_a_row_holds_what_its_choice_says(fitted, answer):
    table = choices(answer, fitted.truck, NAME)
    bodies = [part for part in table._traverse() if type(part).__name__ == "Tbody"]
    assert len(bodies) == len(answer.choices)
    for body, choice in zip(bodies, answer.choices, strict=True):
        said = text_of(body)
        toml = next(text_of(part) for part in body._traverse() if type(part).__name__ == "Pre")
        assert toml == "\n".join(stacks_toml(choice, "us")[0])
        assert f"{choice.frequency:.2f} Hz" in said
        assert all(check.limit in said for check in choice.checks)
        for corner in SIDES["front"]:
            assert f"{choice.preload[corner] / IN:.2f} in" in said
            assert f"{choice.height_after[corner].low / IN:.2f} to " in said
        assert "Springs under load can kill" in said


def cells(choice_body):
    """Texts of a row by its heading."""
    return {
        getattr(part, "data-label"): text_of(part)
        for part in choice_body._traverse()
        if type(part).__name__ == "Td" and hasattr(part, "data-label")
    }


def rows_of(table):
    return [cells(part) for part in table._traverse() if type(part).__name__ == "Tbody"]


def side_of(text, low, high):
    """What a cell should say of its own figure; at an edge only the figure before rounding knows."""
    figure = float(text.split(" ")[0])
    if figure in (low, high):
        return "just" if "just" in text else ""
    return "" if low < figure < high else "under what was asked" if figure < low else "over what was asked"


@pytest.mark.parametrize(
    ("frequency", "crossover"),
    [((1.3, 1.4), (18.0, 18.5)), ((0.9, 1.0), (20.0, 21.0)), ((1.0, 2.5), (14.0, 22.0))],
)
def test_a_figure_outside_its_window_says_on_which_side_and_one_inside_says_nothing(
    fitted, frequency, crossover
):
    wanted = Wanted(frequency, (crossover[0] * IN, crossover[1] * IN))
    (found,) = choose(fitted, read_catalogue(LIST), ("front",), wanted, shown=40)
    rows = rows_of(choices(found, fitted.truck, NAME))
    assert len(rows) == 40
    for row, choice in zip(rows, found.choices, strict=True):
        for place, head, window in ((1, "Ride", frequency), (2, "Crossover", crossover)):
            if row[head] == "none":
                continue
            side = side_of(row[head], *window)
            assert side in row[head]
            assert ("what was asked" in row[head]) == bool(side) == (choice.distance[place] > 1e-9)


def test_a_stack_is_handed_to_the_trucks_page_as_that_page_takes_it(fitted, answer):
    table = choices(answer, fitted.truck, "Nightshift & Söhne")
    for_writers = [part for part in table._traverse() if getattr(part, "className", "") == "writes"]
    links = [part.children.href for part in for_writers]
    assert links == [part.href for part in table._traverse() if type(part).__name__ == "Link"]
    changed = [choice for choice in answer.choices if choice.changes]
    assert 0 < len(links) == len(changed)
    for link, choice in zip(links, changed, strict=True):
        path, _, query = link.partition("?")
        given = parse_qs(query)
        assert (path, given["truck"]) == ("/truck", ["Nightshift & Söhne"])
        (block,) = given["stack_toml"]
        assert len(block) <= MOST_BLOCK
        stack = choice.stacks["LF"]
        added = truck(with_stacks(TOML, block)).stacks[stack.name]
        assert added.lower.rate == pytest.approx(stack.lower.rate, rel=1e-4)
        assert added.lower.free_length == pytest.approx(stack.lower.free_length, rel=1e-4)


def test_loads_that_nobody_weighed_are_given_only_where_springs_tell_them():
    read = [replace(reading, load=None) for reading in readings()]
    unweighed = fit(truck(), runs_of(read))
    (found,) = choose(unweighed, (), ("front",))
    said = text_of(choices(found, unweighed.truck, NAME))
    known = [c for c, load in found.choices[0].load_after.items() if load is not None]
    assert set(known) == {c for c in CORNERS if unweighed.truck.corners[c].shock is not None}
    assert said.count("load unknown") == (4 - len(known)) * len(found.choices)
    assert "Cross-weight" not in said


# ---------------------------------------------------------------- the picture


def by_name(figure):
    return {trace.name: trace for trace in figure.data}


def test_a_dot_stands_at_its_preload_less_what_the_thread_allows_at_least(fitted, answer):
    one = answer.searches[0]
    traces = by_name(spring_figure(one, [], own_place(one), "us"))
    corner = fitted.truck.corners["LF"]
    drawn = traces["fits"]
    assert list(drawn.customdata) == list(one.order)
    for x, y, at in random.Random(5).sample(list(zip(drawn.x, drawn.y, drawn.customdata, strict=True)), 30):
        low, high = corner.preload_range(one.stack(at))
        assert x * IN == pytest.approx(one.outcome.preload[at].mean() - low, abs=1e-9)
        assert -1e-3 < x * IN < high - low + 1e-3
        assert y == one.outcome.frequency[at]
    assert list(traces["on it now"].customdata) == [own_place(one)]


def test_each_reason_that_can_be_seen_has_a_sign_of_its_own(answer):
    one = answer.searches[0]
    figure = spring_figure(one, [int(one.order[0])], None, "us")
    traces = by_name(figure)
    shown = [traces[reason] for reason in REASONS if reason in traces]
    assert len(shown) >= 4
    assert len({trace.marker.symbol for trace in shown}) == len(shown)
    for trace in shown:
        assert {REASONS[one.reason[at]] for at in trace.customdata} == {trace.name}
    assert list(traces["in the table"].customdata) == [one.order[0]]
    assert "on it now" not in traces


def test_limits_and_window_are_drawn_where_they_were_asked_for(fitted, answer):
    one = answer.searches[0]
    metric = spring_figure(one, [], None, "metric")
    lines = sorted(shape.x0 for shape in metric.layout.shapes if shape.x0 == shape.x1)
    adjuster = fitted.truck.corners["LF"].adjuster
    assert lines == pytest.approx([0.0, 1000 * (adjuster.preload_max - adjuster.preload_min)])
    band = next(shape for shape in metric.layout.shapes if shape.x0 != shape.x1)
    assert (band.y0, band.y1) == one.wanted.frequency


@pytest.mark.parametrize("seed", range(20))
def test_the_front_is_what_nothing_betters_in_both(seed):
    drawn = np.random.default_rng(seed)
    count = int(drawn.integers(1, 80))
    grid = 6 if seed % 2 else 1000  # some with many ties
    thread, frequency = drawn.integers(0, grid, count) / grid, drawn.integers(0, grid, count) / grid
    order = np.nonzero(drawn.random(count) < 0.8)[0]
    one = SimpleNamespace(
        order=order,
        distance=thread[:, None],
        outcome=SimpleNamespace(frequency=frequency),
        wanted=Wanted((0.3, 0.5)),
    )
    off = np.round(np.abs(frequency - 0.4), 9)
    mine = [i for i in order if not any(thread[j] < thread[i] and off[j] < off[i] for j in order)]
    assert sorted(front(one)) == mine


@pytest.mark.parametrize("count", [0, 1, 9, 10, 11, 57, 5000])
def test_thinned_dots_are_always_the_same_and_keep_both_ends(count):
    at = np.arange(count) * 3
    kept = thinned(at, 10)
    assert len(kept) == min(count, 10)
    assert len(set(kept)) == len(kept)
    assert set(kept) <= set(at)
    if count:
        assert (kept[0], kept[-1]) == (at[0], at[-1])
    assert list(thinned(at, 10)) == list(kept)


def test_names_can_not_write_into_the_picture(fitted):
    (found,) = choose(fitted, read_catalogue(f'{HEADER}\n"<b>x</b>",250,14,5,2.5'), ("front",))
    texts = [text for trace in spring_figure(found.searches[0], [], None, "us").data for text in trace.text]
    assert any("&lt;b&gt;x&lt;/b&gt;" in text for text in texts)
    assert not any("<b>" in text for text in texts)


def test_sides_that_may_differ_get_a_picture_each(fitted):
    (found,) = choose(fitted, read_catalogue(LIST), ("front",), None, False)
    parts = picture(found, "us")
    graphs = [part for part in parts if type(part).__name__ == "Graph"]
    assert [graph.id["place"] for graph in graphs] == [0, 1]
    assert [text_of(part) for part in parts if type(part).__name__ == "H3"] == ["LF", "RF"]


# ---------------------------------------------------------------- wiring, over HTTP

WHERE = {"truck": NAME, "end": "front"}
KEPT = {"type": "springs-kept", "truck": NAME}


def call(app, changed, target="", **values):
    """Ask a callback as a browser does: `changed` is what triggers it; values by id, all others empty."""
    wired = app.server.test_client().get("/_dash-dependencies").get_json()
    trigger, prop = changed.rsplit(".", 1)
    mark = "springs-graph" if trigger.startswith("{") else trigger
    (found,) = [
        d
        for d in wired
        if target in d["output"] and any(mark in i["id"] and i["property"] == prop for i in d["inputs"])
    ]

    def given(part):
        if part["id"].startswith("{"):
            id_ = KEPT if "kept" in part["id"] else {"type": "springs-graph", "place": 0}
            return [{"id": id_, "property": part["property"], "value": values.get(id_["type"])}]
        return {"id": part["id"], "property": part["property"], "value": values.get(part["id"])}

    outputs = []
    for part in [] if found["no_output"] else found["output"].strip(".").split("..."):
        id_, prop = part.rsplit(".", 1)
        outputs.append(
            [{"id": KEPT, "property": prop}] if id_.startswith("{") else {"id": id_, "property": prop}
        )
    body = {
        "output": found["output"],
        "outputs": outputs if found["output"].startswith("..") else (outputs or [None])[0],
        "inputs": [given(part) for part in found["inputs"]],
        "state": [given(part) for part in found["state"]],
        "changedPropIds": [changed],
    }
    reply = app.server.test_client().post("/_dash-update-component", json=body)
    assert reply.status_code in (200, 204)
    return reply.get_json() if reply.status_code == 200 else {}


def told(reply, id_):
    return json.dumps(reply["response"][id_])


def kept_in(reply):
    return reply["response"][json.dumps(KEPT, separators=(",", ":"), sort_keys=True)]["data"]


def taken(app, text=LIST):
    kept = kept_in(call(app, "springs-use.n_clicks", **{"springs-list": text, "springs-use": 1}))
    return kept, {"key": kept["key"], "count": kept["count"], "at": kept["at"]}


def ranked(app, stock, asked=None):
    """As a page does it: asked again until it is there."""
    values = {"springs-stock": stock, "springs-asked": asked or Asked().data, "springs-where": WHERE}
    for _ in range(200):
        reply = call(app, "springs-stock.data", "springs-verdict", **values, **{"springs-page": "mine"})
        if reply["response"].get("springs-job", {}).get("data") is None:
            return reply
    raise AssertionError("no answer came")


def test_a_pasted_list_is_kept_by_the_browser_and_answered_by_its_hash(app):
    kept, stock = taken(app)
    assert kept["text"] == LIST
    assert kept["count"] == len(read_catalogue(LIST))
    asked = call(app, "springs-ring-stays.checked", **{"springs-where": WHERE})["response"]["springs-asked"][
        "data"
    ]
    assert asked_of(asked) == Asked()
    reply = ranked(app, stock, asked)
    assert "Best for the front" in told(reply, "springs-verdict")
    assert reply["response"]["springs-drawn"]["data"] == {"stock": stock, "asked": asked}
    assert "own front upper" in reply["response"]["springs-upper"]["data"]
    assert reply["response"]["springs-why"]["hidden"] is False
    assert "springs-lost" not in reply["response"]


def test_a_touched_dot_puts_its_springs_where_why_not_asks_for_them(app):
    _, stock = taken(app)
    shop = app.server.config["TUNING_SOURCE"]
    question = shop.question(NAME)
    one = shop.stock.answer(question, sought_of(Asked(), "front", stock["key"], question.truck)).searches[0]
    for at in (5, 900):
        values = {"springs-drawn": {"stock": stock, "asked": Asked().data}, "springs-where": WHERE}
        clicked = {"springs-graph": {"points": [{"customdata": at}]}}
        picked = call(app, '{"place":0,"type":"springs-graph"}.clickData', **values, **clicked)["response"]
        upper, lower = one.springs(at)
        assert picked["springs-upper"]["value"] == (upper.name if upper else "")
        assert picked["springs-lower"]["value"] == lower.name


def test_an_answer_that_is_forgotten_is_asked_for_before_anybody_says_why(app):
    _, stock = taken(app)
    values = {"springs-drawn": {"stock": stock, "asked": Asked().data}, "springs-where": WHERE}
    typed = {"springs-lower": "own front lower"}
    reply = call(app, "springs-lower.value", "springs-line", **values, **typed)
    assert reply["response"]["springs-line"]["children"] == ""
    assert reply["sideUpdate"]["springs-go"]["data"] > 0
    ranked(app, stock)
    reply = call(app, "springs-lower.value", "springs-line", **values, **typed)
    assert "own front lower: " in told(reply, "springs-line")


def test_a_forgotten_list_is_asked_for_and_comes_back_from_the_browser(place, app):
    kept, stock = taken(app)
    restarted = create_app(place)
    assert ranked(restarted, stock)["response"] == {
        "springs-lost": {"data": stock},
        "springs-job": {"data": None},
    }
    reply = call(restarted, "springs-lost.data", **{"springs-lost": stock, "springs-kept": kept})
    again = reply["sideUpdate"]["springs-stock"]["data"]
    assert (again["key"], again["count"]) == (stock["key"], stock["count"])
    assert again["at"] != stock["at"]  # otherwise nothing would be asked
    assert "Best for the front" in told(ranked(restarted, again), "springs-verdict")


def test_no_callback_leads_back_to_itself(app):
    wired = app.server.test_client().get("/_dash-dependencies").get_json()
    after = {}
    for d in wired:
        for part in d["inputs"]:
            after.setdefault(f"{part['id']}.{part['property']}".replace('["ALL"]', "*"), []).append(
                d["output"]
            )

    def reached(output, seen):
        for part in output.strip(".").split("..."):
            for following in after.get(part.split("@")[0].replace('["ALL"]', "*"), []):
                if following not in seen:
                    seen.add(following)
                    reached(following, seen)
        return seen

    mine = [d["output"] for d in wired if "springs-" in d["output"] or "springs-" in json.dumps(d["inputs"])]
    assert len(mine) == 11
    assert all(output not in reached(output, set()) for output in mine)


def test_what_is_wrong_with_a_list_is_said_by_line_and_the_list_before_stays(app):
    kept, _ = taken(app)
    text = f"{HEADER}\nA,250,14,5,2.5\nB,soft,14,5,2.5\nA,300,12,13,2.5"
    values = {"springs-list": text, "springs-use": 2, "springs-kept": kept}
    reply = call(app, "springs-use.n_clicks", **values)
    assert not any("springs-kept" in id_ for id_ in reply["response"])
    said = told(reply, "springs-faults")
    assert "line 3, rate" in said
    assert "line 4, spring" in said
    assert "line 4, solid_length" in said
    assert "The list before stays in use" in said


def test_the_sample_says_that_it_is_invented(app):
    kept = kept_in(call(app, "springs-sample.n_clicks", **{"springs-sample": 1}))
    assert kept["count"] >= 120
    assert kept["name"] == "the invented stock"


def test_a_file_that_is_no_text_is_refused_and_one_that_is_gets_its_name(app):
    offer = {"name": "stock.xls", "fault": "is no plain text. Save the sheet as CSV (UTF-8)."}
    reply = call(app, "springs-offer.data", **{"springs-offer": offer})
    assert "stock.xls is no plain text" in told(reply, "springs-faults")
    offer = {"name": "shelf.csv", "text": f"{HEADER}\nA,250,14,5,2.5"}
    reply = call(app, "springs-offer.data", **{"springs-offer": offer})
    assert (kept_in(reply)["name"], kept_in(reply)["count"]) == ("shelf.csv", 1)
    assert reply["response"]["springs-list"]["value"] == offer["text"]


def test_rubbish_in_a_field_changes_nothing_else(app):
    values = {"springs-where": WHERE, "springs-frequency-least": "fast", "springs-frequency-most": "2"}
    reply = call(app, "springs-frequency-least.value", **values)["response"]
    assert "is not a frequency" in reply["springs-frequency-least"]["error"]
    assert reply["springs-frequency-most"]["error"] is None
    assert "springs-asked" not in reply


def test_without_a_list_the_page_asks_for_one(app):
    reply = ranked(app, None)
    assert "No list of springs yet" in told(reply, "springs-verdict")
    assert reply["response"]["springs-why"]["hidden"] is True


def test_an_end_without_coilovers_and_a_truck_without_runs_are_sentences(app, tmp_path):
    with app.server.test_request_context("/"):
        assert "The rear has no coilovers" in text_of(springs.layout(truck=NAME, end="rear"))
        assert "The roof has no coilovers" in text_of(springs.layout(truck=NAME, end="roof"))
    fill(str(tmp_path / "log.db"), count=0)
    bare = create_app(tmp_path / "log.db")
    _, stock = taken(bare)
    assert "ead all four corners" in told(ranked(bare, stock), "springs-verdict")


def test_a_truck_without_a_target_is_told_to_set_one(tmp_path):
    fill(str(tmp_path / "log.db"), toml=TOML[: TOML.index("[target]")])
    assert Source(str(tmp_path / "log.db")).question(NAME).truck.target.heights == {}
    app = create_app(tmp_path / "log.db")
    _, stock = taken(app)
    assert "write heights under [target]" in told(ranked(app, stock), "springs-verdict")
