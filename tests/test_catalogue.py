"""A catalogue of springs as CSV: what is read, what each fault says, out and back; and the invented one."""

import csv
import io
import time
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

import sample_runs
from sample_runs.make_springs import springs_csv
from tuning.catalogue import StockSpring
from tuning.coil import WIRES, helical_rate, shear_stress
from tuning.log.catalogue_file import (
    MAX_SPRINGS,
    CatalogueError,
    read_catalogue,
    read_catalogue_file,
    write_catalogue,
)
from tuning.truck import CORNERS, Spring
from tuning.truckfile import load_truck

INCH = Fraction("0.0254")
LBF_PER_INCH = Fraction("4.4482216152605") / INCH
HEADER = "spring,rate [lbf/in],free_length [in],solid_length [in],inside_diameter [in]"
ROW = "A12,300,14,6.4,2 1/2"


def csv_of(*rows, header=HEADER):
    return "\n".join((header, *rows))


def faults_of(text):
    with pytest.raises(CatalogueError) as caught:
        read_catalogue(text)
    return [line.removeprefix("springs.csv, ") for line in str(caught.value).split("\n")]


def inches(number):
    return float(Fraction(number) * INCH)


A12 = StockSpring("A12", Spring(float(300 * LBF_PER_INCH), inches(14), inches("6.4")), inches("2.5"))


def test_a_row_is_read_into_si_units():
    assert read_catalogue(csv_of(ROW)) == (A12,)


def test_columns_come_in_any_order_case_and_unit_and_cells_with_units_of_their_own():
    header = "Inside_Diameter [mm],RATE [N/mm],spring,solid_length [in],free_length [cm]"
    (found,) = read_catalogue(csv_of('63.5,300 lb/in, A12 ,6.4,14"', header=header))
    assert found == A12


SPREADSHEET = [
    "\ufeff" + csv_of(ROW),
    csv_of(ROW).replace("\n", "\r\n"),
    csv_of(ROW).replace("\n", "\r"),
    "\n,,,\n" + csv_of(ROW) + "\n\n,,,,\n , ,\n",
    csv_of(f"{ROW},,,", header=f"{HEADER},,,"),
    csv_of('"A12","300","14","6.4","2 1/2"""'),
    csv_of(ROW.replace("2 1/2", "2½")),
]


@pytest.mark.parametrize("text", SPREADSHEET, ids=lambda text: ascii(text[-30:]))
def test_what_spreadsheets_add_changes_nothing(text):
    assert read_catalogue(text) == (A12,)


@pytest.mark.parametrize("text", ["", "\n \n,,,\n", "\ufeff", HEADER, HEADER + "\r\n\r\n,,,,\r\n"])
def test_an_empty_catalogue_is_no_fault(text):
    assert read_catalogue(text) == ()


def test_springs_keep_their_order_and_may_mix_inside_diameters():
    rows = [ROW, ROW.replace("A12", "B").replace("2 1/2", "3"), ROW.replace("A12", "0")]
    assert [stock.name for stock in read_catalogue(csv_of(*rows))] == ["A12", "B", "0"]


CELLS = [
    ("300", "", "rate: empty. Write 5 to 3000 lbf/in (0.9 to 525 N/mm)."),
    ("300", "3", 'rate: "3" is not plausible. Write 5 to 3000 lbf/in (0.9 to 525 N/mm).'),
    ("300", "30000", 'rate: "30000" is not plausible. Write 5 to 3000 lbf/in (0.9 to 525 N/mm).'),
    ("300", "-300", 'rate: "-300" is not plausible. Write 5 to 3000 lbf/in (0.9 to 525 N/mm).'),
    ("300", "300 lbf", 'rate: "300 lbf" is not a spring rate. Write 225 lbf/in, 225 lb/in or 39.4 N/mm.'),
    ("300", '"1,5"', 'rate: "1,5" is not a spring rate. Write 225 lbf/in, 225 lb/in or 39.4 N/mm.'),
    ("300", "nan", 'rate: "nan" is not a spring rate. Write 225 lbf/in, 225 lb/in or 39.4 N/mm.'),
    ("14", "", "free_length: empty. Write the length without load, 20 mm to 1 m."),
    ("14", "350", 'free_length: "350" is not plausible. Write the length without load, 20 mm to 1 m.'),
    ("14", "0", 'free_length: "0" is not plausible. Write the length without load, 20 mm to 1 m.'),
    ("14", "long", 'free_length: "long" is not a length. Write 22.5 in, 22 1/2 in or 571.5 mm.'),
    (
        "6.4",
        "0",
        'solid_length: "0" is not plausible. Write the length with all coils touching, 3 mm to 900 mm.',
    ),
    (
        "6.4",
        "14",
        'solid_length: "14" is not shorter than the free length. See whether the two are swapped, or their units.',
    ),
    (
        "6.4",
        "16 in",
        'solid_length: "16 in" is not shorter than the free length. '
        "See whether the two are swapped, or their units.",
    ),
    (
        "2 1/2",
        "63.5",
        'inside_diameter: "63.5" is not plausible. Write the inside of the coil, 20 to 250 mm.',
    ),
    ("2 1/2", "", "inside_diameter: empty. Write the inside of the coil, 20 to 250 mm."),
    ("A12", "", 'spring: "" is not a name for a spring. Write 1 to 80 printable characters.'),
    ("A12", "a\x07", 'spring: "a\\x07" is not a name for a spring. Write 1 to 80 printable characters.'),
    (
        "A12",
        "x" * 81,
        f'spring: "{"x" * 31}…" is not a name for a spring. Write 1 to 80 printable characters.',
    ),
    ("A12", "first", 'spring: "first" stands on line 2 already. Give each spring a name of its own.'),
    ("A12", "FIRST ", 'spring: "FIRST" stands on line 2 already. Give each spring a name of its own.'),
    (
        "2 1/2",
        "2 1/2,x",
        '"x" stands beyond the last column. Put text with commas between quotes, or give the column a heading.',
    ),
]


@pytest.mark.parametrize(("old", "new", "said"), CELLS)
def test_each_bad_cell_says_where_what_and_how_to_mend_it(old, new, said):
    assert ROW.count(old) >= 1
    where = "line 3: " if said.startswith('"') else "line 3, "
    assert faults_of(csv_of(ROW.replace("A12", "first"), ROW.replace(old, new, 1))) == [where + said]


def test_every_fault_of_a_file_is_named_at_once_from_the_top_down():
    rows = [ROW, "A12,3,14,15,2", "B,x,,5,2", "C,300,10,4,2,y"]
    assert [line.split(": ")[0] for line in faults_of(csv_of(*rows))] == [
        "line 3, rate",
        "line 3, spring",
        "line 3, solid_length",
        "line 4, rate",
        "line 4, free_length",
        "line 5",
    ]


HEADERS = [
    ("rate [lbf/in]", "rate", "line 1, rate: no unit is given. Write rate [lbf/in]."),
    (
        "rate [lbf/in]",
        "rate [in]",
        'line 1, rate [in]: "in" is no unit of spring rate. Write one of lbf/in, lbf/ft, lbf/mm, lbf/cm, lbf/m, '
        "N/in, N/ft, N/mm, N/cm, N/m, kN/in, kN/ft, kN/mm, kN/cm, kN/m, kgf/in, kgf/ft, kgf/mm, kgf/cm, kgf/m.",
    ),
    ("rate [lbf/in]", "rat [lbf/in]", "line 1, rat [lbf/in]: not a column here. Did you mean rate [lbf/in]?"),
    ("spring,", "spring [in],", "line 1, spring [in]: this column has no unit. Write spring."),
    (
        "inside_diameter [in]",
        "free_length [in]",
        "line 1, free_length [in]: this column is there twice. Leave one of them out.",
    ),
    (
        ",inside_diameter [in]",
        "",
        "line 1, inside_diameter: no such column. Add the column inside_diameter [in].",
    ),
    ("spring,", "", "line 1, spring: no such column. Add the column spring."),
    (
        HEADER,
        "price",
        "line 1, price: not a column here. Columns are spring, rate, free_length, solid_length, inside_diameter.",
    ),
    (
        HEADER,
        HEADER.replace(",", ";"),
        "line 1: cells are separated by semicolons. Save it with commas between cells and points in numbers.",
    ),
]


@pytest.mark.parametrize(("old", "new", "said"), HEADERS)
def test_each_bad_heading_says_what_it_should_be(old, new, said):
    assert said in faults_of(csv_of(ROW, header=HEADER.replace(old, new, 1)))


def test_a_catalogue_of_many_thousand_springs_is_too_long_to_search():
    rows = [ROW.replace("A12", f"S{n}") for n in range(MAX_SPRINGS + 1)]
    assert faults_of(csv_of(*rows)) == ["springs.csv: 5001 springs. Keep the 5000 that could fit."]
    start = time.process_time()
    assert len(read_catalogue(csv_of(*rows[1:]))) == MAX_SPRINGS
    assert time.process_time() - start < 1


def test_a_file_is_read_as_its_text_is(tmp_path):
    path = tmp_path / "mine.csv"
    path.write_bytes(b"\xef\xbb\xbf" + csv_of(ROW).replace("\n", "\r\n").encode())
    assert read_catalogue_file(path) == (A12,)
    path.write_bytes(csv_of(ROW, ROW + "½").encode("latin-1"))
    with pytest.raises(CatalogueError, match=r"^mine\.csv, line 3: a character that is not UTF-8\."):
        read_catalogue_file(path)
    path.write_bytes(b"x" * 5_000_001)
    with pytest.raises(
        CatalogueError, match=r"^mine\.csv: larger than 5 MB\. Leave out springs that can't fit\."
    ):
        read_catalogue_file(path)
    with pytest.raises(CatalogueError, match=r"^none\.csv: can't be opened: No such file"):
        read_catalogue_file(tmp_path / "none.csv")
    with pytest.raises(CatalogueError, match="is no file name"):
        read_catalogue_file("a\0b")


# ---------------------------------------------------------------- out and back

NAMES = st.text(st.characters(min_codepoint=32, max_codepoint=0x3FF), min_size=1, max_size=20).map(str.strip)


@st.composite
def catalogues(draw):
    """Any springs that the reader could have given."""
    names = draw(
        st.lists(
            NAMES.filter(lambda name: name and name.isprintable()),
            max_size=6,
            unique_by=lambda n: n.casefold(),
        )
    )
    stock = []
    for name in names:
        solid = draw(st.floats(0.003, 0.5))
        free = draw(st.floats(max(0.02, solid * 1.001), 1.0))
        spring = Spring(draw(st.floats(900.0, 5e5)), free, solid)
        stock.append(StockSpring(name, spring, draw(st.floats(0.02, 0.25))))
    return tuple(stock)


@settings(max_examples=60, deadline=None)
@given(catalogue=catalogues(), system=st.sampled_from(["us", "metric"]))
@example(
    catalogue=(replace(A12, name="=1+1"), replace(A12, name="'@x"), replace(A12, name="'tis")), system="us"
)
def test_what_is_written_reads_back_to_the_last_bit(catalogue, system):
    assert read_catalogue(write_catalogue(catalogue, system)) == catalogue


def test_figures_are_written_as_they_were_entered_and_no_name_is_run_by_a_spreadsheet():
    written = write_catalogue([replace(A12, name="=A12")], "us")
    assert written == f"{HEADER}\r\n'=A12,300,14,6.4,2.5\r\n"
    assert next(csv.reader(io.StringIO(write_catalogue((A12,), "metric"))))[1] == "rate [N/mm]"


def test_a_spring_of_unknown_length_is_not_written():
    with pytest.raises(ValueError, match="has a free and a solid length"):
        write_catalogue([replace(A12, spring=Spring(1e4))], "us")


# ---------------------------------------------------------------- hostile

JUNK = st.text(st.characters() | st.sampled_from(',"\n\r;=0123456789/ '), max_size=60)


@settings(max_examples=200, deadline=None)
@given(at=st.integers(0, len(csv_of(ROW))), cut=st.integers(0, 12), put=JUNK)
def test_any_damage_to_a_good_file_is_a_catalogue_or_a_list_of_readable_faults(at, cut, put):
    text, said = csv_of(ROW), ""
    try:
        read_catalogue(text[:at] + put + text[at + cut :])
    except CatalogueError as error:
        said = str(error)
    assert all(line.isprintable() for line in said.split("\n"))


@pytest.mark.parametrize(
    "text",
    [
        csv_of(ROW.replace("300", "9" * 100_000)),
        csv_of(*[ROW.replace("300", "10**10**10")] * 5000),
        csv_of(ROW, header=HEADER + ",x" * 50_000),
        csv_of(ROW, header="[" * 100_000),
        csv_of(ROW + '"never closed'),
        csv_of(ROW.replace("A12", "'" * 100_000 + "=")),
        csv_of(ROW + "\0"),
    ],
    ids=["digits", "powers", "columns", "brackets", "quote", "apostrophes", "null"],
)
def test_hostile_files_are_answered_soon_and_readably(text):
    start = time.process_time()
    said = faults_of(text)
    assert time.process_time() - start < 2
    assert all(line.isprintable() and len(line) < 500 for line in said)


# ---------------------------------------------------------------- the invented catalogue


@pytest.fixture(scope="module")
def invented():
    return read_catalogue_file(sample_runs.springs_path())


def test_the_invented_catalogue_is_made_again_to_the_byte():
    assert sample_runs.springs_path().read_bytes() == springs_csv().encode()


def test_the_invented_catalogue_owns_up_to_being_invented():
    from sample_runs import make_springs

    assert "invented" in make_springs.__doc__
    assert "nobody sells such springs" in sample_runs.__doc__


def test_the_invented_catalogue_has_usual_bores_lengths_and_rates(invented):
    assert 120 <= len(invented) <= 300
    assert {round(stock.inside_diameter / 0.0254, 3) for stock in invented} == {2.25, 2.5, 3.0}
    lengths = {round(stock.spring.free_length / 0.0254, 3) for stock in invented}
    rates = [stock.spring.rate / float(LBF_PER_INCH) for stock in invented]
    assert (min(lengths), max(lengths)) == (6.0, 18.0)
    assert 60 - 1e-9 <= min(rates) < 70
    assert 800 < max(rates) < 900 + 1e-9


def test_a_name_of_the_invented_catalogue_says_rate_length_and_bore(invented):
    for stock in invented:
        rate, length, bore = (float(word[1:]) for word in stock.name.split())
        assert stock.spring.rate == pytest.approx(rate * float(LBF_PER_INCH), rel=1e-12)
        assert stock.spring.free_length == pytest.approx(length * 0.0254, rel=1e-12)
        assert stock.inside_diameter == pytest.approx(bore * 0.0254, rel=1e-12)


def test_every_spring_of_the_invented_catalogue_can_be_wound_of_wire_that_carries_it_solid(invented):
    """Its wire found from the catalogue's own figures alone: coils from the solid length, then the rate must come out.

    With all coils but two at work, rate and solid length leave one wire; by bisection, rate grows with it.
    """
    steel = WIRES["chrome-silicon"]
    for stock in invented:
        bore, solid, rate = stock.inside_diameter, stock.spring.solid_length, stock.spring.rate
        low, high = 0.004, solid / 3.5
        for _ in range(60):
            wire = (low + high) / 2
            stiff = helical_rate(steel.shear_modulus, wire, bore + wire, solid / wire - 2) > rate
            low, high = (low, wire) if stiff else (wire, high)
        mean = bore + wire
        stress = (1 + 0.5 * wire / mean) * shear_stress(rate * stock.spring.travel_to_solid, wire, mean)
        assert 4 - 0.05 <= mean / wire <= 12 + 0.05
        assert stress <= 0.65 * steel.strength(wire) * 1.01  # the solid length is rounded
        assert stress >= 0.55 * steel.strength(wire)  # and no thicker than it has to be


@pytest.mark.parametrize("name", sample_runs.NAMES)
def test_the_invented_catalogue_has_softer_stiffer_shorter_and_longer_than_the_sample_trucks(name, invented):
    truck = load_truck(sample_runs.path(name) / "truck.toml")
    own = {
        spring
        for corner in CORNERS
        if truck.corners[corner].adjuster is not None
        for spring in truck.corners[corner].stack.springs
    }
    longest = max(s.spring.free_length for s in invented)
    for spring in own:
        near = [s for s in invented if abs(s.spring.free_length - spring.free_length) <= 1.01 * 0.0254]
        assert min(abs(s.spring.rate / spring.rate - 1) for s in near) < 0.04
        assert any(s.spring.rate < 0.95 * spring.rate for s in near)
        assert any(s.spring.rate > 1.05 * spring.rate for s in near)
        like = [s for s in invented if abs(s.spring.rate / spring.rate - 1) < 0.04]
        assert any(s.spring.free_length < spring.free_length - 0.02 for s in like)
        if spring.free_length < longest - 0.003:  # the water wagon's are as long as any of the stock
            assert any(s.spring.free_length > spring.free_length + 0.003 for s in like)
