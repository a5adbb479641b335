"""Truck files: what is read, and what each fault says."""

import math
import time
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tuning.truck import CORNERS, Noise, Practice, Spring, Target
from tuning.truckfile import TruckFileError, load_truck, read_truck, truck_template
from tuning.units import parse

GOOD = """\
name = "Fold mountain"
units = "us"
wheelbase = "132 in"
frame_twist_stiffness = "3000 N*m/deg"

[front]
axle = "solid"
track = "68 in"
spring_spacing = "34 in"
unsprung_weight = "780 lbf"
tyre_rate = "2100 lbf/in"
[front.shock]
stroke = "14 in"
shaft_diameter = "7/8 in"
gas_pressure = "200 psi"
gas_volume = "12 in^3"
[front.adjuster]
travel_per_turn = "1/12 in"
range = ["0 in", "3 1/2 in"]
[[front.cycle]]
height = "16 in"
shaft = "3/4 in"
[[front.cycle]]
height = "29 1/8 in"
shaft = "14 in"
[front.travel]
height_full_bump = "15 3/4 in"
height_strap = "27 1/2 in"
bump_stop = { kind = "hydraulic", travel = "2 in" }
[front.stack]
name = "200 over 300"
ring_gap = "3 in"
upper = { rate = "200 lbf/in", free_length = "14 in", solid_length = "5.2 in" }
lower = { rate = "300 lbf/in", free_length = "16 in", solid_length = "6.4 in" }

[rear]
axle = "solid"
track = "68 in"
spring_spacing = "42 in"
unsprung_weight = "820 lbf"
[rear.spring]
rate = "310 lbf/in"

[[stacks]]
name = "250 over 300"
upper = { rate = "250 lbf/in" }
lower = { rate = "300 lbf/in" }

[target]
LF = "22 in"
rear = "23 in"
cross_weight = 50.0
height_tolerance = "1/8 in"
cross_weight_tolerance = 0.5

[noise]
height = "1/16 in"
load = 0.2
spring_rate = 3.0
"""


def with_changes(*changes):
    text = GOOD
    for old, new in changes:
        assert text.count(old) >= 1
        text = text.replace(old, new, 1)
    return text


def faults_of(text):
    with pytest.raises(TruckFileError) as caught:
        read_truck(text)
    return [line.removeprefix("truck.toml, ") for line in str(caught.value).split("\n")]


def inches(number):
    return parse(f"{number} in", "length")


def test_a_whole_truck_is_read_into_si_units():
    truck = read_truck(GOOD)
    assert (truck.name, truck.units, truck.wheelbase) == ("Fold mountain", "us", inches(132))
    assert truck.frame_twist_stiffness == pytest.approx(3000 * 180 / math.pi)
    assert truck.front.solid
    assert (truck.front.track, truck.front.spring_spacing) == (inches(68), inches(34))
    assert truck.front.unsprung_weight == pytest.approx(780 * 4.4482216152605)
    assert truck.front.tyre_rate == pytest.approx(2100 * 175.126835246476)
    corner = truck.corners["RF"]
    assert corner.shock.stroke == inches(14)
    assert corner.shock.gas_pressure == pytest.approx(200 * 6894.757293168361)
    assert corner.shock.gas_volume == pytest.approx(12 * 0.000016387064)
    assert corner.adjuster.travel_per_turn == pytest.approx(0.0254 / 12)
    assert (corner.adjuster.preload_min, corner.adjuster.preload_max) == (0.0, inches(3.5))
    assert corner.cycle == ((inches(16), inches(0.75)), (inches(29.125), inches(14)))
    assert (corner.travel.bump_stop, corner.travel.bump_stop_travel) == ("hydraulic", inches(2))
    assert corner.stack.upper == Spring(parse("200 lbf/in", "rate"), inches(14), inches(5.2))
    assert corner.stack.ring_gap == inches(3)
    assert truck.corners["LF"] == corner
    assert set(truck.corners) == set(CORNERS)


def test_a_spring_without_adjuster_is_a_stack_of_its_own():
    truck = read_truck(GOOD)
    rear = truck.corners["LR"]
    assert (rear.shock, rear.adjuster, rear.cycle) == (None, None, ())
    assert rear.stack.lower == Spring(parse("310 lbf/in", "rate"))
    assert truck.stacks == {
        s.name: s for s in (truck.corners["LF"].stack, rear.stack, truck.stacks["250 over 300"])
    }


def test_percentages_become_shares_and_targets_go_by_corner_or_end():
    truck = read_truck(GOOD)
    assert truck.target == Target({"LF": inches(22)}, {"rear": inches(23)}, 0.5, inches(0.125), 0.005)
    assert truck.noise == Noise(height=inches("1/16"), load=0.002, spring_rate=0.03)


def test_what_is_left_out_has_the_common_defaults():
    text = GOOD[: GOOD.index("[target]")]
    truck = read_truck(text)
    assert (truck.target, truck.noise) == (Target(), Noise())
    assert truck.front.friction == pytest.approx(25 * 4.4482216152605)
    assert truck.rear.friction == pytest.approx(60 * 4.4482216152605)
    assert truck.front.height_spacing == truck.front.spring_spacing
    assert truck.corners["LF"].adjuster.step == 0.25


def test_an_independent_end_has_its_springs_at_the_track():
    truck = read_truck(
        with_changes(('axle = "solid"', 'axle = "independent"'), ('spring_spacing = "34 in"\n', ""))
    )
    assert not truck.front.solid
    assert truck.front.spring_spacing == truck.front.height_spacing == truck.front.track


def test_one_corner_may_be_unlike_its_end():
    own = """
[corner.RF.stack]
name = "350 alone"
lower = { rate = "350 lbf/in", free_length = "16 in", solid_length = "6 in" }
[corner.LR.travel]
height_strap = "28 in"
"""
    truck = read_truck(GOOD + own)
    assert truck.corners["RF"].stack.name == "350 alone"
    assert truck.corners["RF"].shock == truck.corners["LF"].shock
    assert truck.corners["LF"].stack.name == "200 over 300"
    assert "350 alone" in truck.stacks
    assert truck.corners["LR"].travel.height_strap == inches(28)


def test_quantities_may_be_metric_whatever_the_truck_is_shown_in():
    truck = read_truck(with_changes(('"132 in"', '"3352.8 mm"'), ('"22 in"', '"55.88 cm"')))
    assert (truck.wheelbase, truck.target.heights["LF"]) == (inches(132), inches(22))


NOT_A_NAME = "is not a name. Write 1 to 80 letters, digits, spaces or signs, without slashes."
UPPER = 'upper = { rate = "200 lbf/in", free_length = "14 in", solid_length = "5.2 in" }'
SECOND = '[[front.cycle]]\nheight = "29 1/8 in"\nshaft = "14 in"\n'
RANGE = 'range = ["0 in", "3 1/2 in"]'
WANTED = "[target]"
ITS_SHAFT = "Shaft showing grows with height; see which is wrong."

# one rule each: old text, new text, what the line to blame begins with (None: no line), what is said
MISSING_OR_UNKNOWN = [
    ('name = "Fold mountain"\n', "", None, 'name: missing. Write name = "Night shift".'),
    (RANGE, "", "[front.adjuster]", 'front.adjuster.range: missing. Write range = ["0 in", "3 1/2 in"].'),
    (
        'name = "200 over 300"\n',
        "",
        "[front.stack]",
        'front.stack.name: missing. Write name = "front springs", or what you call these springs.',
    ),
    ('track = "68 in"\n', "", "[front]", 'front.track: missing. Write track = "68 in" with the true value.'),
    (
        'spring_spacing = "34 in"',
        'spring_spaceing = "34 in"',
        "spring_spaceing",
        "front.spring_spaceing: not a key here. Did you mean spring_spacing?",
    ),
    ("[noise]", "[nose]", "[nose]", "nose: not a key here. Did you mean noise?"),
    (
        "[noise]\n",
        "[noise]\nwind = 3\n",
        "wind",
        "noise.wind: not a key here. Keys here are height, load, spring_rate, datum, floor.",
    ),
    ("[rear]", "[[rear]]", "[[rear]]", "rear: a list is not a table. Write [rear], its keys below."),
    (
        "[target]",
        "[[target]]",
        "[[target]]",
        "target: a list is not a table. Write [target], its keys below.",
    ),
    ("[[stacks]]", "[stacks]", "[stacks]", "stacks: a table is not a list of tables. Write [[stacks]]."),
    (
        WANTED,
        "[corner.FR.stack]\n[target]",
        "[corner.FR",
        "corner.FR: not a key here. Keys here are LF, RF, LR, RR.",
    ),
    (
        WANTED,
        '[corner]\nRF = "stack"\n[target]',
        "RF",
        'corner.RF: "stack" is not a table. Write [corner.RF.stack].',
    ),
    (WANTED, "[corner]\nRF = 3\n[target]", "RF", "corner.RF: 3 is not a table. Write [corner.RF.stack]."),
    (
        WANTED,
        "[corner.RF.track]\n[target]",
        "[corner.RF.track",
        "corner.RF.track: not a key here. Did you mean stack?",
    ),
]
LOWER = 'lower = { rate = "300 lbf/in", free_length = "16 in", solid_length = "6.4 in" }'
MISSING_OR_UNKNOWN.append(
    (
        f"{LOWER}\n",
        "",
        "[front.stack]",
        'front.stack.lower: missing. Write lower = { rate = "300 lbf/in" } with the true rate.',
    )
)
QUANTITIES = [
    ('"132 in"', "132", "wheelbase", 'wheelbase: 132 is not a text with a unit. Write "132 in".'),
    ('"132 in"', "true", "wheelbase", 'wheelbase: true is not a text with a unit. Write "132 in".'),
    ('"132 in"', '["132 in"]', "wheelbase", 'wheelbase: a list is not a text with a unit. Write "132 in".'),
    (
        '"132 in"',
        "2024-05-01",
        "wheelbase",
        'wheelbase: 2024-05-01 is not a text with a unit. Write "132 in".',
    ),
    (
        '"132 in"',
        '"132"',
        "wheelbase",
        'wheelbase: "132" has no unit. Write 22.5 in, 22 1/2 in or 571.5 mm.',
    ),
    (
        '"34 in"',
        '"34,5 in"',
        "spring_spacing",
        'front.spring_spacing: "34,5 in" is not a length. Write 22.5 in, 22 1/2 in or 571.5 mm.',
    ),
    (
        '"300 lbf/in"',
        '"300 lbf"',
        "lower",
        'front.stack.lower.rate: "300 lbf" is not a spring rate. Write 225 lbf/in, 225 lb/in or 39.4 N/mm.',
    ),
]
PLAUSIBLE = [
    ('"68 in"', '"0 in"', "track", 'front.track: "0 in" is not plausible here. Write 20 in to 160 in.'),
    (
        '"132 in"',
        '"132 ft"',
        "wheelbase",
        'wheelbase: "132 ft" is not plausible here. Write 40 in to 480 in.',
    ),
    (
        '"34 in"',
        '"-34 in"',
        "spring_sp",
        'front.spring_spacing: "-34 in" is not plausible here. Write 4 in to 160 in.',
    ),
    (
        '"300 lbf/in"',
        '"0 lbf/in"',
        "lower",
        'front.stack.lower.rate: "0 lbf/in" is not plausible here. Write 0.5 lbf/in to 5000 lbf/in.',
    ),
    (
        '"310 lbf/in"',
        '"-310 lbf/in"',
        'rate = "-310',
        'rear.spring.rate: "-310 lbf/in" is not plausible here. Write 0.5 lbf/in to 5000 lbf/in.',
    ),
    (
        '"1/12 in"',
        '"1 in"',
        "travel_per_turn",
        'front.adjuster.travel_per_turn: "1 in" is not plausible here. Write 0.007874 in to 0.3937 in.',
    ),
    ('"14 in"', '"0 in"', "stroke", 'front.shock.stroke: "0 in" is not plausible here. Write 1 in to 60 in.'),
    (
        "cross_weight = 50.0",
        "cross_weight = 5.0",
        "cross_weight",
        "target.cross_weight: 5.0 is not plausible here. Write 30 to 70.",
    ),
    (
        "cross_weight = 50.0",
        'cross_weight = "50 %"',
        "cross_weight",
        'target.cross_weight: "50 %" is not a plain number. Write 50.0.',
    ),
    (
        "cross_weight = 50.0",
        "cross_weight = nan",
        "cross_weight",
        "target.cross_weight: nan is not a plain number. Write 50.0.",
    ),
    (
        "cross_weight = 50.0",
        "cross_weight = inf",
        "cross_weight",
        "target.cross_weight: inf is not plausible here. Write 30 to 70.",
    ),
    (
        "cross_weight_tolerance = 0.5",
        "cross_weight_tolerance = -1",
        "cross_weight_tolerance",
        "target.cross_weight_tolerance: -1 is not plausible here. Write 0.01 to 20.",
    ),
    (
        'height_tolerance = "1/8 in"',
        'height_tolerance = "0 in"',
        "height_tolerance",
        'target.height_tolerance: "0 in" is not plausible here. Write 0.0005 in to 4 in.',
    ),
    ("load = 0.2", "load = 0", "load", "noise.load: 0 is not plausible here. Write 0.001 to 50."),
    (RANGE, f"{RANGE}\nstep = 0", "step", "front.adjuster.step: 0 is not plausible here. Write 0.01 to 2."),
    (RANGE, f"{RANGE}\nstep = 3", "step", "front.adjuster.step: 3 is not plausible here. Write 0.01 to 2."),
]
CHOICES = [
    ('"us"', '"imperial"', "units", 'units: "imperial" is not a choice here. Write "us" or "metric".'),
    ('"solid"', '"live"', "axle", 'front.axle: "live" is not a choice here. Write "solid" or "independent".'),
    (
        '"hydraulic"',
        '"rubber"',
        "bump_stop",
        'front.travel.bump_stop.kind: "rubber" is not a choice here. Write "hydraulic" or "soft".',
    ),
    ('"Fold mountain"', '""', "name", f'name: "" {NOT_A_NAME}'),
    ('"Fold mountain"', '".."', "name", f'name: ".." {NOT_A_NAME}'),
    ('"Fold mountain"', '"../up"', "name", f'name: "../up" {NOT_A_NAME}'),
    ('"Fold mountain"', '"a\\u0007b"', "name", f'name: "a\\x07b" {NOT_A_NAME}'),
    ('"Fold mountain"', "'" + "x" * 81 + "'", "name", f'name: "{"x" * 31}…" {NOT_A_NAME}'),
    (
        'name = "250 over 300"',
        'name = "200 over 300"',
        None,
        'line 45, stacks[1].name: another stack is called "200 over 300" too, and differs. '
        "Give each stack its own name.",
    ),
]
WITHIN_A_TABLE = [
    (
        '"5.2 in"',
        '"14 in"',
        "upper",
        "front.stack.upper.solid_length: a spring is shorter coil-bound than free. "
        "Make it less than free_length.",
    ),
    (
        f"{UPPER}\n",
        "",
        "ring_gap",
        "front.stack.ring_gap: a stop ring needs a slider, and with one spring there is none. "
        "Leave ring_gap out, or give the upper spring.",
    ),
    (
        'shaft_diameter = "7/8 in"\n',
        "",
        "gas_pressure",
        "front.shock.gas_pressure: the gas pushes on the shaft, and shaft_diameter is not given. "
        'Add shaft_diameter = "7/8 in" with its true size, or leave gas_pressure out.',
    ),
    (
        '"12 in^3"',
        '"8 in^3"',
        "gas_volume",
        "front.shock.gas_volume: the shaft takes up 8.418 in^3 over its stroke, "
        "which leaves the gas no room. Give the gas volume at full extension, or leave gas_volume out.",
    ),
    (
        RANGE,
        'range = ["3 1/2 in", "0 in"]',
        "range",
        "front.adjuster.range: the first preload is not below the second. "
        "Write the least preload first, then the most.",
    ),
    (
        RANGE,
        'range = "3 1/2 in"',
        "range",
        'front.adjuster.range: "3 1/2 in" is not a pair. Write ["0 in", "3 1/2 in"].',
    ),
    (
        RANGE,
        'range = ["0 in"]',
        "range",
        'front.adjuster.range: one value where two belong. Write ["0 in", "3 1/2 in"].',
    ),
    (
        '"15 3/4 in"',
        '"27 1/2 in"',
        "height_full_bump",
        "front.travel.height_full_bump: full bump is not below the strap's height. "
        "Heights grow upward: frame mark above axle mark.",
    ),
]
BETWEEN_TABLES = [
    (
        '"34 in"',
        '"70 in"',
        "spring_spacing",
        "front.spring_spacing: the springs stand wider than the wheels. Write at most 68 in.",
    ),
    (
        'spring_spacing = "34 in"\n',
        "",
        "[front]",
        'front.spring_spacing: missing. Write spring_spacing = "34 in", seat to seat.',
    ),
    (
        '"solid"',
        '"independent"',
        "spring_spacing",
        "front.spring_spacing: an independent end has none: its springs work at the track. "
        'Leave it out, or write axle = "solid".',
    ),
    (
        '"34 in"\n',
        '"34 in"\nheight_spacing = "100 in"\n',
        "height_spacing",
        "front.height_spacing: the height marks stand far outside the wheels. Write at most 68 in.",
    ),
    (
        RANGE,
        'range = ["0 in", "19 in"]',
        "range",
        "front.adjuster.range: the springs are coil-bound before that preload. Write at most 18.4 in.",
    ),
    (
        'shaft = "14 in"',
        'shaft = "15 in"',
        'shaft = "15 in"',
        "front.cycle[2].shaft: 15 in of shaft is more than the stroke has. "
        "Write 0 to 14 in, or mend the stroke.",
    ),
    (
        'shaft = "14 in"',
        'shaft = "1/2 in"',
        'shaft = "1/2 in"',
        f"front.cycle[2].shaft: less shaft shows than at position 1, which is lower. {ITS_SHAFT}",
    ),
    (
        'shaft = "14 in"',
        'shaft = "2 in"',
        'shaft = "2 in"',
        "front.cycle[2].shaft: from position 1 the shaft moves 0.10 of the height. "
        "Between 0.2 and 1.6 is plausible; see which is wrong.",
    ),
    (
        SECOND,
        f'{SECOND}[[front.cycle]]\nheight = "739.775 mm"\nshaft = "14.1 in"\n',
        'height = "739',
        "front.cycle[3].height: the same height as position 2. Give each height once.",
    ),
    (
        SECOND,
        "",
        "[[front.cycle]]",
        "front.cycle: fewer than two heights. Cycle the axle and measure at full bump and full droop.",
    ),
    (
        'LF = "22 in"',
        'LF = "35 in"',
        "LF",
        "target.LF: the axle was not cycled to that height. Write 16 in to 29.12 in.",
    ),
    (
        'LF = "22 in"',
        'front = "14 in"',
        'front = "14',
        "target.front: the axle was not cycled to that height. Write 16 in to 29.12 in.",
    ),
    (
        'LF = "22 in"',
        'LF = "22 in"\nRF = "22 in"\nfront = "22 in"',
        'front = "22',
        "target.front: LF and RF already fix this end. Leave out front, or one of LF and RF.",
    ),
    (
        "[rear.spring]",
        "[rear.adjuster]\ntravel_per_turn = '2 mm'\nrange = ['0 in', '1 in']\n[rear.spring]",
        "[rear.adjuster]",
        "rear.adjuster: [rear.spring] says that this end has no coilover. "
        "A coilover needs shock, adjuster, cycle and stack; a spring without adjuster only [rear.spring].",
    ),
    (
        '[front.shock]\nstroke = "14 in"\nshaft_diameter = "7/8 in"\ngas_pressure = "200 psi"\n'
        'gas_volume = "12 in^3"\n',
        "",
        "[front]",
        "front.shock: missing. "
        "A coilover needs shock, adjuster, cycle and stack; a spring without adjuster only [front.spring].",
    ),
    (
        WANTED,
        '[corner.RF.shock]\nstroke = "12 in"\n[target]',
        'shaft = "14 in"',
        "front.cycle[2].shaft: 14 in of shaft is more than the stroke has. "
        "Write 0 to 12 in, or mend the stroke.",
    ),
    (
        WANTED,
        '[corner.RF.adjuster]\ntravel_per_turn = "2 mm"\nrange = ["0 in", "20 in"]\n[target]',
        'range = ["0 in", "20 in"]',
        "corner.RF.adjuster.range: the springs are coil-bound before that preload. Write at most 18.4 in.",
    ),
    (
        WANTED,
        '[corner.LR.shock]\nstroke = "12 in"\n[target]',
        "[corner.LR.shock]",
        "corner.LR.shock: [rear.spring] says that this corner has no coilover. "
        "Leave it out, or describe a coilover.",
    ),
]


@pytest.mark.parametrize(
    ("old", "new", "blamed", "said"),
    [*MISSING_OR_UNKNOWN, *QUANTITIES, *PLAUSIBLE, *CHOICES, *WITHIN_A_TABLE, *BETWEEN_TABLES],
)
def test_each_fault_says_where_what_and_how_to_mend_it(old, new, blamed, said):
    text = with_changes((old, new))
    if blamed is not None:
        line = next(n for n, line in enumerate(text.split("\n"), 1) if line.startswith(blamed))
        said = f"line {line}, {said}"
    assert said in faults_of(text)


@pytest.mark.parametrize(
    ("old", "new", "blamed", "said"), [*PLAUSIBLE, *CHOICES, *WITHIN_A_TABLE, *BETWEEN_TABLES]
)
def test_one_slip_is_one_fault(old, new, blamed, said):
    assert len(faults_of(with_changes((old, new)))) == 1


def test_all_faults_of_a_file_are_told_at_once_in_file_order():
    text = with_changes(
        ('"132 in"', '"132"'),
        ('"34 in"', '"70 in"'),
        ('"1/12 in"', '"1 ft"'),
        ('shaft = "14 in"', 'shaft = "15 in"'),
        ('"5.2 in"', '"15.2 in"'),
        ('"310 lbf/in"', '"310 lbf"'),
        ('LF = "22 in"', 'LF = "4 ft"'),
        ("load = 0.2", "load = 200"),
    )
    lines = [int(line.split()[1].rstrip(",")) for line in faults_of(text)]
    assert lines == sorted(lines)
    assert lines == [3, 9, 18, 25, 33, 42, 50, 58]


def test_the_faults_are_there_as_values_too():
    with pytest.raises(TruckFileError) as caught:
        read_truck(with_changes(('"34 in"', '"34,5 in"')), name="mine.toml")
    (fault,) = caught.value.faults
    assert (caught.value.file, fault.line, fault.where) == ("mine.toml", 9, "front.spring_spacing")
    assert fault.found == "34,5 in"
    assert fault.mend == "Write 22.5 in, 22 1/2 in or 571.5 mm"


def test_a_long_list_of_faults_is_cut_in_print_and_kept_as_values():
    with pytest.raises(TruckFileError) as caught:
        read_truck(GOOD + "".join(f"odd{n} = 1\n" for n in range(200)))
    assert len(caught.value.faults) == 200
    assert str(caught.value).split("\n")[-1] == "truck.toml: and 150 more."


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("wheelbase = 132 in", "line 1, column 17: not readable as TOML"),
        ('a = 1\nwheelbase = "22 1/2""', "line 2, column 21: not readable as TOML"),
        ("wheelbase = “132 in”", "line 1, column 13: not readable as TOML"),
        ("[front]\n[front]", "line 2, column 7: not readable as TOML"),
        ("a = 1\na = 2", "(cannot overwrite a value). Give each table and each key once."),
        ("a = 2024-13-45", "line 1, column 9: not readable as TOML"),
        ("a = '\x00'", "not readable as TOML"),
        ('a = "', "not readable as TOML"),
        ("a = " + "[" * 1900, "nested too deep"),
        ("a = " + "{b=" * 600, "nested too deep"),
        ("a = " + "1" * 50_000, "line 1: more than 2000 characters in a line. Break it up."),
        ("a = [\n" + "[\n" * 40_000, "nested too deep"),
        ("#\n" * 60_000, "more than 100000 characters"),
    ],
    ids=lambda text: ascii(text[:20]),
)
def test_what_is_no_toml_is_refused_in_one_line(text, said):
    (line,) = faults_of(text)
    assert said in line
    assert line.isprintable()
    assert len(line) < 400


@pytest.mark.parametrize(
    "text",
    [
        ".".join("a" * 40_000) + " = 1",
        "\n".join(f"b{n}.{'.'.join('a' * 990)} = 1" for n in range(50)),
        "\n".join(f"[b{n}.{'.'.join('a' * 990)}]" for n in range(50)),
        "units = 0x" + "f" * 1900,
        "wheelbase = 0x" + "f" * 1900,
        "[front]\ntrack = 0o" + "7" * 1900,
        "name = " + "1" * 1900,
        "".join(f"k{n} = 1\n" for n in range(8000)),
        "\n".join(f"[{'.'.join('ab' * 100)}.x{n}]" for n in range(200)),
        "name = '" + "x" * 1900 + "'",
        "'" + "k" * 1900 + "' = 1",
        "[" + " " * 1900,
        "[" + "a" * 1900 + "\n",
        "wheelbase = [\n" + "[],\n" * 20_000 + "]",
        'name = """' + "x\n" * 40_000 + '"""',
        'name = "\\u202e\\u2028\\u0000"',
        "front = 3\nrear = []\ncorner = 4\nstacks = 3\ntarget = 'x'\nnoise = 2",
        "corner.RF = 3\nstacks = [3, {}]\nfront.cycle = [[1]]\nrear.spring = [1]\nfront.stack.upper = 3",
        "corner.LF.stack = 3\ncorner.LR.spring.rate = 3",
    ],
    ids=lambda text: ascii(text[:20]),
)
def test_hostile_files_are_answered_soon_and_readably(text):
    start = time.process_time()
    said = faults_of(text)
    assert time.process_time() - start < 2
    assert all(line.isprintable() and len(line) < 500 for line in said)


PIECES = st.sampled_from([line for line in GOOD.split("\n") if line])


@settings(max_examples=250, deadline=None)
@given(
    st.lists(
        PIECES | st.text(max_size=20) | st.sampled_from(["[front]", "= 3", '"', "[[", "{}"]), max_size=30
    )
)
def test_any_shuffle_of_lines_is_a_truck_or_a_list_of_readable_faults(pieces):
    try:
        read_truck("\n".join(pieces))
        said = []
    except TruckFileError as error:
        said = str(error).split("\n")
    assert all(line.isprintable() for line in said)


@settings(max_examples=250, deadline=None)
@given(
    at=st.integers(0, len(GOOD)),
    cut=st.integers(0, 60),
    put=st.text(max_size=6) | st.sampled_from(["nan", "-1", '"0 in"', "[]", "{}", "1e400", "'x'"]),
)
def test_any_damage_to_a_good_file_is_a_truck_or_a_list_of_readable_faults(at, cut, put):
    try:
        read_truck(GOOD[:at] + put + GOOD[at + cut :])
        said = []
    except TruckFileError as error:
        said = str(error).split("\n")
    assert all(line.isprintable() for line in said)


@pytest.mark.parametrize(
    "key", ["frame_twist_stiffness", "tyre_rate", "gas_volume", "gas_pressure", "ring_gap", "bump_stop"]
)
def test_every_optional_key_may_be_left_out(key):
    kept = [line for line in GOOD.split("\n") if not line.startswith(key)]
    assert read_truck("\n".join(kept)).name == "Fold mountain"


def test_windows_line_ends_and_a_byte_order_mark_change_nothing(tmp_path):
    path = tmp_path / "truck.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert load_truck(path) == read_truck("\ufeff" + GOOD) == read_truck(GOOD)


def test_bytes_that_are_no_utf_8_are_named_by_line(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_bytes(b'name = "ok"\nunits = "us" # 22\xbd in\n')
    with pytest.raises(
        TruckFileError, match=r"^mine\.toml, line 2: a character that is not UTF-8\. Save the file"
    ):
        load_truck(path)


def test_a_file_that_cannot_be_opened_is_said_so(tmp_path):
    with pytest.raises(TruckFileError, match=r"^none\.toml: can't be opened: No such file"):
        load_truck(tmp_path / "none.toml")
    with pytest.raises(TruckFileError, match="can't be opened: Is a directory"):
        load_truck(tmp_path)


def test_the_template_is_a_valid_truck_that_says_it_is_invented():
    text = truck_template()
    truck = read_truck(text)
    assert truck.units == "us"
    assert "invented" in text.split("\n")[0]
    assert truck.corners["LF"].adjuster is not None
    assert truck.corners["LR"].adjuster is None


def test_the_templates_common_practice_figures_are_the_defaults():
    text = truck_template()
    without = "\n".join(line for line in text.split("\n") if not line.startswith(("friction", "step")))
    without = without[: without.index("[noise]")]
    assert read_truck(without) == read_truck(text)


def test_the_templates_practice_table_is_the_default_when_its_signs_are_taken_away():
    text = truck_template()
    table = text[text.index("# [practice]") :]
    whole = text + "\n" + "\n".join(line.removeprefix("# ") for line in table.split("\n"))
    for key, usual in vars(Practice()).items():
        assert getattr(read_truck(whole).practice, key) == pytest.approx(usual)
    assert set(tomllib.loads(whole)["practice"]) == set(vars(Practice()))


def test_every_key_of_the_template_is_known_to_toml_once():
    assert set(tomllib.loads(truck_template())) == {
        *("name", "units", "wheelbase", "frame_twist_stiffness", "front", "rear", "target", "noise"),
    }


# ---------------------------------------------------------------- travel and practice

IN = 0.0254
BUMP_STOP = 'bump_stop = { kind = "hydraulic", travel = "2 in" }'
PRACTICE = """
[practice]
shaft_at_bump = ["20 mm", "30 mm"]
strap_before_extension = ["1 in", "3 in"]
seated = "1/8 in"
clear_of_solid = "3/8 in"
crossover = [0.25, 0.75]
first_preload = "3/4 in"
side_lean = "4 deg"
ride_frequency = ["0.9 Hz", "1.4 Hz"]
"""


def test_a_bump_stop_is_read_with_the_height_where_it_touches():
    text = GOOD.replace(
        BUMP_STOP, 'bump_stop = { kind = "soft", travel = "1 1/2 in", contact = "17 1/4 in" }'
    )
    travel = read_truck(text).corners["RF"].travel
    assert travel.bump_stop == "soft"
    assert travel.bump_stop_travel == pytest.approx(1.5 * IN)
    assert travel.bump_stop_contact == pytest.approx(17.25 * IN)


def test_a_shock_is_read_with_its_lean_and_the_springs_it_takes():
    text = GOOD.replace(
        'stroke = "14 in"', 'stroke = "14 in"\nside_lean = "3 deg"\nspring_inside_diameter = "2 1/2 in"'
    )
    shock = read_truck(text).corners["LF"].shock
    assert shock.side_lean == pytest.approx(math.radians(3))
    assert shock.spring_inside_diameter == pytest.approx(2.5 * IN)


def test_an_owners_practice_takes_the_place_of_the_common_one():
    found = read_truck(GOOD + PRACTICE).practice
    assert found.shaft_at_bump == pytest.approx((0.020, 0.030))
    assert found.strap_before_extension == pytest.approx((1 * IN, 3 * IN))
    assert (found.seated, found.clear_of_solid) == pytest.approx((IN / 8, 3 * IN / 8))
    assert found.crossover == (0.25, 0.75)
    assert found.first_preload == pytest.approx(0.75 * IN)
    assert found.side_lean == pytest.approx(math.radians(4))
    assert found.ride_frequency == pytest.approx((0.9, 1.4))
    assert read_truck(GOOD).practice == Practice()


@pytest.mark.parametrize(
    ("good", "bad", "said"),
    [
        (
            '["20 mm", "30 mm"]',
            '"1/2 in"',
            'practice.shaft_at_bump: "1/2 in" is not a pair. Write ["1/2 in", "1 in"].',
        ),
        (
            '["1 in", "3 in"]',
            '["1 in"]',
            'practice.strap_before_extension: one value where two belong. Write ["1 1/2 in", "2 in"].',
        ),
        (
            '["0.9 Hz", "1.4 Hz"]',
            "1.2",
            'practice.ride_frequency: 1.2 is not a pair. Write ["1 Hz", "1.5 Hz"].',
        ),
        ("[0.25, 0.75]", "[0.5, 0.6, 0.7]", "practice.crossover: a list is not a pair. Write [0, 1]."),
        (
            "[0.25, 0.75]",
            "[0.75, 0.25]",
            "practice.crossover: the first is not below the second. Write the least first, then the most.",
        ),
        ('"4 deg"', '"4 in"', 'practice.side_lean: "4 in" is not an angle. Write 4 deg.'),
        ("seated", "seeted", "practice.seeted: not a key here. Did you mean seated?"),
    ],
)
def test_a_faulty_practice_says_what_it_may_be(good, bad, said):
    text = GOOD + PRACTICE.replace(good, bad)
    with pytest.raises(TruckFileError) as error:
        read_truck(text)
    line = str(error.value)
    assert line.startswith("truck.toml, line ")
    assert line.split(", ", 2)[2] == said
