"""Labels held against arithmetic, the room for salts, the catalogue and solubility."""

import csv
from pathlib import Path

import numpy as np
import pytest
from random_labels import (
    SLIPS,
    label_text,
    right_eu_label,
    right_label,
    shares_of,
    slipped_label,
)

from formulate.claims import blend_ranges, slip_blends
from formulate.claims import least_salts as least_salts_module
from formulate.claims.clear_label import clear_finding
from formulate.claims.derivation import derive
from formulate.claims.label_check import check_label
from formulate.claims.least_salts import least_salts
from formulate.claims.material_fit import which_material
from formulate.errors import InputError
from formulate.ingredients.ingredient import from_formula
from formulate.ingredients.label_checks import least_mass
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

N, NITRATE, K2O = "Total Nitrogen (N)", "Nitrate Nitrogen", "Soluble Potash (K2O)"
P2O5, AMMONIUM = "Available Phosphate (P2O5)", "Ammoniacal Nitrogen"
MG, CA, S = "Magnesium (Mg)", "Calcium (Ca)", "Sulfur (S)"


def us(shares, sources):
    """Return a label in US wording with its sources."""
    words = [f"{word} {share} %" for word, share in shares.items()]
    return "\n".join([*words, f"Derived from: {sources}"])


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
    # KNO3: 21 to 22 g in 100 g of water at 10 °C (salt_solubility.csv), 17.5 % of the liquid;
    # 38 g at 25 °C, 27.5 % of it: beyond 120 % of that no store keeps it clear
    strong = LIQUID.format(n="5.5", k="18.6", density="1.27")  # 40 % KNO3
    middle = LIQUID.format(n="3.0", k="10", density="1.15")  # 22 % KNO3
    weak = LIQUID.format(n="1.3", k="4.6", density="1.06")  # 10 % KNO3
    assert check_label(strong).about("clear liquid")[0].verdict == "wrong"
    cold = check_label(middle)
    found = cold.about("clear liquid")[0]
    assert (found.verdict, found.severity) == ("cannot tell", "caution")
    assert "10 °C" in found.what
    assert any("10 °C" in text for text in cold.assumed)
    assert not any("10 °C" in t for t in check_label(middle, coldest=15).assumed)
    assert check_label(middle, coldest=25).about("clear liquid")[0].verdict == "right"
    found = check_label(weak).about("clear liquid")[0]
    assert found.verdict == "right"
    assert 40 < found.number < 65


def test_calcium_and_sulfate_at_label_strength_fall_as_gypsum():
    made = from_formula("CaCl2·2H2O", percent=10)
    mixed = {**made.forms, "sulfate": 0.3, "magnesium": 0.3}
    found = clear_finding(type(made)("both", mixed), 1.1)
    assert found.verdict == "wrong"
    assert "gypsum" in found.what


GYPSUM = "Calcium (Ca) {} %\nMagnesium (Mg) 1 %\nSulfur (S) {} %\nDensity 10.5 lb/gal\n"


@pytest.mark.parametrize("coldest", [10, 25, 40])
def test_gypsum_refutes_a_clear_liquid_at_any_temperature(coldest):
    # handbooks: gypsum dissolves to 2.1 to 2.7 g/L, 15 mmol/L, between 10 and 40 °C;
    # 2 % Ca of 1258 g/L are 630 mmol/L
    text = GYPSUM.format(2, 3) + "Derived from: calcium sulfate, magnesium sulfate"
    found = check_label(text, coldest=coldest).about("clear liquid")[0]
    assert (found.verdict, found.severity) == ("wrong", "serious")
    assert found.number > found.limit
    thick = check_label(text + "\nA suspension: shake before use", coldest=coldest)
    assert thick.about("clear liquid")[0].verdict == "cannot tell"


def test_calcium_thiosulfate_is_no_gypsum():
    # 26.3 % Ca and 42.2 % S in CaS2O3: sulfur that is no sulfate
    text = "Calcium (Ca) 6 %\nSulfur (S) 10 %\nDensity 10.4 lb/gal\nDerived from: calcium thiosulfate"
    assert not check_label(text).is_refuted


def test_calcium_with_sulfur_is_doubted_where_no_source_is_named():
    text = (
        "4-0-0\nTotal Nitrogen (N) 4 %\n  4 % Nitrate Nitrogen\nCalcium (Ca) 5 %\n"
        "{}Density 11 lb/gal"
    )
    found = check_label(text.format("Sulfur (S) 4 %\n"))
    assert found.verdict == "cannot tell"
    assert "gypsum" in found.about("clear liquid")[0].what
    assert check_label(text.format("")).verdict == "right"


@pytest.mark.parametrize(
    "source",
    ["calcium nitrate, magnesium nitrate, magnesium sulfate", "calcium nitrate"],
)
def test_sulfate_that_need_not_be_there_refutes_nothing(source):
    # Ca(NO3)2 17 % N, 24.4 % Ca; Mg(NO3)2·6H2O 10.9 % N, 9.5 % Mg: no sulfate is needed
    text = us({N: 6, NITRATE: 6, CA: 6, MG: 1}, source) + "\nDensity 11.5 lb/gal"
    text = text if "magnesium" in source else text.replace(f"{MG} 1 %\n", "")
    assert not check_label(text).is_refuted


@pytest.mark.parametrize(("n", "p", "pounds"), [(10, 34, 11.6), (11, 37, 11.7)])
def test_polyphosphates_dissolve_better_than_what_is_counted(n, p, pounds):
    # common practice, no source: liquids of ammonium polyphosphate are sold so
    text = us({N: n, AMMONIUM: n, P2O5: p}, "ammonium polyphosphate")
    checked = check_label(f"{text}\nWeight per gallon {pounds} lb", rule="us")
    assert checked.verdict == "cannot tell"
    assert "dissolve better" in checked.about("clear liquid")[0].what


def test_borax_pentahydrate_is_sold_a_little_dry():
    # common practice, no source: 14.9 to 15.2 % B; the pure salt holds 14.84
    text = "Boron (B) {} %\nDerived from: sodium tetraborate pentahydrate"
    for share in ("14.3", "14.8", "14.9", "15.2"):
        assert check_label(text.format(share), rule="us").verdict == "right"
    assert check_label(text.format("16"), rule="us").verdict == "impossible"


def test_lime_brings_the_calcium_of_calcium_ammonium_nitrate():
    # 27 % N in NH4NO3 (35.0 % N) are 77.1 g, 12.5 % CaO in CaCO3 (56.03 % CaO) 22.3 g
    text = "Total nitrogen 27 %\nNitric nitrogen 13.5 %\nAmmoniacal nitrogen 13.5 %\nCaO 12.5 %"
    found = check_label(text, rule="eu").about("all guarantees")[0]
    assert found.verdict == "right"
    assert found.number == pytest.approx(99.4, abs=0.5)  # less half a digit of each
    assert "calcium carbonate" in found.what


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("Soluble Potash (K2O) 10 %\nPotasse soluble 12 %", ("10 %", "12 %")),
        ("Magnesium (Mg) 2 %\nMagnesium (Mg) 3 %\nSulfur (S) 4 %", ("2 %", "3 %")),
    ],
)
def test_one_nutrient_with_two_shares_is_wrong(text, told):
    checked = check_label(text, rule="us")
    assert checked.verdict == "wrong"
    (found,) = checked.about("told twice")
    assert found.severity == "serious"
    assert all(each in found.what for each in told)
    with pytest.raises(InputError, match="no nutrient"):  # other faults stay faults
        check_label(f"{text}\nUnobtainium 3 %", rule="us")


@pytest.mark.parametrize(
    ("shares", "sources", "pounds"),
    [
        # common practice, no source: liquors sold clear, by urea with ammonium nitrate and
        # by mixed nitrates; pounds in a US gallon
        (
            {N: 28, AMMONIUM: 7, NITRATE: 7, "Urea Nitrogen": 14},
            "urea, ammonium nitrate",
            10.67,
        ),
        (
            {N: 32, AMMONIUM: 7.75, NITRATE: 7.75, "Urea Nitrogen": 16.5},
            "urea, ammonium nitrate",
            11.06,
        ),
        (
            {N: 17, AMMONIUM: 5.4, NITRATE: 11.6, CA: 8.8},
            "ammonium nitrate, calcium nitrate",
            12.64,
        ),
    ],
)
def test_liquors_that_are_sold_clear_are_not_refuted(shares, sources, pounds):
    text = us(shares, sources) + f"\nWeight per gallon {pounds} lb"
    checked = check_label(text, rule="us")
    assert not checked.is_refuted, str(checked)
    found = checked.about("clear liquid")[0]
    assert (found.verdict, found.severity) == ("cannot tell", "caution")
    assert "do not hold in such a liquor" in found.what


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


def test_a_check_solves_few_linear_programmes(monkeypatch):
    # milliseconds are told in reference/validation.md; programmes are what they go to
    counted = []
    for module in (blend_ranges, least_salts_module, slip_blends):
        solved = module.linprog
        monkeypatch.setattr(
            module, "linprog", lambda *a, f=solved, **k: counted.append(1) or f(*a, **k)
        )
    check_label(BAG)
    assert len(counted) <= 12
    counted.clear()
    assert check_label(BAG.replace("30 %", "36 %").replace("-30", "-36")).is_refuted
    assert len(counted) <= 20


# --- the whole catalogue, and labels at random ----------------------------------------------------


@pytest.mark.parametrize("digits", [0, 1, 2])
def test_every_material_at_its_own_percents_is_right(digits):
    # shares rounded down, forms adding up to total nitrogen: label_rules.csv (from memory)
    seen = 0
    for name, made in catalogue().items():
        shares = shares_of([(made, 1.0)], digits)
        if not shares:
            continue
        text = label_text(shares, digits, [name], made.density)
        checked = check_label(text, rule="us")
        assert checked.verdict == "right", str(checked)
        assert not checked.slips, str(checked)
        seen += 1
    assert seen > 90


@pytest.mark.parametrize(("formula", "share"), [("KOH", 84), ("KCl", 63)])
def test_a_pure_material_rounded_up_is_told_not_refuted(formula, share):
    # 83.95 and 63.18 % K2O, salt_analyses.csv; 0-0-84 is printed there
    names = {"KOH": "potassium hydroxide", "KCl": "potassium chloride"}
    text = "Soluble Potash (K2O) {} %\nDerived from: " + names[formula]
    checked = check_label(text.format(share), rule="us")
    assert checked.verdict == "right", str(checked)
    assert bool(checked.about("rounding")) is (formula == "KOH")
    assert check_label(text.format(share + 1), rule="us").verdict == "impossible"


@pytest.mark.parametrize(
    ("name", "share"),
    [("potassium metasilicate", 154.28), ("borax anhydrous", 201.22)],
)
def test_silicate_and_borate_hold_alkali_as_oxide(name, share):
    # molar masses of K2SiO3 and Na2B4O7 by the atomic masses of molar_masses.csv
    key, atoms = ("K", 2 * 39.098) if "potass" in name else ("Na", 2 * 22.990)
    other, mass = ("Si", 28.085) if "potass" in name else ("B", 4 * 10.81)
    percents = {key: atoms / share * 100, other: mass / share * 100}
    assert least_mass(percents) <= 100.1
    assert least_mass({key: percents[key]}) < 100
    assert not check_label({k: f"{v:.1f}" for k, v in percents.items()}).is_refuted


def test_carbon_on_a_label_is_no_carbonate():
    checked = check_label({"C": "40"})
    assert checked.verdict == "cannot tell"
    assert "organic carbon" in checked.about("reading")[0].what
    assert not check_label({"C": "40", "K2O": "5"}).is_refuted
    assert check_label({"CO3": "99"}).is_refuted  # said to be carbonate, it is counted


def test_shares_in_grams_keep_their_digits():
    # 1 % is 10 g/kg: a gram more or less is a tenth of a percent
    assert check_label({"K2O": "839 g/kg"}).about("grade")[0].verdict == "right"
    assert check_label({"K2O": "841 g/kg"}).about("grade")[0].verdict == "impossible"


def measured(seed=20, many=200):
    """Return the share of right labels refuted, explained, and of slips that are found."""
    rng = np.random.default_rng(seed)
    right = [check_label(right_label(rng)[0], rule="us") for _ in range(many)]
    found = dict.fromkeys(SLIPS, 0)
    for number in range(many):
        kind = SLIPS[number % len(SLIPS)]
        text = slipped_label(rng, kind)
        try:
            checked = check_label(text, rule="us")
            found[kind] += checked.is_refuted or bool(checked.slips)
        except InputError:  # told as a fault of the label: more than 100 % in all
            found[kind] += 1
    each = many / len(SLIPS)
    return (
        sum(c.is_refuted for c in right) / many,
        sum(bool(c.slips) for c in right) / many,
        {kind: count / each for kind, count in found.items()},
    )


def test_no_right_label_is_refuted_and_most_slips_are_found():
    refuted, explained, found = measured()
    assert refuted == 0
    assert explained == 0
    assert np.mean(list(found.values())) >= 0.80


def test_no_right_label_in_eu_wording_is_refuted():
    rng = np.random.default_rng(5)
    for _ in range(100):
        checked = check_label(right_eu_label(rng))
        assert not checked.is_refuted, str(checked)
        assert not checked.slips, str(checked)


def test_a_grade_may_be_rounded_down_only():
    # nv-588-080: a grade is the minimum percentage, in whole numbers for mixed fertilisers
    bag = (
        "20-0-0\nTotal Nitrogen (N) {} %\n  {} % Urea Nitrogen\n"
        "Derived from: urea, calcium sulfate dihydrate"
    )
    up = check_label(bag.format("19.6", "19.6"))
    assert "may be rounded down only" in up.about("grade rule")[0].what
    assert up.verdict == "wrong"
    near = check_label(bag.format("19.9", "19.9"))  # 19.95 would print so, and as 20
    assert near.about("grade rule")[0].verdict == "cannot tell"
    assert near.verdict == "cannot tell"
    assert not check_label(bag.format("20.4", "20.4")).about("grade rule")
    part = check_label(bag.format("20.5", "20.5").replace("20-0", "20.5-0"))
    assert "no whole number" in part.about("grade rule")[0].what
    assert part.verdict == "right"


# --- minima that are far exceeded, upper limits, what is normal ----------------------------------


@pytest.mark.parametrize(
    ("shares", "sources", "key", "least"),
    [
        # what the other guarantees force, by the formulas: molar_masses.csv
        ({N: 2, NITRATE: 2, K2O: 44}, "potassium nitrate", "N", 13.09),
        ({N: 1, AMMONIUM: 1, P2O5: 61}, "monoammonium phosphate", "N", 12.04),
        ({N: 1, CA: 16}, "calcium nitrate tetrahydrate", "N", 11.18),
        ({N: 11, NITRATE: 11, MG: 15.5}, "magnesium nitrate", "N", 17.87),
        ({MG: 16, S: 13}, "magnesium sulfate", "S", 21.10),
        ({P2O5: 22.7, K2O: 28.7}, "monopotassium phosphate", "P2O5", 43.25),
        # one solid material alone, at most a tenth of it something else
        ({"Boron (B)": 11.3}, "boric acid", "B", 15.74),
    ],
)
def test_a_minimum_that_is_far_exceeded_is_no_right_label(shares, sources, key, least):
    checked = check_label(us(shares, sources), rule="us")
    assert checked.verdict == "cannot tell", str(checked)
    odd = [
        f for f in checked.findings if "may be exceeded, but so much is odd" in f.what
    ]
    found = next(f for f in odd if f.subject.startswith(f"{key} "))
    assert found.severity == "serious"
    assert found.number == pytest.approx(least, abs=0.02)


def test_a_minimum_that_is_exceeded_a_little_is_right():
    # potassium nitrate with 44 % K2O brings 13.09 % N: 12 and even 11 are guaranteed
    for n in (11, 12, 13):
        text = us({N: n, NITRATE: n, K2O: 44}, "potassium nitrate")
        assert not [f for f in check_label(text).findings if "odd" in f.what], n
    # 1.9 % is guaranteed as 1 % where whole percents are rounded down
    text = us({K2O: 50, S: 17, CA: 1}, "potassium sulfate, calcium sulfate dihydrate")
    assert check_label(text).verdict == "right"


@pytest.mark.parametrize(
    "text",
    [
        # 19 % Ca printed under CaO, 38.6 % K under K2O (salt_analyses.csv)
        "EG-Düngemittel\n15,5 % N Gesamtstickstoff\n 14,4 % N Nitratstickstoff\n"
        " 1,1 % N Ammoniumstickstoff\n19 % CaO wasserlösliches Calciumoxid",
        "Total Nitrogen (N) 13.7%\n 13.7% Nitrate Nitrogen\nSoluble Potash (K2O) 38.6%",
    ],
)
def test_a_label_without_source_that_one_slip_explains_is_not_right(text):
    checked = check_label(text)
    assert checked.verdict == "cannot tell", str(checked)
    assert checked.about("slip")[0].severity == "caution"


@pytest.mark.parametrize(
    "words",
    [
        "Chlorine (Cl) not more than 1 %",
        "Chlorine (Cl) max 1 %",
        "Chlorine (Cl) at most 1 %",
        "Chlorine (Cl) less than 1 %",
        "Chlorine (Cl) < 1 %",
        "Chlorine (Cl) <= 1 %",
        "Chlorine (Cl) ≤ 1 %",
        "Chlorid (Cl) höchstens 1 %",
        "Chlorid (Cl) maximal 1 %",
        "Chlore (Cl) au plus 1 %",
        "Cloro (Cl) como máximo 1 %",
        "Cloro (Cl) al massimo 1 %",
        "Chloor (Cl) hoogstens 1 %",
    ],
)
def test_a_greatest_value_is_an_upper_limit_only(words):
    text = f"{us({K2O: 50, S: 17}, 'potassium sulfate')}"
    text = text.replace("Derived", f"{words}\nDerived")
    checked = check_label(text, rule="us")
    entry = next(e for e in checked.reading.entries if e.key == "Cl")
    assert (entry.kind, entry.percent) == ("at most", 1.0)
    assert checked.verdict == "right", str(checked)
    assert not any("Cl" in f.what for f in checked.about("least shares"))
    assert read_label(text, basis="us").percent("Cl") == 0.0


def test_forms_rounded_down_must_reach_their_total():
    # label_rules.csv: guarantees are rounded down; 3.9 + 6.0 + 9.7 = 19.6, and 19.9 at most
    # where each lost nearly its last digit: not 20
    text = us({N: "20", AMMONIUM: "3.9", NITRATE: "6.0", "Urea Nitrogen": "9.7"}, "")
    text = text.partition("\nDerived")[0]
    short = check_label(text, rule="us").about("sums")
    assert [f.verdict for f in short] == ["wrong"]
    assert "19.6" in short[0].what
    assert "20" in short[0].what
    full = check_label(text.replace("9.7", "9.9"), rule="us")  # 19.8, and below 20.1
    assert full.about("sums")[0].verdict == "right"


def test_the_same_finding_has_the_same_verdict_beside_others():
    text = "EC fertiliser\nTotal nitrogen (N) 8 %\n{}Potassium oxide (K2O) 20 %"
    alone = check_label(text.format(""))
    beside = check_label(text.format("P2O5 8 % (P 5.3 %)\n"))
    for checked in (alone, beside):
        (open_one,) = [f for f in checked.findings if "which nitrogen" in f.what]
        assert open_one.verdict == "cannot tell"
    assert beside.is_refuted


def test_a_part_that_does_not_dissolve_is_normal():
    text = (
        "EG-DÜNGEMITTEL\n15 % N Gesamtstickstoff\n  6,5 % N Nitratstickstoff\n"
        "  8,5 % N Ammoniumstickstoff\n"
        "10 % P2O5 neutral-ammoncitratlösliches und wasserlösliches Phosphat\n"
        "  7 % P2O5 wasserlösliches Phosphat\n15 % K2O wasserlösliches Kaliumoxid"
    )
    checked = check_label(text)
    assert "only 7 %" in checked.about("reading")[0].what
    assert checked.verdict == "right", str(checked)


def test_a_grade_of_elements_whose_brackets_agree_is_right():
    # 3.5 and 16.6 % are 8 and 20 % by 0.4364 and 0.8302 (conversion_factors.csv)
    text = "NPK 8-3.5-16.6\nN 8 %\nNO3-N 8 %\nP2O5 8 % (P 3,5 %)\nK2O 20 % (K 16,6 %)"
    for given in (text, text.replace("NPK", "EG-Düngemittel NPK")):
        checked = check_label(given)
        assert checked.about("analysis")[0].verdict == "right", str(checked)
        assert not checked.is_refuted
    wrong = check_label(text.replace("16.6\n", "15.6\n"))
    assert wrong.is_refuted


def test_label_and_derivation_print_the_same_ranges():
    checked = check_label(BAG)
    assert list(map(str, checked.derivation.ranges)) == list(
        map(str, derive(BAG).ranges)
    )


@pytest.mark.parametrize("share", ["x", -1, None, 1000])
def test_least_salts_refuses_what_is_no_share(share):
    with pytest.raises(InputError, match="N"):
        least_salts({"N": share})
    assert least_salts({"N": "30"}).grams == pytest.approx(
        64.3, abs=0.1
    )  # urea, 46.646 %


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


@pytest.mark.parametrize(
    "tag",  # common trade analyses of liquids, printed without a density
    [
        "10-34-0\nTotal nitrogen (N) 10 %\nAvailable phosphate (P2O5) 34 %\n"
        "Derived from: ammonium polyphosphate",
        "12-0-0-26S\nTotal nitrogen 12 %\nSulfur (S) 26 %\nDerived from: ammonium thiosulfate",
    ],
)
def test_a_source_sold_as_a_solution_is_not_counted_dry(tag):
    found = check_label(tag)
    assert not found.is_refuted
    assert not any("is brought where" in one.what for one in found.findings)
