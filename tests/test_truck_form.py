"""The form of a truck without a browser: fields to file and back, against a plain TOML reader."""

import tomllib
import xml.etree.ElementTree as ET
from functools import cache
from itertools import pairwise

import pytest
from dash.development.base_component import Component
from hypothesis import given, settings
from hypothesis import strategies as st

from dashboard import truck_guide
from dashboard.app import create_app
from dashboard.truck_checks import new_faults
from dashboard.truck_drawings import drawing
from dashboard.truck_edited import ALL_FIELDS, APART, edit_faults, edited, shown
from dashboard.truck_form import answer
from dashboard.truck_live import cycle_picture, pairs, stack_of
from dashboard.truck_parts import COILOVER, FIELDS, FRICTION, OWN, ROWS, STEPS, apart_key, kind_key
from dashboard.truck_written import written
from sample_runs import NAMES, path
from tests.dashboard_truck import TOML
from tuning import trucktables
from tuning.truck import CORNERS, END_NAMES, END_OF
from tuning.truckfile import read_truck, truck_template
from tuning.units import parse, unit_in

SAMPLES = [path(name).joinpath("truck.toml").read_text("utf-8") for name in NAMES]
OWN_CORNERS = """
[corner.RF.shock]               # bent, and replaced
stroke = "15 in"
# found on the shelf
[[corner.LF.cycle]]
height = "16 in"                # left
shaft = "1 in"
[[corner.LF.cycle]]
height = "28 in"
shaft = "12 in"
[corner.LF.travel]
height_full_bump = "17 in"
[corner.RF.travel]
height_full_bump = "16 1/2 in"
"""
STACKED = """
[[stacks]]                      # on the shelf
name = "250 over 300"
ring_gap = "3 in"
upper = { rate = "250 lbf/in", free_length = "14 in", solid_length = "5.5 in" }
lower = { rate = "300 lbf/in", free_length = "16 in", solid_length = "6.4 in" }
# the van's
[[stacks]]
name = "soft"
[stacks.lower]
rate = "150 lbf/in"
[walk]
front = ["usual", "winch to tie rod"]   # the winch sits low
"""
HARD = (
    TOML.replace('stroke = "14 in"  ', "stroke='14 in'  ")
    + OWN_CORNERS
    + STACKED
    + '\n[practice]\nseated = "1/2 in"\ncrossover = [0.25, 1]\n'
)
INLINE = 'cycle = [{ height = "16 in", shaft = "1 in" }, { height = "29 in", shaft = "14 in" }]\n'
FILES = [TOML, HARD, *SAMPLES]
EACH = [  # of rows and stacks those that the files have
    f
    for f in ALL_FIELDS
    if f.kind != "places"
    and ("cycle" not in f.path or f.path[-2] < 3)
    and (f.path[0] != "stacks" or f.path[1] < 2)
]
UNITS = {  # what a bare figure means, written down here once more
    "length": ("in", "mm"),
    "load": ("lbf", "N"),
    "force": ("lbf", "N"),
    "rate": ("lbf/in", "N/mm"),
    "torsion": ("N*m/deg", "N*m/deg"),
    "pressure": ("psi", "bar"),
    "volume": ("in^3", "cm^3"),
    "angle": ("deg", "deg"),
    "frequency": ("Hz", "Hz"),
}


def in_tables(text, path_):
    """What a file says at a path, by a plain reader."""
    tables = tomllib.loads(text)
    for key in path_:
        tables = tables[key]
    return tables


def flat(tables, at=()):
    """Every value of a file by its path."""
    if isinstance(tables, dict) or (
        isinstance(tables, list) and any(isinstance(one, dict) for one in tables)
    ):
        items = tables.items() if isinstance(tables, dict) else enumerate(tables)
        return {key: value for name, held in items for key, value in flat(held, (*at, name)).items()}
    return {at: tables}


def comments(text):
    """Whole lines of comment."""
    return [line for line in text.split("\n") if line.lstrip().startswith("#")]


def text_of(tree):
    if isinstance(tree, (list, tuple)):
        return " ".join(text_of(part) for part in tree)
    if not isinstance(tree, Component):
        return "" if tree is None else str(tree)
    return " ".join(text_of(getattr(tree, name, None)) for name in ("label", "description", "children"))


def figures(typed, key):
    return " ".join(text_of(answer(typed, {}, [], [key])[3]).split())


# ---------------------------------------------------------------- a file shown and saved


@pytest.mark.parametrize("text", FILES)
def test_saving_an_unchanged_form_changes_nothing_byte_for_byte(text):
    assert edited(text, {}) == text
    assert edited(text, shown(text)) == text


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(FILES), st.sets(st.sampled_from([f.key for f in ALL_FIELDS])))
def test_saving_any_part_of_an_unchanged_form_changes_nothing_either(text, keys):
    typed = shown(text)
    assert edited(text, {key: f" {typed[key]} " for key in keys}) == text


def test_every_key_of_the_files_tables_has_a_field():
    own = {
        (): trucktables.TopTable,
        ("target",): trucktables.TargetTable,
        ("noise",): trucktables.NoiseTable,
        ("practice",): trucktables.PracticeTable,
        ("walk",): trucktables.WalkTable,
        ("stacks", 0, "upper"): trucktables.SpringTable,
        ("stacks", 0, "lower"): trucktables.SpringTable,
    }
    for end in END_NAMES:
        own |= {
            (end,): trucktables.EndTable,
            (end, "spring"): trucktables.LeafTable,
            (end, "shock"): trucktables.ShockTable,
            (end, "adjuster"): trucktables.AdjusterTable,
            (end, "travel", "bump_stop"): trucktables.BumpStopTable,
            (end, "stack", "upper"): trucktables.SpringTable,
            (end, "stack", "lower"): trucktables.SpringTable,
            **{(end, "cycle", row): trucktables.CycleRow for row in range(ROWS)},
        }
    known = {field.path for field in ALL_FIELDS} | {field.path[:-1] for field in ALL_FIELDS}
    for at, table in own.items():
        assert {(*at, key) for key in table.model_fields} <= known
    for end in END_NAMES:
        for part, table in (("travel", trucktables.TravelTable), ("stack", trucktables.StackTable)):
            assert {(end, part, key) for key in table.model_fields} <= known
    assert {("stacks", 0, key) for key in trucktables.StackTable.model_fields} <= known


@pytest.mark.parametrize("system", ["us", "metric"])
@pytest.mark.parametrize("field", [f for f in EACH if f.kind], ids=lambda f: f.key)
def test_a_figure_typed_bare_is_in_the_file_with_its_unit_and_shown_again(field, system):
    base = HARD if system == "us" else HARD.replace('units = "us"', 'units = "metric"')
    base = all_of_it(base)
    typed = {field.key: "3 1/2"}
    if field.path[0] == "corner":
        typed |= {apart_key(END_OF[field.path[1]], field.path[2]): "yes"}
    if "spring" in field.path:
        typed |= {kind_key(field.path[0]): "leaf"}
    new = edited(base, typed)
    unit = UNITS.get(field.kind)
    wanted = f"3 1/2 {unit[system == 'metric']}" if unit else 3.5
    assert shown(new)[field.key] == str(wanted)
    held = flat(tomllib.loads(new)).values()
    assert wanted in [one for value in held for one in (value if isinstance(value, list) else [value])]
    assert comments(new) == comments(base)


@cache
def all_of_it(text):
    """The file with coilovers at both ends, every corner having all parts for itself."""
    sides = {apart_key(end, part): "yes" for end in END_NAMES for part in OWN}
    return edited(text, both_coilovers(text) | sides)


def both_coilovers(text):
    """The rear made a coilover like the front, each side with all its parts, so that every field is of use."""
    typed, made = shown(text), {kind_key("rear"): "coilover"}
    for part in OWN:
        for key, value in typed.items():
            if key.startswith(f"front.{part}") and not key.endswith("-apart"):
                of_part = key.removeprefix("front.")
                made |= {f"{at}.{of_part}": value for at in ("rear", "corner.RR")}
    return made


@pytest.mark.parametrize("field", [f for f in FIELDS if "cycle" not in f.path], ids=lambda f: f.key)
@pytest.mark.parametrize("text", [TOML, SAMPLES[1]])
def test_a_change_of_one_field_changes_that_key_alone(field, text):
    part = field.path[1] if field.path[0] in END_NAMES else ""
    leaf = shown(text).get(kind_key(str(field.path[0]))) == "leaf"
    if (part in COILOVER and leaf) or (part == "spring" and not leaf):
        assert edited(text, {field.key: "7"}) == text  # the end has no such thing
        return
    new = edited(text, {field.key: field.choices[-1] if field.choices else "7"})
    before, after = flat(tomllib.loads(text)), flat(tomllib.loads(new))
    where = field.path[:-1] if isinstance(field.path[-1], int) else field.path
    assert {key for key in {*before, *after} if before.get(key) != after.get(key)} <= {where}
    assert comments(new) == comments(text)
    back = edited(new, {key: value for key, value in shown(text).items() if key == field.key})
    if shown(text)[field.key]:
        assert tomllib.loads(back) == tomllib.loads(text)


@pytest.mark.parametrize("field", [f for f in EACH if f.kind], ids=lambda f: f.key)
@pytest.mark.parametrize("rubbish", ["22,5", '"]\n[x'])
def test_rubbish_in_a_field_of_a_truck_that_is_there_is_a_fault_there(field, rubbish):
    typed = {field.key: rubbish}
    if field.path[0] == "corner":
        typed |= {apart_key(END_OF[field.path[1]], field.path[2]): "yes"}
    if "spring" in field.path:
        typed |= {kind_key(field.path[0]): "leaf"}
    if "bump_stop" in field.path:
        typed[field.key.replace(str(field.path[-1]), "kind")] = "soft"
    assert field.key in edit_faults(all_of_it(HARD), typed)[0]


@pytest.mark.parametrize("field", [f for f in FIELDS if f.usual], ids=lambda f: f.key)
def test_what_is_said_to_stand_for_an_empty_field_does(field):
    typed = typed_of(TOML) | {f.key: "" for f in FIELDS if f.path[0] in ("noise", "practice")}
    usual = read_truck(written(typed | {field.key: field.usual}))
    empty = read_truck(written(typed | {field.key: ""}))
    for part in ("noise", "practice", "target", "corners"):
        assert flat_of(getattr(usual, part)) == pytest.approx(flat_of(getattr(empty, part)), rel=1e-6)


def flat_of(value):
    """Numbers of a part of a truck."""
    held = (
        vars(value).values()
        if hasattr(value, "__dict__")
        else value.values()
        if isinstance(value, dict)
        else value
    )
    if isinstance(held, int | float | str) or held is None:
        return [held] if isinstance(held, int | float) else []
    return [number for one in held for number in flat_of(one)]


def test_friction_left_empty_is_what_a_file_without_it_has():
    bare = "\n".join(line for line in TOML.split("\n") if not line.startswith("friction"))
    built = read_truck(bare)
    assert [built.front.friction, built.rear.friction] == [
        parse(FRICTION[kind], "force") for kind in ("coilover", "leaf")
    ]


# ---------------------------------------------------------------- left and right


def apart(part, **more):
    return {apart_key("front", part): "yes"} | more


def test_both_sides_are_changed_together_where_they_are_alike():
    built = read_truck(edited(TOML, {"front.shock.stroke": "15"}))
    assert [built.corners[c].shock.stroke for c in ("LF", "RF")] == [parse("15 in", "length")] * 2


def test_a_right_shock_apart_is_a_whole_shock_of_its_own_and_the_left_stays():
    new = edited(TOML, apart("shock", **{"corner.RF.shock.stroke": "15"}))
    assert in_tables(new, ("corner", "RF", "shock")) == in_tables(TOML, ("front", "shock")) | {
        "stroke": "15 in"
    }
    built = read_truck(new)
    assert [round(built.corners[c].shock.stroke / 0.0254, 9) for c in ("LF", "RF")] == [14, 15]
    assert comments(new) == comments(TOML)


@pytest.mark.parametrize("part", OWN)
def test_sides_apart_and_alike_again_is_the_truck_it_was(part):
    there = edited(TOML, apart(part))
    assert part in in_tables(there, ("corner", "RF"))
    back = edited(there, {apart_key("front", part): ""})
    assert tomllib.loads(back) == tomllib.loads(TOML)
    assert comments(back) == comments(TOML)


def test_each_side_is_shown_from_where_it_stands():
    typed = shown(HARD)
    assert [typed[f"{at}.stroke"] for at in ("front.shock", "corner.RF.shock")] == ["14 in", "15 in"]
    assert typed["front.cycle[1].shaft"] == "1 in"  # the left has its own, the end's are the right's
    assert typed["corner.RF.cycle[1].shaft"] == "3/4 in"
    bumps = [typed[f"{at}.height_full_bump"] for at in ("front.travel", "corner.RF.travel")]
    assert bumps == ["17 in", "16 1/2 in"]
    assert [typed[apart_key("front", part)] for part in OWN] == ["yes", "", "", "yes", "yes"]


@pytest.mark.parametrize("part", ["shock", "cycle", "travel"])
def test_sides_that_were_apart_made_alike_are_both_as_the_left_is_shown(part):
    new = edited(HARD, {apart_key("front", part): ""})
    assert part not in tomllib.loads(new).get("corner", {}).get("LF", {})
    assert part not in tomllib.loads(new).get("corner", {}).get("RF", {})
    left = {key: text for key, text in shown(HARD).items() if key.startswith(f"front.{part}")}
    assert {key: text for key, text in shown(new).items() if key in left} == left | {
        apart_key("front", part): ""
    }
    assert set(comments(HARD)) == set(comments(new))


@pytest.mark.parametrize(
    ("key", "at"),
    [
        ("front.cycle[2].shaft", ("corner", "LF", "cycle", 1)),
        ("corner.RF.cycle[2].shaft", ("front", "cycle", 1)),
    ],
)
def test_a_side_is_changed_where_it_stands(key, at):
    before, after = (flat(tomllib.loads(text)) for text in (HARD, edited(HARD, {key: "11"})))
    assert {k: v for k, v in after.items() if before.get(k) != v} == {(*at, "shaft"): "11 in"}


# ---------------------------------------------------------------- other stacks, and places to look at


def stacks(text):
    return tomllib.loads(text).get("stacks", [])


@pytest.mark.parametrize("text", [TOML, HARD])
def test_another_stack_comes_after_those_that_are_there(text):
    n = len(stacks(text)) + 1
    typed = {
        f"stacks[{n}].name": "stiff",
        f"stacks[{n}].lower.rate": "400",
        f"stacks[{n}].lower.free_length": "15",
    }
    new = edited(text, typed)
    lower = {"rate": "400 lbf/in", "free_length": "15 in"}
    assert stacks(new) == [*stacks(text), {"name": "stiff", "lower": lower}]
    assert {**tomllib.loads(new), "stacks": 0} == {**tomllib.loads(text), "stacks": 0}
    assert "stiff" in read_truck(new).stacks


@pytest.mark.parametrize("gone", [1, 2])
def test_a_stack_left_empty_goes_and_the_others_stay_as_they_are(gone):
    typed = {key: "" for key in shown(HARD) if key.startswith(f"stacks[{gone}]")}
    new = edited(HARD, typed)
    assert stacks(new) == [stack for n, stack in enumerate(stacks(HARD), 1) if n != gone]
    assert comments(new) == comments(HARD)
    assert {**tomllib.loads(new), "stacks": 0} == {**tomllib.loads(HARD), "stacks": 0}
    other = 3 - gone
    found, others = edit_faults(HARD, typed | {f"stacks[{other}].lower.rate": "soft"})
    assert (set(found), others) == ({f"stacks[{other}].lower.rate"}, ())


def test_one_spring_of_a_stack_is_changed_and_its_upper_taken_off():
    uppers = {key: "" for key in shown(HARD) if key.startswith("stacks[1].upper")} | {
        "stacks[1].ring_gap": ""
    }
    (first, second) = stacks(edited(HARD, uppers | {"stacks[2].lower.rate": "155"}))
    assert set(first) == {"name", "lower"}
    assert second == {"name": "soft", "lower": {"rate": "155 lbf/in"}}


def test_two_stacks_of_one_name_are_told_of_at_the_name():
    found, _ = edit_faults(HARD, {"stacks[2].name": "250 over 300"})
    assert "stacks[2].name" in found


def test_places_of_the_cycle_walk_are_a_list_with_commas():
    assert shown(HARD)["walk.front"] == "usual, winch to tie rod"
    new = edited(
        HARD, {"walk.front": "usual,  winch to tie rod , lamp to fender", "walk.rear": "tow bar to axle"}
    )
    walk = in_tables(new, ("walk",))
    assert walk == {"front": ["usual", "winch to tie rod", "lamp to fender"], "rear": ["tow bar to axle"]}
    assert "# the winch sits low" in new
    assert read_truck(new).walk.rear == ("tow bar to axle",)
    assert "walk.rear" in edit_faults(HARD, {"walk.rear": "a/b"})[0]


# ---------------------------------------------------------------- coilovers and leaves


def test_a_leaf_becomes_a_coilover_and_a_leaf_again():
    typed = both_coilovers(TOML)
    there = edited(TOML, typed)
    built = read_truck(there)
    assert built.corners["LR"] == built.corners["LF"]
    assert "spring" not in in_tables(there, ("rear",))
    back = edited(
        there, {kind_key("rear"): "leaf", "rear.spring.rate": "310"} | {k: "" for k in typed if "travel" in k}
    )
    assert read_truck(back) == read_truck(TOML)
    assert comments(there) == comments(back) == comments(TOML)


def test_a_coilover_that_becomes_a_leaf_leaves_no_shock_behind_at_a_corner():
    built = read_truck(edited(HARD, {kind_key("front"): "leaf", "front.spring.rate": "300"}))
    assert {built.corners[c].shock for c in CORNERS} == {None}


# ---------------------------------------------------------------- the cycle table

COMMENTED = TOML.replace('shaft = "7 3/8 in"', 'shaft = "7 3/8 in"   # read twice').replace(
    'shaft = "14 in"\n', 'shaft = "14 in"      # the strap off\n'
)


@pytest.mark.parametrize("row", [1, 2, 3])
def test_a_row_taken_out_goes_with_its_note_and_the_others_keep_theirs(row):
    gone = {f"front.cycle[{row}].{key}": "" for key in ("height", "shaft")}
    new = edited(COMMENTED, gone)
    rows = in_tables(COMMENTED, ("front", "cycle"))
    assert in_tables(new, ("front", "cycle")) == rows[: row - 1] + rows[row:]
    notes = ["read twice", "the strap off"]
    assert [note for note in notes if note in new] == [
        n for n, of in zip(notes, (2, 3), strict=True) if of != row
    ]
    assert comments(new) == comments(COMMENTED)
    assert {**tomllib.loads(new), "front": 0} == {**tomllib.loads(COMMENTED), "front": 0}


_CELL = st.sampled_from(["", "16", "18 1/4", "20", "500 mm", "23", "rubbish"])


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(
        [
            COMMENTED,
            TOML.replace(TOML[TOML.index("[[front.cycle]]") : TOML.index("[front.travel]")], "").replace(
                "[front]", f"[front]\n{INLINE}", 1
            ),
        ]
    ),
    st.dictionaries(st.integers(1, ROWS), st.tuples(_CELL, _CELL), max_size=6),
)
def test_rows_come_go_and_change_in_any_way_and_nothing_else_does(text, typed):
    new = edited(
        text,
        {
            f"front.cycle[{r}].{k}": c
            for r, row in typed.items()
            for k, c in zip(("height", "shaft"), row, strict=True)
        },
    )
    before = in_tables(text, ("front", "cycle"))
    unit = lambda t: t if not t or " mm" in t or t == "rubbish" else f"{t} in"  # noqa: E731
    rows = {r: dict(zip(("height", "shaft"), map(unit, row), strict=True)) for r, row in typed.items()}
    wanted = [rows.get(r, old) for r, old in enumerate(before, 1)] + [
        rows[r] for r in sorted(rows) if r > len(before)
    ]
    wanted = [{key: cell for key, cell in row.items() if cell} for row in wanted]
    tables = tomllib.loads(new)
    assert tables["front"].pop("cycle", []) == [row for row in wanted if row]
    old = tomllib.loads(text)
    del old["front"]["cycle"]
    assert tables == old
    assert comments(new) == comments(text)


@pytest.mark.parametrize(
    ("typed", "at", "words"),
    [
        ({"front.cycle[5].height": "20"}, "front.cycle[5].shaft", "Not filled in yet"),
        ({"front.cycle[5].shaft": "4"}, "front.cycle[5].height", "Not filled in yet"),
        (
            {"front.cycle[5].height": "22.5", "front.cycle[5].shaft": "5"},
            "front.cycle[2].height",
            "same height as row 5",
        ),
        (
            {"front.cycle[5].height": "24", "front.cycle[5].shaft": "5"},
            "front.cycle[5].shaft",
            "Less shaft shows than at row 2",
        ),
        ({"front.cycle[2].shaft": ""}, "front.cycle[2].shaft", "Not filled in yet"),
    ],
)
def test_a_row_half_filled_doubled_or_out_of_order_is_said_at_its_field(typed, at, words):
    for found, _ in (edit_faults(TOML, typed), new_faults(typed_of(TOML) | typed, strict=False)):
        assert words in found[at]


def test_a_row_lower_than_one_above_it_is_told_to_count_in_its_place():
    typed = typed_of(TOML) | {"front.cycle[4].height": "20", "front.cycle[4].shaft": "4 1/2"}
    assert new_faults(typed, strict=True) == ({}, ())
    keys = [f.key for f in FIELDS]
    notes = dict(zip(keys, answer(typed, {}, keys, [])[2], strict=True))
    assert [key for key in keys if "in its place" in (notes[key] or "")] == ["front.cycle[4].height"]


def test_motion_ratio_and_travel_follow_what_is_typed():
    typed = {"front.cycle[2].height": "20", "front.cycle[2].shaft": "4", "front.cycle[5].height": "30"}
    rows = next(group for group in STEPS[3].groups if group.rows).fields
    assert len(pairs(typed, rows)) == 1
    typed |= {"front.cycle[5].shaft": "9"}
    said = figures(typed, "front.cycle[1].height")
    for words in ("motion ratio 0.50", "Travel of the axle 10 in", "Shaft used 5 in", "Up and down not yet"):
        assert words in said
    said = figures(typed | {"target.LF": "23", "target.RF": "24"}, "front.cycle[1].height")
    assert "Up 3 1/2 in" in said  # from the mean of both sides
    assert "Down 6 1/2 in" in said
    ends = {"front.travel.height_full_bump": "21", "front.travel.height_strap": "29", "target.front": "24"}
    said = figures(typed | ends, "front.cycle[1].height")
    assert "Up 3 in" in said
    assert "Down 5 in" in said


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(0.03, 2.0), st.floats(0.0, 1.5)),
        min_size=2,
        max_size=ROWS,
        unique_by=lambda p: round(p[0], 3),
    )
)
def test_the_picture_is_sound_and_higher_is_higher_on_it(found):
    found = sorted(found)
    svg = ET.fromstring(getattr(cycle_picture(found, "us"), "data-svg"))
    dots = [float(dot.get("cy")) for dot in svg.iter() if dot.tag.endswith("circle")]
    assert len(dots) == len(found)
    assert all(above <= below for below, above in pairwise(dots))
    _, _, wide, tall = map(float, svg.get("viewBox").split())
    assert all(
        0 <= float(dot.get("cx")) <= wide and 0 <= y <= tall
        for dot, y in zip((d for d in svg.iter() if d.tag.endswith("circle")), dots, strict=True)
    )


# ---------------------------------------------------------------- drawings


@pytest.mark.parametrize("step", STEPS, ids=lambda s: s.title)
def test_every_step_has_a_drawing_that_says_what_it_shows_and_has_a_part_for_each_field_that_names_one(step):
    svg = ET.fromstring(getattr(drawing(step.drawing), "data-svg"))
    assert len(svg[0].text) > 40
    named = {name for part in svg.iter() for name in part.get("data-of", "").split()}
    assert {f.dim for group in step.groups for f in group.fields if f.dim} <= named


# ---------------------------------------------------------------- a new truck


def typed_of(text):
    return {key: value for key, value in shown(text).items() if not key.endswith("-apart")}


@pytest.mark.parametrize("text", [TOML, *SAMPLES])
def test_a_truck_typed_into_the_steps_is_that_truck(text):
    one, two = read_truck(text), read_truck(written(typed_of(text)))
    for what in (
        "name",
        "units",
        "wheelbase",
        "front",
        "rear",
        "corners",
        "target",
        "noise",
        "practice",
        "frame_twist_stiffness",
    ):
        assert getattr(two, what) == getattr(one, what)
    assert new_faults(typed_of(text), strict=True) == ({}, ())


def test_bare_figures_are_in_the_units_that_were_chosen():
    typed = typed_of(TOML)
    bare = {k: v.removesuffix(" in") if k != "units" else v for k, v in typed.items()}
    assert read_truck(written(bare)).corners == read_truck(TOML).corners
    assert read_truck(written(typed | {"units": "metric", "wheelbase": "3350"})).wheelbase == 3.35
    labels = dict(
        zip(
            [f.key for f in FIELDS],
            answer({"units": "metric"}, {}, [f.key for f in FIELDS], [])[1],
            strict=True,
        )
    )
    assert labels["wheelbase"] == f"Wheelbase ({unit_in('length', 'metric')})"


def test_what_common_practice_stands_for_is_marked_and_only_that():
    typed = typed_of(TOML) | {"front.friction": "", "rear.friction": "55"}
    marked = [line for line in written(typed).split("\n") if line.endswith("# common practice")]
    assert marked == ['friction = "25 lbf" # common practice']
    left_out = [line for line in written(typed).split("\n") if "Left out" in line]
    assert left_out == ["# Left out, so that common practice stands: [practice]."]


def test_one_end_of_a_pair_left_empty_is_common_practice():
    built = read_truck(written(typed_of(TOML) | {"practice.shaft_at_bump[2]": "1 1/2"}))
    assert built.practice.shaft_at_bump == (parse("1/2 in", "length"), parse("1 1/2 in", "length"))
    assert built.practice.seated == read_truck(TOML).practice.seated


def test_the_rear_as_the_front_is_as_the_front_and_its_faults_are_the_fronts():
    typed = typed_of(TOML) | {"rear-kind": "same"}
    built = read_truck(written(typed))
    assert built.corners["LR"] == built.corners["LF"]
    found, others = new_faults(typed | {"front.shock.stroke": "long"}, strict=True)
    assert (set(found), others) == ({"front.shock.stroke"}, ())
    own = typed | {"rear.travel.height_strap": "26"}
    assert read_truck(written(own)).corners["LR"].travel.height_strap == parse("26 in", "length")
    found, others = new_faults(own | {"rear.travel.height_strap": "high"}, strict=True)
    assert (set(found), others) == ({"rear.travel.height_strap"}, ())


def test_nothing_typed_is_no_fault_until_the_file_is_wanted():
    assert new_faults({}, strict=False) == ({}, ())
    found, _ = new_faults({"front-kind": "coilover", "rear-kind": "leaf"}, strict=True)
    wanted = {"name", "wheelbase", "front.track", "front.shock.stroke", "front.cycle[1].height", "rear.track"}
    assert wanted <= set(found)


@pytest.mark.parametrize("row", range(1, ROWS + 1))
def test_a_fault_of_a_cycle_row_is_said_at_the_row_it_was_typed_in(row):
    found, _ = new_faults(
        {f"front.cycle[{row}].height": "16", f"front.cycle[{row}].shaft": "22,5"}, strict=False
    )
    assert f"front.cycle[{row}].shaft" in found


@pytest.mark.parametrize("field", [f for f in EACH if f.kind and f in FIELDS], ids=lambda f: f.key)
@pytest.mark.parametrize("rubbish", ["1e9", "9" * 500, "-1000000"])
def test_rubbish_in_a_steps_field_is_a_fault_there(field, rubbish):
    end = field.path[0] if field.path[0] in END_NAMES else "front"
    base = typed_of(TOML) | {kind_key(end): "leaf" if field.path[1:2] == ("spring",) else "coilover"}
    if field.path[2:3] == ("bump_stop",):
        base |= {f"{field.path[0]}.travel.bump_stop.kind": "soft"}
    found, _ = new_faults(base | {field.key: rubbish}, strict=False)
    assert field.key in found


@pytest.mark.parametrize("text", [TOML, HARD, *SAMPLES])
def test_what_is_wrong_is_said_without_the_files_signs(text):
    found, _ = edit_faults(
        text, {f.key: "" for f in FIELDS if f.path[0] in (*END_NAMES, "wheelbase") and not f.choices}
    )
    assert len(found) > 8
    for words in found.values():
        assert not set(words) & set("[]{}=_"), words


def test_a_stacks_own_figures_appear_as_they_are_typed():
    at = "front.stack."
    typed = {f"{at}upper.rate": "200", f"{at}lower.rate": "300", f"{at}ring_gap": "3"}
    said = figures(typed, "front.stack.name")
    for figure in ("120 lbf/in", "300 lbf/in", "600 lbf"):  # 1 / (1/200 + 1/300); 200 x 3
        assert figure in said
    stack = next(group for group in STEPS[2].groups if group.part == "stack").fields
    assert stack_of(typed | {f"{at}lower.rate": "stiff"}, stack) is None
    right = {key.replace("front", "corner.RF", 1): text for key, text in typed.items()}
    assert "120 lbf/in" in figures(right, APART["stack", "front"][0].key)


def test_the_steps_put_a_file_in_the_box_or_say_at_which_step_it_fails(tmp_path):
    app = create_app(tmp_path / "log.db")
    typed = typed_of(truck_template())
    ids, kinds = [{"key": f.key} for f in FIELDS], [{"key": kind_key(end)} for end in END_NAMES]

    def put(given):
        with app.server.test_request_context("/"):
            return truck_guide.write(
                1, [given[one["key"]] for one in ids], ["coilover", "leaf"], [], ids, kinds, []
            )

    said, errors, text = put(typed)
    assert not any(errors)
    assert read_truck(text).corners == read_truck(truck_template()).corners
    said, errors, text = put(typed | {"front.track": ""})
    assert "2. Front axle, Track" in text_of(said)
    assert errors[ids.index({"key": "front.track"})]
    assert not isinstance(text, str)
