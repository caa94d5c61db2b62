"""Labels held against arithmetic, the room for salts, the catalogue and solubility."""

import csv
import time
from pathlib import Path

import numpy as np
import pytest

from formulate.claims.clear_label import clear_finding
from formulate.claims.label_check import check_label
from formulate.claims.least_salts import least_salts
from formulate.claims.material_fit import which_material
from formulate.errors import InputError
from formulate.ingredients.ingredient import from_formula
from formulate.ingredients.labels import label, read_label
from formulate.ingredients.salts import catalogue

PUBLISHED = Path(__file__).parent / "published"
BAG = """Greenhouse feed 15-5-30
Total Nitrogen (N) 15 %
  10 % Nitrate Nitrogen
  5 % Ammoniacal Nitrogen
Available Phosphate (P2O5) 5 %
Soluble Potash (K2O) 30 %
Derived from: potassium nitrate, monoammonium phosphate, ammonium nitrate"""
LIQUID = """Total Nitrogen (N) {n} %
  {n} % Nitrate Nitrogen
Soluble Potash (K2O) {k} %
Density {density} kg/L
Derived from: potassium nitrate"""
# molar masses from the same published table; 100 g of the salt in 100 g is the bound
PURE = {"KCl": ("K2O", 63.18), "KOH": ("K2O", 83.95), "H3PO4": ("P2O5", 72.42)}


def _published():
    """Return name to shares as text, of rows that print a grade or an element share."""
    found = {}
    with (PUBLISHED / "salt_analyses.csv").open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            found.setdefault(
                (row["salt"], row["published_grade_N_P2O5_K2O"]), []
            ).append((row["element"], row["element_percent_from_published_grade"], row))
    return found


def _shares(grade, rows):
    """Return label words to printed shares of one published analysis."""
    shares = {}
    if grade:
        shares |= dict(zip(("N", "P2O5", "K2O"), grade.split("-"), strict=True))
    for _, _, row in rows:
        words = row["published_other_percent"].split()
        for number, element in zip(words[::2], words[1::2], strict=True):
            if "-" not in number and element not in ("K", "P"):
                shares[element] = number
    return shares


def _labelled():
    """Return published analyses whose name or formula stands in the catalogue."""
    names = {name.split(" (")[0]: name for name in catalogue()}
    found = []
    for (salt, grade), rows in _published().items():
        name = names.get(salt.split(" (")[0])
        if name and not catalogue()[name].is_liquid:
            found.append(pytest.param(name, _shares(grade, rows), id=f"{salt} {grade}"))
    return found


# --- can this grade exist -----------------------------------------------------------------------


@pytest.mark.parametrize(("name", "shares"), _labelled())
def test_no_published_analysis_is_called_wrong(name, shares):
    # tests/published/salt_analyses.csv: each of these is sold
    checked = check_label(shares, name=name)
    assert not checked.is_refuted, str(checked)


@pytest.mark.parametrize("formula", PURE)
def test_the_richest_compound_is_the_bound(formula):
    # pure shares of salt_analyses.csv, in oxides: KCl 52.447 % K, KOH 69.687 % K,
    # H3PO4 31.608 % P, by the factors 1.2046 and 2.2914 (conversion_factors.csv)
    key, most = PURE[formula]
    found = least_salts({key: most}, salts_only=formula == "KCl")
    assert found.grams == pytest.approx(100.0, abs=0.02)
    assert len(found.parts) == 1
    if formula != "KCl":  # no other compound holds more
        at_most, beyond = ({key: f"{most + d:.2f}"} for d in (-0.02, 0.02))
        assert check_label(at_most).about("grade")[0].verdict == "right"
        assert check_label(beyond).about("grade")[0].verdict == "impossible"
        assert check_label(beyond).verdict == "impossible"


def test_muriate_of_62_is_possible_and_of_70_is_not():
    # KCl holds 52.447 % K (salt_analyses.csv), 63.18 % K2O
    text = "Soluble Potash (K2O) {} %\nDerived from: potassium chloride"
    assert check_label(text.format(62), rule="us").verdict == "right"
    wrong = check_label(text.format(70), rule="us")
    assert wrong.verdict == "impossible"
    short = next(f for f in wrong.findings if f.subject == "K2O 70 %")
    assert short.number == pytest.approx(63.18, abs=0.01)


def test_least_mass_against_weights_by_hand():
    # 46.646 % N in urea, 61.7 % P2O5 and 12.177 % N in NH4H2PO4 (salt_analyses.csv)
    assert least_salts({"N": 46.646}).grams == pytest.approx(100.0, abs=0.01)
    both = least_salts({"N": 12.177, "P2O5": 61.70})
    assert both.grams <= 100.01
    assert sum(grams for _, grams in both.parts) == pytest.approx(both.grams)


def test_no_blend_of_catalogue_salts_is_called_impossible():
    rng = np.random.default_rng(10)
    solids = [made for made in catalogue().values() if not made.is_liquid]
    for _ in range(60):
        picked = rng.choice(len(solids), 4, replace=False)
        weights = rng.dirichlet(np.ones(4))
        shares = {
            key: sum(
                w * solids[i].percent(key) for i, w in zip(picked, weights, strict=True)
            )
            for key in ("N", "P2O5", "K2O", "Ca", "Mg", "S", "Cl")
        }
        assert least_salts(shares, salts_only=False).grams <= 100.0 + 1e-6


def test_a_share_that_rounding_may_have_lifted_is_no_impossibility():
    # pure KOH, 83.95 % K2O, is printed 0-0-84 (salt_analyses.csv)
    assert check_label({"K2O": "84"}).about("grade")[0].verdict == "right"
    assert check_label({"K2O": "83.9"}).about("grade")[0].verdict == "right"
    assert check_label({"K2O": "84.1"}).about("grade")[0].verdict == "impossible"


# --- which material ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("shares", "name"),
    [
        # salt_analyses.csv, as printed there
        ({"N": "46", "P2O5": "0", "K2O": "0"}, "urea"),
        ({"N": "13", "P2O5": "0", "K2O": "46"}, "potassium nitrate"),
        ({"P2O5": "52", "K2O": "34"}, "monopotassium phosphate"),
        ({"Mg": "9.7", "S": "13"}, "magnesium sulfate heptahydrate"),
        ({"N": "11", "Mg": "9.5"}, "magnesium nitrate hexahydrate"),
        ({"N": "12", "P2O5": "61"}, "monoammonium phosphate"),
        ({"N": "21", "S": "24"}, "ammonium sulfate"),
        ({"Zn": "22.7"}, "zinc sulfate heptahydrate"),
        ({"Zn": "36.4"}, "zinc sulfate monohydrate"),
        ({"Mn": "32.5"}, "manganese sulfate monohydrate"),
        ({"Mn": "24.6"}, "manganese sulfate tetrahydrate"),
        ({"Cu": "25.4"}, "copper sulfate pentahydrate"),
        ({"Mo": "39.6"}, "sodium molybdate dihydrate"),
        ({"B": "17.5"}, "boric acid"),
        ({"B": "11.3"}, "borax decahydrate"),
        ({"N": "11.9", "Ca": "17"}, "calcium nitrate tetrahydrate"),
        ({"K2O": "62", "Cl": "47"}, "potassium chloride"),
    ],
)
def test_published_shares_name_their_material_and_hydrate(shares, name):
    assert which_material(shares)[0].ingredient.name == name


def test_greenhouse_calcium_nitrate_is_no_tetrahydrate():
    # salt_analyses.csv: 15.5-0-0 with 19 % Ca (egro-2018); the tetrahydrate has 11.9 and 17
    found = [fit.ingredient.name for fit in which_material({"N": "15.5", "Ca": "19"})]
    assert found == ["calcium nitrate, greenhouse grade (15.5-0-0, 19 % Ca)"]


def test_a_purity_is_told_where_the_pure_salt_holds_more():
    # 60 % K2O of 63.18 % in pure KCl (vt-spes201): 95 %
    fit = next(
        f for f in which_material({"K2O": "60"}) if f.ingredient.formula == "KCl"
    )
    assert not fit.is_pure
    assert fit.low < 60 / 63.18 * 100 < fit.high
    assert which_material({"K2O": "60", "Cl": "20"}) == ()
    assert which_material({"K2O": 1e-12}) == ()


# --- clear liquids -----------------------------------------------------------------------------


def test_a_liquid_beyond_the_solubility_of_its_salt_cannot_stay_clear():
    # KNO3: 21 to 22 g in 100 g of water at 10 °C (salt_solubility.csv), 17.5 % of the liquid
    strong = LIQUID.format(n="4.1", k="13.9", density="1.20")  # 30 % KNO3
    weak = LIQUID.format(n="1.3", k="4.6", density="1.06")  # 10 % KNO3
    assert check_label(strong).about("clear liquid")[0].verdict == "wrong"
    found = check_label(weak).about("clear liquid")[0]
    assert found.verdict == "right"
    assert 40 < found.number < 65


def test_calcium_and_sulfate_at_label_strength_fall_as_gypsum():
    made = from_formula("CaCl2·2H2O", percent=10)
    mixed = {**made.forms, "sulfate": 0.3, "magnesium": 0.3}
    found = clear_finding(type(made)("both", mixed), 1.1)
    assert found.verdict == "wrong"
    assert "gypsum" in found.what


def test_a_label_by_volume_is_checked_at_its_density():
    # 8 % w/v N and 11.2 % w/v Ca by calcium nitrate; g/L = % w/w x density x 10
    # (label_rules.csv)
    text = "Nitrate Nitrogen 80 g/L\nCalcium (Ca) 112 g/L"
    found = check_label(text, density=1.25).about("all guarantees")[0]
    assert found.verdict == "right"
    assert found.number == pytest.approx(11.15 / 1.25 / 0.24425, rel=0.05)
    with pytest.raises(InputError, match="density"):
        check_label(text + "\nPotash 2 %")


def test_unnamed_ions_leave_clearness_open():
    text = "Soluble Potash (K2O) 20 %\nDensity 1.2 kg/L"
    found = check_label(text, rule="us").about("clear liquid")[0]
    assert found.verdict == "cannot tell"
    assert "not named" in found.what


# --- what the readers tell, and the whole --------------------------------------------------------


def test_a_right_label_is_right():
    checked = check_label(BAG)
    assert checked.verdict == "right", str(checked)
    assert checked.derivation.is_possible
    assert {"sums", "analysis", "grade", "material"} <= {
        f.subject for f in checked.findings
    }
    assert all(f.what and f.severity for f in checked.findings)
    assert all(f.rule and f.source_key for f in checked.findings)
    assert len(checked.rows()) == len(checked.findings)
    assert str(checked).startswith("Greenhouse feed 15-5-30: right")


@pytest.mark.parametrize(
    ("old", "new", "subject", "told"),
    [
        ("10 % Nitrate", "12 % Nitrate", "sums", "forms add up to 17 %"),
        ("15-5-30", "15-5-20", "analysis", "the grade says 20 % K2O"),
        ("(P2O5) 5 %", "(P2O5) 80 %", "analysis", "more than pure H3PO4"),
        ("potassium nitrate, ", "", "K2O 30 %", "no"),
    ],
)
def test_each_fault_is_found_under_its_subject(old, new, subject, told):
    checked = check_label(BAG.replace(old, new))
    assert checked.is_refuted
    found = [f for f in checked.findings if f.gravity > 1 and told in f.what]
    assert any(f.subject == subject for f in found), str(checked)


@pytest.mark.parametrize(
    ("metal", "share", "agent"),
    [
        ("Iron", 6, "EDDHA"),
        ("Iron", 13, "EDTA"),
        ("Zinc", 15, "EDTA"),
        ("Iron", 11, "DTPA"),
    ],
)
def test_a_chelate_as_it_is_sold_is_right(metal, share, agent):
    # usual metal shares of chelates (ext-general, from memory): no rounding of a purity in
    # the catalogue may refute them
    text = f"{metal} {share} %\n  {share} % Chelated {metal}\nDerived from: {metal} {agent}"
    assert check_label(text, rule="us").verdict == "right"


def test_missing_sources_are_said_in_us_wording():
    # label_rules.csv: sources are listed after the analysis (aapfco-label, from memory)
    text = BAG.partition("\nDerived")[0]
    assert check_label(text).about("sources")[0].verdict == "cannot tell"
    assert not check_label(text).is_refuted


def test_a_label_that_was_read_is_checked_as_its_text():
    again = check_label(read_label(BAG))
    assert [f.what for f in again.findings] == [
        f.what for f in check_label(BAG).findings
    ]
    made = label("potassium nitrate", basis="us", grade="13-0-46")
    assert check_label(made).about("material")[0].verdict == "right"


def test_a_check_takes_at_most_50_ms():
    texts = (BAG, LIQUID.format(n="1.3", k="4.6", density="1.06"))
    for text in texts:
        check_label(text)
        times = []
        for _ in range(5):
            begun = time.perf_counter()
            check_label(text)
            times.append(time.perf_counter() - begun)
        assert min(times) < 0.05


# --- bad input ---------------------------------------------------------------------------------


def test_every_fault_is_told_at_once():
    with pytest.raises(InputError) as caught:
        check_label({"unobtainium": 3, "N": -1}, rule="uk", density=9, coldest=-3)
    faults = " / ".join(caught.value.faults)
    for part in ("rule", "density", "coldest", "unobtainium", "'N'"):
        assert part in faults
    assert len(caught.value.faults) == 5


@pytest.mark.parametrize(
    ("given", "told"),
    [
        (3, "no label"),
        (None, "no label"),
        ("", "no guaranteed nutrient"),
        ("nothing at all", "no guaranteed nutrient"),
        ({}, "no guarantees"),
        (from_formula("KNO3"), "not read from a label"),
    ],
)
def test_what_is_no_label_is_refused(given, told):
    with pytest.raises(InputError, match=told):
        check_label(given)


def test_a_bad_purity_and_a_bad_share_are_told_together():
    with pytest.raises(InputError) as caught:
        which_material({"N": "many"}, least_purity=0)
    assert len(caught.value.faults) == 2
