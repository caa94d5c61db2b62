"""Water reports taken apart: every layout, every fault with its line, nothing lost."""

import pytest

from formulate.errors import FormulateError, InputError, UnitError
from formulate.ingredients.report_text import read_report, report_of_mapping
from formulate.ingredients.report_units import (
    kinds_of,
    word_meaning,
)

SAME = {"calcium": 94.4, "sulfate": 18.1, "nitrite": 0.0}
LAYOUTS = {
    "leaders": "Calcium (Ca) ....... 94,4 mg/l\nSulfat ...... 18,1 mg/l\nNitrit … <0,01 mg/l",
    "colons": "Calcium: 94.4 mg/L\nSulfate: 18.1 mg/L\nNitrite as NO2: < 0.01 mg/L",
    "unit first": "Calcium mg/l 94,4\nSulfat mg/l 18,1\nNitrit mg/l n.n.",
    "csv": "Parameter,Unit,Result\nCalcium,mg/L,94.4\nSulfate,mg/L,18.1\nNO2,mg/L,ND",
    "semicolons": "Parameter;Wert;Einheit\nCa;94,4;mg/l\nSO4;18,1;mg/l\nNO2;<0,01;mg/l",
    "no heading": "Calcium;94,4;mg/l\nSulfat;18,1;mg/l\nNitrit;<0,01;mg/l",
    "commas, no heading": "Calcium,94.4,mg/L\nSulfate,18.1,mg/L\nNO2,<0.01,mg/L",
    "quoted": 'Analyte,Result\n"Calcium, dissolved","94.4 mg/L"\nSO4,18.1 mg/L\nNO2,ND mg/L',
    "markdown": "|Parameter|Value|Unit|\n|:--|--:|--|\n|Ca2+|94.4|mg/L|\n|SO4 2-|18.1|mg/L|"
    "\n|NO2-|<0.01|mg/L|",
    "unit in heading": "Parameter;Ergebnis [mg/l]\nCalcium;94,4\nSulfat;18,1\nNitrit;<0,01",
    "unit in title": "All values in mg/L\nCalcium 94.4\nSulfate 18.1\nNO2 <0.01",
    "wide": "pH;Ca (mg/L);SO4 (mg/L);NO2 (mg/L)\n7,4;94,4;18,1;<0,01",
    "wide, units below": "Ca;SO4;NO2\nmg/L;mg/L;mg/L\n94,4;18,1;<0,01",
    "one line": "Ca: 94.4 mg/L, SO4: 18.1 mg/L, NO2: <0.01 mg/L",
    "two columns": "Calcium 94.4 mg/L      Sulfate 18.1 mg/L\nNO2 <0.01 mg/L",
    "limit before value": "Parameter Einheit Grenzwert Messwert\nCalcium mg/l 400 94,4\n"
    "Sulfat mg/l 250 18,1\nNitrit mg/l 0,5 <0,01",
    "mean and range": "Parameter;Einheit;Mittelwert;Minimum;Maximum\nCalcium;mg/l;94,4;90;99\n"
    "Sulfat;mg/l;18,1;17;20\nNitrit;mg/l;<0,01;<0,01;0,02",
    "fixed": "Parameter     Unit     Result     Limit\nCalcium       mg/L     94.4\n"
    "Sulfate       mg/L     18.1       250\nNO2           mg/L     <0.01      0.5",
    "numbered": "Nr. Parameter Einheit Messwert Grenzwert\n1 Calcium mg/l 94,4 400\n"
    "2 Sulfat mg/l 18,1 250\n3 Nitrit mg/l <0,01 0,5",
    "windows lines": "Calcium: 94,4 mg/l\r\nSulfat: 18,1 mg/l\r\nNitrit: n.n. mg/l\r\n",
    "byte order mark": "\ufeffParameter;Wert;Einheit\nCa;94,4;mg/l\nSO4;18,1;mg/l\nNO2;nn;",
}


@pytest.mark.parametrize("layout", LAYOUTS)
def test_the_same_water_reads_the_same_in_every_layout(layout):
    report = read_report(LAYOUTS[layout])
    told = {entry.quantity: entry.value for entry in report.entries}
    assert {key: told.get(key) for key in SAME} == SAME


def test_means_keep_their_range_and_say_so():
    entry = read_report(LAYOUTS["mean and range"]).entry("calcium")
    assert (entry.value, entry.low, entry.high) == (94.4, 90.0, 99.0)
    assert entry.said == ("the mean is taken",)


def test_a_row_of_units_holds_for_the_rows_below_it():
    text = "Element;mmol/l;\nCa;2,1;\nB;0,01;\n;µmol/l\nFe;3,2;\nMn;1,1;"
    report = read_report(text)
    told = {entry.quantity: (entry.value, entry.unit.name) for entry in report.entries}
    assert told["calcium"] == (2.1, "mmol/L")
    assert told["iron"] == (3.2, "umol/L")
    assert "'µmol/l'" in report.entry("iron").said[0]


def test_a_sum_that_stands_in_the_second_column_alone_is_read():
    text = "Kationen     mg/l    mval/l\nCalcium      94,4    4,711\nSumme Kationen       6,880"
    report = read_report(text)
    assert report.entry("calcium").value == 94.4
    assert report.entry("cation_sum").value == 6.88


def test_a_range_is_read_in_its_middle_and_said():
    entry = read_report("Magnesium 2.1 to 3.5 mg/L").entry("magnesium")
    assert (entry.value, entry.low, entry.high) == (2.8, 2.1, 3.5)
    assert "middle" in entry.said[0]


def test_what_is_below_a_limit_counts_as_nothing_and_is_said():
    entry = read_report("Nitrit: < 0,01 mg/l").entry("nitrite")
    assert (entry.value, entry.low, entry.high, entry.sign) == (0.0, 0.0, 0.01, "<")
    assert entry.said == ("printed < 0,01 mg/l, counted as 0",)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Calcium 80 94 110 mg/L", "line 1, Calcium: 3 numbers"),
        ("Calcium 94.4", "line 1, Calcium: no unit"),
        ("Calcium: 94.4 mS/cm", "does not fit"),
        ("a;b\nParameter;Einheit;Wert\nCalcium;mg;94,4", "line 3, Calcium: unit 'mg'"),
        ("Parameter;Unit;Value\nCalcium;mg/L;see annex", "'see annex' is no value"),
        ("Parameter,Unit,Value\nCalcium,mg/L,94,4", "line 2, Calcium: 4 cells"),
        ("Parameter;Einheit;Probe 1;Probe 2\nCa;mg/l;80;90", "all look like results"),
        ("Ca;Mg;Na\n1;2;3\n4;5;6", "line 3: a second sample"),
        ("Nitrate-N: 3.7 mg/L NO3", "two bases"),
        ("Parameter;Einheit;Mittel;Min;Max\nCa;mg/l;94;95;99", "outside its range"),
        ("Calcium: 110 bis 110,5 bis mg/l", "no unit"),
        ("Calcium (mg/l): 94,4 µg/l", "two units"),
    ],
)
def test_faults_name_their_line(text, words):
    with pytest.raises(InputError, match=words):
        read_report(text)


def test_all_faults_are_told_at_once():
    with pytest.raises(InputError) as caught:
        read_report("Calcium: 9x4 mg/l\nMagnesium: 18\nNatrium: 13,9 mg/l")
    assert len(caught.value.faults) == 2


def test_what_is_left_out_is_kept_with_its_line_and_reason():
    text = "Labor 17, 12.06.2025\nBlei <0,001 mg/l\nFoo 3 mg/l\nCalcium 94 mg/l\nZink mg/l -"
    left = read_report(text).left_out
    assert [(one.line, one.why) for one in left] == [
        (1, "no measurement"),
        (2, "known and not counted"),
        (3, "not understood"),
        (5, "no value"),
    ]


def test_a_unit_for_bare_values_is_taken_and_said():
    entry = read_report("Calcium 94.4", unit="mg/L").entry("calcium")
    assert entry.unit.name == "mg/L"
    assert entry.said == ("no unit printed: mg/L taken",)
    with pytest.raises(UnitError):
        read_report("Calcium 94.4", unit="furlong")


def test_a_mapping_reads_like_a_report():
    report = report_of_mapping(
        {"Calcium": 94.4, "Nitrat-N": "3,7 mg/l", "NO2": "<0.05", "EC": 0.65}
    )
    assert [(e.quantity, e.value, str(e.unit)) for e in report.entries] == [
        ("calcium", 94.4, "mg/L"),
        ("nitrate", 3.7, "mg/L"),
        ("nitrite", 0.0, "mg/L"),
        ("EC", 0.65, "mS/cm"),
    ]


@pytest.mark.parametrize(
    "value", [None, True, "x", float("nan"), float("inf"), [1], "1;2", b"3"]
)
def test_odd_values_of_a_mapping_are_refused(value):
    with pytest.raises(FormulateError):
        report_of_mapping({"Calcium": value})


def test_a_mapping_without_a_value_or_with_an_unknown_name():
    assert report_of_mapping({"Calcium": ""}).left_out[0].why == "no value"
    with pytest.raises(InputError, match="Unobtainium"):
        report_of_mapping({"Unobtainium": 3})


@pytest.mark.parametrize(
    "text",
    [
        None,
        7,
        b"Calcium",
        "x" * 400_000,
        "a\n" * 4000,
        "Calcium " + "1 " * 3000,
    ],
)
def test_what_is_no_text_or_too_much_of_it_is_refused(text):
    with pytest.raises(InputError):
        read_report(text)


def test_hostile_lines_take_no_time_and_do_no_harm():
    lines = ["(" * 900, "1" * 1900, "." * 1900, ";" * 1900, "Ca " * 600, "a,b" * 600]
    lines += [
        "=cmd|' /C calc'!A0",
        "<script>alert(1)</script> 3",
        "{0.__class__}",
        "%s",
    ]
    report = read_report("\n".join([*lines, "Calcium 94.4 mg/L"]))
    assert report.entry("calcium").value == 94.4


def test_words_of_one_kind_are_not_those_of_another():
    assert word_meaning("column", "Grenzwert") == "limit"
    assert word_meaning("nothing", "Grenzwert") == ""
    assert kinds_of("pH") == ()
