"""Labels: read right or refused with the line named; what is unsaid is never guessed.

Expected shares are the numbers printed in the texts of tests/labels, which are invented after
the order and wording that label law prescribes (label_rules: SD 38-19-5, AZ 3-275 and NV
588.080 read, AAPFCO and EU 2019/1009 from memory). Molar masses come from periodictable.
"""

import csv
from collections import defaultdict
from pathlib import Path

import numpy as np
import periodictable
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import FormulateError, InputError
from formulate.ingredients.dissolve import dissolve
from formulate.ingredients.labels import label, read_label

FOLDER = Path(__file__).parent / "labels"


def expected():
    """Return file to its rows in expected.csv."""
    files = defaultdict(list)
    with (FOLDER / "expected.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            files[row["file"]].append(row)
    return files


EXPECTED = expected()
RIGHT = [name for name, rows in EXPECTED.items() if rows[0]["key"]]
WRONG = [name for name, rows in EXPECTED.items() if rows[0]["refused"]]


def text_of(name):
    return (FOLDER / name).read_text(encoding="utf-8")


def mass(formula):
    return periodictable.formula(formula).mass


# --- the corpus ----------------------------------------------------------------------------


def test_the_corpus_is_whole():
    assert {path.name for path in FOLDER.glob("*.txt")} == set(EXPECTED)
    assert len(EXPECTED) >= 40
    assert len(WRONG) >= 8
    assert not set(RIGHT) & set(WRONG)


@pytest.mark.parametrize("name", RIGHT)
def test_a_label_reads_as_it_is_printed(name):
    made = read_label(text_of(name))
    for row in EXPECTED[name]:
        half_digit = 1e-4 * max(float(row["percent"]), 0.1)
        assert made.percent(row["key"]) == pytest.approx(
            float(row["percent"]), abs=half_digit
        ), row["key"]


@pytest.mark.parametrize("name", RIGHT)
def test_a_label_holds_no_nutrient_that_is_not_expected(name):
    made = read_label(text_of(name))
    told = {row["key"] for row in EXPECTED[name]}
    families = {"Fe(III)": "Fe", "Fe(II)": "Fe", "P2O5": "P", "K2O": "K", "CaO": "Ca"}
    families |= {"MgO": "Mg", "SO3": "S", "Na2O": "Na", "SiO2": "Si"}
    told |= {families.get(key, key) for key in told}
    for key in ("N", "P", "K", "Ca", "Mg", "S", "Cl", "Na", "Si", "Fe", "Mn", "Zn"):
        forms = {"N": {"NO3-N", "NH4-N", "urea-N", "N"}}.get(key, {key})
        assert made.amount(key) == 0 or told & forms, key


@pytest.mark.parametrize("name", WRONG)
def test_a_wrong_label_is_refused_with_every_fault(name):
    with pytest.raises(InputError) as caught:
        read_label(text_of(name))
    for row in EXPECTED[name]:
        assert row["refused"] in str(caught.value)


@pytest.mark.parametrize("name", RIGHT)
def test_a_reading_is_charge_balanced_by_unnamed_ions(name):
    """DESIGN section 3: minus the charge of the nominal ions."""
    made = read_label(text_of(name))
    charges = {
        "nitrate": -1,
        "ammonium": 1,
        "phosphate": -1,
        "potassium": 1,
        "sodium": 1,
    }
    charges |= dict.fromkeys(["calcium", "magnesium", "iron_ii", "manganese"], 2)
    charges |= dict.fromkeys(["zinc", "copper", "cobalt", "nickel"], 2)
    charges |= {"iron_iii": 3, "sulfate": -2, "chloride": -1, "molybdate": -2}
    charges |= {
        "edta": -4,
        "dtpa": -5,
        "eddha": -4,
        "urea": 0,
        "borate": 0,
        "silicate": 0,
    }
    sum_of_ions = sum(charges[form] * amount for form, amount in made.forms.items())
    assert made.unassigned_charge == pytest.approx(-sum_of_ions, abs=1e-9)


# --- what a reading tells ---------------------------------------------------------------------


def test_a_reading_tells_line_key_and_number():
    made = read_label(text_of("us-01-complete-20-10-20.txt"))
    reading = made.reading
    assert reading.basis == "us"
    assert "GUARANTEED ANALYSIS" in reading.basis_found
    assert reading.grade == (("N", 20), ("P2O5", 10), ("K2O", 20))
    assert reading.derived_from[:2] == ("Ammonium Nitrate", "Potassium Nitrate")
    boron = next(entry for entry in reading.entries if entry.key == "B")
    assert (boron.line, boron.percent, boron.numbers) == (11, 0.02, (0.02,))
    assert "Boron" in boron.text
    assert any("EDTA" in text for text in made.assumed)
    reasons = {line.line: line.why for line in reading.left_out}
    assert set(reasons) == {3, 24, 25}


def test_liquids_by_volume_without_density_are_measured_in_millilitres():
    made = read_label(text_of("eu-12-liquid-w-v.txt"))
    assert (made.measured_in, made.reading.share_of) == ("mL", "w/v")
    # 60 g/L nitrate nitrogen: 0.060 g in a millilitre
    assert made.amount("NO3") == pytest.approx(60 / mass("N"), rel=1e-6)


def test_density_turns_volume_into_mass():
    text = text_of("eu-12-liquid-w-v.txt")
    made = read_label(text, density=1.25)
    assert (made.measured_in, made.density) == ("g", 1.25)
    assert made.percent("K2O") == pytest.approx(6 / 1.25)
    feed = dissolve({made: "10 mL"}, volume=1)
    assert feed.mg_l("K2O") == pytest.approx(600)  # 60 g/L of it, 10 mL in a litre


def test_a_pound_per_gallon_is_a_density():
    made = read_label(text_of("us-05-liquid-weight-per-gallon.txt"))
    assert made.density == pytest.approx(10.5 * 0.45359237 / 3.785411784)  # NIST HB 44
    assert made.is_liquid


def test_iron_is_counted_as_its_source_tells():
    base, five = "Guaranteed Analysis\nIron (Fe) 5 %\n", pytest.approx(5)
    assert read_label(base + "Derived from: ferrous sulfate").percent("Fe(II)") == five
    assert read_label(base + "Derived from: iron EDTA").percent("Fe(III)") == five
    unsaid = read_label(base)
    assert unsaid.percent("Fe(III)") == five
    assert any("does not tell its state" in text for text in unsaid.assumed)


@pytest.mark.parametrize(
    ("agent", "acid", "protons"),
    [("EDTA", "C10H16N2O8", 4), ("DTPA", "C14H23N3O10", 5), ("EDDHA", "C18H20N2O6", 4)],
)
def test_an_agent_holds_its_metal_one_to_one(agent, acid, protons):
    made = read_label(f"EC fertiliser\nIron (Fe) chelated by {agent} 2.0 %")
    ligand = mass(acid) - protons * mass("H")
    assert made.percent(agent) == pytest.approx(2 * ligand / mass("Fe"), rel=1e-6)


def test_an_unknown_agent_is_said():
    text = "Guaranteed Analysis\nZinc (Zn) 1.0 %\n 1.0 % Chelated Zinc (Zn)"
    made = read_label(text)
    assert any("by what is not told" in notice.what for notice in made.notices)
    assert set(made.forms) == {"zinc"}
    other = read_label("EC fertiliser\nZinc (Zn) chelated by lignosulfonate 1.0 %")
    assert any("not counted" in notice.what for notice in other.notices)


@pytest.mark.parametrize(
    ("source", "key"),
    [
        ("urea", "urea-N"),
        ("potassium nitrate", "NO3-N"),
        ("ammonium sulfate, monoammonium phosphate", "NH4-N"),
        ("KNO3", "NO3-N"),
        ("Harnstoff", "urea-N"),
        ("nitrate de potassium", "NO3-N"),
    ],
)
def test_one_source_decides_the_nitrogen(source, key):
    text = "Guaranteed Analysis\nTotal Nitrogen (N) 5 %\nPotash (K2O) 40 %\n"
    made = read_label(f"{text}Derived from: {source}")
    assert made.percent(key) == pytest.approx(5)
    assert any("the sources bring no other" in text for text in made.assumed)


def test_ammonium_nitrate_is_half_and_half():
    made = label("bag", basis="us", grade="34-0-0", derived_from="ammonium nitrate")
    assert made.percent("NO3-N") == made.percent("NH4-N") == pytest.approx(17)


@pytest.mark.parametrize(
    "source",
    ["", "ammonium nitrate, urea", "fish meal", "a secret", "urea formaldehyde"],
)
def test_nitrogen_that_may_be_several_things_is_refused(source):
    text = f"Guaranteed Analysis\nTotal Nitrogen (N) 5 %\nDerived from: {source}"
    with pytest.raises(InputError, match=r"line 2.*which nitrogen.*give its forms"):
        read_label(text)


# --- the basis ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("basis", "key"), [("us", "Ca"), ("eu", "CaO"), ("element", "Ca"), (None, None)]
)
def test_the_basis_decides_what_a_bare_word_means(basis, key):
    if basis is None:
        with pytest.raises(InputError, match=r"line 1.*Ca or CaO.*basis"):
            read_label("Calcium 10 %")
        return
    made = read_label("Calcium 10 %", basis=basis)
    assert made.percent(key) == pytest.approx(10)
    assert any(key in text for text in made.assumed)


@pytest.mark.parametrize("basis", ["us", "eu", "element"])
@pytest.mark.parametrize("key", ["P2O5", "K2O", "CaO", "Ca", "MgO", "P", "K", "SO3"])
def test_a_symbol_means_itself_on_every_basis(basis, key):
    assert read_label(f"{key} 7 %", basis=basis).percent(key) == pytest.approx(7)
    made = label("bag", basis=basis, guarantees={key: 7})
    assert made.percent(key) == pytest.approx(7)


def test_wording_and_language_tell_the_basis():
    assert read_label("Guaranteed analysis\nCalcium 5 %").reading.basis == "us"
    assert read_label("Nährstoffgehalt\nMagnesium 5 %").reading.basis == "eu"
    assert read_label("P 5 %\nK 5 %").reading.basis == "element"


# --- label(): numbers one by one ------------------------------------------------------------------


def test_a_grade_is_counted_on_its_basis():
    made = label("bag", basis="us", grade="0-10-20")
    assert made.percent("P2O5") == pytest.approx(10)
    assert made.percent("K2O") == pytest.approx(20)
    elements = label("bag", basis="element", grade="0-10-20")
    assert elements.percent("P") == pytest.approx(10)
    assert elements.percent("K") == pytest.approx(20)


def test_greenhouse_calcium_nitrate_by_its_label():
    # 15.5-0-0, 14.4 nitrate and 1.1 ammoniacal nitrogen, 19 Ca (egro-2018, read)
    guarantees = {"nitrate nitrogen": 14.4, "ammoniacal nitrogen": 1.1, "calcium": 19}
    made = label("calcium nitrate", basis="us", grade="15.5-0-0", guarantees=guarantees)
    assert made.percent("N") == pytest.approx(15.5)
    assert made.percent("Ca") == pytest.approx(19)
    assert abs(made.unassigned_charge) < 0.02


@pytest.mark.parametrize(
    ("word", "key"),
    [
        ("phosphate", "P2O5"),
        ("Available phosphate", "P2O5"),
        ("soluble potash", "K2O"),
        ("magnesium", "MgO"),
        ("Fe", "Fe"),
        ("chelated iron (EDTA)", "Fe"),
        ("NO3-N", "NO3-N"),
        ("NO3", "NO3"),
    ],
)
def test_a_guarantee_is_a_label_word_or_a_key(word, key):
    made = label("bag", basis="eu", guarantees={word: 4})
    assert made.percent(key) == pytest.approx(4)


def test_text_and_number_mean_the_same():
    one = label("bag", basis="us", guarantees={"potash": 20, "B": "200 mg/kg"})
    two = read_label("Soluble Potash 20 %\nBoron (B) 200 mg/kg")
    for form, amount in one.forms.items():
        assert two.forms[form] == pytest.approx(amount)


@pytest.mark.parametrize(
    ("given", "word"),
    [
        ({"basis": "uk"}, "basis"),
        ({"basis": None}, "basis"),
        ({"grade": "10-10"}, "grade"),
        ({"grade": 7}, "grade"),
        ({"guarantees": {"potash": 120}}, "potash"),
        ({"guarantees": {"potash": -1}}, "potash"),
        ({"guarantees": {"potash": np.nan}}, "potash"),
        ({"guarantees": {"potash": True}}, "potash"),
        ({"guarantees": {"potash": "a lot"}}, "potash"),
        ({"guarantees": {"nitrate": 10}}, "whole ion"),
        ({"guarantees": {"urea": 10}}, "whole ion"),
        ({"guarantees": {"Zz": 10}}, "Zz"),
        ({"guarantees": {None: 10}}, "None"),
        ({"guarantees": [("K", 1)]}, "mapping"),
        ({"guarantees": {"K2O": 30, "K": 30}}, "not the same amount"),
        ({"guarantees": {"K2O": 10}, "grade": "0-0-20"}, "grade says 20"),
        ({"guarantees": {"P": 40}}, "H3PO4"),
        ({"guarantees": {"N": 10}}, "which nitrogen"),
        ({"guarantees": {"K": 5}, "density": 15}, "density"),
        ({"guarantees": {"K": 5}, "price_per_kg": -1}, "price"),
        ({"guarantees": {"K": 5}, "derived_from": 7}, "derived_from"),
        ({}, "no guaranteed nutrient"),
    ],
)
def test_a_wrong_label_by_numbers_is_refused(given, word):
    with pytest.raises(InputError, match=word):
        label("bag", **{"basis": "us", **given})


def test_every_fault_is_listed_at_once():
    with pytest.raises(InputError) as caught:
        label("bag", basis="uk", grade="x", guarantees={"Zz": 1, "K": 200}, density=9)
    assert len(caught.value.faults) >= 5


@pytest.mark.parametrize("text", [None, 7, b"K 5", ["K 5"], "", "\n\n", "hello"])
def test_what_is_no_label_is_refused(text):
    with pytest.raises(InputError):
        read_label(text)


@pytest.mark.parametrize("text", ["x" * 5000, "K 5 %\n" * 5000, "1" * 30000])
def test_a_text_without_end_is_refused(text):
    with pytest.raises(InputError, match="characters"):
        read_label(text)


# --- label_rules, as published --------------------------------------------------------------------

NITRATE = "Total Nitrogen (N) 18%\n18% Nitrate Nitrogen\n"
RULES = {  # (topic, jurisdiction begins) to (text, key, percent) that follow from the rule
    ("order", "US (SD"): ("18-4-10\n" + NITRATE + "Derived from x", "K2O", 10),
    ("oxide convention", "US (AZ"): ("Guaranteed Analysis\nPotash 20%", "K2O", 20),
    ("element convention", "US (SD"): ("Guaranteed Analysis\nCalcium 5%", "Ca", 5),
    ("nitrogen breakdown", "US (AAPFCO"): ("Guaranteed Analysis\n" + NITRATE, "N", 18),
    ("meaning of grade", "US (Clemson"): (
        "18-4-10\n" + NITRATE + "Potash 10%",
        "P2O5",
        4,
    ),
    ("rounding", "US practice"): (
        "15-0-0\n" + NITRATE.replace("18", "15.9"),
        "N",
        15.9,
    ),
    ("zero", "US (AAPFCO"): ("18-0-0\n" + NITRATE, "K2O", 0),
    ("oxide convention", "EU"): ("EC fertiliser\nMagnesium 3 %", "MgO", 3),
    ("density claim", "general"): ("Nitrate N 120 g/L\nDensity 1.2 kg/L", "NO3-N", 10),
}


def rule_rows():
    path = Path(__file__).parent / "published" / "label_rules.csv"
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("rule", RULES, ids=str)
def test_a_published_rule_is_followed(rule):
    topic, where = rule
    rows = [row for row in rule_rows() if row["topic"] == topic]
    assert [row for row in rows if row["jurisdiction"].startswith(where)]
    text, key, percent = RULES[rule]
    assert read_label(text).percent(key) == pytest.approx(percent)


def test_a_hundred_pounds_of_18_4_10_hold_18_pounds_of_nitrogen():
    made = label(
        "bag", basis="us", grade="18-4-10", derived_from="urea"
    )  # clemson-label
    assert 100 * made.percent("N") / 100 == pytest.approx(18)


# --- laws -----------------------------------------------------------------------------------------

SHARES = ("NO3-N", "NH4-N", "P2O5", "K2O", "Ca", "Mg", "S", "B", "Cl", "Zn")


@given(st.dictionaries(st.sampled_from(SHARES), st.integers(1, 30), min_size=1))
def test_what_is_given_is_counted_and_twice_is_the_same(tenths):
    shares = {key: tenth / 10 for key, tenth in tenths.items()}
    made = label("bag", basis="us", guarantees=shares, price_per_kg=2)
    for key, share in shares.items():
        assert made.percent(key) == pytest.approx(share)
    again = label("bag", basis="us", guarantees=dict(reversed(shares.items())))
    assert again.forms == pytest.approx(dict(made.forms))
    assert made.price == 2


@given(st.integers(0, 60), st.integers(0, 60), st.integers(0, 60))
def test_forms_add_up_or_are_refused(total, nitrate, ammonium):
    guarantees = {"N": total / 2, "NO3-N": nitrate / 4, "NH4-N": ammonium / 4}
    try:
        made = label("bag", basis="us", guarantees=guarantees)
    except FormulateError:
        return
    assert made.percent("N") == pytest.approx(total / 2, abs=0.601)


@given(st.floats(0.1, 100), st.floats(0.1, 100))
def test_no_label_holds_more_than_a_hundred_percent(phosphate, potash):
    """PO4 and K weigh at least P2O5 * 1.338 + K2O * 0.830 (masses of periodictable)."""
    least = phosphate * 2 * mass("PO4") / mass("P2O5") + potash * 2 * mass("K") / mass(
        "K2O"
    )
    guarantees = {"P2O5": phosphate, "K2O": potash}
    if least > 100.1:
        with pytest.raises(InputError, match="more than"):
            label("bag", basis="us", guarantees=guarantees)
    elif least < 70:
        assert label("bag", basis="us", guarantees=guarantees).percent("K2O")


@pytest.mark.parametrize(
    ("key", "formula", "count"),
    [
        ("P2O5", "H3PO4", 2),
        ("NO3-N", "HNO3", 1),
        ("urea-N", "CO(NH2)2", 0.5),
        ("K2O", "KOH", 2),
        ("CaO", "CaO", 1),
        ("SO3", "H2SO4", 1),
    ],
)
def test_pure_compounds_are_the_limit(key, formula, count):
    basis = {"NO3-N": "N", "urea-N": "N"}.get(key, key)
    most = 100 * mass(basis) / mass(formula) / count
    made = label("pure", basis="us", guarantees={key: round(most, 2) - 0.02})
    assert made.percent(key) == pytest.approx(most, abs=0.03)
    with pytest.raises(InputError, match=r"more than|at most 100"):
        label("too pure", basis="us", guarantees={key: round(most, 2) + 0.5})
