"""The cycle walk: what is asked for, what counts, what is missing, its cycle table, its files and its command."""

import json
import random
import re
import tomllib
from collections import Counter
from dataclasses import replace
from datetime import datetime

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

import sample_runs
from tuning.cli import main
from tuning.findings import ARTICULATED, LEVEL, LOOKED_AT, Finding, Measured, latest
from tuning.log.store import Log
from tuning.log.walk_file import read_walk, write_walk
from tuning.log.walk_intake import walk_of
from tuning.report.walk import check_list, walk_text
from tuning.truckedit import length_text, with_cycle, with_walk
from tuning.truckfile import TruckFileError, read_truck, truck_template
from tuning.units import parse
from tuning.walk import WalkError, cycle_table, in_truck, places, progress, stations

IN = 0.0254
HALF = IN / 2
TEMPLATE = truck_template()  # coilovers in front, leaves behind
TRUCK = read_truck(TEMPLATE)
SAMPLES = {name: (sample_runs.path(name) / "truck.toml").read_text("utf-8") for name in sample_runs.NAMES}
PONY = read_truck(SAMPLES["hill_pony"])  # a front whose cycle table is a curve
EVERYTHING = [
    (end, position, steering, place)
    for end in ("front", "rear")
    for position, steering in stations(end)
    for place in places(TRUCK, end, position, steering)
]


def found(key, result="pass", **more):
    return Finding(*key, result, **more)


def pair(end, position, height, shaft):
    return Measured(end, position, height * IN, shaft * IN)


# ---------------------------------------------------------------- what is asked for


def test_the_front_is_looked_at_straight_and_at_both_locks_and_the_rear_has_no_steering():
    walked = {end: list(stations(end)) for end in ("front", "rear")}
    for position in ("bump", "droop", "left up", "right up"):
        assert [s for p, s in walked["front"] if p == position] == ["straight", "left lock", "right lock"]
        assert [s for p, s in walked["rear"] if p == position] == [""]
    for stations_of_end in walked.values():
        assert Counter(stations_of_end).most_common(1)[0][1] == 1


def test_at_the_locks_only_what_the_steering_moves_is_looked_at():
    for position in LOOKED_AT:
        straight = places(TRUCK, "front", position, "straight")
        for lock in ("left lock", "right lock"):
            at_lock = places(TRUCK, "front", position, lock)
            assert set(at_lock) < set(straight)
            assert "axle to oil pan" not in at_lock
            assert {"tyre to frame", "tyre to fender", "brake hose slack"} <= set(at_lock)


def with_walk_table(text):
    return read_truck(f"{TEMPLATE}\n[walk]\n{text}")


def test_the_truck_file_extends_the_usual_places_or_names_its_own():
    more = with_walk_table('front = ["usual", "winch to tie rod"]\nfront_at_locks = ["winch to tie rod"]')
    assert places(more, "front", "bump", "straight") == (*TRUCK.walk.front, "winch to tie rod")
    assert places(more, "front", "bump", "left lock") == ("winch to tie rod",)
    assert places(more, "rear", "bump", "") == TRUCK.walk.rear
    own = with_walk_table('front = ["tyre to frame", "skid plate"]\nrear = []')
    assert places(own, "front", "droop", "straight") == ("tyre to frame", "skid plate")
    assert places(own, "front", "droop", "right lock") == ("tyre to frame",)
    assert progress(own, []).ends["front"].asked == 4 * (2 + 1 + 1)
    assert progress(own, []).ends["rear"].asked == 0


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('front = "tyre to frame"', r'walk\.front: "tyre to frame" is not a list of places'),
        ("front = [1]", r"walk\.front: 1 is not a name"),
        ('rear = ["tank", "tank"]', r'walk\.rear: "tank" is there twice'),
        ('rear = ["usual", "tyre to frame"]', r'walk\.rear: "tyre to frame" is there twice'),
        ('front_at_locks = ["skid plate"]', r'walk\.front_at_locks: "skid plate" is no place of the front'),
        ('font = ["skid plate"]', r"walk\.font: not a key here. Did you mean front\?"),
        (f'rear = ["{"long " * 7}"]', r"walk\.rear: too long a list"),
        (f"rear = {[str(i) for i in range(41)]}", r"walk\.rear: too long a list"),
        ('clearance = "7 in"', r"walk\.clearance: .*is not plausible here"),
        ('clearance = "0.5"', r"walk\.clearance: .*has no unit"),
    ],
)
def test_a_walk_table_that_makes_no_sense_is_named(text, message):
    with pytest.raises(TruckFileError, match=message):
        with_walk_table(text)


# ---------------------------------------------------------------- what is there


def test_nothing_found_means_everything_is_missing_and_everything_found_means_nothing_is():
    none, whole = progress(TRUCK, []), progress(TRUCK, [found(key) for key in EVERYTHING])
    assert not none.begun
    for end in ("front", "rear"):
        assert none.ends[end].done == 0
        wanted = [key for key in EVERYTHING if key[0] == end]
        listed = [(end, m.position, m.steering, p) for m in none.ends[end].missing for p in m.places]
        assert listed == wanted
        assert none.ends[end].asked == len(wanted)
        assert whole.ends[end].missing == ()
        assert whole.ends[end].done == whole.ends[end].asked == len(wanted)
        assert whole.ends[end].passed
        assert not none.ends[end].passed


@settings(deadline=None, max_examples=60)
@given(st.data())
def test_the_last_of_each_place_counts_whatever_came_before(data):
    rows = [
        found(
            data.draw(st.sampled_from(EVERYTHING)),
            data.draw(st.sampled_from(["pass", "contact", "open"])),
            note=str(number),
        )
        for number in range(data.draw(st.integers(0, 40)))
    ]
    answer = progress(TRUCK, rows)
    standing = {}  # the same, told otherwise: backwards, the first that is met
    for row in reversed(rows):
        standing.setdefault((row.end, row.position, row.steering, row.place), row)
    counts = {row for row in standing.values() if row.result != "open"}
    got = [row for end in answer.ends.values() for row in end.findings]
    assert Counter(got) == Counter(counts)
    assert {row for end in answer.ends.values() for row in end.contacts} == {
        row for row in counts if row.result == "contact"
    }
    assert sum(end.done for end in answer.ends.values()) == len(counts)
    missing = {
        (e, m.position, m.steering, p) for e, w in answer.ends.items() for m in w.missing for p in m.places
    }
    assert missing == set(EVERYTHING) - {row.key for row in counts}


def test_contacts_come_first_then_the_tightest_clearance():
    keys = [key for key in EVERYTHING if key[0] == "rear"]
    clearances = [None, 3.0, 0.25, None, 0.5, 0.375, 0.75]
    rows = [found(k, clearance=None if c is None else c * IN) for k, c in zip(keys, clearances, strict=False)]
    rows += [found(keys[len(rows)], "contact")]
    random.Random(3).shuffle(rows)
    rear = progress(TRUCK, rows).ends["rear"]
    assert [row.contact for row in rear.findings] == [True] + [False] * 7
    measured = [row.clearance for row in rear.findings if row.clearance is not None]
    assert measured == sorted(measured)
    assert [row.clearance for row in rear.findings[-2:]] == [None, None]
    assert [row.clearance for row in rear.close] == [
        0.25 * IN,
        0.375 * IN,
    ]  # half an inch is not less than itself


def test_the_least_clearance_is_half_an_inch_or_the_owners():
    row = found(EVERYTHING[0], clearance=0.6 * IN)
    assert progress(TRUCK, []).least_clearance == pytest.approx(HALF)
    assert progress(TRUCK, [row]).ends["front"].close == ()
    stricter = with_walk_table('clearance = "5/8 in"')
    assert progress(stricter, [row]).ends["front"].close == (row,)


def test_a_finding_at_a_place_no_longer_listed_is_shown_but_was_not_asked_for():
    row = found(("front", "bump", "straight", "old bracket"), "contact")
    front = progress(TRUCK, [row]).ends["front"]
    assert front.contacts == (row,)
    assert front.done == 0


# ---------------------------------------------------------------- the cycle table


LEVELS = {
    "bump": (16, 0.75),
    "low": (19, 3.5),
    "ride": (22.5, 7.25),
    "high": (26, 10.5),
    "droop": (29, 13.75),
}


def walked(*positions, end="front", levels=LEVELS):
    return [pair(end, p, *levels[p]) for p in positions]


def test_a_cycle_table_is_the_measured_positions_from_bump_to_droop():
    rows = walked("droop", "bump", "ride")
    table = cycle_table(TRUCK, "front", rows)
    assert table.pairs == tuple(
        (h * IN, s * IN) for h, s in (LEVELS["bump"], LEVELS["ride"], LEVELS["droop"])
    )
    assert table.held_back == ""
    assert progress(TRUCK, rows).ends["front"].unmeasured == ("low", "high")


def test_it_takes_bump_and_droop_before_it_is_the_trucks():
    assert cycle_table(TRUCK, "front", []).pairs == ()
    assert "needs droop" in cycle_table(TRUCK, "front", walked("bump", "ride")).held_back
    assert "needs bump" in cycle_table(TRUCK, "front", walked("ride", "high", "droop")).held_back
    assert "needs bump and droop" in cycle_table(TRUCK, "front", walked("ride")).held_back


def test_a_straight_line_does_not_take_the_place_of_a_curve():
    levels = dict(zip(LEVEL, [(13, 0.5), (16, 2.5), (18.5, 4), (21, 5.5), (25, 7.75)], strict=True))
    assert (
        "a curve goes through the 5 positions"
        in cycle_table(PONY, "front", walked("bump", "ride", "droop", levels=levels)).held_back
    )
    four = walked("bump", "low", "ride", "droop", levels=levels)
    assert cycle_table(PONY, "front", four).held_back == ""


def test_a_later_pair_stands_for_the_earlier_and_an_empty_one_takes_it_back():
    rows = walked("bump", "ride", "droop")
    again = pair("front", "ride", 22.25, 7.0)
    assert cycle_table(TRUCK, "front", [*rows, again]).pairs[1] == (again.height, again.shaft)
    back = Measured("front", "ride", None, None)
    assert cycle_table(TRUCK, "front", [*rows, back]) == cycle_table(TRUCK, "front", walked("bump", "droop"))


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        (
            [pair("front", "bump", 16, 1), pair("front", "droop", 28, 0.5)],
            "droop: shaft: less shaft .* than at bump",
        ),
        (
            [pair("front", "bump", 16, 1), pair("front", "droop", 15, 9)],
            "droop: height: not higher than at bump",
        ),
        (
            [pair("front", "bump", 16, 1), pair("front", "ride", 16, 3)],
            "ride: height: not higher than at bump",
        ),
        (
            [pair("front", "bump", 16, 1), pair("front", "droop", 40, 3)],
            "from bump the shaft moves 0.08 of the height",
        ),
        (
            [pair("front", "bump", 16, 1), pair("front", "droop", 20, 9)],
            "from bump the shaft moves 2.00 of the height",
        ),
        ([pair("front", "droop", 29, 15)], "droop: shaft: 15 in of shaft is more than the stroke has"),
        ([pair("rear", "bump", 16, 1)], "the rear has no shock to measure"),
    ],
)
def test_heights_and_shafts_that_contradict_each_other_are_no_cycle_table(rows, message):
    end = rows[0].end
    with pytest.raises(WalkError, match=message):
        cycle_table(TRUCK, end, rows)
    shown = progress(TRUCK, rows).ends[end]  # what is in the log already is shown all the same
    assert re.search(message, shown.cycle.held_back)
    assert len(shown.measured) == len(rows)


@settings(deadline=None, max_examples=150)
@given(
    st.lists(st.integers(13 * 16, 30 * 16), min_size=2, max_size=5, unique=True),
    st.lists(st.integers(-8, 15 * 16), min_size=5, max_size=5),
)
def test_what_the_walk_accepts_a_truck_file_accepts_and_the_other_way_round(heights, shafts):
    """Said by the reader of truck files itself; the targets are left out, for they ask for more."""
    positions = LEVEL[: len(heights)]
    pairs = [(h * IN / 16, s * IN / 16) for h, s in zip(sorted(heights), shafts, strict=False)]
    free = re.sub(r"(?m)^(LF|RF) = .*$", "", TEMPLATE)
    rows = "".join(
        f'[[front.cycle]]\nheight = "{length_text(h, "us")}"\nshaft = "{length_text(s, "us")}"\n'
        for h, s in pairs
    )
    before, rest = free.split("[[front.cycle]]", 1)
    text = before + rows + rest[rest.index("[front.travel]") :]

    def refuses(work):
        try:
            work()
        except (WalkError, TruckFileError):
            return True
        return False

    walk = [Measured("front", p, h, s) for p, (h, s) in zip(positions, pairs, strict=True)]
    assert refuses(lambda: cycle_table(TRUCK, "front", walk)) == refuses(lambda: read_truck(text))


# ---------------------------------------------------------------- the truck file keeps the rest


def comments(text):
    """Comments of a TOML text without quotes around a number sign, in their order."""
    return [line[line.index("#") :].rstrip() for line in text.split("\n") if "#" in line]


TABLE = {n: tuple((h * IN, s * IN) for h, s in [LEVELS[p] for p in LEVEL][:n]) for n in (2, 3, 4, 5)}


@pytest.mark.parametrize("count", TABLE)
@pytest.mark.parametrize("text", [TEMPLATE, *SAMPLES.values()], ids=["template", *SAMPLES])
def test_only_the_rows_of_the_cycle_table_change_and_every_comment_stays(text, count):
    changed = with_cycle(text, "front", TABLE[count], "us")
    before, after = tomllib.loads(text), tomllib.loads(changed)
    rows = after["front"].pop("cycle")
    before["front"].pop("cycle")
    assert after == before
    assert list(tomllib.loads(changed)) == list(tomllib.loads(text))  # nothing changed its place
    assert tuple((parse(r["height"], "length"), parse(r["shaft"], "length")) for r in rows) == TABLE[count]
    assert comments(changed) == comments(text)
    untouched = text.split("[[front.cycle]]")[0]
    assert changed.startswith(untouched)
    assert changed.endswith(text[text.index("[front.travel]") :])


HARD = {
    "comments everywhere": """
[[front.cycle]] # bump
height = "1 in"
shaft = "2 in" # by Wren
# measured on the left
[[front.cycle]]
# the ramp
height = "1 in" # ride
shaft = "2 in"
[[front.cycle]]
shaft = "2 in"
height = "1 in"
# about what follows

[front.travel]
height_strap = "3 in"
""",
    "in one line": 'front.cycle = [{ height = "1 in", shaft = "1 in" }, { height = "2 in", shaft = "2 in" }]\nx = 1\n',
    "in brackets": '[front]\ncycle = [\n  {height="1 in", shaft="2 in"}, # bump\n  {height="3 in", shaft="4 in"}]\n',
    "windows": '[[front.cycle]]\r\nheight = "1 in"\r\nshaft = "1 in"\r\n[x]\r\ny = "# no comment"\r\n',
}


@pytest.mark.parametrize("count", TABLE)
@pytest.mark.parametrize("name", HARD)
def test_however_a_file_is_written_it_means_the_same_but_for_the_table(name, count):
    text = HARD[name]
    changed = with_cycle(text, "front", TABLE[count], "us")
    before, after = tomllib.loads(text), tomllib.loads(changed)
    assert len(after["front"].pop("cycle")) == count
    before["front"].pop("cycle")
    assert after == before
    for line in ("# measured on the left", "# the ramp", "# about what follows", "# bump"):
        assert (line in changed) == (line in text)


def test_a_table_that_can_not_be_changed_safely_is_given_to_be_written_by_hand():
    with pytest.raises(WalkError, match=r'can\'t be changed.*Write by hand: height = "16 in", shaft = "0\.7'):
        with_cycle('[front]\naxle = "solid"\n', "front", TABLE[2], "us")


@given(st.floats(0.001, 2.0), st.sampled_from(["us", "metric"]))
def test_a_length_in_a_truck_file_reads_back_to_the_last_bit(value, system):
    assert parse(length_text(value, system), "length") == value


def test_lengths_read_off_a_tape_stand_in_the_file_as_on_the_tape():
    assert length_text(parse("22 1/2 in", "length"), "us") == "22 1/2 in"
    assert length_text(parse("571.5 mm", "length"), "metric") == "571.5 mm"


def test_a_walk_makes_a_truck_file_that_reads_as_its_table():
    text, ends = with_walk(TEMPLATE, [], walked("bump", "ride", "droop"))
    assert ends == ("front",)
    assert (
        read_truck(text).corners["LF"].cycle
        == cycle_table(TRUCK, "front", walked("bump", "ride", "droop")).pairs
    )
    assert replace(read_truck(text), corners={}) == replace(TRUCK, corners={})
    assert with_walk(text, [], walked("bump", "ride", "droop")) == (text, ())


def test_a_table_written_by_hand_after_the_walk_stays_while_other_things_are_put_down():
    known = walked("bump", "droop")
    assert with_walk(TEMPLATE, known, [found(EVERYTHING[0])]) == (TEMPLATE, ())
    assert with_walk(TEMPLATE, known, walked("ride"))[1] == ("front",)


def test_a_table_that_leaves_a_target_out_of_reach_is_refused():
    low = {"bump": (10, 0.75), "droop": (18, 8)}
    with pytest.raises(WalkError, match=r"target\.LF: the axle was not cycled to that height"):
        with_walk(TEMPLATE, [], walked("bump", "droop", levels=low))


# ---------------------------------------------------------------- files


SAMPLE_TRUCK = read_truck(SAMPLES["night_shift"])
SAMPLE = (sample_runs.path("night_shift") / "walk.csv").read_text("utf-8")


def test_the_sample_walk_measures_its_trucks_own_cycle_table_and_shows_what_it_is_for():
    answer = progress(SAMPLE_TRUCK, read_walk(SAMPLE, SAMPLE_TRUCK))
    for end, walk in answer.ends.items():
        assert in_truck(SAMPLE_TRUCK, end, walk.cycle.pairs)
        assert walk.missing
    assert answer.ends["front"].contacts
    assert answer.ends["front"].close
    assert with_walk(SAMPLES["night_shift"], [], read_walk(SAMPLE, SAMPLE_TRUCK)) == (
        SAMPLES["night_shift"],
        (),
    )


words = st.text(st.characters(exclude_categories=["Cs", "Cc", "Zs", "Zl", "Zp"]), max_size=12).filter(
    str.isprintable
)
times = st.none() | st.datetimes(datetime(1999, 1, 1), datetime(2024, 1, 1))


@st.composite
def walks(draw):
    keys = draw(st.lists(st.sampled_from(EVERYTHING), max_size=8, unique=True))
    rows = []
    for key in keys:
        result = draw(st.sampled_from(["pass", "contact", "open"]))
        clearance = draw(st.none() | st.floats(1e-4, 1.0)) if result == "pass" else None
        photo = draw(words.filter(lambda t: not set(t) & set('/\\:*?"<>|')))
        rows.append(
            found(key, result, clearance=clearance, note=draw(words), photo=photo, taken_at=draw(times))
        )
    if draw(st.booleans()) or not rows:
        rows += walked(*draw(st.sampled_from([("bump",), ("droop", "bump"), LEVEL])))
        rows += [Measured("front", "ride", None, None)] * (len(rows) < 5 and rows[-1].position != "droop")
    return rows


@settings(deadline=None)
@given(walks(), st.sampled_from(["us", "metric"]))
def test_a_walk_written_and_read_again_is_the_same_to_the_last_bit(rows, system):
    truck = replace(TRUCK, units=system)
    assert list(read_walk(write_walk(rows, truck), truck)) == rows


HEAD = "end,position,steering,place,clearance [in],result,note,photo,height [in],shaft [in],taken_at,by\n"


def test_a_file_as_people_write_it_is_read():
    text = (
        "\ufeffEnd, Position ,STEERING,place,result,clearance [mm],height [in],shaft [in]\r\n"
        "Front,Left Up,left  lock,Tyre to fender,PASS,12,,\r\n"
        "\r\n"
        "rear,droop,,axle to fuel tank,contact,,,\r\n"
        'front,bump,straight,,,,"16 1/2",3/4 in\r\n'
    )
    assert read_walk(text, TRUCK) == (
        Finding("front", "left up", "left lock", "tyre to fender", "pass", 0.012),
        Finding("rear", "droop", "", "axle to fuel tank", "contact"),
        Measured("front", "bump", 0.4191, 0.01905),
    )


@pytest.mark.parametrize(
    ("row", "message"),
    [
        ("middle,bump,straight,tyre to frame,,pass", 'end: "middle" is no end. Write front or rear'),
        ("front,bmp,straight,tyre to frame,,pass", 'position: "bmp" is no position.*Did you mean bump?'),
        ("front,low,straight,tyre to frame,,pass", 'position: "low" is only for height and shaft'),
        ("front,bump,,tyre to frame,,pass", "steering: empty. Write straight, left lock, right lock"),
        ("front,bump,ahead,tyre to frame,,pass", 'steering: "ahead" is no way to steer'),
        ("rear,bump,straight,tyre to frame,,pass", 'steering: "straight" at the rear, which has no steering'),
        ("front,bump,straight,tyre to fram,,pass", 'place: .*Did you mean "tyre to frame"?'),
        ("front,bump,straight,gearbox,,pass", "place: .*Add it to front under .walk."),
        ("front,bump,straight,axle to fuel tank,,pass", "no place of the front"),
        ("front,bump,straight,tyre to frame,1/2,", "result: empty. Write pass, contact, or open"),
        ("front,bump,straight,tyre to frame,1/2,ok", 'result: "ok" is no result'),
        ("front,bump,straight,tyre to frame,1/2,contact", "clearance: with contact there is no clearance"),
        ("front,bump,straight,tyre to frame,0,pass", "clearance: no clearance is contact"),
        ("front,bump,straight,tyre to frame,1/2,open", "clearance: a clearance where nothing was looked at"),
        ("front,bump,straight,tyre to frame,-1/2,pass", "clearance: .*not plausible"),
        ("front,bump,straight,tyre to frame,50,pass", "clearance: .*not plausible"),
        ('front,bump,straight,tyre to frame,"1,5",pass', "clearance: .*is not a length"),
        ("front,bump,straight,tyre to frame,9**9**9,pass", "clearance: .*is not a length"),
        ("front,bump,straight,tyre to frame,,pass,,C:\\a.jpg", "photo: .*is not a file's name"),
        ("front,bump,straight,tyre to frame,,pass,,../a.jpg", "photo: .*is not a file's name"),
        (f"front,bump,straight,tyre to frame,,pass,{'x' * 2001}", "note: 2001 characters"),
        ("front,bump,straight,tyre to frame,,pass,,,22,", "height: belongs in a row without a place"),
        ("front,bump,,,,,,,22,", "shaft: empty. Give height and shaft"),
        ("front,bump,,,,,,,,", "height: empty. Give height and shaft, or name a place"),
        ("front,bump,left lock,,,,,,22,5", 'steering: "left lock"'),
        ("front,left up,,,,,,,22,5", 'position: "left up" has no one height'),
        ("front,bump,,,,pass,,,22,5", "place: empty, with the result pass"),
        ("front,bump,,,1/2,,,,22,5", "clearance: a clearance without a place"),
        ("front,bump,,,,open,,,22,5", "height: a figure that is taken back"),
        ("front,bump,,,,,,,222,5", "height: .*not plausible"),
        ("front,bump,,,,,,,22,15", "shaft: 15 in of shaft is more than the stroke has"),
        ("rear,bump,,,,,,,22,5", "the rear has no shock to measure"),
        ("front,bump,straight,tyre to frame,,pass,,,,,yesterday", "taken_at: .*is not a time of reading"),
        ("front,bump,straight,tyre to frame,,pass,,,,,2199-01-01", "taken_at: .*is yet to come"),
    ],
)
def test_a_bad_row_is_named_by_line_and_column_and_with_what_to_do(row, message):
    good = "rear,bump,,tyre to frame,1,pass\n"
    with pytest.raises(WalkError, match=f"(?s)walk.csv, line 3.*{message.replace('?', '[?]')}") as caught:
        read_walk(HEAD + good + row + "\n", TRUCK)
    assert {fault.line for fault in caught.value.faults} == {3}


def test_all_faults_are_named_at_once():
    bad = "front,bmp,straight,tyre to frame,,pass\nfront,bump,,tyre to frame,,pass\nfront,bump,straight,tyre,,\n"
    with pytest.raises(WalkError) as caught:
        read_walk(HEAD + bad, TRUCK)
    assert sorted({fault.line for fault in caught.value.faults}) == [2, 3, 4]


@pytest.mark.parametrize(
    "row", ["front,bump,straight,tyre to frame,,pass\n", "front,bump,,,,,,,16,1\n"], ids=["place", "pair"]
)
def test_one_walk_says_a_thing_once(row):
    with pytest.raises(WalkError, match=r"line 3.*line 2 has it already\. Keep the one that is right"):
        read_walk(HEAD + row + row, TRUCK)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "no rows. Start with the header end,position,steering,place,clearance .in.,result"),
        (HEAD, "a header and no findings"),
        (HEAD.replace("place,", ""), "place: no such column"),
        (HEAD.replace("photo", "foto"), "foto: not a column here"),
        (HEAD.replace("clearance [in]", "clearance"), "clearance: no unit is given"),
        (HEAD.replace(",", ";"), "cells are separated by semicolons"),
        (HEAD + "front\0", "a null character"),
    ],
)
def test_a_file_that_is_no_walk_is_refused(text, message):
    with pytest.raises(WalkError, match=message):
        read_walk(text, TRUCK)


def test_text_that_a_spreadsheet_would_run_is_kept_and_made_harmless():
    row = found(EVERYTHING[0], note="=1+1", photo="-a.jpg", by="@me")
    text = write_walk([row], TRUCK)
    assert "'=1+1" in text
    assert read_walk(text, TRUCK) == (row,)


# ---------------------------------------------------------------- on paper


@pytest.mark.parametrize("name", SAMPLES)
def test_an_empty_check_list_is_one_page_an_end_with_a_box_for_everything(name):
    truck = read_truck(SAMPLES[name])
    answer = progress(truck, [])
    pages = check_list(answer, truck).split("\f")
    assert len(pages) == 2
    for page, end in zip(pages, answer.ends.values(), strict=True):
        lines = page.rstrip("\n").split("\n")
        assert len(lines) <= 66  # of a letter page at six lines to the inch
        assert max(map(len, lines)) <= 80
        assert page.count("[ ]") == end.asked
        assert all(word in page for word in ("stands", "Springs out", "Hands", "brake hoses"))
        assert page.count("shaft ____") == len(end.unmeasured)


def test_what_is_found_stands_in_its_box():
    answer = progress(SAMPLE_TRUCK, read_walk(SAMPLE, SAMPLE_TRUCK))
    pages = check_list(answer, SAMPLE_TRUCK)
    assert pages.count("[ ]") == sum(end.asked - end.done for end in answer.ends.values())
    assert pages.count("[C] contact") == sum(len(end.contacts) for end in answer.ends.values())
    assert pages.count("[x]") == sum(len(end.close) + len(end.clear) for end in answer.ends.values())


def test_the_table_tells_contacts_close_passes_what_is_missing_and_the_cautions():
    answer = progress(SAMPLE_TRUCK, read_walk(SAMPLE, SAMPLE_TRUCK))
    text = walk_text(answer, SAMPLE_TRUCK, ())
    assert text.index("CONTACT") < text.index("close  ") < text.index("clear  ")
    assert "common practice" in text
    for word in ("3/8 in", "fender_left_up.jpg", "Missing at right up, left lock: tyre to frame", "stands"):
        assert word in text
    assert walk_text(progress(SAMPLE_TRUCK, []), SAMPLE_TRUCK, ()) == check_list(
        progress(SAMPLE_TRUCK, []), SAMPLE_TRUCK
    )


# ---------------------------------------------------------------- the command


@pytest.fixture
def run(tmp_path, monkeypatch):
    monkeypatch.setenv("TUNING_LOG", str(tmp_path / "log.db"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "truck.toml").write_text(TEMPLATE, "utf-8")

    def command(*words, code=0):
        result = CliRunner().invoke(main, list(map(str, words)))
        assert result.exit_code == code, result.output + result.stderr
        return result.stdout if code == 0 else result.stderr

    return command


def walk_csv(tmp_path, rows, name="walk.csv"):
    (tmp_path / name).write_text(write_walk(rows, TRUCK), "utf-8", newline="")
    return name


def test_files_alone_are_answered_and_nothing_is_stored(run, tmp_path):
    assert run("walk", "--truck", "truck.toml").count("[ ]") == len(EVERYTHING)
    name = walk_csv(tmp_path, [found(EVERYTHING[0], "contact"), *walked("bump", "droop")])
    told = json.loads(run("walk", "--truck", "truck.toml", "--walk", name, "--json"))
    front = told["ends"]["front"]
    assert [row["place"] for row in front["contacts"]] == ["tyre to frame"]
    assert (front["done"], front["asked"], front["passed"]) == (1, 84, False)
    assert told["units"] == {"length": "in"}
    assert [(row["position"], row["height"], row["shaft"]) for row in front["measured"]] == [
        ("bump", pytest.approx(16), pytest.approx(0.75)),
        ("droop", pytest.approx(29), pytest.approx(13.75)),
    ]
    assert front["cycle"] == {"in_truck_file": False, "held_back": ""}
    missing = sum(len(one["places"]) for end in told["ends"].values() for one in end["missing"])
    assert missing == len(EVERYTHING) - 1
    assert not (tmp_path / "log.db").exists()


def test_a_recorded_walk_is_in_the_log_once_and_its_cycle_table_in_the_truck_file(run, tmp_path):
    name = walk_csv(tmp_path, [found(EVERYTHING[0], clearance=IN), *walked("bump", "ride", "droop")])
    said = run("walk", "--truck", "truck.toml", "--record", name)
    assert "4 rows stored." in said
    assert "The cycle table of the front is this walk's now" in said
    assert "0 rows stored, 4 were in the log already." in run(
        "walk", "--truck", "truck.toml", "--record", name
    )
    run("export", "--truck", "Night shift", "--out", "out")
    after = (tmp_path / "out" / "truck.toml").read_text("utf-8")
    assert read_truck(after).corners["RF"].cycle[1] == (22.5 * IN, 7.25 * IN)
    assert comments(after) == comments(TEMPLATE)
    history = json.loads((tmp_path / "out" / "history.json").read_text("utf-8"))
    assert [version["note"] for version in history["versions"]] == ["cycle table of the walk"]
    assert read_walk((tmp_path / "out" / "walk.csv").read_text("utf-8"), TRUCK) == read_walk(
        (tmp_path / name).read_text("utf-8"), TRUCK
    )
    printed = run("walk", "--truck", "Night shift", "--csv")
    assert printed.splitlines() == (tmp_path / "out" / "walk.csv").read_text("utf-8").splitlines()
    told = json.loads(run("walk", "--truck", "Night shift", "--json"))
    assert told["ends"]["front"]["cycle"]["in_truck_file"] is True


def test_a_walk_whose_table_does_not_check_leaves_nothing_behind(run, tmp_path):
    first = walk_csv(tmp_path, walked("bump", "droop"))
    run("walk", "--truck", "truck.toml", "--record", first)
    before = run("walk", "--truck", "Night shift", "--json")
    worse = walk_csv(tmp_path, [found(EVERYTHING[0]), pair("front", "ride", 22.5, 0.5)], "worse.csv")
    said = run("walk", "--truck", "Night shift", "--record", worse, code=2)
    assert "front, ride: shaft: less shaft shows than at bump" in said
    assert run("walk", "--truck", "Night shift", "--json") == before


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--truck", "truck.toml", "--walk", "none.csv"], "none.csv: can't be opened"),
        (["--truck", "none.toml", "--walk", "none.csv"], "none.toml: can't be opened"),
        (["--truck", "truck.toml", "--walk", "truck.toml"], "truck.toml, line 1"),
        (["--truck", "truck.toml", "--walk", "a", "--record", "b"], "give one of them"),
        (["--truck", "truck.toml", "--walk", "a", "--log", "b"], "give one of them"),
        (["--truck", "truck.toml", "--json", "--csv"], "three ways to print a walk: give one of them"),
        (["--truck", "truck.toml", "--blank", "--csv"], "three ways to print a walk: give one of them"),
        (["--truck", "truck.toml", "--blank", "--json"], "three ways to print a walk: give one of them"),
        (["--truck", "Night shift"], "there is no log yet"),
        ([], "Missing option '--truck'"),
    ],
)
def test_what_can_not_be_answered_is_said_in_words(run, words, message):
    said = run("walk", *words, code=2)
    assert message in said
    assert "Traceback" not in said


def test_the_demo_shows_a_walk(run, monkeypatch):
    from tuning.cli import serving

    seen = []
    monkeypatch.setattr(
        serving, "_serve", lambda place, *_: seen.append(walk_of(Log.open(place), "Night shift"))
    )
    run("demo")
    assert [answer.begun for answer in seen] == [True]


def test_articulated_positions_are_for_looking_and_the_ones_between_for_measuring():
    assert set(LOOKED_AT) - set(LEVEL) == set(ARTICULATED)
    for end in ("front", "rear"):
        for position in ("low", "ride", "high"):
            assert places(TRUCK, end, position, "straight" if end == "front" else "") == ()
    assert latest([]) == ()
