"""Charts as people write them, weeks exchanged, misprints, and what falls out in the headline."""

import pytest

from formulate.claims.feed_chart import read_chart
from formulate.claims.paper_check import check_paper
from formulate.errors import InputError

SALT = {"A": "KNO3"}  # K 386.7, N 138.5 mg/g (IUPAC weights)


def chart(cells, head="N ppm", doses=("0.5", "1", "0.7")):
    lines = [
        f"{week};{dose};{cell}"
        for week, (dose, cell) in enumerate(zip(doses, cells, strict=True), 1)
    ]
    return read_chart("\n".join([f"week;A g/L;{head}", *lines]), SALT)


# --- cells -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "cell", ["~139", "about 139", "139 (approx)", "139 (approx.)", "≈ 139", "ca. 139"]
)
def test_about_in_a_cell_is_read_as_in_a_dose(cell):
    """5 % is open with "about", so 143 is still right: common practice, no source."""
    found = chart(["69", cell, "97"])
    assert found.verdict == "right"
    near = chart(["69", cell.replace("139", "143"), "97"])
    assert near.verdict == "right"
    assert chart(["69", cell.replace("139", "150"), "97"]).verdict == "wrong"


@pytest.mark.parametrize("mark", ["*", "†", " **"])
def test_a_footnote_mark_is_read_past_and_told(mark):
    found = chart(["69", f"139{mark}", "97"])
    assert found.verdict == "right"
    (told,) = [one for one in found.assumed if "footnote" in one]
    assert "line 3, column 'N ppm'" in told
    assert "139" in told
    assert not [one for one in chart(["69", "139", "97"]).assumed if "footnote" in one]


@pytest.mark.parametrize("cell", ["~", "about", "*", "much", "~much"])
def test_a_cell_without_number_is_refused(cell):
    with pytest.raises(InputError, match="line 3, column 'N ppm'"):
        chart(["69", cell, "97"])


# --- weeks exchanged, misprints --------------------------------------------------------------


def test_two_weeks_exchanged_are_told_first():
    """0.5, 1 and 0.7 g/L hold N 69.3, 138.5 and 97.0 mg/L."""
    slips = chart(["69", "97", "139"]).slips
    first = slips.groups[0][0]
    assert first.keys == ("weeks-exchanged",)
    assert first.explains_all
    assert "weeks 2 and 3 exchanged" in str(slips)
    told = {key for group in slips.groups for one in group for key in one.keys}
    assert not {key for key in told if key.endswith("-hydrate")}


def test_one_wrong_week_is_no_exchange():
    slips = chart(["69", "97", "97"]).slips
    told = {key for group in slips.groups for one in group for key in one.keys}
    assert "weeks-exchanged" not in told


def test_exchanged_digits_are_told_last():
    """0.9 g/L holds K 348.0 mg/L."""
    slips = chart(["193", "387", "438"], head="K ppm", doses=("0.5", "1", "0.9")).slips
    assert slips.off == 1
    assert str(slips).endswith(
        "perhaps of week 3, K two neighbouring digits exchanged: 348 printed 438: "
        "look at the source"
    )


# --- pouring ---------------------------------------------------------------------------------

STRONG = {"CaN": "Ca(NO3)2·4H2O", "Epsom": "MgSO4·7H2O", "MKP": "KH2PO4"}


def test_a_chart_from_which_gypsum_falls_is_never_headed_right():
    """stock_compatibility.csv: calcium nitrate with magnesium sulfate, gypsum (compat-chart).

    100 g of each in a litre: Mg 9.86 % of Epsom salt is 9861 mg/L (IUPAC weights).
    """
    text = "week,CaN g/L,Epsom g/L,MKP g/L,Mg ppm\n1,100,100,50,9861\n"
    made = read_chart(text, STRONG)
    assert made.verdict == "right"  # of the claim
    gypsum = [one for one in made.warnings if "gypsum" in one.subject]
    assert [one.severity for one in gypsum] == ["serious"]
    paper = check_paper(text, kind="chart", name="stage", products=STRONG)
    assert not paper.answer.startswith("stage, a feed chart: yes")
    assert "this is right" not in paper.answer
    assert "gypsum" in paper.answer
    assert paper.verdict == "wrong"
    assert gypsum[0] in paper.findings


def test_a_weak_chart_is_right_and_without_warning():
    text = "week,CaN g/L,Epsom g/L,Mg ppm\n1,0.5,0.3,29.6\n"
    assert read_chart(text, STRONG).warnings == ()
    paper = check_paper(text, kind="chart", name="stage", products=STRONG)
    assert "yes, this is right (1 right)" in paper.answer
