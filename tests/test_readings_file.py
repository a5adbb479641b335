"""Readings as CSV: what is read, what each fault says, and that nothing is lost on the way out and back."""

import csv
import io
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from fractions import Fraction

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from tuning.log.files import ReadingsError, read_readings, read_readings_file, write_readings
from tuning.readings import Reading
from tuning.truck import (
    Adjuster,
    Corner,
    End,
    Shock,
    Spring,
    Stack,
    Truck,
)

INCH = Fraction("0.0254")
OWN = Stack("200 over 300", Spring(52e3, 0.40, 0.16), Spring(35e3, 0.35, 0.13), 0.08)
LONGER = Stack("250 over 300", Spring(52e3, 0.40, 0.16), Spring(44e3, 0.40, 0.13), 0.08)
LEAF = Stack("rear spring", Spring(54e3))
COILOVER = Corner(
    OWN, Shock(0.35), Adjuster(0.002, 0.0, float(Fraction("3.5") * INCH)), ((0.4, 0.02), (0.7, 0.34))
)
AXLE = End(True, 1.7, 0.9, 0.9, 3500.0, 110.0)
TRUCK = Truck(
    "Fold mountain",
    "us",
    3.35,
    AXLE,
    AXLE,
    {"LF": COILOVER, "RF": COILOVER, "LR": Corner(LEAF), "RR": Corner(LEAF)},
    {stack.name: stack for stack in (OWN, LONGER, LEAF)},
)
METRIC = replace(TRUCK, units="metric")

HEADER = "run,taken_at,corner,height [in],load [lbf],preload [in],stack,settled,odometer [mi],note"
ROW = "r1,2025-05-31T14:30,LF,22 1/2,1045,1/2,,,,"


def csv_of(*rows, header=HEADER):
    return "\n".join((header, *rows))


def faults_of(text, truck=TRUCK):
    with pytest.raises(ReadingsError) as caught:
        read_readings(text, truck)
    return [line.removeprefix("readings.csv, ") for line in str(caught.value).split("\n")]


def inches(number):
    return float(Fraction(number) * INCH)


def test_a_row_is_read_into_si_units():
    (reading,) = read_readings(
        csv_of("r1,2025-05-31T14:30,LF,22 1/2,1045,2 1/4,250 over 300,above,48210,warm"), TRUCK
    )
    assert reading == Reading(
        run="r1",
        taken_at=datetime(2025, 5, 31, 14, 30),
        corner="LF",
        height=inches("22.5"),
        load=float(1045 * Fraction("4.4482216152605")),
        preload=inches("2.25"),
        stack="250 over 300",
        settled="above",
        odometer=float(48210 * Fraction("1609.344")),
        note="warm",
    )


def test_a_corner_without_adjuster_has_neither_preload_nor_a_stack_to_name():
    (reading,) = read_readings(csv_of("r1,2025-05-31,RR,24,,,,,,"), TRUCK)
    assert (reading.preload, reading.load, reading.stack) == (None, None, "rear spring")


def test_an_empty_stack_is_the_corners_own():
    (reading,) = read_readings(csv_of(ROW), TRUCK)
    assert reading.stack == "200 over 300"


def test_columns_come_in_any_order_case_and_unit():
    header = "Corner, Height [MM] ,run,TAKEN_AT,stack,preload [mm],load [kg]"
    (reading,) = read_readings(csv_of("lf, 571.5 , r1,2025-05-31,,12.7,100", header=header), TRUCK)
    assert (reading.height, reading.preload, reading.load) == (inches("22.5"), inches("0.5"), 980.665)
    assert (reading.corner, reading.run) == ("LF", "r1")


def test_a_cell_may_carry_a_unit_of_its_own():
    row = "r1,2025-05-31,LF,571.5 mm,4.5 kN,12.7 mm,,Below,100 km,"
    (reading,) = read_readings(csv_of(row), TRUCK)
    assert (reading.height, reading.preload) == (inches("22.5"), inches("0.5"))
    assert (reading.load, reading.odometer, reading.settled) == (4500.0, 100_000.0, "below")


def test_settled_odometer_and_note_may_be_left_out():
    header = "run,taken_at,corner,height [in],load [lbf],preload [in],stack"
    (reading,) = read_readings(csv_of("r1,2025-05-31,LF,22,,0,", header=header), TRUCK)
    assert (reading.settled, reading.odometer, reading.note) == ("", None, "")


def test_a_corner_may_repeat_in_a_run_and_file_order_is_kept():
    rows = [ROW, ROW.replace("22 1/2", "22 5/8"), ROW.replace("r1,2025-05-31", "r0,2025-05-30")]
    assert [r.height for r in read_readings(csv_of(*rows), TRUCK)] == [
        inches("22.5"),
        inches("22.625"),
        inches("22.5"),
    ]


SPREADSHEET = [
    "\ufeff" + csv_of(ROW),
    csv_of(ROW).replace("\n", "\r\n"),
    csv_of(ROW).replace("\n", "\r"),
    csv_of(ROW) + "\n\n,,,,,,,,,\n , ,\n",
    csv_of(f"{ROW},,,", header=f"{HEADER},,,"),
    csv_of(ROW.rstrip(",")),
    csv_of('"r1","2025-05-31 14:30","LF","22 1/2","1045","1/2","","","",""'),
    csv_of(ROW.replace("22 1/2", '22 1/2"')),
    csv_of(ROW.replace("22 1/2", '"22 1/2"""')),
]


@pytest.mark.parametrize("text", SPREADSHEET, ids=lambda text: ascii(text[-30:]))
def test_what_spreadsheets_add_changes_nothing(text):
    assert read_readings(text, TRUCK) == read_readings(csv_of(ROW), TRUCK)


def test_a_quoted_note_may_run_over_lines_and_later_lines_are_still_counted():
    noted = ROW + '"first,\nsecond ""line"""'
    (reading,) = read_readings(csv_of(noted), TRUCK)
    assert reading.note == 'first,\nsecond "line"'
    assert faults_of(csv_of(noted, ROW.replace("LF", "FL")))[0].startswith("line 4, corner: ")


CELLS = [
    ("LF", "FL", 'corner: "FL" is not a corner. Write LF, RF, LR or RR.'),
    ("22 1/2", '"22,5"', 'height: "22,5" is not a length. Write 22.5 in, 22 1/2 in or 571.5 mm.'),
    ("22 1/2", "", "height: empty. Every row needs a height."),
    ("22 1/2", "0", 'height: "0" is not plausible. Write a height above zero and below 2 m.'),
    ("22 1/2", "-22", 'height: "-22" is not plausible. Write a height above zero and below 2 m.'),
    ("22 1/2", "2212", 'height: "2212" is not plausible. Write a height above zero and below 2 m.'),
    ("22 1/2", "nan", 'height: "nan" is not a length. Write 22.5 in, 22 1/2 in or 571.5 mm.'),
    ("22 1/2", "22 lbf", 'height: "22 lbf" is not a length. Write 22.5 in, 22 1/2 in or 571.5 mm.'),
    ("1045", "-1", 'load: "-1" is not plausible. Write what one scale reads, up to 100 kN.'),
    ("1045", "104500", 'load: "104500" is not plausible. Write what one scale reads, up to 100 kN.'),
    ("1045", "heavy", 'load: "heavy" is not a force. Write 1045 lbf, 1045 lb or 4648 N.'),
    (",1/2,", ",,", "preload: empty. LF has an adjuster: write the nut's travel from snug."),
    (
        ",1/2,",
        ",4 5/8,",
        "preload: 4 5/8 in is far off the thread of LF with this stack. The thread allows 0 in to 3 1/2 in.",
    ),
    (
        ",1/2,",
        ",-1 1/8,",
        "preload: -1 1/8 in is far off the thread of LF with this stack. The thread allows 0 in to 3 1/2 in.",
    ),
    ("LF,22 1/2,1045", "LR,22 1/2,1045", "preload: LR has no adjuster. Leave it empty."),
    (
        ",1/2,,",
        ",1/2,200 ovr 300,",
        'stack: "200 ovr 300" is no stack of this truck. Did you mean "200 over 300"?',
    ),
    (
        ",1/2,,",
        ",1/2,coils,",
        'stack: "coils" is no stack of this truck. Name one of the truck file\'s stacks, or add it there.',
    ),
    (
        "LF,22 1/2,1045,1/2,,",
        "LR,22 1/2,1045,,200 over 300,",
        "stack: LR has no adjuster and always the same spring. Leave it empty.",
    ),
    (
        ",1/2,,,",
        ",1/2,,up,",
        'settled: "up" is no way to settle. Write above, below, or nothing if rolled and bounced.',
    ),
    (",1/2,,,,", ",1/2,,,-3,", 'odometer: "-3" is not plausible. Write zero or more.'),
    (
        "2025-05-31T14:30",
        "31/5/2025",
        'taken_at: "31/5/2025" is not a time of reading. Write it as 2025-05-31T14:30 or 2025-05-31.',
    ),
    (
        "2025-05-31T14:30",
        "2025-13-31",
        'taken_at: "2025-13-31" is not a time of reading. Write it as 2025-05-31T14:30 or 2025-05-31.',
    ),
    (
        "2025-05-31T14:30",
        "1900-01-01",
        'taken_at: "1900-01-01" is not a time of reading. Write it as 2025-05-31T14:30 or 2025-05-31.',
    ),
    (
        "2025-05-31T14:30",
        "",
        'taken_at: "" is not a time of reading. Write it as 2025-05-31T14:30 or 2025-05-31.',
    ),
    (
        "2025-05-31T14:30",
        "9999-12-31",
        'taken_at: "9999-12-31" is yet to come. Write when the reading was taken.',
    ),
    (
        "2025-05-31T14:30",
        "9999-12-31T23:59-10:00",
        'taken_at: "9999-12-31T23:59-10:00" is yet to come. Write when the reading was taken.',
    ),
    ("r1", "", 'run: "" is not a name for a run. Write 1 to 80 printable characters.'),
    ("r1", "a\x07b", 'run: "a\\x07b" is not a name for a run. Write 1 to 80 printable characters.'),
    ("r1", "x" * 81, f'run: "{"x" * 31}…" is not a name for a run. Write 1 to 80 printable characters.'),
    (",1/2,,,,", ",1/2,,,,a\x1bb", 'note: "a\\x1bb" has control characters in it. Write plain text.'),
    (",1/2,,,,", ",1/2,,,," + "x" * 2001, "note: 2001 characters. Keep it under 2000."),
]


@pytest.mark.parametrize(("old", "new", "said"), CELLS)
def test_each_bad_cell_says_where_what_and_how_to_mend_it(old, new, said):
    assert ROW.count(old) >= 1
    assert faults_of(csv_of(ROW, ROW.replace(old, new, 1))) == [f"line 3, {said}"]


def test_every_bad_cell_of_a_file_is_named_at_once():
    rows = [
        ROW.replace("LF", "XX"),
        ROW,
        ROW.replace("22 1/2", "0").replace("1045", "x"),
        ROW.replace("r1", ""),
    ]
    places = [line.split(":")[0] for line in faults_of(csv_of(*rows))]
    assert places == ["line 2, corner", "line 4, height", "line 4, load", "line 5, run"]


def test_a_long_list_is_cut_in_print_and_kept_as_values():
    with pytest.raises(ReadingsError) as caught:
        read_readings(csv_of(*[ROW.replace("LF", "XX")] * 300), TRUCK, name="mine.csv")
    assert len(caught.value.faults) == 300
    assert str(caught.value).split("\n")[-1] == "mine.csv: and 250 more."
    last = caught.value.faults[-1]
    assert (last.line, last.where, last.found) == (301, "corner", "XX")


HEADERS = [
    ("height [in]", "height", "line 1, height: no unit is given. Write height [in]."),
    ("height [in]", "height (in)", "line 1, height (in): not a column here. Did you mean height [in]?"),
    ("height [in]", "hieght [in]", "line 1, hieght [in]: not a column here. Did you mean height [in]?"),
    (
        "height [in]",
        "height [lbf]",
        'line 1, height [lbf]: "lbf" is no unit of length. Write one of in, ft, mm, cm, m.',
    ),
    (
        "height [in]",
        "height []",
        'line 1, height []: "" is no unit of length. Write one of in, ft, mm, cm, m.',
    ),
    ("note", "note [in]", "line 1, note [in]: this column has no unit. Write note."),
    ("note", "run", "line 1, run: this column is there twice. Leave one of them out."),
    ("note", "Run", "line 1, Run: this column is there twice. Leave one of them out."),
    (
        "note",
        "zzz",
        "line 1, zzz: not a column here. Columns are run, taken_at, corner, height, load, preload, stack, settled, "
        "odometer, note.",
    ),
    ("stack,", "", "line 1, stack: no such column. Add the column stack."),
    ("load [lbf],", "", "line 1, load: no such column. Add the column load [lbf]."),
    (",note", ",,note", None),
]


@pytest.mark.parametrize(("old", "new", "said"), HEADERS)
def test_each_bad_heading_says_what_it_should_be(old, new, said):
    expected = said or (
        "line 1, header: not a column here. Columns are run, taken_at, corner, height, load, preload, stack, "
        "settled, odometer, note."
    )
    assert expected in faults_of(csv_of(ROW, header=HEADER.replace(old, new, 1)))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", f"readings.csv: no rows. Start with the header {HEADER}."),
        (HEADER, "readings.csv: a header and no readings. Add one row for each corner."),
        (
            csv_of(ROW).replace(",", ";"),
            "line 1: cells are separated by semicolons. Save it with commas between cells and points in numbers.",
        ),
        (
            csv_of(ROW).replace(",", "\t"),
            "line 1: cells are separated by tabs. Save it with commas between cells and points in numbers.",
        ),
        (csv_of(ROW, "r1\0"), "line 3: a null character. Save it as CSV UTF-8 text."),
        (
            csv_of(ROW, f"{ROW},,x"),
            'line 3: "x" stands beyond the last column. '
            "Put text with commas between quotes, or give the column a heading.",
        ),
    ],
)
def test_a_file_that_is_no_readings_file_is_told_what_it_should_be(text, said):
    assert faults_of(text) == [said]


@pytest.mark.parametrize(
    "row",
    [ROW + '"never closed', ROW + '"closed" badly', ROW + "x" * 200_000],
    ids=["open", "badly", "giant"],
)
def test_a_row_that_is_no_csv_is_named_with_the_others(row):
    said = faults_of(csv_of(ROW.replace("LF", "XX"), ROW, row))
    assert [line.split(":")[0] for line in said] == ["line 2, corner", "line 4"]
    assert said[1].startswith("line 4: a row that is no CSV (")


def test_times_with_and_without_a_zone_do_not_mix():
    zoned = ROW.replace("T14:30", "T14:30Z")
    expected = "line 4, taken_at: a time with a zone, where line 2 has none. Give every time a zone, or none."
    assert faults_of(csv_of(ROW, ROW, zoned)) == [expected]
    assert faults_of(csv_of(zoned, ROW)) == [
        "line 3, taken_at: a time with no zone, where line 2 has one. Give every time a zone, or none."
    ]


def test_a_run_is_one_visit():
    late = ROW.replace("2025-05-31T14:30", "2025-06-01T14:31")
    assert faults_of(csv_of(ROW, late)) == [
        'line 3, taken_at: more than a day from line 2, which is run "r1" too. '
        "A run is one visit: give each visit its own name."
    ]
    assert len(read_readings(csv_of(ROW, late.replace(":31", ":30")), TRUCK)) == 2


def test_an_odometer_does_not_run_backwards_over_time_whatever_the_file_order():
    later = "r2,2025-06-30,LF,22,1045,1/2,,,{},"
    earlier = "r1,2025-05-31,LF,22,1045,1/2,,,48210.5,"
    assert faults_of(csv_of(later.format(48210), earlier)) == [
        'line 2, odometer: less than the 48210.5 mi of run "r1" before it. '
        "See which is wrong, the odometer or the dates."
    ]
    assert len(read_readings(csv_of(later.format("48210.5"), earlier), TRUCK)) == 2
    assert len(read_readings(csv_of(later.format(""), earlier), TRUCK)) == 2


def test_tomorrow_by_another_clock_is_believed():
    soon = (datetime.now() + timedelta(hours=20)).isoformat(timespec="seconds")
    assert len(read_readings(csv_of(ROW.replace("2025-05-31T14:30", soon)), TRUCK)) == 1


def test_preload_is_held_against_the_thread_with_the_stack_that_was_on():
    longer = ROW.replace(",1/2,,", ",{},250 over 300,")  # 0.05 m longer: the thread allows 1.97 in to 5.47 in
    assert len(read_readings(csv_of(longer.format("6 3/8")), TRUCK)) == 1
    assert faults_of(csv_of(longer.format("6 1/2")))[0].startswith("line 2, preload: 6 1/2 in is far off")
    assert faults_of(csv_of(longer.format("7/8")))[0].startswith("line 2, preload: 7/8 in is far off")


def test_bytes_that_are_no_utf_8_are_named_by_line(tmp_path):
    path = tmp_path / "mine.csv"
    path.write_bytes(csv_of(ROW, ROW + "22½").encode("latin-1"))
    with pytest.raises(
        ReadingsError, match=r"^mine\.csv, line 3: a character that is not UTF-8\. Save it as CSV"
    ):
        read_readings_file(path, TRUCK)
    path.write_bytes(csv_of(ROW).encode("utf-16"))
    with pytest.raises(ReadingsError, match=r"^mine\.csv, line 1: a character that is not UTF-8"):
        read_readings_file(path, TRUCK)


def test_a_file_is_read_as_its_text_is(tmp_path):
    path = tmp_path / "mine.csv"
    path.write_bytes(b"\xef\xbb\xbf" + csv_of(ROW).replace("\n", "\r\n").encode())
    assert read_readings_file(path, TRUCK) == read_readings(csv_of(ROW), TRUCK)
    with pytest.raises(ReadingsError, match=r"^none\.csv: can't be opened: No such file"):
        read_readings_file(tmp_path / "none.csv", TRUCK)


# ---------------------------------------------------------------- out and back

ZONES = st.sampled_from([UTC, timezone(timedelta(hours=-7)), timezone(timedelta(hours=5, minutes=45))])
TIMES = st.datetimes(datetime(1960, 1, 1), datetime(2020, 1, 1))
NAMES = st.text(st.characters(min_codepoint=32, max_codepoint=0x3FF), min_size=1, max_size=20).map(str.strip)
NOTES = st.text(
    st.characters(exclude_categories=["Cs", "Cc"]) | st.sampled_from("\n\r\t,;\"'=+-@ "), max_size=30
)


@st.composite
def logs(draw):
    """Any readings that the reader could have given: each run one visit, odometer running forward."""
    zone = draw(st.none() | ZONES)
    names = draw(
        st.lists(NAMES.filter(lambda name: name and name.isprintable()), min_size=1, max_size=4, unique=True)
    )
    times = sorted(draw(st.lists(TIMES, min_size=len(names), max_size=len(names))))
    miles = sorted(
        draw(st.lists(st.just(0.0) | st.floats(1e-9, 1e9), min_size=len(names), max_size=len(names)))
    )
    readings = []
    for name, taken_at, odometer in zip(names, times, miles, strict=True):
        for corner in draw(st.lists(st.sampled_from(["LF", "RF", "LR", "RR"]), min_size=1, max_size=5)):
            coilover = corner in ("LF", "RF")
            readings.append(
                Reading(
                    run=name,
                    taken_at=taken_at.replace(tzinfo=zone),
                    corner=corner,
                    height=draw(st.floats(0.001, 2.0)),
                    load=draw(st.none() | st.just(0.0) | st.floats(1e-9, 1e5)),
                    preload=draw(st.floats(1e-9, 0.1) | st.floats(-0.02, -1e-9)) if coilover else None,
                    stack=draw(st.just("200 over 300")) if coilover else "rear spring",
                    settled=draw(st.sampled_from(["above", "below", ""])),
                    odometer=draw(st.none() | st.just(odometer)),
                    note=draw(NOTES),
                    doubt=draw(st.just("") | NOTES),
                )
            )
    return tuple(readings)


@settings(max_examples=60, deadline=None)
@given(log=logs(), truck=st.sampled_from([TRUCK, METRIC]))
@example(log=read_readings(csv_of(ROW + "'=1+1", ROW + "''@x", ROW + "'tis"), TRUCK), truck=TRUCK)
def test_what_is_written_reads_back_to_the_last_bit(log, truck):
    assert read_readings(write_readings(log, truck), truck) == log


def test_figures_are_written_as_they_were_entered():
    text = write_readings(read_readings(csv_of(ROW), TRUCK), TRUCK)
    assert text.split("\r\n")[:2] == [HEADER, "r1,2025-05-31T14:30:00,LF,22.5,1045,0.5,200 over 300,,,"]


@pytest.mark.parametrize("note", ["=1+1", "+1", "-1", "@x", "\t=1", " =1", "'=1", "\r=1"])
def test_no_text_is_written_that_a_spreadsheet_would_run(note):
    (reading,) = read_readings(csv_of(ROW), TRUCK)
    written = write_readings([replace(reading, note=note, run="=cmd")], TRUCK)
    row = list(csv.reader(io.StringIO(written, newline="")))[1]
    assert row[-1] == f"'{note}"
    assert row[0] == "'=cmd"


def test_text_that_only_looks_quoted_is_left_alone():
    notes = ["'tis the season", "O'Neil", "plain", "'"]
    rows = [ROW + note for note in notes]
    assert [r.note for r in read_readings(csv_of(*rows), TRUCK)] == notes


# ---------------------------------------------------------------- hostile and large

JUNK = st.text(st.characters() | st.sampled_from(',"\n\r;=0123456789/ '), max_size=60)


@settings(max_examples=300, deadline=None)
@given(st.lists(st.sampled_from([HEADER, ROW]) | JUNK, max_size=6), st.sampled_from(["\n", "\r\n", ","]))
def test_any_text_is_a_log_or_a_list_of_readable_faults(pieces, joint):
    try:
        read_readings(joint.join(pieces), TRUCK)
        said = []
    except ReadingsError as error:
        said = str(error).split("\n")
    assert all(line.isprintable() for line in said)


@settings(max_examples=300, deadline=None)
@given(at=st.integers(0, len(csv_of(ROW, ROW))), cut=st.integers(0, 12), put=JUNK)
def test_any_damage_to_a_good_file_is_a_log_or_a_list_of_readable_faults(at, cut, put):
    text = csv_of(ROW, ROW)
    try:
        read_readings(text[:at] + put + text[at + cut :], TRUCK)
        said = []
    except ReadingsError as error:
        said = str(error).split("\n")
    assert all(line.isprintable() for line in said)


@pytest.mark.parametrize(
    "text",
    [
        csv_of(ROW, *[ROW.replace("22 1/2", "9" * 100_000)] * 50),
        csv_of(*[ROW.replace("22 1/2", "10**10**10")] * 5000),
        csv_of(ROW, header=HEADER + ",x" * 50_000),
        csv_of(ROW, header="x" * 100_000),
        csv_of(ROW, header="[" * 100_000),
        csv_of(ROW + "," * 100_000 + "x"),
        csv_of(ROW.replace("2025-05-31T14:30", "2" * 100_000)),
        csv_of(ROW + "'" * 100_000 + "="),
        "\n" * 200_000,
        '"' * 100_001,
    ],
    ids=[
        "digits",
        "powers",
        "columns",
        "heading",
        "brackets",
        "cells",
        "date",
        "quotes",
        "lines",
        "csv quotes",
    ],
)
def test_hostile_files_are_answered_soon_and_readably(text):
    start = time.process_time()
    said = faults_of(text)
    assert time.process_time() - start < 2
    assert all(line.isprintable() and len(line) < 500 for line in said)


def test_twenty_thousand_rows_are_read_in_a_second_or_so():
    corners = {"LF": "1/2", "RF": "3/4", "LR": "", "RR": ""}
    first = datetime(2005, 1, 1)
    rows = [
        f"r{n},{(first + timedelta(hours=n)).isoformat()},{corner},{22 + n % 997 / 997:.4f},1045,{preload},,,,"
        for n in range(5000)
        for corner, preload in corners.items()
    ]
    start = time.process_time()
    readings = read_readings(csv_of(*rows), TRUCK)
    assert time.process_time() - start < 3
    assert len(readings) == 20_000
