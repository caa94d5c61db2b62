"""Laboratory values against guarantees: verdicts, several samples, exact limits, bad input."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from formulate.claims.allowances import eu_tolerance, us_allowance
from formulate.claims.assay import check_assay
from formulate.errors import InputError
from formulate.ingredients.labels import label, read_label
from formulate.ingredients.salts import salt
from formulate.tables import read_table, source

EVERY_US = (
    "N",
    "P2O5",
    "K2O",
    "NO3-N",
    "NH4-N",
    "urea-N",
    *(row["nutrient"] for row in read_table("trace_allowances")),
)


def one(guarantees, samples, **given_):
    """Return the finding on the only, or first, nutrient."""
    return check_assay(guarantees, samples, **given_).findings[0]


# --- laws -----------------------------------------------------------------------------------


@settings(deadline=None, derandomize=True)
@given(
    key=st.sampled_from(EVERY_US), guarantee=st.floats(0.5, 31), part=st.floats(0, 2)
)
def test_right_up_to_the_limit_and_never_beyond(key, guarantee, part):
    allowed = us_allowance(key, guarantee)
    found = max(guarantee - part * allowed.value, 0.0)
    verdict = one({key: guarantee}, {key: found}).verdict
    if allowed.doubt:
        assert verdict == ("right" if found >= guarantee - 1e-9 else "cannot tell")
    elif abs(part - 1) > 1e-6 and found:
        assert verdict == ("right" if part < 1 else "wrong")


@pytest.mark.parametrize("key", EVERY_US)
def test_more_than_guaranteed_is_never_wrong_in_the_us(key):
    allowed = us_allowance(key, 5)
    assert math.isinf(allowed.above)
    assert one({key: 5}, {key: 90}).verdict == "right"


@pytest.mark.parametrize(
    ("key", "guarantee"), [("N", 10), ("P2O5", 5), ("Ca", 10), ("Zn", 0.05), ("N", 11)]
)
def test_the_exact_limit_passes_and_a_hair_more_does_not(key, guarantee):
    limit = us_allowance(key, guarantee).low
    assert one({key: guarantee}, {key: limit}).verdict == "right"
    assert one({key: guarantee}, {key: round(limit, 6)}).verdict == "right"
    assert one({key: guarantee}, {key: limit - 1e-6}).verdict == "wrong"


@pytest.mark.parametrize(
    ("key", "guarantee"), [("N", 10), ("MgO", 3), ("CaO", 20), ("Fe", 0.1), ("Fe", 12)]
)
def test_both_exact_limits_of_the_eu_pass(key, guarantee):
    allowed = eu_tolerance(key, guarantee)
    for limit, side in ((allowed.low, -1), (allowed.high, 1)):
        inside = one({key: guarantee}, {key: limit}, rule="eu")
        assert inside.verdict == "right"
        beyond = one({key: guarantee}, {key: limit + side * 1e-6}, rule="eu")
        assert (beyond.verdict, beyond.limit) == ("wrong", pytest.approx(limit))


# --- verdicts -------------------------------------------------------------------------------


def test_wrong_tells_by_how_much_beyond_the_allowance():
    """N 10 %: 0.58 allowed (fl-576-061, read); 9.30 is 0.70 short, 0.12 beyond."""
    report = check_assay({"N": 10}, {"N": 9.3})
    finding = report.findings[0]
    assert finding.verdict == report.verdict == "wrong"
    assert "0.7 short, 0.58 allowed: 0.12 points beyond" in finding.what
    assert finding.limit == pytest.approx(9.42)
    assert finding.source_key == "fl-576-061"
    assert "Florida Statutes 2014" in finding.rule
    assert report.rows()[0][8] == pytest.approx(0.12)


def test_several_samples_mean_spread_worst():
    values = [9.3, 9.7, 9.8]
    report = check_assay({"N": 10}, [{"N": v} for v in values])
    (name, guarantee, mean, worst, spread, count, *_) = report.rows()[0]
    assert (name, guarantee, worst, count) == ("N", 10, 9.3, 3)
    assert (mean, spread) == (pytest.approx(9.6), pytest.approx(0.5))
    finding = report.findings[0]
    assert finding.verdict == "right"
    assert finding.severity == "caution"
    assert "mean of 3, 9.3 to 9.8" in finding.what
    assert "sample 1 alone, 9.3 %, is beyond" in finding.what
    assert report.findings == check_assay({"N": 10}, {"N": values}).findings


def test_the_order_of_samples_does_not_matter():
    samples = [{"N": 9.3, "Zn": 0.04}, {"N": 9.9}, {"Zn": 0.05}]
    forth, back = (
        check_assay({"N": 10, "Zn": 0.05}, some) for some in (samples, samples[::-1])
    )
    assert [r[:10] for r in forth.rows()] == [r[:10] for r in back.rows()]
    assert forth.lines[1].samples == (1, 3)


def test_the_worst_of_the_eu_may_be_too_much():
    report = check_assay({"N": 10}, {"N": [9.0, 12.5]}, rule="eu")
    assert report.rows()[0][3] == 12.5
    assert "sample 2 alone" in report.findings[0].what


@pytest.mark.parametrize(
    ("found", "doubt", "verdict"),
    [
        (9.5, 0.0, "right"),
        (9.5, 0.08, "right"),  # reaches the limit 9.42 and not over it
        (9.5, 0.1, "cannot tell"),
        (9.35, 0.1, "cannot tell"),
        (9.35, 0.06, "wrong"),
    ],
)
def test_the_uncertainty_of_the_laboratory(found, doubt, verdict):
    for given_ in (doubt, {"N": doubt}):
        finding = one({"N": 10}, {"N": found}, uncertainty=given_)
        assert finding.verdict == verdict
        assert ("reaches over the limit" in finding.what) == (verdict == "cannot tell")


def test_no_known_allowance_cannot_be_told_unless_nothing_is_missing():
    assert one({"Si": 4}, {"Si": 3.9}).verdict == "cannot tell"
    assert one({"Si": 4}, {"Si": 4.1}).verdict == "right"
    assert one({"NO3-N": 4}, {"NO3-N": 4.1}, rule="eu").verdict == "cannot tell"
    assert one({"Cl": 1}, {"Cl": 1}, rule="eu").verdict == "cannot tell"


def test_doubtful_rows_prove_nothing_beyond_what_is_sure():
    """Ni from memory, unsure; Na2O may stand on either of two lines; K2O above 62 %."""
    assert one({"Ni": 0.01}, {"Ni": 0.0099}).verdict == "cannot tell"
    assert one({"Ni": 0.01}, {"Ni": 0.0101}).verdict == "right"
    assert one({"Na2O": 2}, {"Na2O": 1.6}, rule="eu").verdict == "right"
    assert one({"Na2O": 2}, {"Na2O": 3.2}, rule="eu").verdict == "cannot tell"
    assert one({"K2O": 63}, {"K2O": 61.6}).verdict == "right"
    assert one({"K2O": 63}, {"K2O": 61.0}).verdict == "cannot tell"


def test_above_32_percent_the_last_row_judges_and_the_other_edition_is_told():
    """fl-576-061, read: K2O 32 or more 1.44. 44.7 is 1.3 short of 46, 44.0 is 2.0."""
    right, wrong = (one({"K2O": 46}, {"K2O": found}) for found in (44.7, 44.0))
    assert (right.verdict, wrong.verdict) == ("right", "wrong")
    assert "2 short, 1.44 allowed: 0.56 points beyond" in wrong.what
    assert "may allow more" in wrong.what
    assert "may allow more" not in right.what


def test_what_was_not_analysed_cannot_be_told():
    report = check_assay({"N": 10, "Fe": 0.1}, {"N": 10})
    assert [f.verdict for f in report.findings] == ["right", "cannot tell"]
    assert report.verdict == "cannot tell"
    assert report.rows()[1][2] is None
    assert "1 cannot tell" in str(report)


def test_nothing_guaranteed_promises_nothing():
    for rule in ("us", "eu"):
        finding = one({"P2O5": 0, "N": 10}, {"P2O5": 0.3, "N": 10}, rule=rule)
        assert finding.verdict == "right"


def test_a_value_on_another_basis_under_the_wrong_key_is_explained():
    """5 % P2O5 are 2.182 % P: a laboratory that tells P."""
    finding = one({"P2O5": 5}, {"P2O5": 2.18})
    assert finding.verdict == "wrong"
    assert "if the laboratory's number is P," in finding.what
    assert "number is" not in one({"P2O5": 5}, {"P2O5": 3.5}).what


# --- the overall index ------------------------------------------------------------------------


def test_the_overall_index_lies_between_the_least_and_the_greatest():
    """aapfco-ia-page, read: deficient also below 98 %; the money values are not told."""
    grade = {"N": 10, "P2O5": 10, "K2O": 10}
    for found, verdict in (
        ((9.8, 9.9, 12), "right"),
        ((9.7, 9.79, 9.6), "wrong"),
        ((9.7, 10.1, 10), "cannot tell"),
    ):
        report = check_assay(grade, dict(zip(grade, found, strict=True)))
        assert report.overall_index.verdict == verdict
        assert report.verdict == "right"
        assert ("overall index: " in str(report.notices)) == (verdict != "right")
    told = check_assay({"N": 9, "K2O": 9}, {"N": 8.01, "K2O": 8.95}).overall_index.what
    assert "between 89.0 and 99.4 %, 98 % asked" in told
    assert check_assay(grade, {"N": 10}).overall_index.verdict == "cannot tell"
    assert check_assay({"Ca": 5}, {"Ca": 5}).overall_index is None
    assert check_assay(grade, {"N": 9.0}, rule="eu").overall_index is None


def test_an_overall_index_that_falls_short_is_told_in_the_first_line():
    report = check_assay({"N": 10}, {"N": 9.5})
    assert report.answer.startswith("Right")
    assert "fall short of the overall index" in report.answer
    assert report.overall_index.number == pytest.approx(95.0)


# --- bases and labels -----------------------------------------------------------------------


def test_another_basis_is_converted_only_if_it_is_told():
    with pytest.raises(InputError, match="P was found and P2O5 is guaranteed"):
        check_assay({"P2O5": 10}, {"P": 4.3})
    report = check_assay({"P2O5": 10}, {"P": 4.3}, basis="element")
    assert report.lines[0].mean == pytest.approx(4.3 * 2.2914, rel=1e-4)
    assert "P of the laboratory was counted as P2O5" in str(report.notices)
    word = {"phosphorus": 9.9}
    assert check_assay({"P2O5": 10}, word, basis="us").lines[0].mean == 9.9
    assert check_assay({"MgO": 5}, {"magnesium": 5}, basis="eu").lines[0].mean == 5
    doubt = check_assay({"K2O": 10}, {"K": 8}, basis="element", uncertainty={"K": 1})
    assert doubt.lines[0].uncertainty == pytest.approx(1.2046, rel=1e-4)


def test_values_with_units():
    report = check_assay({"Zn": 0.05}, {"Zn": "480 mg/kg"})
    assert report.lines[0].mean == pytest.approx(0.048)


def test_a_label_brings_its_guarantees():
    bag = label("bag", basis="us", grade="13-0-46", guarantees={"nitrate nitrogen": 13})
    report = check_assay(bag, {"N": 12.9, "NO3-N": 13.0, "K2O": 45.8})
    assert {line.key: line.guarantee for line in report.lines} == {
        "N": 13,
        "K2O": 46,
        "NO3-N": 13,
    }
    assert report.verdict == "right"
    text = """Total Nitrogen (N) ..... 13.7 %
      13.7 % Nitrate Nitrogen
    Soluble Potash (K2O) ... 46 %"""
    read = check_assay(read_label(text), {"N": 13.0})
    assert [line.key for line in read.lines] == ["N", "NO3-N", "K2O"]
    assert read.findings[0].verdict == "wrong"  # 0.7 short, about 0.63 allowed
    metal = read_label("Iron (Fe) 6 %\n6 % Iron chelated by EDTA", basis="us")
    (said, *_) = check_assay(metal, {"Fe": 5.5}).notices
    assert "not held against values: Fe chelated by EDTA 6 %" in said.what
    with pytest.raises(InputError, match="guarantees nothing"):
        check_assay(salt("KNO3"), {"N": 13})


# --- parts of a nutrient -----------------------------------------------------------------------


LABEL = """Total Nitrogen (N) 10 %
 4 % Nitrate Nitrogen
 6 % Ammoniacal Nitrogen
Available Phosphate (P2O5) 5 %
Soluble Potash (K2O) 8 %
Magnesium (Mg) 2 %
 1.5 % Water Soluble Magnesium (Mg)
Iron (Fe) 0.1 %
 0.1 % Chelated Iron (Fe)
Derived from: potassium nitrate, iron EDTA"""


def verdicts(report):
    return {finding.subject: finding.verdict for finding in report.findings}


def test_the_total_is_judged_and_parts_only_where_a_value_names_them():
    """By hand: 1.5 % Mg water soluble allows 0.2 + 5 % = 0.275 (nh-agr-1105)."""
    bag = read_label(LABEL)
    whole = check_assay(bag, {"Mg": 1.9, "Fe": 0.1, "N": 10})
    assert "water-soluble Mg 1.5 %, chelated Fe 0.1 %" in str(whole.notices)
    assert "chelated Fe" not in verdicts(whole)
    named = {"Mg": 1.9, "water-soluble Mg": 1.2, "Fe": 0.1, "Fe EDTA": 0.06}
    report = check_assay(bag, named)
    found = verdicts(report)
    assert (found["Mg"], found["water-soluble Mg"]) == ("right", "wrong")
    assert (found["Fe"], found["chelated Fe"]) == ("right", "cannot tell")
    (soluble,) = (f for f in report.findings if f.subject == "water-soluble Mg")
    assert "0.3 short, 0.275 allowed: 0.025 points beyond" in soluble.what
    enough = check_assay(bag, named | {"water-soluble Mg": 1.3, "Fe EDTA": 0.1})
    assert verdicts(enough)["water-soluble Mg"] == "right"
    assert verdicts(enough)["chelated Fe"] == "right"
    assert "not held against values" not in str(enough.notices)


def test_forms_of_nitrogen_and_their_total_are_each_judged():
    """fl-576-061 (c): 0.40 for a form; 0.58 for 10 % of all (b)."""
    bag = read_label(LABEL)
    report = check_assay(bag, {"total nitrogen": 9.5, "NO3-N": 3.55, "NH4-N": 5.95})
    found = verdicts(report)
    assert [found[k] for k in ("N", "NO3-N", "NH4-N")] == ["right", "wrong", "right"]


def test_available_phosphate_is_judged_by_what_is_available():
    bag = read_label(LABEL)
    both = check_assay(bag, {"available P2O5": 4.2, "total P2O5": 5.6, "N": 10})
    assert verdicts(both)["P2O5"] == "wrong"  # 0.8 short, 0.67 allowed
    assert "total P2O5 was not held against P2O5" in str(both.notices)
    total = check_assay(bag, {"total P2O5": 5.6})
    assert verdicts(total)["P2O5"] == "cannot tell"
    assert "an upper end of it only" in str(total.notices)
    short = check_assay(bag, {"total P2O5": 4.2})
    assert verdicts(short)["P2O5"] == "wrong"  # there cannot be more than in all
    text = "Total Phosphate (P2O5) 6 %\nAvailable Phosphate (P2O5) 5 %"
    apart = check_assay(read_label(text), {"total P2O5": 5.9, "available P2O5": 4})
    assert verdicts(apart) == {"P2O5": "right", "available P2O5": "wrong"}


def test_what_only_a_part_is_told_of_is_in_the_whole_at_least():
    metal = read_label("Iron (Fe) 6 %\n6 % Iron chelated by EDTA", basis="us")
    assert verdicts(check_assay(metal, {"Fe": 5.2})) == {"Fe": "wrong"}  # 0.605 allowed
    part = check_assay({"chelated iron": 0.1}, {"Fe chelated by EDTA": 0.1})
    assert verdicts(part) == {"chelated Fe": "right"}
    with pytest.raises(InputError, match="chelated Fe is not guaranteed"):
        check_assay({"Fe": 0.1}, {"chelated Fe": 0.1})


# --- below detection, and samples that differ -----------------------------------------------


@pytest.mark.parametrize(
    ("guarantee", "found", "verdict"),
    [  # Zn: 0.005 and 10 % of the guarantee are allowed (nh-agr-1105); by hand
        (0.05, "<0.01", "wrong"),  # 0.04 must be there, no more than 0.01 is
        (0.012, "<0.01", "cannot tell"),  # 0.0058 must be there
        (0.005, "<0.01", "right"),  # 0.0055 are allowed: nothing must be there
        (0.05, "<100 mg/kg", "wrong"),
        (0.012, "< 0.0057", "wrong"),
    ],
)
def test_below_detection_is_a_range_down_to_nothing(guarantee, found, verdict):
    finding = one({"Zn": guarantee}, {"Zn": found})
    assert finding.verdict == verdict
    assert "below 0.0" in finding.what


@settings(deadline=None, derandomize=True)
@given(guarantee=st.floats(0.001, 1), limit=st.floats(0.001, 1), share=st.floats(0, 1))
def test_a_verdict_below_detection_holds_for_every_value_it_may_be(
    guarantee, limit, share
):
    for rule in ("us", "eu"):
        told = one({"Zn": guarantee}, {"Zn": f"<{limit!r}"}, rule=rule).verdict
        exact = one({"Zn": guarantee}, {"Zn": share * limit}, rule=rule).verdict
        assert told in ("cannot tell", exact)


def test_samples_that_differ_more_than_the_laboratory_explains_are_told():
    """By hand: ± 0.1 explains 0.2 between two samples of one even product."""
    told = "samples lie 0.5 points apart"
    uneven = check_assay({"N": 10}, {"N": [9.6, 10.1]}, uncertainty=0.1)
    assert told in str(uneven.notices)
    for values, doubt in (([9.6, 10.1], 0.25), ([9.6, 10.1], None), ([9.6], 0.1)):
        even = check_assay({"N": 10}, {"N": values}, uncertainty=doubt)
        assert "points apart" not in str(even.notices)


def test_each_sample_that_alone_is_beyond_is_told():
    what = one({"N": 10}, {"N": [9.3, 9.9, 9.41]}).what
    assert "sample 1 alone, 9.3 %" in what
    assert "sample 3 alone, 9.41 %" in what
    assert "sample 2" not in what


@settings(deadline=None, derandomize=True)
@given(percent=st.floats(0.001, 50), guarantee=st.floats(0.01, 50))
def test_the_unit_of_a_value_changes_nothing(percent, guarantee):
    """1 % is 10 000 mg/kg and 10 g/kg."""
    for rule in ("us", "eu"):
        in_percent = one({"Zn": guarantee}, {"Zn": percent}, rule=rule)
        for text in (f"{percent * 1e4!r} mg/kg", f"{percent * 10!r} g/kg"):
            other = one({"Zn": guarantee}, {"Zn": text}, rule=rule)
            assert other.verdict == in_percent.verdict
            assert other.number == pytest.approx(in_percent.number, rel=1e-9)


# --- what the report shows ------------------------------------------------------------------


def test_the_report_says_what_it_is():
    report = check_assay({"N": 10, "Zn": 0.05}, {"N": 9.9, "Zn": 0.05})
    texts = [notice.what for notice in report.notices]
    assert any("not a legal finding" in text for text in texts)
    assert not any(text.startswith("known from memory only") for text in texts)
    eu = check_assay({"N": 10}, {"N": 9.9}, rule="eu")
    memory = next(n.what for n in eu.notices if "from memory only" in n.what)
    assert "of N;" in memory
    assert len(report.editions) == 2
    assert "Agr 1105.04" in str(report)
    confirmed = check_assay({"Zn": 0.05}, {"Zn": 0.05})
    assert "memory" not in str(confirmed)
    frame = check_assay({"N": 10}, {"N": 9.9}, rule="eu").to_frame()
    assert frame.shape == (1, 11)
    assert frame["allowed above (%)"][0] == 2.0


def test_rules_and_limits_name_sources_that_are_known():
    for table in ("assay_rules", "allowance_limits", "eu_tolerances"):
        for row in read_table(table):
            assert source(row["source_key"]).key == row["source_key"]
    known = {row["rule"]: row for row in read_table("assay_rules")}
    assert {known[r]["how_known"] for r in ("us nickel", "eu")} == {"memory"}
    read = ("us main", "us nitrogen", "us page", "us trace")
    assert {known[r]["how_known"] for r in read} == {"read"}


# --- bad input ------------------------------------------------------------------------------


def test_every_fault_at_once():
    with pytest.raises(InputError) as caught:
        check_assay(
            {"N": 10, "Xx": 3, "P2O5": 120, "K2O": -1},
            [
                {"N": "a", "P": 3, "Cu": 1, "K2O": -2},
                5,
                {},
                {"N": 101, "K2O": math.nan},
            ],
            rule="zz",
            form="gas",
            basis="q",
            material="slag",
        )
    text = str(caught.value)
    for part in (
        *(
            "'Xx' is no nutrient key",
            "'120' is not",
            "'-1' is not",
            "'a' is no quantity",
        ),
        *("P was found and P2O5 is guaranteed", "Cu is not guaranteed", "'-2' is not"),
        *("'5' is no mapping", "sample 3: it is empty", "'101' is not", "'nan' is not"),
        *("rule 'zz'", "form 'gas'", "basis 'q'", "material 'slag'"),
    ):
        assert part in text
    assert len(caught.value.faults) == 15


@pytest.mark.parametrize(
    ("guarantees", "samples", "words"),
    [
        ({}, {"N": 1}, "there is none"),
        ({"N": 10}, {}, "sample 1: it is empty"),
        ({"N": 10}, [], "samples: there is none"),
        ({"N": 10}, None, "no list"),
        ({"N": 10}, "9.8", "no mapping"),
        ({"N": 10}, {"N": []}, "no value"),
        ({"N": 10}, {"N": True}, "is not a number"),
        ({"N": 10}, {"N": None}, "is not a number"),
        ({"N": 10}, {3: 1.0}, "is no nutrient key"),
        (7, {"N": 10}, "is no label"),
        ({"K2O": 5, "potash": 5}, {"K2O": 5}, "guaranteed twice"),
        ({"N": 10}, {"N": 9, "total nitrogen": 9}, "stands there twice"),
    ],
)
def test_bad_input_is_refused_in_words(guarantees, samples, words):
    with pytest.raises(InputError, match=words):
        check_assay(guarantees, samples)


def test_bad_bases_and_doubts_are_refused():
    with pytest.raises(InputError, match="more than 100"):
        check_assay({"P2O5": 50}, {"P": 60}, basis="element")
    with pytest.raises(InputError, match="stands there twice, also as P2O5"):
        check_assay({"P2O5": 5}, {"P2O5": 5, "P": 2}, basis="element")
    for doubt in (-1, {"N": -1}, {"Cu": 1}, "much", math.inf):
        with pytest.raises(InputError, match=r"uncertainty|quantity"):
            check_assay({"N": 10}, {"N": 10}, uncertainty=doubt)
    with pytest.raises(InputError, match="under the rule us"):
        check_assay({"N": 10}, {"N": 10}, rule="eu", material="triple superphosphate")
