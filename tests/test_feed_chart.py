"""Feed charts: published recipes as charts, spreadsheets' manners, faults by line and column."""

import csv
import random
from pathlib import Path

import numpy as np
import pytest

from formulate.chemistry.conductivity import ec
from formulate.chemistry.speciation import speciate
from formulate.claims import chart_claims, feed_chart
from formulate.claims.chart_reading import read_chart_lines
from formulate.claims.chart_targets import jump_findings
from formulate.claims.derivation import derive
from formulate.claims.feed_chart import read_chart
from formulate.errors import FormulateError
from formulate.ingredients.dissolve import dissolve
from formulate.ingredients.labels import label
from formulate.ingredients.salts import as_ingredient, salt
from formulate.recipes.target import target

PUBLISHED = Path(__file__).parent / "published"
SALTS = {
    "CaN": "Ca(NO3)2·4H2O",
    "Saltpetre": "KNO3",
    "Epsom": "MgSO4·7H2O",
    "MKP": "KH2PO4",
    "SOP": "K2SO4",
    "Vitriol": "FeSO4·7H2O",
    "Boric": "H3BO3",
    "Mn": "MnSO4·H2O",
}
PLAIN = "week;Saltpetre g/L;Epsom (g/L)\n1;0,5;0,25\n2;1;-\n"


def published(name, key):
    with (PUBLISHED / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        (row,) = (row for row in csv.DictReader(file) if key in row.values())
    return row


def long_chart(weeks=20):
    head = "week," + ",".join(f"{name} g/L" for name in SALTS)
    usual = (0.6, 0.3, 0.4, 0.15, 0.1, 0.02, 0.002, 0.002)
    lines = [
        f"{week},{','.join(str(round(g * (1 + week / 30), 5)) for g in usual)},1.8,150"
        for week in range(1, weeks + 1)
    ]
    return "\n".join([f"{head},EC mS/cm,N ppm", *lines])


# --- published ---------------------------------------------------------------------------


def test_a_published_solution_as_a_chart_is_right_in_every_claim():
    # targets_mg_per_L.csv, hoagland1-1950: 5/5/1/2 mL of 1 M stocks (wiki-hoagland, read)
    row = published("targets_mg_per_L", "hoagland1-1950")
    keys = ("N", "P", "K", "Ca", "Mg", "S")
    claimed = ";".join(row[f"{key}_mg_L"] for key in keys)
    head = "stage;Saltpetre mmol/L;CaN mmol/L;MKP mmol/L;Epsom mmol/L;"
    text = f"{head}{';'.join(f'{k} ppm' for k in keys)}\nfull;5;5;1;2;{claimed}\n"
    chart = read_chart(text, SALTS)
    assert [one.verdict for one in chart.findings] == ["right"] * 6
    more = read_chart(text.replace("full;5", "full;5.2"), SALTS)
    verdicts = {c.subject: c.finding.verdict for c in more.weeks[0].claims}
    assert [key for key, verdict in verdicts.items() if verdict == "wrong"] == [
        "N",
        "K",
    ]


def test_trade_doses_of_a_label_give_what_extension_tables_say():
    # worked_examples_ppm.csv: w-oz-cn-1 and w-umass-20 (tamu-calcs, umass-calcs; read)
    bag = label("bag", basis="us", guarantees={"nitrate nitrogen": "15"})
    urea = label("urea bag", basis="us", guarantees={"urea nitrogen": "20"})
    text = "week,A (oz/100 US gal),U oz/100 US gal,N ppm\n1,1,,11.25\n2,,13 1/2,200\n"
    chart = read_chart(text, {"A": bag, "U": urea})
    assert [one.verdict for one in chart.findings] == ["right", "right"]
    off = read_chart(text.replace("11.25", "13.25"), {"A": bag, "U": urea})
    assert off.findings[0].verdict == "cannot tell"  # guarantees are minima
    far = read_chart(text.replace("11.25", "14.25"), {"A": bag, "U": urea})
    assert far.findings[0].verdict == "wrong"
    low = read_chart(text.replace("11.25", "8.25"), {"A": bag, "U": urea})
    assert low.verdict == "wrong"


def test_ec_of_a_standard():
    # conductivity_kcl_standards.csv, 25 °C, 0.01 mol/L (kcl-molar, from memory): 745.5 mg/L
    row = published("conductivity_kcl_standards", "kcl-molar")
    standard = float(row["EC_0.01m_KCl_uS_cm"]) / 1000
    text = "week,A mg/L,EC mS/cm\n1,745.5,1.41\n2,745.5,1.9\n"
    chart = read_chart(text, {"A": "KCl"})
    assert chart.weeks[0].ec == pytest.approx(standard, rel=0.01)
    assert [one.verdict for one in chart.findings] == ["right", "wrong"]


def test_household_measures_go_through_the_dose():
    # household_measures.csv: 1 US fl oz/US gal is 7.8125 mL/L (stoichiometry, computed)
    bottle = label("b", basis="us", guarantees={"nitrate nitrogen": "4"}, density=1.2)
    (line,) = read_chart_lines("week,A US fl oz/US gal\n1,1\n", {"A": bottle})
    assert line.doses[0].amount == pytest.approx(7.8125 * 1.2)
    spoon = read_chart("week,A (tsp/gal)\n1,1/2\n2,½\n", {"A": "potassium nitrate"})
    first, second = spoon.weeks
    assert first.mg_l == second.mg_l
    assert first.assumed == ("A: read as US tsp/US gal",)
    assert first.line.doses[0].dose.rounding_percent > 1  # a solid packs as it likes


def test_calcium_and_sulfate_poured_together_give_gypsum():
    # stock_compatibility.csv: calcium nitrate with magnesium sulfate, gypsum (compat-chart)
    chart = read_chart("week,CaN g/L,Epsom g/L\n1,60,50\n2,,\n3,0.5,0.3\n", SALTS)
    strong, none, weak = (week.poured_words for week in chart.weeks)
    assert "with Epsom: gypsum, likely" in strong or "gypsum, certain" in strong
    assert "left at the end" in strong
    assert none == "nothing is poured"
    assert "gypsum, none" in weak
    assert chart.weeks[0].poured.order == ("CaN", "Epsom")


# --- arithmetic --------------------------------------------------------------------------


def test_one_stack_gives_what_each_week_gives_alone():
    chart = read_chart(long_chart(4), SALTS, water={"Ca": 2.0, "HCO3": 4.0})
    for week in chart.weeks:
        amounts = {
            as_ingredient(SALTS[d.ingredient.name]): d.amount for d in week.line.doses
        }
        alone = dissolve(amounts, volume=1.0, water=week.water)
        assert week.ph == pytest.approx(speciate(alone).ph, abs=1e-6)
        assert week.ec == pytest.approx(ec(alone), rel=1e-6)
        assert week.mg_l["Ca"] == pytest.approx(alone.mg_l("Ca"))


def test_jumps_are_told_against_the_larger_value():
    chart = read_chart(PLAIN, SALTS)
    jumps = {jump.subject: jump for jump in chart.jumps}
    assert jumps["K"].percent == pytest.approx(50)  # 0.5 to 1 g/L
    assert jumps["Mg"].percent == pytest.approx(-100)  # to nothing
    assert (jumps["K"].before, jumps["K"].after) == ("1", "2")
    assert chart.jumps[0].subject in ("Mg", "S")
    assert read_chart("week,MKP g/L\n1,1\n2,1\n", SALTS).jumps == ()


def test_costs_follow_the_prices():
    priced = {"A": salt("KNO3", price_per_kg=2.0), "B": salt("KCl", price_per_kg=1.0)}
    chart = read_chart("week,A g/L,B g/L\n1,0.5,0.2\n2,1,\n", priced, volume=100)
    assert chart.weeks[0].cost_per_litre == pytest.approx(
        0.0012
    )  # 1.0 + 0.2 per 1000 L
    assert list(chart.costs.values()) == pytest.approx([0.12, 0.2])
    assert read_chart(PLAIN, SALTS, volume=100).costs == {"1": None, "2": None}


def test_weeks_are_held_against_targets():
    wanted = target({"K": 200, "Mg": (20, 30)})
    chart = read_chart(PLAIN, SALTS, targets={1: wanted})
    against = {key: off for key, _, _, off in chart.weeks[0].against}
    there = 0.5 * as_ingredient("KNO3").percent("K") * 10
    assert against["K"] == pytest.approx(100 * (there / 200 - 1))
    assert against["Mg"] == 0.0
    assert chart.weeks[1].against == ()
    assert "off target: K -3 %" in str(chart)
    everywhere = read_chart(PLAIN, SALTS, targets=wanted)
    assert everywhere.weeks[1].against[1][3] == pytest.approx(-100)


def test_ratios_and_rows():
    chart = read_chart(PLAIN, SALTS)
    n_k = 14.007 / 39.098  # KNO3, atomic masses
    assert chart.weeks[0].ratios["N:K"] == pytest.approx(n_k, rel=1e-4)
    assert chart.weeks[1].ratios["Ca:Mg"] is None
    assert len(chart.rows()[0]) == len(chart.columns)
    assert list(chart.to_frame().index) == ["1", "2"]


def test_what_leaves_the_range_of_the_model_is_told():
    chart = read_chart("week,Saltpetre g/L\n1,400\n2,1\n", SALTS)
    assert any("ionic strength" in str(one) for one in chart.notices)
    assert str(chart.notices[0]) in str(chart)
    assert read_chart(PLAIN, SALTS).notices == ()


def test_a_told_ph_is_right_only_to_its_last_digit():
    text = "week,Saltpetre g/L,pH\n1,1,7.0\n2,1,5.8\n3,1,5.5-6\n"
    verdicts = [one.verdict for one in read_chart(text, SALTS).findings]
    assert verdicts == ["right", "cannot tell", "cannot tell"]


# --- weeks, targets, jumps, pouring ------------------------------------------------------


def test_a_range_of_weeks_counts_as_often():
    priced = {"A": salt("KNO3", price_per_kg=2.0)}
    text = "week,A g/L\n1-2,0.5\nweeks 3 to 5,1\nbloom,1\n"
    chart = read_chart(text, priced, volume=100)
    assert [week.line.numbers for week in chart.weeks] == [(1, 2), (3, 4, 5), ()]
    # 0.5 and 1 g/L in 100 L are 50 and 100 g: 0.10 and 0.20 a week; 2, 3 and 1 weeks
    assert list(chart.costs.values()) == pytest.approx([0.1, 0.2, 0.2])
    assert chart.cost_of_all == pytest.approx(2 * 0.1 + 3 * 0.2 + 0.2)
    assert "cost of all weeks: 1.000" in str(chart)
    assert read_chart(PLAIN, SALTS).cost_of_all is None


def test_a_target_of_a_week_holds_for_the_line_that_covers_it():
    wanted, other = target({"K": 200}), target({"K": 400})
    text = PLAIN.replace("\n1;", "\n1-3;").replace("\n2;", "\n4;")
    chart = read_chart(text, SALTS, targets={2: wanted, "4": other})
    assert [week.target for week in chart.weeks] == [wanted, other]
    twice = faults_of(text, targets={1: wanted, 2: other})
    assert twice == ("targets: week 2: the line '1-3' has two targets; give it one",)
    assert "no week '5'" in faults_of(text, targets={5: wanted})[0]


def test_weeks_that_overlap_or_look_like_dates_are_told():
    overlap = read_chart(PLAIN.replace("\n1;", "\n1-2;"), SALTS)
    assert overlap.assumed == ("week 2 stands in '1-2' and in '2'",)
    dated = read_chart(PLAIN.replace("\n1;", "\n1-Feb;"), SALTS)
    assert "looks like a date" in dated.assumed[0]
    assert read_chart(PLAIN, SALTS).assumed == ()


def test_targets_are_findings():
    wanted = target({"K": 200, "Mg": (20, 30), "N": (10, 20), "Na": 0, "S": 36})
    chart = read_chart(PLAIN, SALTS, targets={1: wanted})
    found = {one.subject.split()[2]: one for one in chart.target_findings}
    # 0.5 g/L KNO3 (38.67 % K, 13.85 % N), 0.25 g/L MgSO4·7H2O (9.86 % Mg, 13.01 % S)
    assert [(key, one.verdict) for key, one in found.items()] == [
        ("K", "right"),  # 193.4 for 200: 3 %, less than the rule on misses
        ("Mg", "right"),  # 24.7, within 20 to 30
        ("N", "wrong"),  # 69.3 for 10 to 20
        ("Na", "right"),
        ("S", "wrong"),  # 32.5 for 36: 9.7 % too little
    ]
    assert "within 20.00 to 30.00" in found["Mg"].what
    assert "2.5e+02 % too much" not in found["N"].what
    assert "10.00 to 20.00 wanted: 246 % too much" in found["N"].what
    assert (found["N"].severity, found["S"].severity) == ("serious", "caution")
    assert "9.7 % too little" in found["S"].what
    sodium = read_chart(PLAIN, SALTS, targets={1: wanted}, water={"Na": 5})
    (told,) = [f for f in sodium.target_findings if "Na" in f.subject]
    assert told.verdict == "cannot tell"
    assert "5.000 mg/L is there" in told.what
    assert read_chart(PLAIN, SALTS).target_findings == ()


def test_jumps_beyond_the_limit_are_findings():
    chart = read_chart("week,Saltpetre g/L\n1,0.5\n2,0.9\n3,2.5\n", SALTS)
    (found,) = chart.jump_findings  # 44 %, then 64 %
    assert found.subject == "from 2 to 3"
    assert "K +64 %" in found.what
    assert "common practice, no source" in found.what
    assert str(found) in str(chart)
    both = jump_findings(chart.weeks, 40)
    assert [one.subject for one in both] == ["from 1 to 2", "from 2 to 3"]
    assert "practice" not in both[0].what
    (none,) = jump_findings(chart.weeks, 70)
    assert none.is_right
    assert jump_findings(chart.weeks[:1]) == ()


def test_likely_solids_of_all_weeks_are_told_together():
    # stock_compatibility.csv: calcium nitrate with magnesium sulfate, gypsum (compat-chart)
    text = "week,CaN g/L,Epsom g/L\n1,60,50\n2,,\n3,0.5,0.3\n4,80,60\n"
    chart = read_chart(text, SALTS)
    (found,) = chart.pouring_findings
    assert found.subject == "pouring, gypsum"
    assert found.verdict == "wrong"
    assert "once Epsom is in (weeks 1, 4;" in found.what
    (right,) = read_chart("week,CaN g/L,Epsom g/L\n3,0.5,0.3\n", SALTS).pouring_findings
    assert right.is_right
    assert found in chart.all_findings
    assert len(chart.all_findings) == 1 + len(chart.jump_findings)


# --- as spreadsheets write ---------------------------------------------------------------


@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_files_of_spreadsheets(tmp_path, coding, ends):
    path = tmp_path / "chart.csv"
    text = PLAIN.replace("week", "Wüchsig").replace("\n", ends)
    path.write_bytes(text.encode(coding))
    assert read_chart(path, SALTS).rows() == read_chart(PLAIN, SALTS).rows()
    assert read_chart(str(path), SALTS).weeks[0].name == "1"


@pytest.mark.parametrize(
    "text",
    [
        PLAIN.replace(",", ".").replace(";", ","),
        PLAIN.replace(";", "\t"),
        "sep=;\n" + PLAIN,
        "\ufeff" + PLAIN,
        "\n;;\n" + PLAIN + ";;\n",
        PLAIN.replace("Saltpetre g/L", '"Saltpetre\ng/L"'),
        PLAIN.replace("Epsom (g/L)", "EPSOM [mg/L]").replace("0,25", "250"),
        PLAIN.replace("Saltpetre g/L", "Saltpetre")
        .replace("0,5", "0,5 g/L")
        .replace("2;1", "2;1 g/L"),
        PLAIN.replace("g/L)\n", "g/L);Notes;\n")
        .replace("0,25\n", "0,25;calm;\n")
        .replace("-\n", "0;;\n"),
    ],
)
def test_manners_of_writing(text):
    rows, expected = read_chart(text, SALTS).rows(), read_chart(PLAIN, SALTS).rows()
    for row, other in zip(rows, expected, strict=True):
        assert row[:15] == pytest.approx(other[:15])


@pytest.mark.parametrize(
    ("above", "below"),
    [
        ("School glasshouse\n", ""),
        ("School glasshouse, spring;;\nsecond bench;;\n", ""),
        ("Feed;Saltpetre and Epsom;\n", ""),
        ("", "* in rain water\n"),
        ("", "Notes: A before B;;\n† to be stirred, slowly, always;;\n"),
        ("", ";;\nMake up fresh each week and keep in the shade;;\n"),
        ("\nTable 3;;\n", "1) of the finished solution;;\n"),
    ],
)
def test_titles_and_notes_are_skipped_and_told(above, below):
    chart = read_chart(above + PLAIN + below, SALTS)
    assert chart.rows() == read_chart(PLAIN, SALTS).rows()
    lines = [one for one in (above + PLAIN + below).split("\n") if one.strip("; ")]
    assert len(chart.assumed) == len(lines) - 3
    for told, line in zip(
        chart.assumed, [*lines[: -2 - bool(below)], lines[-1]], strict=False
    ):
        assert "skipped" in told
        if line in above:
            assert line.split(";")[0][:12] in told
    assert all(one in str(chart) for one in chart.assumed)


@pytest.mark.parametrize(
    "text",
    [
        PLAIN + "3;0;0\n",  # a last week without a dose is a week
        PLAIN + "flush;;\n",
        PLAIN + "week of rest;;\n",
    ],
)
def test_a_last_week_without_doses_is_no_note(text):
    assert len(read_chart(text, SALTS).weeks) == 3


def test_faults_below_a_title_keep_their_line():
    text = "Spring, at school\n" + PLAIN.replace("0,25", "x")
    assert faults_of(text) == (
        "chart: line 3, column 'Epsom (g/L)': 'x' is no quantity; write a number and a unit",
    )


# --- faults ------------------------------------------------------------------------------


def faults_of(text, products=SALTS, **options):
    with pytest.raises(FormulateError) as caught:
        read_chart(text, products, **options)
    return caught.value.faults


def test_every_fault_is_told_by_line_and_column():
    text = (
        "week,Saltpetir g/L,Epsom,CaN (g/L),MKP bushel\n"
        "1,1,2,3,4\n"
        ",1,2 g/L,x,4\n"
        "3,1,1\n"
        "3,1,1,-3,1,9\n"
    )
    found = faults_of(text)
    expected = [
        ("line 1, column 'Saltpetir g/L'", "near: Saltpetre"),
        ("line 1, column 'MKP bushel'", "'bushel' is not known"),
        ("line 3, column 1", "merged cells"),
        ("line 3, column 'CaN (g/L)'", "'x' is no quantity"),
        ("line 4", "3 cells under 5 headings"),
        ("line 5", "'9' stands under no column"),
        ("line 5, column 1", "week '3' stands in line 4 already"),
        ("line 5, column 'CaN (g/L)'", "not above 0"),
        ("line 1, column 'Epsom'", "no unit for '2' in line 2"),
    ]
    assert len(found) == len(expected)
    for fault, (where, what) in zip(found, expected, strict=True):
        assert where in fault
        assert what in fault


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("", "empty"),
        ("\n \n", "empty"),
        ("sep=;\n", "empty"),
        ("week\n1\n", "no column of a product"),
        ("week,MKP g/L\n", "no week"),
        ("week,MKP g/L\n1,\n", "no dose in any cell"),
        ("week,MKP g\n1,3\n", "in how much water"),
        ("week,MKP g/L\n1,1-2\n", "is a range"),
        ("week,MKP g/L\n1,1.2.3\n", "is no number"),
        ("week,MKP g/L\n1,#REF!\n", "is no quantity"),
        ("week,MKP g/L,,CaN g/L\n1,1,2,1\n", "column 3: '2' stands under no heading"),
        ("week,MKP g/L,mkp g/L\n1,1,2\n", "has a column already"),
        ("week,MKP g/L,TDS\n1,1,600\n", "scale"),
        ("week,MKP g/L,N ppm\n1,1,−9\n", "column 'N ppm': '−9' is no number"),
        ('week,MKP g/L\n"1,9\n', "look at the quotes"),
        ("week,MKP g/L\n1,50000\n", "line 2: dissolve"),
        ("no_such_chart.csv", "cannot be read"),
        (None, "give a file or its text"),
    ],
)
def test_what_is_no_chart(text, what):
    assert any(what in fault for fault in faults_of(text))


def test_other_faults():
    assert "products" in faults_of(PLAIN, None)[0]
    assert "product 'Epsom' is not known" in faults_of(PLAIN, {})[0]
    assert "name of its own" in faults_of(PLAIN, {**SALTS, "mkp": "KCl"})[0]
    assert "no week '9'" in faults_of(PLAIN, SALTS, targets={9: target({"K": 1})})[0]
    assert "is no Target" in faults_of(PLAIN, SALTS, targets={1: 5})[0]
    assert "give a Target" in faults_of(PLAIN, SALTS, targets=5)[0]
    assert len(faults_of(PLAIN, SALTS, volume=-1, water=7)) == 2


def test_torn_charts_are_read_or_refused_never_worse():
    draw = random.Random(10)
    refused = 0
    for _ in range(300):
        text = list(PLAIN)
        for _ in range(draw.randint(1, 4)):
            text[draw.randrange(len(text))] = draw.choice(';,"\t\n\0-½/eé0 ()[]%')
        try:
            chart = read_chart("".join(text) + "\n", SALTS)
        except FormulateError:
            refused += 1
        else:
            assert str(chart).startswith("feed chart of")
    assert 0 < refused < 300


# --- speed -------------------------------------------------------------------------------


def test_twenty_weeks_of_eight_products_are_one_stack(monkeypatch):
    """Counted, not timed: one speciation for all weeks, one more for every slip of a dose."""
    counted = []

    def counting(solution, **options):
        counted.append(len(np.ravel(solution.unassigned_charge)))
        return speciate(solution, **options)

    for module in (feed_chart, chart_claims):
        monkeypatch.setattr(module, "speciate", counting)
    chart = read_chart(long_chart(), SALTS)
    assert len(chart.findings) == 40
    assert counted == [20]
    assert chart.slips.off > 0
    assert len(counted) == 2
    assert counted[1] < 20 * 1000
    assert len([week.poured_words for week in chart.weeks]) == 20
    assert len(counted) == 2


def test_a_heading_may_name_a_material_of_the_catalogue():
    # 0.2 g/L of MgSO4·7H2O holds 19.7 mg/L Mg (formula, IUPAC masses)
    chart = read_chart("week;Epsom salt g/L;Mg mg/L\n1;0,2;19.7\n", {})
    assert chart.verdict == "right"
    assert any("taken from the catalogue" in text for text in chart.assumed)
    told = faults_of("week;calcium nitrate g/L\n1;0,2\n", {})[0]
    assert "is not one material" in told


def test_a_claim_by_the_guarantee_is_right_where_the_sources_bring_more():
    # 13-0-46 from potassium nitrate: 46 % K2O of KNO3 comes with 13.7 % N (formula)
    bag = "Total nitrogen (N) 13 %\nSoluble potash (K2O) 46 %\nDerived from: potassium nitrate"
    made = derive(bag).accepted("bag")
    chart = read_chart("week;bag g/L;N mg/L;K mg/L\n1;1;130;460\n", {"bag": made})
    assert [f.verdict for f in chart.findings] == ["right", "wrong"]
    assert "K2O taken for K" in str(chart.slips)
