"""Laboratory tables as files: both layouts, units, what is absent or below, every fault."""

import codecs

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from formulate.claims.assay import check_assay
from formulate.claims.assay_cells import (
    doubt_of,
    heading_role,
    nutrient_named,
    role_of,
    scale_of,
    unit_apart,
    value_of,
)
from formulate.claims.assay_file import (
    assay_kind,
    check_assay_file,
    read_assay_file,
)
from formulate.errors import InputError, UnitError
from formulate.ingredients.labels import read_label
from formulate.tables import read_table, source

DOWN = """School glasshouse, feed A;;;;;;
rule;us
Parameter;Guaranteed;Sample 1;Sample 2;Unit;±;Method
Total nitrogen (N);10;9,6;9,3;%;0,1;digestion
P2O5;5;4,9;4,8;%;;
Zn;500;410;400;mg/kg;20;emission
B;0,02;n.d.;-;%;;
"""
ACROSS = """sample,N (%),P2O5 %,Zn mg/kg,B (%)
guaranteed,10,5,500,0.02
bag A,9.6,4.9,410,n.d.
bag B,9.3,4.8,400,-
uncertainty,0.1,,20,
method,digestion,,emission,
"""
BY_HAND = ({"N": 9.6, "P2O5": 4.9, "Zn": 0.041}, {"N": 9.3, "P2O5": 4.8, "Zn": 0.04})


def verdicts(report):
    return {finding.subject: finding.verdict for finding in report.findings}


def approx(mapping):
    return {key: pytest.approx(value) for key, value in mapping.items()}


# --- both layouts, every way a file is saved -------------------------------------------------


@pytest.mark.parametrize("text", [DOWN, ACROSS])
def test_both_layouts_tell_the_same(text):
    """410 mg/kg are 0.041 %."""
    file = read_assay_file(text)
    assert file.guarantees == approx({"N": 10, "P2O5": 5, "Zn": 0.05, "B": 0.02})
    assert [dict(s) for s in file.samples()] == [approx(s) for s in BY_HAND]
    assert file.uncertainty == approx({"N": 0.1, "Zn": 0.002})
    assert file.methods == {"N": "digestion", "Zn": "emission"}


@pytest.mark.parametrize("text", [DOWN, ACROSS])
def test_a_file_is_judged_as_its_numbers(text):
    """N 9.45 ± 0.1, 9.42 must be there (fl-576-061): open; Zn 0.0405 of at least 0.04."""
    report = check_assay_file(text)
    told = {"N": 10, "P2O5": 5, "Zn": 0.05, "B": 0.02}
    same = check_assay(told, BY_HAND, uncertainty={"N": 0.1, "Zn": 0.002})
    assert [f.verdict for f in report.findings] == [f.verdict for f in same.findings]
    assert verdicts(report) == {
        "N": "cannot tell",
        "P2O5": "right",
        "Zn": "cannot tell",
        "B": "cannot tell",
    }
    assert "sample 2 alone, 9.3 %" in report.findings[0].what
    assert "samples lie 0.3 points apart" in str(report.notices)
    assert "taken as not analysed" in str(report.notices)


@pytest.mark.parametrize("delimiter", [";", "\t"])
@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_every_delimiter_and_coding(tmp_path, delimiter, coding):
    path = tmp_path / "assay.csv"
    path.write_bytes(DOWN.replace(";", delimiter).encode(coding))
    assert check_assay_file(path).rows() == check_assay_file(DOWN).rows()
    assert read_assay_file(path).name == "assay.csv"


def test_commas_part_cells_and_then_mark_no_decimals(tmp_path):
    plain = DOWN.replace(",", ".").replace(";", ",")
    assert check_assay_file(plain).rows() == check_assay_file(DOWN).rows()
    marked = codecs.BOM_UTF8.decode() + "sep=;\r\n" + DOWN.replace("\n", "\r\n")
    assert check_assay_file(marked).rows() == check_assay_file(DOWN).rows()
    with pytest.raises(InputError, match="decimal comma in a file"):
        read_assay_file('nutrient,found\nN,"9,6"\n')
    with pytest.raises(InputError, match="'6' stands under no heading"):
        read_assay_file("nutrient,guaranteed,found\nN,10,9,6\n")


# --- laws ------------------------------------------------------------------------------------


@settings(deadline=None, derandomize=True)
@given(percent=st.floats(0.0001, 2), guarantee=st.floats(0.001, 2), eu=st.booleans())
def test_the_unit_does_not_matter(percent, guarantee, eu):
    """1 % is 10 g/kg, 10 000 mg/kg and 10 000 ppm."""
    rule = "eu" if eu else "us"
    found = {
        check_assay_file(
            f"nutrient;guaranteed;found;unit\nZn;{guarantee * f!r};{percent * f!r};{unit}\n",
            rule=rule,
        ).verdict
        for unit, f in (("%", 1.0), ("g/kg", 10.0), ("mg/kg", 1e4), ("ppm", 1e4))
    }
    off = abs(percent - guarantee)
    edges = (0.2 * guarantee, 0.005 + 0.1 * guarantee)
    assert len(found) == 1 or any(abs(off - edge) < 1e-8 for edge in edges)


def test_the_order_of_lines_and_samples_does_not_matter():
    lines = ["N;10;9,2;9,9", "Zn;0,05;0,04;<0,03", "K2O;8;7;8"]
    head = "nutrient;guaranteed;found 1;found 2\n"
    forth = check_assay_file(head + "\n".join(lines) + "\n")
    turned = [
        ";".join([*line.split(";")[:2], *line.split(";")[:1:-1]]) for line in lines
    ]
    back = check_assay_file(head + "\n".join(turned[::-1]) + "\n")
    assert verdicts(forth) == verdicts(back)
    assert sorted(r[:10] for r in forth.rows()) == sorted(r[:10] for r in back.rows())


def test_excess_is_minded_in_the_eu_alone():
    """N 10 %: at most 2.0 points either way in the EU (memory); US: only what is short."""
    text = "{}nutrient;guaranteed;found\nN;10;12,1\n"
    assert check_assay_file(text.format("rule;eu\n")).verdict == "wrong"
    assert check_assay_file(text.format("rule;us\n")).verdict == "right"
    assert check_assay_file(text.format("")).verdict == "right"
    short = text.replace("12,1", "7,9").format("rule;eu\n")
    assert check_assay_file(short).verdict == "wrong"


# --- settings, labels, what is left out -------------------------------------------------------


def test_settings_above_the_table_and_what_is_given_goes_before():
    text = "Rule: ;EU\nform;Liquid\nbasis;us\nnutrient;guaranteed;found\nPhosphorus;5;4,9\n"
    file = read_assay_file(text)
    assert file.settings == {"rule": "eu", "form": "liquid", "basis": "us"}
    assert check_assay_file(text).rule == "eu"
    assert check_assay_file(text, rule="us").rule == "us"
    assert list(file.guarantees) == ["P2O5"]
    assert list(read_assay_file(text, basis="element").guarantees) == ["P"]
    triple = "material;Triple superphosphate\nnutrient;guaranteed;found\nP2O5;46;44,6\n"
    assert check_assay_file(triple).verdict == "right"  # 1.53 allowed (aapfco-ia-page)
    assert check_assay_file(triple.split("\n", 1)[1]).verdict == "wrong"
    other = triple.replace("Triple superphosphate", "calcium nitrate")
    assert "no allowance of its own" in str(check_assay_file(other).notices)


def test_a_label_guarantees_where_the_file_does_not():
    bag = read_label(
        "Total Nitrogen (N) 10 %\n10 % Nitrate Nitrogen\nSoluble Potash (K2O) 8 %\n"
        "Iron (Fe) 0.1 %"
    )
    rows = "N;{}9,9;%\nNO3-N;{}9,9;%\nsoluble potash;{}7,9;%\nFe;{}1000;mg/kg\n"
    text = "nutrient;found;unit\n" + rows.format(*[""] * 4) + "Cu;12;mg/kg\n"
    report = check_assay_file(text, label=bag)
    assert set(verdicts(report).values()) == {"right"}
    assert list(verdicts(report)) == ["N", "NO3-N", "K2O", "Fe"]
    assert "not guaranteed, so not judged: Cu" in str(report.notices)
    told = "nutrient;guaranteed;found;unit\n" + rows.format("12;", "10;", ";", ";")
    said = str(check_assay_file(told, label=bag).notices)
    assert "otherwise: N 12 % in the file, 10 % on the label'" in said
    with pytest.raises(InputError, match="no guarantee; add a column"):
        check_assay_file(text)


def test_parts_are_judged_where_the_file_names_them():
    bag = read_label("Magnesium (Mg) 2 %\n1.5 % Water Soluble Magnesium (Mg)")
    text = "nutrient;found %\nMg;1,9\n"
    whole = check_assay_file(text, label=bag)
    assert verdicts(whole) == {"Mg": "right"}
    assert "water-soluble Mg 1.5 %" in str(whole.notices)
    part = check_assay_file(text + "Mg water soluble;1,2\n", label=bag)
    assert verdicts(part) == {"Mg": "right", "water-soluble Mg": "wrong"}


def test_nothing_is_lost_that_is_not_read():
    text = (
        "Laboratory of the school\nFeed A, drawn in week 3\n"
        "nutrient;guaranteed;found;mean;analyst;unit\nN;10;9,9;9,9;Ada;%\n"
        "moisture;;2,1;;;%\nCadmium;;0,2;;;mg/kg\nCu;;;;;\nsigned by the teacher\n"
    )
    said = str(check_assay_file(text).notices)
    for part in (
        *(
            "Laboratory of the school",
            "Feed A, drawn in week 3",
            "signed by the teacher",
        ),
        *("columns not read: mean, analyst", "not judged: moisture, Cadmium, Cu"),
    ):
        assert part in said
    bare = check_assay_file("nutrient;guaranteed;found\nN;10;9,9\n")
    assert "no unit is told, percent was taken: N" in str(bare.notices)


def test_below_detection_in_a_file():
    """Zn 0.05 %: 0.04 must be there (nh-agr-1105), no more than 0.01 or 0.03 is."""
    text = "nutrient;guaranteed;found 1;found 2;unit\nZn;500;<100;< 300;mg/kg\n"
    (finding,) = check_assay_file(text).findings
    assert finding.verdict == "wrong"
    assert "below 0.02 % found" in finding.what
    open_ = check_assay_file(text.replace("< 300", "<800"))
    assert open_.verdict == "cannot tell"


# --- faults ----------------------------------------------------------------------------------


def test_every_fault_at_once_by_line_and_column():
    text = (
        "rule;uk\nnutrient;guaranteed;found;;unit;bag X\n"
        "N;10;9,6;3;%;\n;5;4;;%;\nP;5;abc;;%;7\nZnx;1;2;;%;\nN;3;2;;%;\n"
        "phosphorus;4;4;;%;\nnitrate;3;3;;%;\nK2O;5 g/L;5;;%;\nCa;101;5;;%;\n"
        "Mg;4;3;;foo;\nFe;<1;1;;%;\nCu;1;-1;;%;\nMn;1 ± 0,1;1;;%;\n"
    )
    with pytest.raises(InputError) as caught:
        read_assay_file(text)
    faults = caught.value.faults
    expected = (
        ("line 1", "rule 'uk': give one of us, eu"),
        ("line 3, column 4", "'3' stands under no heading"),
        ("line 2, column 'bag X'", "call it sample 1, or note"),
        ("line 4, column 'nutrient'", "part merged cells"),
        ("line 5, column 'found'", "'abc' is no number"),
        ("line 6, column 'nutrient'", "near: Zn"),
        ("line 7, column 'nutrient'", "N stands in line 3"),
        ("line 8, column 'nutrient'", "may be P or P2O5"),
        ("line 9, column 'nutrient'", "NO3-N or NO3"),
        ("line 10, column 'guaranteed'", "counts by volume"),
        ("line 11, column 'guaranteed'", "not from 0 to 100 %"),
        ("line 12, column 'guaranteed'", "unit 'foo' is not known"),
        ("line 12, column 'found'", "unit 'foo' is not known"),
        ("line 13, column 'guaranteed'", "a guarantee is one number"),
        ("line 14, column 'found'", "not from 0 to 100 %"),
        ("line 15, column 'guaranteed'", "a guarantee is one number"),
    )
    for where, what in expected:
        assert any(where in fault and what in fault for fault in faults), (where, what)
    assert len(faults) == len(expected)


def test_faults_of_a_table_across_keep_their_places():
    text = "sample;N;Zm;N\nguaranteed;10;1;10\nbag;x;1;9\n;1;;\n"
    with pytest.raises(InputError) as caught:
        read_assay_file(text)
    told = "\n".join(caught.value.faults)
    for part in (
        *("line 3, column 'N': 'x' is no number", "line 1, column 'Zm': 'Zm' is no"),
        *(
            "line 1, column 'N': N stands in line 1",
            "line 4, column 'N': '1' stands under",
        ),
    ):
        assert part in told


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        ("a;b\n1;2\n", "no headings"),
        ("nutrient;guaranteed;found\n", "no nutrient with a value"),
        ("nutrient;guaranteed;guarantee;found\nN;1;1;1\n", "guaranteed has a column"),
        ("rule;us\nrule;eu\nnutrient;found\nN;1\n", "rule is told twice"),
        ('nutrient;found\n"N;1\n', "look at the quotes"),
        (
            "nutrient;found;uncertainty\nZn mg/kg;500;5 %\n",
            "of the value or of the prod",
        ),
        ("nutrient;found;uncertainty (%)\nZn mg/kg;500;5\n", "of the value or of the"),
        ("nutrient;found;uncertainty\nZn;0,05;5\n", "more than was found"),
        ("nutrient;found mg/L\nZn;5\n", "counts by volume"),
        ("nutrient;found\nN;1,234\nK2O;1.234,5\n", "decimal"),
        (7, "give a file or its text"),
    ],
)
def test_files_that_cannot_be_read_say_why(text, words):
    with pytest.raises(InputError, match=words):
        read_assay_file(text)


def test_a_file_without_values_is_refused():
    with pytest.raises(InputError, match="samples: there is none"):
        check_assay_file("nutrient;guaranteed;found\nN;10;-\n")
    with pytest.raises(InputError, match="cannot be read"):
        check_assay_file("no such file.csv")


CELLS = [
    "N",
    "Zn",
    "found",
    "guaranteed",
    "nutrient",
    "9,6",
    "<1",
    "rule",
    "%",
    "unit",
    "±",
    "n.d.",
    "eu",
]


@settings(deadline=None, derandomize=True, max_examples=150)
@given(
    st.lists(
        st.lists(st.sampled_from([*CELLS, "", '"', "Fe EDTA", "5 % rel"]), max_size=5),
        max_size=6,
    ),
    st.booleans(),
)
def test_any_cells_are_read_or_refused_in_words(rows, headed):
    head = "nutrient;guaranteed;found;unit;±\n" if headed else ""
    text = head + "\n".join(";".join(row) for row in rows) + "\n\n"
    shares, faults = [], ()
    try:
        file = read_assay_file(text)
    except InputError as error:
        faults = error.faults
    else:
        shares = [v.percent for line in file.lines for v in line.found.values()]
        shares += file.guarantees.values()
    assert bool(faults) != bool(shares)
    assert all(0 <= share <= 100 for share in shares)
    assert assay_kind(text) in (True, False)


# --- which file it is, and its words -----------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (DOWN, True),
        (ACROSS, True),
        ("rule;eu\nnutrient;found\nN;9,6\n", True),
        ("nutrient;found\nN;9,6\n", False),
        ("parameter;result;unit\nNa;12;mg/L\n", False),
        ("week;A g/L;B g/L\n1;0,5;0,5\n", False),
        ("name;N;P;K\nlettuce;200;50;300\n", False),
        ("Total Nitrogen (N) 10 %\nSoluble Potash (K2O) 8 %\n", False),
        ("", False),
        ('"', False),
    ],
)
def test_the_kind_of_a_file(text, expected):
    assert assay_kind(text) is expected


def test_words_of_headings():
    assert [
        role_of(w) for w in ("ANALYTE", "Declared", "Sample no. 2", "Sample B")
    ] == [*("nutrient", "guaranteed", "found", "found")]
    assert heading_role("uncertainty (% rel)") == ("uncertainty", "% rel")
    assert heading_role("± mg/kg") == ("uncertainty", "mg/kg")
    assert unit_apart("Iron (Fe), mg/kg") == ("Iron (Fe)", "mg/kg")
    assert scale_of("% w/w") == 1
    with pytest.raises(UnitError, match="by volume"):
        scale_of("g/L")
    for row in read_table("assay_words"):
        assert source(row["source_key"]).key == row["source_key"]


def test_values_of_cells():
    """By hand: 5 % of 480 mg/kg are 24 mg/kg, 0.0024 %."""
    value = value_of("480 ± 24 mg/kg", 1.0)
    assert (value.percent, value.doubt) == (pytest.approx(0.048), pytest.approx(0.0024))
    relative = value_of("480 mg/kg ± 5 % rel", 1.0)
    assert relative.doubt == pytest.approx(0.0024)
    assert value_of("≥ 10", 1.0).percent == value_of("min. 10 %", 0.1).percent == 10
    assert doubt_of("± 0,3", 1.0, 10.0) == 0.3
    with pytest.raises(InputError, match="not negative"):
        doubt_of("-1", 1.0, 10.0)
    with pytest.raises(InputError, match="no number"):
        value_of("> 50", 1.0)


@pytest.mark.parametrize(
    ("text", "rule", "name"),
    [
        ("Total Nitrogen (N)", "us", "N"),
        ("Magnesium", "us", "Mg"),  # the element on US labels
        ("magnesium (MgO)", "eu", "MgO"),
        ("Soluble potash", "us", "K2O"),
        ("available phosphate", "us", "available P2O5"),
        ("total P2O5", "us", "total P2O5"),
        ("iron chelated by EDTA", "eu", "Fe chelated by EDTA"),
    ],
)
def test_names_of_nutrients(text, rule, name):
    assert nutrient_named(text, None, rule) == name


@pytest.mark.parametrize(
    "text",
    [
        "Nährstoff;Deklariert;Gefunden\nGesamtstickstoff;15;14,6\nPhosphat;10;9,9\n"
        "Kaliumoxid;15;14,9\nMagnesium;2;1,9\n",
        "élément;garanti;trouvé\nazote total;15;14,6\nphosphore;10;9,9\n"
        "oxyde de potassium;15;14,9\nmagnésium;2;1,9\n",
        "elemento;garantizado;encontrado\nnitrógeno total;15;14,6\nfósforo;10;9,9\n"
        "óxido de potasio;15;14,9\nmagnesio;2;1,9\n",
    ],
)
def test_words_of_other_languages_mean_what_they_mean_on_labels(text):
    # EU 2019/1009 labels count P2O5, K2O and MgO (label_words.csv, column eu)
    file = read_assay_file(text)
    assert file.guarantees == {"N": 15.0, "P2O5": 10.0, "K2O": 15.0, "MgO": 2.0}
    assert any("as on labels of the EU" in str(notice) for notice in file.said)
    element = read_assay_file("basis;element\n" + text)
    assert "P" in element.guarantees


def test_a_label_may_be_given_as_text():
    text = "nutrient;found\nN;9,6\nZn mg/kg;480\n"
    report = check_assay_file(text, label="N 10 %\nZn 0.05 %")
    assert [line.guarantee for line in report.lines] == [10.0, 0.05]


def test_names_that_read_two_ways_are_refused():
    with pytest.raises(InputError, match="may be Mg or MgO"):
        nutrient_named("Magnesium", None, "eu")
    with pytest.raises(InputError, match="nitrogen or the whole ion"):
        nutrient_named("nitrate", None, "us")
