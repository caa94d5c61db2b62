"""A class's readings meet the model: read from a sheet, fitted, what is left told.

Expected values: conductivities of potassium chloride from a handbook [crc-conductivity-dilute]; pH and saturation from
IPhreeqc with its database phreeqc.dat, an engine that shares nothing with the program.
"""

import csv
import re
from math import sqrt
from pathlib import Path

import phreeqc_oracle as oracle
import pytest

from formulate.classroom.experiment import (
    fit_dilution,
    fit_titration,
    gypsum_seen,
)
from formulate.classroom.experiment_sheet import (
    ClassData,
    data_sheet,
    read_class_data,
)
from formulate.errors import InputError

HERE = Path(__file__).parent
INVENTED = HERE.parent / "notebooks" / "data" / "lindenhof_class_experiment.csv"
SHEET = INVENTED.read_text(encoding="utf-8")


def data(**parts):
    given = {
        "name": "test",
        "invented": True,
        "feed": {"KCl": 0.74548},
        "sample": 100.0,
        "acid": "HCl",
        "acid_strength": 0.1,
        "temperature": 25.0,
        "dilution": (),
        "titration": (),
        "gypsum": (),
    }
    return ClassData(**{**given, **parts})


def handbook():
    """Return mol/L to the EC of potassium chloride at 25 °C, without the row that is marked as off."""
    with (HERE / "published" / "conductivity_single_salts.csv").open(
        encoding="utf-8"
    ) as file:
        rows = [row for row in csv.DictReader(file) if row["salt"] == "KCl"]
    return {
        float(row["concentration_mol_L"]): float(row["EC_mS_cm"])
        for row in rows
        if row["temperature_C"] == "25" and "DISCREPANCY" not in row["note"]
    }


def last(text, term):
    """Return what the engine finds for the last solution of some input."""
    engine = oracle.engine(oracle.database("phreeqc.dat"))
    return oracle.run(engine, text, [term])["v0"][-1]


def phreeqc_titration(alkalinity, ph, doses):
    """Return the pH of 100 mL of a sodium bicarbonate water after doses of 0.1 mol/L HCl, by IPhreeqc."""
    found = []
    for dose in doses:
        text = (
            "SOLUTION 1\n temp 25\n units mmol/kgw\n"
            f" pH {ph}\n Alkalinity {alkalinity}\n Na {alkalinity} charge\n -water 0.1\nEND\n"
            f"SOLUTION 2\n temp 25\n units mmol/kgw\n pH 1 charge\n Cl 100\n -water {max(dose, 1e-9) / 1000}\nEND\n"
            "MIX 1\n 1 1\n 2 1\nEND\n"
        )
        found.append(last(text, '-LA("H+")'))
    return found


# --- dilution ------------------------------------------------------------------------------


def test_the_right_strength_is_found_from_handbook_conductivities():
    read = tuple(
        sorted((mol / 0.01, ec) for mol, ec in handbook().items() if mol <= 0.01)
    )
    fit = fit_dilution(data(dilution=read))
    assert len(read) >= 3
    assert fit.value == pytest.approx(1.0, abs=0.005)
    assert max(map(abs, fit.residuals)) < 0.01 * max(fit.read)


def test_the_doubt_is_that_of_a_line_through_nothing():
    """t s / √Σ x² of least squares; t of 95 % from a printed table, from memory. EC over strength is a line, nearly."""
    two_sided = {2: 4.303, 3: 3.182, 4: 2.776, 5: 2.571}  # degrees of freedom to t
    read = sorted((mol / 0.01, ec) for mol, ec in handbook().items() if mol <= 0.01)
    spoiled = tuple(
        (share, ec * (1.02, 0.98)[n % 2]) for n, (share, ec) in enumerate(read)
    )
    fit = fit_dilution(data(dilution=spoiled))
    scatter = sqrt(sum(left**2 for left in fit.residuals) / (len(read) - 1))
    by_hand = two_sided[len(read) - 1] * scatter / sqrt(sum(ec**2 for _, ec in read))
    assert by_hand > 0.01
    assert fit.doubt == pytest.approx(by_hand, rel=0.06)  # the slope falls by 3 %


def test_a_feed_weighed_one_tenth_short_is_noticed():
    """What is called a share of 10 mmol/L was made of nine tenths of it."""
    read = tuple(
        sorted((mol / 0.009, ec) for mol, ec in handbook().items() if mol < 0.009)
    )
    read += ((10 / 9, handbook()[0.01]),)
    assert fit_dilution(data(dilution=read)).value == pytest.approx(0.9, abs=0.005)


def test_a_slip_of_one_dilution_stands_out():
    read = [(mol / 0.01, ec) for mol, ec in handbook().items() if mol <= 0.01]
    slipped = tuple(
        sorted((2 * share if share == 0.1 else share, ec) for share, ec in read)
    )
    fit, spoiled = (
        fit_dilution(data(dilution=d)) for d in (tuple(sorted(read)), slipped)
    )
    assert spoiled.scatter > 5 * fit.scatter
    assert spoiled.doubt > 5 * fit.doubt
    largest = max(spoiled.rows, key=lambda row: abs(row[3]))
    assert largest[0] == 0.2


# --- titration -----------------------------------------------------------------------------


@pytest.mark.parametrize(("alkalinity", "ph"), [(1.0, 7.0), (3.2, 7.4), (5.5, 7.9)])
def test_the_alkalinity_is_found_from_a_titration_of_another_engine(alkalinity, ph):
    doses = [alkalinity * share for share in (0, 0.3, 0.6, 0.8, 0.95, 1.1)]
    read = tuple(zip(doses, phreeqc_titration(alkalinity, ph, doses), strict=True))
    fit = fit_titration(data(titration=read))
    assert fit.value == pytest.approx(alkalinity, rel=0.01)
    assert max(map(abs, fit.residuals)) < 0.05  # of a pH, over the whole curve


def test_a_titration_begins_without_acid():
    with pytest.raises(InputError, match="without acid"):
        fit_titration(data(titration=((1, 7.0), (2, 6.5), (3, 6.0), (4, 5.0))))


# --- gypsum --------------------------------------------------------------------------------


def test_saturation_is_that_of_another_engine():
    """Calcium nitrate tetrahydrate 236.149 and Epsom salt 246.475 g/mol: IUPAC masses, by hand."""
    grams = (2.0, 5.0, 10.0, 20.0)
    seen = gypsum_seen(data(gypsum=tuple((g, False) for g in grams)))
    for gram, index, _ in seen.rows:
        calcium, sulfate = 1000 * gram / 236.149, 1000 * gram / 246.475
        text = (
            "SOLUTION 1\n temp 25\n units mmol/kgw\n pH 7\n"
            f" Ca {calcium}\n N(5) {2 * calcium}\n Mg {sulfate}\n S(6) {sulfate}\nEND\n"
        )
        assert index == pytest.approx(last(text, 'SI("Gypsum")'), abs=0.06)


def test_a_cloud_below_saturation_disagrees_and_a_clear_one_beyond_is_told():
    assert not gypsum_seen(data(gypsum=((1.0, True), (20.0, True)))).agrees
    seen = gypsum_seen(data(gypsum=((1.0, False), (20.0, False))))
    assert seen.agrees
    assert [row[0] for row in seen.clear_beyond] == [20.0]


# --- the sheet -----------------------------------------------------------------------------


def test_the_invented_data_say_so_and_are_read_with_decimal_commas():
    read = read_class_data(INVENTED)
    assert read.invented
    assert "INVENTED" in SHEET.splitlines()[0]
    assert dict(read.feed) == {"KNO3": 0.6, "MgSO4·7H2O": 0.25}
    assert (read.sample, read.acid, read.acid_strength, read.temperature) == (
        100,
        "HCl",
        0.1,
        20,
    )
    assert read.dilution == (
        (0.0625, 0.07),
        (0.125, 0.14),
        (0.25, 0.26),
        (0.5, 0.51),
        (1.0, 0.98),
    )
    assert read.titration[3] == (2.5, 5.78)
    assert read.gypsum[-2:] == ((20.0, True), (40.0, True))


def test_a_blank_sheet_says_that_nothing_was_read(tmp_path):
    path = tmp_path / "sheet.csv"
    path.write_text(data_sheet(), encoding="utf-8")
    with pytest.raises(InputError, match="no reading at all"):
        read_class_data(path)


def test_a_part_may_be_left_out(tmp_path):
    path = tmp_path / "sheet.csv"
    path.write_text(
        "\n".join(line for line in SHEET.splitlines() if not line.startswith("gypsum")),
        encoding="utf-8",
    )
    read = read_class_data(path)
    assert read.gypsum == ()
    with pytest.raises(InputError, match="gypsum: 0 readings"):
        gypsum_seen(read)


SPOILED = {
    "acid;HCl;0,1 mol/L": ("acid;HCl;1 mol/L", "at most 0.1 mol/L"),
    "sample;;100 mL": ("", "no sample"),
    "feed;KNO3;0,60 g/L": ("feed;H3BO3;0,60 g/L", "not for pupils to weigh"),
    "dilution;1 in 2;0,51 mS/cm": ("dilution;2;0,51 mS/cm", "share such as 1 in 4"),
    "titration;2 mL;6,02": ("titration;2 mL;16,02", "expected 0 to 14"),
    "gypsum;5 g/L;clear": ("gypsum;5 g/L;a bit", "clear or cloudy"),
    "dilution;1 in 4;0,26 mS/cm": (
        "thinning;1 in 4;0,26 mS/cm",
        "none of feed, sample",
    ),
    "dilution;1 in 8;0,14 mS/cm": (
        "dilution;1 in 8;140 mg/L",
        "conductivity is needed",
    ),
}


@pytest.mark.parametrize("line", SPOILED)
def test_a_fault_is_told_with_its_line(tmp_path, line):
    assert line in SHEET
    instead, says = SPOILED[line]
    path = tmp_path / "sheet.csv"
    path.write_text(SHEET.replace(line, instead), encoding="utf-8")
    with pytest.raises(InputError, match=says):
        read_class_data(path)


def test_all_faults_are_told_at_once(tmp_path):
    text = SHEET
    for line, (instead, _) in SPOILED.items():
        text = text.replace(line, instead)
    path = tmp_path / "sheet.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as told:
        read_class_data(path)
    for _, says in SPOILED.values():
        assert sum(says in fault for fault in told.value.faults) >= 1, says


@pytest.mark.parametrize(
    "share", ["1 in 4", "1/4", "0,25", "0.25", "25 %", "25%", "25,0 %"]
)
def test_a_share_is_read_however_it_is_written(tmp_path, share):
    path = tmp_path / "sheet.csv"
    path.write_text(
        SHEET.replace("dilution;1 in 4;", f"dilution;{share};"), encoding="utf-8"
    )
    assert (0.25, 0.26) in read_class_data(path).dilution


def test_no_cell_of_a_sheet_becomes_a_date_or_a_time():
    """Spreadsheets take 1/4, 1-4, 1.4 (where the decimal mark is a comma) and 1:4 for dates or times: common practice."""
    for text in (data_sheet(), SHEET):
        cells = [cell for line in text.splitlines() for cell in line.split(";")]
        assert len(cells) > 60
        assert not [c for c in cells if re.fullmatch(r"\d+[-/.:]\d+([-/.:]\d+)?", c)]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_a_sheet_is_read_as_spreadsheets_save_it(tmp_path, encoding, delimiter):
    """Filled up with empty cells, a comment in quotes, Windows line ends."""
    lines = [
        f'"{line}";;' if line.startswith("#") else line for line in SHEET.splitlines()
    ]
    text = "\r\n".join([*lines, ";;", ""]).replace(";", delimiter)
    path = tmp_path / "sheet.csv"
    path.write_bytes(text.encode(encoding))
    saved, read = read_class_data(path), read_class_data(INVENTED)
    assert (saved.dilution, saved.titration, saved.gypsum) == (
        read.dilution,
        read.titration,
        read.gypsum,
    )
    assert dict(saved.feed) == dict(read.feed)
