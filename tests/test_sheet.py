"""The set-up sheet: its texts are the answers', its page is one page whatever is on it, its prophecy is honest."""

import io
import json
import os
import re
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
import segno
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from dashboard.app import create_app
from sample_runs import NAMES, path
from tests.dashboard_truck import NAME, fill, readings, truck
from tests.truth import rest
from tests.truth.machine import machine_of
from tests.truth.trucks import IN, LBF
from tuning.adjust import predict
from tuning.cli import main
from tuning.fit import fit
from tuning.foretold import ForetoldError, foretell
from tuning.log.files import read_readings_file
from tuning.readings import Reading, runs_of
from tuning.sheet import sheet
from tuning.sheet_answers import as_of, sheet_answers
from tuning.sheet_layout import ASCENT, DESCENT, MARGIN, NARROW, layout, letters, printable, width_of, wrapped
from tuning.sheet_parts import (
    ATTENTION,
    NOTHING,
    TO_WRITE,
    Section,
    Sheet,
    file_name,
    sheet_document,
    shortened,
)
from tuning.sheet_pdf import _dark, sheet_pdf
from tuning.truck import CORNERS, Target
from tuning.truckfile import load_truck
from tuning.units import parse, turns_text

INCHES = {"a4": (210 / 25.4, 297 / 25.4), "letter": (8.5, 11.0)}  # ISO 216; ANSI/ASME Y14.1
PAPERS = tuple(INCHES)


def sample(name):
    built = load_truck(path(name) / "truck.toml")
    return built, runs_of(read_readings_file(path(name) / "readings.csv", built))


@pytest.fixture(scope="module")
def answers():
    return {name: sheet_answers(*sample(name)) for name in NAMES}


def row(found, title, label):
    """The texts of a row by corner."""
    section = next(s for s in found.sections if s.title.startswith(title))
    return dict(zip(CORNERS, next(r for r in section.rows if r[0] == label)[1:], strict=True))


def lines(found):
    return "\n".join(line for section in found.sections for line in section.lines)


# ---------------------------------------------------------------- texts


@pytest.mark.parametrize("name", NAMES)
def test_heights_and_preloads_read_back_as_the_answers_to_what_a_tape_tells(answers, name):
    found, advice = sheet(answers[name]), answers[name].advice
    fine = {"us": 0.0051 * IN, "metric": 0.051e-3}[answers[name].fit.truck.units]
    tape = {"us": IN / 31.9, "metric": 0.251e-3}[answers[name].fit.truck.units]
    for corner, one in advice.corners.items():
        read = {
            what: row(found, "Heights", what)[corner]
            for what in ("measured", "expected after", "90 % between")
        }
        assert parse(read["measured"], "length") == pytest.approx(one.height_now, abs=tape)
        assert parse(read["expected after"], "length") == pytest.approx(one.height_after.mean, abs=tape)
        low, high = read["90 % between"].split(" to ")
        unit = high.rpartition(" ")[2]
        assert parse(f"{low} {unit}", "length") == pytest.approx(one.height_after.low, abs=fine)
        assert parse(high, "length") == pytest.approx(one.height_after.high, abs=fine)
        for what, value in (("preload now", one.preload_now), ("preload after", one.preload_after)):
            text = row(found, "Nuts", what)[corner]
            if value is None:
                assert text == NOTHING
            else:
                assert parse(text, "length") == pytest.approx(value, abs=fine)


@pytest.mark.parametrize("name", NAMES)
def test_turns_are_told_as_everywhere_and_only_where_there_is_a_nut(answers, name):
    told = row(sheet(answers[name]), "Nuts", "turn the nut")
    for corner, one in answers[name].advice.corners.items():
        assert told[corner] == (NOTHING if one.turns is None else turns_text(one.turns))


@pytest.mark.parametrize("name", NAMES)
def test_every_check_of_the_travel_is_there_with_its_verdict(answers, name):
    found = sheet(answers[name])
    count = 0
    for corner, over in answers[name].travel.corners.items():
        for check in over.checks:
            text = row(found, "Travel", check.name)[corner]
            assert text.endswith({True: "pass", False: ATTENTION, None: "not measured"}[check.ok])
            count += 1
            if check.mend and not check.ok:
                assert check.mend in lines(found)
    section = next(s for s in found.sections if s.title.startswith("Travel"))
    assert sum(text != NOTHING for r in section.rows for text in r[1:]) == count


def test_what_needs_attention_comes_first(answers):
    section = next(s for s in sheet(answers["market_van"]).sections if s.title.startswith("Travel"))
    bad = [any(text.endswith(ATTENTION) for text in r[1:]) for r in section.rows]
    assert any(bad)
    assert bad == sorted(bad, reverse=True)


def test_a_leaf_has_a_height_and_no_nut(answers):
    found = sheet(answers["market_van"])
    for corner in ("LR", "RR"):
        assert parse(row(found, "Heights", "expected after")[corner], "length") > 0
        assert row(found, "Nuts", "turned, locked (tick)")[corner] == NOTHING
        assert row(found, "Nuts", "turned, locked (tick)")["LF"] == TO_WRITE


def test_a_truck_without_scales_says_so_and_shows_no_measured_load(answers):
    found = sheet(answers["hill_pony"])
    assert set(row(found, "Wheel loads", "measured").values()) == {NOTHING}
    assert "Cross-weight (RF + LR) is unknown: weigh all four wheels once." in lines(found)


def test_cross_weight_is_that_of_the_loads_that_were_read(answers):
    runs = sample("night_shift")[1]
    loads = {c: np.mean([r.load for r in runs[-1].at(c) if r.load is not None]) for c in CORNERS}
    share = 100 * (loads["RF"] + loads["LR"]) / sum(loads.values())
    assert f"{share:.1f} % measured" in lines(sheet(answers["night_shift"]))
    assert f"{share:.1f} % read." in lines(sheet(answers["night_shift"]))


def test_one_run_only_has_a_sheet_that_says_nothing_was_foretold():
    built = truck()
    found = sheet(sheet_answers(built, runs_of(readings(1))))
    assert found.runs == "1 run so far"
    assert "This is the first run: there was nothing to foretell it from." in lines(found)
    assert found.odometer == "not noted"


def test_a_truck_that_can_be_told_no_turns_still_has_its_sheet():
    built = replace(truck(), target=Target())
    found = sheet(sheet_answers(built, runs_of(readings(2))))
    assert "No turns advised: no target" in lines(found)
    assert set(row(found, "Nuts", "turn the nut").values()) <= {"leave it", NOTHING}


def test_where_no_turns_are_advised_what_is_past_its_limit_is_so_as_it_stands():
    """A thread that ends before where the nuts are, and nothing wished for."""
    built, runs = sample("night_shift")
    short = {
        name: replace(corner, adjuster=replace(corner.adjuster, preload_max=0.1 * IN))
        for name, corner in built.corners.items()
    }
    said = lines(sheet(sheet_answers(replace(built, corners=short, target=Target()), runs)))
    assert "No turns advised" in said
    for corner in CORNERS:
        assert f"{corner}: as it stands it is past what is allowed (end of the thread)" in said
    assert "these turns" not in said
    turned = predict(fit(replace(built, corners=short), runs), {"LF": 1.0})
    assert "LF: these turns go past what is allowed (end of the thread)" in turned.limits


def test_a_corner_that_was_not_read_this_time_says_its_height_is_older():
    rows = [r for r in readings(3) if (r.run, r.corner) != ("r3", "RF")]
    told = row(sheet(sheet_answers(truck(), runs_of(rows))), "Heights", "measured")
    assert told["RF"].endswith("earlier run")
    assert "earlier" not in told["LF"]


def test_doubtful_readings_are_named_with_their_reason():
    rows = [*readings(3)]
    rows[-1] = replace(rows[-1], doubt="tape slipped")
    assert "R3: tape slipped." in lines(sheet(sheet_answers(truck(), runs_of(rows))))


def test_the_sheet_of_an_older_run_is_the_one_that_a_log_ending_there_gives():
    built, runs = sample("night_shift")
    older = sheet(sheet_answers(*as_of("r2", built, runs)))
    assert older == sheet(sheet_answers(built, runs[:2]))
    assert older.run == "r2"


def test_an_older_run_is_told_of_the_truck_as_it_then_was():
    built, runs = sample("night_shift")
    then = replace(built, target=Target(heights={"LF": 0.5}))
    assert as_of("r1", built, runs, (then, built, built))[0] is then
    assert as_of("r3", then, runs, (built, built, built))[0] is then, (
        "the latest is told of the truck as it is"
    )


def test_the_document_holds_every_text_of_the_sheet(answers):
    found = sheet(answers["night_shift"], "http://192.0.2.7:8050/log?truck=x")
    document = json.loads(json.dumps(sheet_document(found)))
    for section, told in zip(found.sections, document["sections"], strict=True):
        assert told["title"] == section.title
        assert [tuple(r[key] for key in ("what", *CORNERS)) for r in told["rows"]] == list(section.rows)
        assert told["lines"] == list(section.lines)
    assert document["address"] == found.address


# ---------------------------------------------------------------- foretold


def exact_runs(built, load, nuts):
    """Runs r1, r2 … read without any error at these preloads (m), of the truck just as its file has it."""
    machine, found = machine_of(built), []
    for number, preload in enumerate(np.asarray(nuts), 1):
        stand = rest.settle(machine, load, preload)
        at = datetime(2025, 3, 1, 8) + timedelta(days=number)
        for i, c in enumerate(CORNERS):
            stack = built.corners[c].stack.name
            wheel = float(stand.wheels[i])
            found.append(Reading(f"r{number}", at, c, float(stand.heights[i]), wheel, preload[i], stack))
    return runs_of(found)


@pytest.mark.parametrize("turned", [(6, 0, 0, 0), (-3, 5, 0, 2), (0, 0, 8, -4)])
def test_what_is_foretold_is_where_an_independent_simulation_stands(turned):
    built, _ = sample("night_shift")
    load = rest.Load(np.array(3480 * LBF), np.array(2850 * LBF), np.array(40.0))
    first = np.array([1.2, 1.2, 1.5, 1.5]) * IN
    nuts = [first, first + np.array([2, -2, 1, 0]) * IN / 12]
    nuts.append(nuts[-1] + np.array(turned) * IN / 12)
    runs = exact_runs(built, load, nuts)
    told = foretell(built, runs)
    moved = 0.0
    for c in CORNERS:
        true, before = runs[-1].at(c)[0], runs[-2].at(c)[0]
        moved = max(moved, abs(true.height - before.height))
        assert told.corners[c].height.mean == pytest.approx(true.height, abs=IN / 32)
        assert told.corners[c].height.low < true.height < told.corners[c].height.high
        assert told.corners[c].load.mean == pytest.approx(true.load, abs=6 * LBF)
    assert moved > IN / 8, "or nothing was foretold"


def test_what_was_read_has_no_part_in_what_was_foretold():
    built, runs = sample("night_shift")
    moved = tuple(
        replace(r, height=r.height + IN, load=None if r.load is None else 2 * r.load)
        for r in runs[-1].readings
    )
    one, other = foretell(built, runs), foretell(built, (*runs[:-1], replace(runs[-1], readings=moved)))
    for c in CORNERS:
        assert one.corners[c].height == other.corners[c].height
        assert one.corners[c].load == other.corners[c].load
        assert other.corners[c].read == pytest.approx(one.corners[c].read + IN)
    assert one.cross_weight == other.cross_weight


def test_the_nuts_of_the_run_are_what_it_is_foretold_by():
    built, runs = sample("night_shift")
    turned = {"LF": 0.0, "RF": 5.0, "LR": 7.0, "RR": 0.0}  # as r2 and r3 have their preloads, 1/12 in a turn
    expected = predict(fit(built, runs[:2]), turned)
    for c in CORNERS:
        found = foretell(built, runs).corners[c].height
        assert found.mean == pytest.approx(expected.corners[c].height_after.mean, abs=0.001 * IN)


def test_a_reading_in_doubt_is_not_what_was_read():
    built, runs = sample("hill_pony")
    first = runs[-1].at("LF")[0]
    spoilt = tuple(replace(r, doubt="x", height=1.0) if r is first else r for r in runs[-1].readings)
    told = foretell(built, (*runs[:-1], replace(runs[-1], readings=spoilt)))
    kept = [r.height for r in runs[-1].at("LF")[1:]]
    assert told.corners["LF"].read == pytest.approx(sum(kept) / len(kept))


def test_other_springs_or_no_earlier_run_is_said_and_not_foretold():
    built, runs = sample("night_shift")
    with pytest.raises(ForetoldError, match="first run"):
        foretell(built, runs[:1])
    name = built.corners["LF"].stack.name
    other = replace(built, stacks=built.stacks | {"new": replace(built.stacks[name], name="new")})
    changed = tuple(replace(r, stack="new") if r.corner == "LF" else r for r in runs[-1].readings)
    with pytest.raises(ForetoldError, match="other springs are on at LF since"):
        foretell(other, (*runs[:-1], replace(runs[-1], readings=changed)))


# ---------------------------------------------------------------- the page


def laid_out(page):
    """All that is wrong with a page: a word outside the margins or on another, a field outside or on a word."""
    wrong = []
    boxes = [(w.x, w.y - DESCENT * w.size, w.x + w.width, w.y + ASCENT * w.size, w.text) for w in page.words]
    if page.code is not None:
        c = page.code
        boxes.append((c.x, c.y, c.x + c.width, c.y + c.height, "code"))
    edge = MARGIN - 0.01
    for left, low, right, high, text in boxes:
        if left < edge or low < edge or right > page.width - edge or high > page.height - edge:
            wrong.append(f"{text[:30]!r} is over the edge")
    for i, (left, low, right, high, text) in enumerate(boxes):
        for l2, b2, r2, t2, other in boxes[i + 1 :]:
            if left < r2 and l2 < right and low < t2 - 0.05 and b2 < high - 0.05:
                wrong.append(f"{text[:30]!r} lies on {other[:30]!r}")
    outside = (
        f"{box} is over the edge"
        for box in page.boxes
        if box.x < edge or box.y < edge or box.x + box.width > page.width - edge or box.height < 0
    )
    return [*wrong, *outside]


def pages_of(pdf):
    return PdfReader(io.BytesIO(pdf)).pages


def words_of(pdf):
    return " ".join(pages_of(pdf)[0].extract_text().split())


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", NAMES)
def test_the_pdf_is_one_page_of_its_paper_with_all_that_the_sheet_says(answers, name, paper):
    found = sheet(answers[name])
    pdf = sheet_pdf(found, paper)
    assert len(pages_of(pdf)) == 1
    size = pages_of(pdf)[0].mediabox
    assert (float(size.width) / 72, float(size.height) / 72) == pytest.approx(INCHES[paper], abs=0.01)
    said, page = words_of(pdf).replace(" ", ""), layout(found, paper)
    assert laid_out(page) == []
    assert page.sheet == found, "a sample's sheet is whole"
    texts = [found.truck, f"run {found.run}", found.taken, found.caution, *found.order_of_work]
    for section in found.sections:
        texts += [section.title, *(text for r in section.rows for text in r), *section.lines]
    for text in texts:
        assert printable(text).replace(" ", "") in said, text
    for field in ("Notes", "Name", "Signature", "Date"):
        assert field in said


def test_us_trucks_are_printed_on_letter_and_metric_ones_on_a4(answers):
    for name, paper in (("night_shift", "letter"), ("market_van", "a4")):
        size = pages_of(sheet_pdf(sheet(answers[name])))[0].mediabox
        assert float(size.width) / 72 == pytest.approx(INCHES[paper][0], abs=0.01)


def test_the_same_sheet_gives_the_same_bytes(answers):
    found = sheet(answers["hill_pony"])
    assert sheet_pdf(found) == sheet_pdf(found)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("letter", ["W", "word ", "⅛", "Ж", "́"])
def test_a_sheet_with_far_too_much_on_it_is_one_page_and_says_what_it_leaves_out(answers, paper, letter):
    found = sheet(answers["night_shift"], "http://192.0.2.7:8050/log?truck=" + "x" * 120)
    long = letter * 400
    sections = tuple(
        replace(
            s,
            title=long,
            rows=tuple((long,) * 5 for _ in s.rows) * (9 if s.cut else 1),
            lines=(long,) * 40,
        )
        for s in found.sections
    )
    page = layout(replace(found, truck=long, run=long, odometer=long, sections=sections), paper)
    assert laid_out(page) == []
    assert any("more." in line for section in page.sheet.sections for line in section.lines)
    assert any("more checks." in line for section in page.sheet.sections for line in section.lines)
    assert page.notes.height > 36, "half an inch to write in"


texts = st.text(max_size=60)
rows = st.lists(st.tuples(texts, texts, texts, texts, texts), max_size=6).map(tuple)
sections = st.lists(
    st.builds(Section, texts, rows, st.lists(texts, max_size=5).map(tuple), texts, st.booleans()), max_size=7
)


@settings(max_examples=40, deadline=None)
@given(texts, texts, sections, st.sampled_from(PAPERS), st.sampled_from([None, "http://192.0.2.7/log"]))
def test_whatever_is_written_stays_inside_the_page_and_off_other_words(name, run, parts, paper, address):
    found = Sheet(name, run, name, run, name, paper, tuple(parts), (run, name), name * 3, address)
    assert laid_out(layout(found, paper)) == []
    assert len(pages_of(sheet_pdf(found, paper))) == 1


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=80), st.floats(20, 300), st.floats(5, 20), st.booleans(), st.integers(1, 4))
def test_wrapped_lines_are_no_wider_than_asked_and_lose_nothing_unsaid(text, width, size, bold, most):
    found = wrapped(text, width, size, bold, most)
    assert len(found) <= most
    for line in found:
        assert len(line) <= 2 or width_of(line, size, bold) <= width + 1e-6
    whole, kept = printable(text).replace(" ", ""), "".join(found).replace(" ", "")
    assert kept == whole or (kept.endswith("…") and whole.startswith(kept[:-1]) and kept[:-1] != whole)


def test_no_letter_is_narrower_than_the_wrapping_takes_it_to_be():
    assert min(width_of(chr(code), 1.0, bold) for code in letters() for bold in (False, True)) >= NARROW


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("2¼ turns", "2¼ turns"),
        ("2⅛ turns", "2 1/8 turns"),
        ("⅞ turn", "7/8 turn"),
        ("Łódź, ± 3", "Łódz, ± 3"),
        ("a\nb\t\x00c", "a b c"),
        ("Ж日", "??"),
        ("e\u0301", "é"),
    ],
)
def test_letters_that_the_type_lacks_are_spelt_otherwise(text, shown):
    assert printable(text) == shown


@settings(deadline=None)
@given(sections, st.integers(1, 6))
def test_a_shortened_sheet_counts_what_it_leaves_out(parts, most):
    found = Sheet("a", "b", "c", "d", "e", "a4", tuple(parts), (), "f")
    for before, after in zip(found.sections, shortened(found, most).sections, strict=True):
        left = dict.fromkeys(("", " checks"), 0)
        own = list(after.lines)
        for line in (own[:1] if before.cut else []) + own[-1:]:
            counted = re.fullmatch(r"…and (\d+) more( checks)?\.", line)
            if counted:
                left[counted[2] or ""] = int(counted[1])
        assert len(after.rows) + left[" checks"] == len(before.rows)
        kept = len(own) - (left[""] > 0) - (left[" checks"] > 0)
        assert kept + left[""] == len(before.lines)


def test_the_code_is_drawn_module_for_module():
    for address in ("http://192.0.2.7:8050/log?truck=Night+shift", "http://[2001:db8::1]/" + "x" * 130):
        matrix = [list(r) for r in segno.make(address, error="m", micro=False).matrix_iter(border=4)]
        for modules in matrix:
            drawn = [0] * len(modules)
            for start, end in _dark(modules):
                drawn[start:end] = [1] * (end - start)
            assert drawn == [int(bool(m)) for m in modules]


# ---------------------------------------------------------------- the command


def tuning(*words):
    return CliRunner().invoke(main, [str(word) for word in words])


FILES = ("--truck", path("night_shift") / "truck.toml", "--readings", path("night_shift") / "readings.csv")


def test_the_command_writes_a_named_pdf_once_and_never_over_another(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    first = tuning("sheet", *FILES)
    assert (first.exit_code, os.listdir()) == (0, ["sheet-night-shift-r3.pdf"])
    old = (tmp_path / "sheet-night-shift-r3.pdf").read_bytes()
    assert "Night shift" in words_of(old)
    (tmp_path / "sheet-night-shift-r3.pdf").write_bytes(b"signed")
    again = tuning("sheet", *FILES)
    assert again.exit_code == 2
    assert "is there already and was left alone. Give another --out" in again.stderr
    assert (tmp_path / "sheet-night-shift-r3.pdf").read_bytes() == b"signed"
    assert tuning("sheet", *FILES, "--out", "other.pdf", "--paper", "a4").exit_code == 0
    assert float(pages_of((tmp_path / "other.pdf").read_bytes())[0].mediabox.width) < 600


def test_a_dash_writes_the_page_to_standard_output_and_nothing_else():
    found = tuning("sheet", *FILES, "--out", "-", "--run", "r2")
    assert found.exit_code == 0
    assert "run r2" in words_of(found.stdout_bytes)


def test_json_prints_the_sheet_and_writes_no_file(tmp_path, monkeypatch, answers):
    monkeypatch.chdir(tmp_path)
    found = tuning("sheet", *FILES, "--json")
    assert json.loads(found.stdout) == json.loads(json.dumps(sheet_document(sheet(answers["night_shift"]))))
    assert os.listdir() == []


def test_the_log_gives_the_same_sheet_as_the_files(tmp_path):
    log = tmp_path / "log.db"
    assert tuning("import", *FILES, "--log", log).exit_code == 0
    there = tuning("sheet", "--truck", "Night shift", "--log", log, "--json")
    assert json.loads(there.stdout) == json.loads(tuning("sheet", *FILES, "--json").stdout)


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("--run", "r9"), 2, 'run: "r9" is no run of Night shift. Its latest: r1, r2, r3.'),
        (("--out", "truck.toml"), 2, "is no name of a PDF. Write one that ends in .pdf."),
        (("--out", "pdf"), 2, "is no name of a PDF. Write one that ends in .pdf."),
        (("--json", "--out", "x.pdf"), 2, "give one of them"),
        (("--address", "javascript:alert(1)"), 2, "is no address"),
        (("--address", "http://x/" + "y" * 200), 2, "is no address of up to 160 letters"),
        (("--paper", "a5"), 2, "'a5' is not one of"),
        (("--out", "no/such/folder/x.pdf"), 2, "No such file"),
    ],
)
def test_what_can_not_be_is_refused_in_a_sentence(tmp_path, monkeypatch, words, code, said):
    monkeypatch.chdir(tmp_path)
    found = tuning("sheet", *FILES, *words)
    assert (found.exit_code, found.stdout) == (code, "")
    assert said in found.stderr
    assert os.listdir() == []


def test_letters_that_the_pdf_can_not_show_are_said(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    toml = (path("night_shift") / "truck.toml").read_text("utf-8").replace("Night shift", "Ночь")
    (tmp_path / "truck.toml").write_text(toml, encoding="utf-8")
    found = tuning("sheet", "--truck", "truck.toml", *FILES[2:])
    assert found.exit_code == 0
    assert "The PDF shows ? for letters its type lacks: Ночь" in found.stderr
    assert (tmp_path / "sheet-truck-r3.pdf").exists()


@given(st.text(max_size=100), st.text(max_size=100))
def test_a_file_name_is_one_that_any_disk_takes(name, run):
    found = Sheet(name, run, "", "", "", "a4", (), (), "")
    assert re.fullmatch(r"sheet-[a-z0-9-]{1,40}-[a-z0-9-]{1,40}\.pdf", file_name(found))


# ---------------------------------------------------------------- the print page


@pytest.fixture
def client(tmp_path):
    fill(str(tmp_path / "log.db"))
    return create_app(tmp_path / "log.db").server.test_client()


def test_the_page_has_all_texts_of_the_sheet_and_leads_to_the_pdfs(client):
    found = client.get("/sheet", query_string={"truck": NAME})
    assert found.status_code == 200
    told = sheet(sheet_answers(truck(), runs_of(readings())))
    for section in told.sections:
        for text in (section.title, *(text for r in section.rows for text in r), *section.lines):
            assert text in found.text
    for link in re.findall(r'href="(/sheet[^"]*)"', found.text):
        assert client.get(link.replace("&amp;", "&")).status_code == 200
    assert found.text.count("/sheet.pdf?") == 2
    assert "<img" not in found.text, "no code where no phone could get in"
    assert "no-store" in found.headers["Cache-Control"]


def test_an_older_runs_sheet_has_an_address_of_its_own(client):
    assert "Set-up sheet, run r1" in client.get("/sheet", query_string={"truck": NAME, "run": "r1"}).text
    pdf = client.get("/sheet.pdf", query_string={"truck": NAME, "run": "r1", "paper": "a4"})
    assert pdf.mimetype == "application/pdf"
    assert 'filename="sheet-night-shift-r1.pdf"' in pdf.headers["Content-Disposition"]
    assert "run r1" in words_of(pdf.data)


def test_called_from_the_network_it_has_a_code_that_opens_the_truck(client):
    found = client.get("/sheet", query_string={"truck": NAME}, base_url="http://192.168.7.9:8050")
    code = re.search(r'<img src="(data:image/svg[^"]+)"', found.text)[1]
    asked = segno.make("http://192.168.7.9:8050/log?truck=Night+shift", error="m", micro=False)
    assert code.replace("&#x27;", "'") == asked.svg_data_uri(border=4, light="white")


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ({}, "no truck"),
        ({"truck": "Day shift"}, "has no truck"),
        ({"truck": NAME, "run": "<b>r9"}, "&lt;b&gt;r9"),
        ({"truck": NAME, "paper": "<i>"}, "&lt;i&gt;"),
    ],
)
def test_rubbish_in_the_address_is_one_sentence(client, query, said):
    found = client.get("/sheet.pdf", query_string=query)
    assert (found.status_code, found.mimetype) == (404, "text/html")
    assert said in found.text
    assert "Something went wrong" not in found.text


def test_a_truck_without_runs_says_what_to_read(tmp_path):
    fill(str(tmp_path / "log.db"), count=0)
    client = create_app(tmp_path / "log.db").server.test_client()
    assert "ead all four corners once" in client.get("/sheet", query_string={"truck": NAME}).text


def test_names_with_marks_of_html_stay_text(tmp_path):
    name = 'a<script>&"b'
    log = fill(str(tmp_path / "log.db"), count=0)
    toml = log.truck_toml(NAME).replace(f'name = "{NAME}"', "name = 'a<script>&\"b'")
    log.save_truck(name, toml)
    log.add_readings(name, [replace(r, run="<i>" + r.run) for r in readings()])
    found = create_app(tmp_path / "log.db").server.test_client().get("/sheet", query_string={"truck": name})
    assert found.status_code == 200
    assert "<script" not in found.text
    assert "<i>" not in found.text
    assert "a&lt;script&gt;&amp;&quot;b" in found.text
