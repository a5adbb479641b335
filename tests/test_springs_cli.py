"""`tuning springs` as people and scripts meet it: keys, exit codes, what is refused and how."""

import csv
import json

import pytest
from click.testing import CliRunner

import sample_runs
from tuning.cli import main
from tuning.log.catalogue_file import CatalogueError, read_catalogue, read_catalogue_file
from tuning.springs import REASONS

STOCK = sample_runs.path("night_shift").parent / "springs.csv"
HEAD = "spring,rate [lbf/in],free_length [in],solid_length [in],inside_diameter [in]\n"
NAMES = {spring.name for spring in read_catalogue_file(STOCK)}


def springs(*words, truck="night_shift", catalogue=STOCK):
    sample = sample_runs.path(truck)
    files = [
        "--truck",
        sample / "truck.toml",
        "--readings",
        sample / "readings.csv",
        "--catalogue",
        catalogue,
    ]
    return CliRunner().invoke(main, [str(w) for w in ("springs", *files, *words)])


def document(*words, **more):
    result = springs(*words, "--json", **more)
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)


def refused(result, code=2):
    assert result.exit_code == code, (result.exit_code, result.stdout, result.stderr)
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    assert "should not happen" not in result.stderr
    return result.stderr


def catalogue(tmp_path, *rows):
    file = tmp_path / "stock.csv"
    file.write_text(HEAD + "".join(f"{row}\n" for row in rows), encoding="utf-8")
    return file


@pytest.fixture(scope="module")
def night():
    return document()


def test_a_choice_has_every_key_of_the_contract(night):
    keys = {"end", "upper", "lower", "ring_gap", "preload", "height_after", "frequency_hz"}
    keys |= {"crossover_height", "probability_reachable", "checks"}
    for choice in night["choices"]:
        assert keys <= set(choice)
        sides = {"front": {"LF", "RF"}, "rear": {"LR", "RR"}}[choice["end"]]
        assert set(choice["preload"]) == set(choice["height_after"]) == sides
        for height in choice["height_after"].values():
            assert height["low"] < height["mean"] < height["high"]
        assert 0 <= choice["probability_reachable"] <= 1
        for check in choice["checks"]:
            assert set(check) >= {"name", "ok", "value", "unit", "limit"}


def test_both_ends_are_answered_unless_one_is_named(night):
    assert {choice["end"] for choice in night["choices"]} == {"front", "rear"}
    assert {choice["end"] for choice in document("--end", "rear")["choices"]} == {"rear"}


def test_names_are_the_catalogues_or_the_trucks_own(night):
    for choice in night["choices"]:
        for name in (choice["upper"], choice["lower"]):
            assert name is None or name in NAMES or name.startswith(f"own {choice['end']} ")


def test_rejected_pairs_are_counted_by_reason_and_all_pairs_are_accounted_for():
    found = document("--end", "front")
    candidates = len(NAMES) + 2  # upper and lower that are on the truck
    pairs = candidates * (candidates + 1) - 2  # singles too, and no kept spring on itself
    assert set(found["rejected"]) <= set(REASONS)
    said = springs("--end", "front").stdout
    assert f"{pairs:,} stacks looked at" in said
    sound = int(said.split(" looked at, ")[1].split(" fit")[0].replace(",", ""))
    assert sum(found["rejected"].values()) + sound == pairs


def test_the_best_choice_reaches_the_target(night):
    best = next(c for c in night["choices"] if c["end"] == "front")
    for height in best["height_after"].values():
        assert abs(height["mean"] - 22) < 1 / 8
    assert best["probability_reachable"] > 0.9
    assert all(check["ok"] for check in best["checks"])


def test_a_frequency_window_changes_the_choice():
    stiff = document("--end", "front", "--frequency", "1.1 Hz,1.15 Hz")["choices"][0]
    soft = document("--end", "front", "--frequency", "0.9 Hz,1.05 Hz")["choices"][0]
    assert 1.1 <= stiff["frequency_hz"] <= 1.15
    assert 0.9 <= soft["frequency_hz"] <= 1.05


def test_a_crossover_window_is_kept():
    found = document("--end", "front", "--crossover", "18 in,19 in", "--count", "5")["choices"]
    assert all(18 <= c["crossover_height"] <= 19 for c in found if c["crossover_height"] is not None)
    assert any(c["crossover_height"] is not None for c in found)


def table_cells(said, heading):
    """The cells of one column of the table of choices, by where its heading stands."""
    lines = said.splitlines()
    head = next(i for i, line in enumerate(lines) if line.lstrip().startswith("springs") and heading in line)
    begin = lines[head].index(heading)
    width = lines[head + 1][begin:].index(" ")
    rows = lines[head + 2 : lines.index("", head)]
    return [row[begin : begin + width].strip() for row in rows]


@pytest.mark.parametrize("window", ["1 Hz,1.1 Hz", "1.06 Hz,1.08 Hz", "2 Hz,3 Hz", "0.3 Hz,0.4 Hz"])
def test_a_ride_frequency_outside_its_window_says_on_which_side(window):
    low, high = (float(part.split()[0]) for part in window.split(","))
    words = ("--end", "front", "--frequency", window, "--count", "20")
    found = [c["frequency_hz"] for c in document(*words)["choices"]]
    cells = table_cells(springs(*words).stdout, "Hz")
    assert [float(cell.split()[0]) for cell in cells] == [pytest.approx(f, abs=0.005) for f in found]
    for cell, frequency in zip(cells, found, strict=True):
        assert cell.endswith("under") == (frequency < low), cell
        assert cell.endswith("over") == (frequency > high), cell


def test_a_crossover_outside_its_window_says_on_which_side():
    words = ("--end", "front", "--crossover", "18 in,18.2 in", "--ring-stays", "--count", "30")
    found = [c["crossover_height"] for c in document(*words)["choices"]]
    cells = table_cells(springs(*words).stdout, "crossover")
    sides = set()
    for cell, height in zip(cells, found, strict=True):
        side = "-" if height is None else "under" if height < 18 else "over" if height > 18.2 else "in"
        sides.add(side)
        assert cell.endswith(side), (cell, height)
    assert {"over", "under"} & sides


def test_a_window_that_nothing_listed_keeps_is_told_first_and_one_that_something_keeps_is_not():
    said = springs("--end", "front", "--frequency", "2 Hz,3 Hz", "--crossover", "30 in,31 in").stdout
    first, second, third = said.splitlines()[2:5]
    assert first.startswith("Front: No stack that fits has a ride frequency of 2.00 to 3.00 Hz")
    assert second.startswith("Front: No stack that fits has its crossover at 30.00 to 31.00 in")
    assert "looked at" in third
    assert "No stack that fits has" not in springs("--end", "front").stdout


def test_a_ring_that_stays_is_left_where_it_is():
    for choice in document("--end", "front", "--ring-stays")["choices"]:
        assert not choice["ring_moves"]


def test_sides_may_differ():
    found = document("--end", "front", "--sides-differ", "--count", "20")["choices"]
    assert len(found) == 20
    assert any(c["springs"]["LF"] != c["springs"]["RF"] for c in found)
    for choice in found:
        differ = choice["springs"]["LF"] != choice["springs"]["RF"]
        assert (choice["lower"] is None) == differ


def test_units_are_the_owners():
    us, metric = document(), document("--end", "front", truck="market_van")
    assert (us["units"]["height"], metric["units"]["height"]) == ("in", "mm")
    assert all(400 < h["mean"] < 600 for c in metric["choices"] for h in c["height_after"].values())


def test_an_empty_catalogue_leaves_what_is_on_the_truck(tmp_path):
    found = document("--end", "front", catalogue=catalogue(tmp_path))
    assert [(c["upper"], c["lower"]) for c in found["choices"]] == [("own front upper", "own front lower")]


def test_a_hopeless_catalogue_and_no_room_for_the_own_springs_gives_the_least_bad(tmp_path):
    """A truck that has to stand far higher than its springs can lift it, and stock that is far too soft."""
    sample = sample_runs.path("night_shift")
    text = (sample / "truck.toml").read_text(encoding="utf-8")
    truck = tmp_path / "truck.toml"
    truck.write_text(
        text.replace('LF = "22 in"', 'LF = "26 in"').replace('RF = "22 in"', 'RF = "26 in"'), "utf-8"
    )
    stock = catalogue(tmp_path, "weak,40,10,4,2.5", "weaker,30,10,4,2.5")
    words = [
        "springs",
        "--truck",
        truck,
        "--readings",
        sample / "readings.csv",
        "--catalogue",
        stock,
        "--end",
        "front",
    ]
    result = CliRunner().invoke(main, [str(w) for w in (*words, "--json")])
    assert result.exit_code == 0, result.stderr
    found = json.loads(result.stdout)
    assert found["choices"] == []
    assert sum(found["rejected"].values()) == 18
    assert found["least_bad"][0]["gives"]
    assert set(found["least_bad"][0]["gives"]) <= set(REASONS)
    said = CliRunner().invoke(main, [str(w) for w in words]).stdout
    assert "Nothing fits" in said
    assert "would have to give" in said


def test_why_says_in_one_line_why_a_pair_lost(tmp_path):
    stock = catalogue(tmp_path, "weak,40,10,4,2.5", "wide,300,12,4,3")
    said = springs("--end", "front", "--why", "weak,wide", catalogue=stock).stdout
    assert said.startswith("LF, RF: weak over wide: inside diameters differ")
    assert said.count("\n") == 1
    assert "weak" in springs("--end", "front", "--why", "weak", catalogue=stock).stdout


def test_why_takes_names_with_commas_between_quotes(tmp_path):
    stock = catalogue(tmp_path, '"A,1",300,12,4,2.5', "wide,300,12,4,3")
    said = springs("--end", "front", "--why", '"A,1", wide', catalogue=stock).stdout
    assert said.startswith("LF, RF: A,1 over wide: inside diameters differ")
    assert springs("--end", "front", "--why", '"A,1"', catalogue=stock).stdout.startswith("LF, RF: A,1: ")
    assert "between quotes where one has a comma" in refused(springs("--why", "A,1", catalogue=stock))


@pytest.mark.parametrize("name", ["own front upper", "Own  Rear SPRING"])
def test_no_listed_spring_can_pass_for_one_that_is_on_the_truck(tmp_path, name):
    said = refused(springs(catalogue=catalogue(tmp_path, "B,425,14,5.9,2.5", f"{name},500,12,6,2.5")))
    assert "line 3, spring" in said
    assert "a name of its own" in said


@pytest.mark.parametrize("truck", sample_runs.NAMES)
def test_whatever_answers_call_the_trucks_own_springs_is_refused_in_a_list(tmp_path, truck):
    """With nothing listed all names are the truck's own."""
    found = document(truck=truck, catalogue=catalogue(tmp_path))
    stacks = found["choices"] + found["least_bad"]
    names = {name for stack in stacks for pair in stack["springs"].values() for name in pair.values()} - {
        None
    }
    assert names
    for name in names:
        with pytest.raises(CatalogueError, match="a name of its own"):
            read_catalogue(f"{HEAD}{name},500,12,6,2.5\n")


def test_a_file_that_holds_nothing_is_answered(tmp_path):
    empty = tmp_path / "empty.csv"
    empty.touch()
    assert springs(catalogue=empty).exit_code == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--why", "nobody"), "is no spring that was looked at"),
        (("--why", "a,b,c"), "is not one spring or two"),
        (("--why", ""), "is not one spring or two"),
        (("--frequency", "1.2 Hz"), "is not a window"),
        (("--frequency", "1.4 Hz,1.2 Hz"), "not below the second"),
        (("--frequency", "-1 Hz,0 Hz"), '"-1 Hz" is not above zero'),
        (("--crossover", "0 in,20 in"), '"0 in" is not above zero'),
        (("--frequency", "1 Hz,banana"), "is not a frequency"),
        (("--frequency", "1 in,2 in"), "is not a frequency"),
        (("--crossover", "18,19"), "has no unit"),
        (("--end", "middle"), "front"),
        (("--count", "0"), "count"),
    ],
)
def test_rubbish_is_refused_in_words(words, said):
    assert said in refused(springs(*words))


def test_a_name_that_is_nearly_right_is_proposed(tmp_path):
    stock = catalogue(tmp_path, "alpha long,200,14,4,2.5")
    assert "Did you mean alpha long?" in refused(springs("--why", "alfa long", catalogue=stock))


def test_an_end_without_coilovers_has_no_answer():
    assert "no coilovers" in refused(springs("--end", "rear", truck="market_van"), code=1)


def test_faults_of_a_catalogue_are_said_all_at_once(tmp_path):
    bad = catalogue(tmp_path, "a,200,10,12,2.5", "a,banana,10,4,2.5")
    said = refused(springs(catalogue=bad))
    assert said.count("\n") >= 2
    assert "line 2" in said
    assert "line 3" in said


def test_the_stack_to_log_is_a_stack_the_truck_file_takes(tmp_path):
    """What is printed to be put into the truck file is put into it, and the next run is read with it."""
    sample = sample_runs.path("night_shift")
    text = springs("--end", "front", "--frequency", "1.1 Hz,1.15 Hz").stdout
    block = text[text.index("[[stacks]]") :].split("\n\n")[0]
    name = block.split('name = "')[1].split('"')[0]
    truck = tmp_path / "truck.toml"
    truck.write_text(
        (sample / "truck.toml").read_text(encoding="utf-8") + "\n" + block + "\n", encoding="utf-8"
    )
    with (sample / "readings.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    changes = {"run": "with new springs", "taken_at": "2024-06-01T10:00"}
    rows += [{**row, **changes, "stack": name if "F" in row["corner"] else row["stack"]} for row in rows[-4:]]
    readings = tmp_path / "readings.csv"
    with readings.open("w", newline="", encoding="utf-8") as file:
        out = csv.DictWriter(file, rows[0])
        out.writeheader()
        out.writerows(rows)
    words = ["fit", "--truck", truck, "--readings", readings, "--keep-doubtful", "--json"]
    result = CliRunner().invoke(main, [str(w) for w in words])
    assert result.exit_code == 0, result.stderr
    assert name in json.loads(result.stdout)["corners"]["LF"]["rate_factor"]
