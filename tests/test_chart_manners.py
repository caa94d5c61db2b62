"""Charts as the trade writes them: ranges, ppm on a scale, notes, weeks across, many weeks."""

import pytest

from formulate.claims.feed_chart import ChartJump, read_chart
from formulate.errors import FormulateError
from formulate.ingredients.labels import label, read_label
from formulate.sheets.figures.chart_weeks import chart_weeks

SALTS = {"Saltpetre": "KNO3", "Epsom": "MgSO4·7H2O"}
PLAIN = "week;Saltpetre g/L;Epsom (g/L)\n1;0,5;0,25\n2;1;0,5\n"
BAG = """5-12-26
Total Nitrogen (N) 5.0%
 5.0% Nitrate Nitrogen
Available Phosphate (P2O5) 12.0%
Soluble Potash (K2O) 26.0%"""


def faults_of(text, products=SALTS):
    with pytest.raises(FormulateError) as caught:
        read_chart(text, products)
    return caught.value.faults


def test_claims_as_ranges():
    # conductivity of 0.01 mol/L KNO3 about 1.358 mS/cm (discrepancies.md 8): 1 g/L 1.35
    text = "week,Saltpetre g/L,EC mS/cm,K ppm\n1,1,1.2-1.4,380-390\n2,1,1.8–2.0,300 - 350\n"
    found = read_chart(text, SALTS)
    assert [f.verdict for f in found.findings] == ["right", "right", "wrong", "wrong"]


def test_headings_of_ppm_name_their_scale():
    text = "week,Saltpetre g/L,ppm (500),TDS ppm (700),PPM500 \n".replace(
        ",PPM500 ", ""
    )
    text += "1,1,675,945\n2,1,945,945\n"
    found = read_chart(text, SALTS).findings
    assert [f.verdict for f in found] == ["right", "right", "wrong", "right"]
    assert "scale" in faults_of("week,Saltpetre g/L,ppm\n1,1,600\n")[0]


@pytest.mark.parametrize("name", ["stage", "Phase", "day", "light hours", "mood"])
def test_a_column_of_words_is_a_note_and_told(name):
    cells = ("1-7", "8-14") if name in ("day", "light hours") else ("veg", "bloom")
    text = f"week,Saltpetre g/L,{name}\n1,0.5,{cells[0]}\n2,1,{cells[1]}\n"
    chart = read_chart(text, SALTS)
    assert len(chart.weeks) == 2
    assert any(repr(name) in one and "note" in one for one in chart.assumed)


def test_a_column_with_numbers_is_no_note():
    text = "week,Saltpetre g/L,mood\n1,0.5,calm\n2,1,3\n"
    assert "product 'mood' is not known" in faults_of(text)[0]
    text = "week,Saltpetre g/L,gro mL/L\n1,0.5,yes\n2,1,no\n"
    assert "product 'gro mL/L' is not known" in faults_of(text)[0]


@pytest.mark.parametrize(
    "text",
    [
        "Weeks;1;2\nSaltpetre g/L;0,5;1\nEpsom (g/L);0,25;0,5\n",
        "School glasshouse\nweek,week 1,week 2\nSaltpetre g/L,0.5,1\nEpsom (g/L),0.25,0.5\n",
        "\t1\t2\nEpsom (g/L)\t0.25\t0.5\nSaltpetre g/L\t0.5\t1\n",
        "Weeks,1,2\nSaltpetre g/L,0.5,1\nEpsom (g/L),0.25,0.5\nK ppm,193,387\nstage,veg,bloom\n",
    ],
)
def test_weeks_across_the_top(text):
    chart, plain = read_chart(text, SALTS), read_chart(PLAIN, SALTS)
    assert [week.line.numbers for week in chart.weeks] == [(1,), (2,)]
    for one, other in zip(chart.weeks, plain.weeks, strict=True):
        assert dict(one.mg_l) == pytest.approx(dict(other.mg_l))
    assert any("across the top" in told for told in chart.assumed)
    assert chart.verdict == ("right" if "ppm" in text else "cannot tell")


def test_faults_of_weeks_across_the_top():
    told = faults_of("Weeks,1,2\nSaltpetre g/L,0.5,x\nWonder mL/L,1,2\n")
    assert any("'x' is no quantity" in one for one in told)
    assert any("product 'Wonder mL/L' is not known" in one for one in told)


def test_500_weeks_are_read_with_their_heading():
    lines = [f"{n},{0.5 + n / 1000}" for n in range(1, 501)]
    chart = read_chart("\n".join(["week,Saltpetre g/L", *lines]), SALTS)
    assert len(chart.weeks) == 500
    more = "\n".join(["week,Saltpetre g/L", *lines, "501,1"])
    assert "more than 500 weeks" in faults_of(more)[0]


def test_unknown_products_below_a_title_are_told_with_their_line():
    text = "Feed chart of the bench\nweek,Bag g/L,Cal g/L,N ppm\n1,1,1,100\n"
    told = faults_of(text, {"Grow": "KNO3"})
    assert len(told) == 2
    assert "line 2, column 'Bag g/L': product 'Bag g/L' is not known" in told[0]
    assert "line 2, column 'Cal g/L': product 'Cal g/L' is not known" in told[1]


# --- slips ---------------------------------------------------------------------------------


def test_all_slips_that_hold_at_once_are_told():
    """N 50, P 52.4, K 215.8 mg/L: P2O5/P 2.2914, K2O/K 1.2046, NO3/N 4.4266 (IUPAC)."""
    text = "week,Bag g/L,N ppm,P ppm,K ppm\n1,1,50,52,216\n2,1,50,120,260\n"
    text += "3,1,50,120,216\n4,1,221,52,216\n"
    slips = read_chart(text, {"Bag": read_label(BAG)}).slips
    keys = {key for group in slips.apart for one in group for key in one.keys}
    assert {"p2o5-as-p", "k2o-as-k", "no3-as-n"} <= keys
    told = {pair for group in slips.apart for pair in group[0].claims}
    assert told == {("2", "P"), ("3", "P"), ("2", "K"), ("4", "N")}
    assert "N of week 4, in this week only" in str(slips)
    assert "P of weeks 2, 3, in these weeks only" in str(slips)
    assert "weak" in str(slips)


def test_scales_are_no_slip_of_a_reading_in_ms():
    text = "week,Saltpetre g/L,EC {}\n1,0.5,{}\n2,1,{}\n"
    ms = read_chart(text.format("mS/cm", 0.97, 1.89), SALTS).slips
    assert ms.off == 2
    assert not any("scale" in key for g in ms.groups for e in g for key in e.keys)
    cf = read_chart(text.format("mS/cm", 6.9, 13.5), SALTS).slips
    assert ("cf-for-ms",) in [e.keys for e in cf.groups[0]]
    ppm = read_chart(text.format("ppm (500)", 485, 945), SALTS).slips
    assert ("scale-700-for-500",) in [e.keys for e in ppm.groups[0]]


# --- the picture ----------------------------------------------------------------------------


def test_what_no_label_tells_is_not_called_absent():
    text = "week,Bag g/L,EC mS/cm\n1,0.9,1.1\n2,1,1.2\n"
    alt = chart_weeks(read_chart(text, {"Bag": read_label(BAG)})).alt
    assert "No " not in alt
    assert "Ca, Mg, S: no label tells any" in alt
    salts = chart_weeks(read_chart(PLAIN, SALTS)).alt
    assert "No P, Ca in any week" in salts


def test_a_trace_of_sodium_is_not_the_largest_change():
    bag = label("Bag", basis="eu", guarantees={"sodium": "0.05", "potash": "20"})
    text = "week,Bag g/L,Saltpetre g/L\n1,0.3,0.3\n2,1,0.3\n"
    picture = chart_weeks(read_chart(text, {"Bag": bag, **SALTS}))
    assert "Largest change of all" not in picture.alt
    salty = label("Bag", basis="eu", guarantees={"sodium": "10", "potash": "20"})
    picture = chart_weeks(read_chart(text, {"Bag": salty, **SALTS}))
    assert "Largest change of all: Na" in picture.alt


def test_changes_of_ec_have_as_many_decimals():
    jump = ChartJump("EC", "1", "2", 1.1309, 1.3004, 13.0)
    assert str(jump) == "EC from 1 to 2: 1.13 to 1.30 mS/cm (+13 %)"
