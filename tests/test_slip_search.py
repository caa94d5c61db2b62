"""A slip made on purpose is found again, on one number or on many; a right claim is called right.

The factors come from test_slips.FACTORS, worked out with periodictable and pint.
"""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from test_slips import DENSITY, FACTORS, RATIO, ROWS

from formulate.claims.slip_moves import moves_on
from formulate.claims.slip_search import explain
from formulate.errors import InputError

PUBLISHED = Path(__file__).parent / "published"
EVERYWHERE = {"any", "dose", "dilution", "liquid"}
SUBJECTS = ("N", "P", "K", "Ca", "Mg", "S", "Fe", "Mn", "B", "NO3-N", "EC")
NOISE = 0.01


def touched(key, subjects, rng):
    """Return what one slip touches: everything, what a salt brings, or one column."""
    words = set(ROWS[key]["subjects"].split())
    if words & EVERYWHERE:
        return subjects
    found = [s for s in subjects if s in words]
    if found and ROWS[key]["kind"] == "basis":
        return [str(rng.choice(found))]
    return found


def slipped(rng, many, numbers=None):
    """Return pairs with slips made on purpose, their keys, and the factors."""
    while True:
        count = numbers or int(rng.integers(1, 9))
        subjects = [str(s) for s in rng.choice(SUBJECTS, count, replace=False)]
        keys = [str(k) for k in rng.choice(sorted(FACTORS), many, replace=False)]
        scopes = [touched(key, subjects, rng) for key in keys]
        if all(scopes):
            break
    logs = dict.fromkeys(subjects, 0.0)
    for key, scope in zip(keys, scopes, strict=True):
        sign = rng.choice([-1, 1])
        for subject in scope:
            logs[subject] += sign * math.log(FACTORS[key])
    right = {s: float(rng.uniform(1, 300)) for s in subjects}
    noise = {s: float(rng.normal(0, NOISE)) for s in subjects}
    pairs = {s: (right[s] * math.exp(logs[s] + noise[s]), right[s]) for s in subjects}
    return pairs, sorted(keys), {s: math.exp(v) for s, v in logs.items()}


def is_the_truth(candidate, keys, factors):
    """Return whether an explanation is the slip that was made, not one that looks alike."""
    same = all(candidate.factors[s] == pytest.approx(factors[s], 1e-9) for s in factors)
    return same and sorted(candidate.keys) == keys


def found_first(rng, many, cases, numbers=None):
    """Return how many of some cases have the truth in the first group."""
    hits = 0
    for _ in range(cases):
        pairs, keys, factors = slipped(rng, many, numbers)
        groups = explain(pairs, noise=NOISE, ratio=RATIO, density=DENSITY).groups
        first = groups[0].candidates if groups else ()
        hits += any(is_the_truth(c, keys, factors) for c in first)
    return hits


def test_300_slips_are_found_first_or_tied_first():
    """The bar: 90 % of 300 seeded slips, half of them pairs, with 1 % noise."""
    rng = np.random.default_rng(20261)
    single, double = found_first(rng, 1, 150), found_first(rng, 2, 150)
    assert single + double >= 270
    assert single >= 147


def test_slips_of_a_single_number_are_found_too():
    """The hardest case: one number and two slips leave much that looks alike."""
    rng = np.random.default_rng(20262)
    assert found_first(rng, 1, 100, numbers=1) >= 97
    assert found_first(rng, 2, 100, numbers=1) >= 80


def test_a_first_group_of_many_numbers_is_short():
    """A group that holds everything would be tied-first by emptiness."""
    rng, sizes = np.random.default_rng(20263), []
    for _ in range(60):
        pairs, *_ = slipped(rng, 2, numbers=5)
        groups = explain(pairs, noise=NOISE, ratio=RATIO, density=DENSITY).groups
        sizes.append(len(groups[0].candidates) if groups else 0)
    assert np.median(sizes) <= 6


def test_right_claims_are_called_right():
    """The bar: 98 % of correct claims, with 1 % noise."""
    rng, right = np.random.default_rng(20264), 0
    for _ in range(500):
        count = int(rng.integers(1, 9))
        values = {s: float(rng.uniform(1, 300)) for s in SUBJECTS[:count]}
        pairs = {s: (v * math.exp(rng.normal(0, NOISE)), v) for s, v in values.items()}
        right += explain(pairs).is_right
    assert right >= 490


def test_random_factors_are_seldom_explained_by_a_single_slip():
    """Numbers that are off by anything, each on its own, are not blamed on a slip."""
    rng, blamed = np.random.default_rng(20265), 0
    for _ in range(100):
        pairs = {
            s: (100 * math.exp(rng.uniform(-1, 1)), 100) for s in ("N", "P", "K", "Ca")
        }
        blamed += bool(explain(pairs).groups)
    assert blamed <= 2


@pytest.mark.parametrize(
    ("pairs", "expected"),
    [
        # discrepancies.md 1: 336 mg/L printed for S is sulfate, sulfur is 112
        ({"S": (336, 112)}, ("so4-as-s",)),
        # discrepancies.md 12: chloride 4 and 10 printed as mg/L are 142 and 355 (fao29-pmc)
        ({"Cl": (4, 142), "N": (100, 100)}, ("mmol-as-mg-chloride",)),
        ({"Cl": (10, 355)}, ("mmol-as-mg-chloride",)),
        # discrepancies.md 9: 1408.2 uS/cm is of 0.01 mol/kg (nist-kcl, 0.03 %), 1413 of
        # 0.01 mol/L (kcl-molar, half a digit 0.04 %)
        ({"EC": (1408.2, 1413, 0.0005)}, ("per-kilogram-for-per-litre",)),
        # discrepancies.md 7b: three protons for one, of a dose of acid
        ({"acid": (6.8, 20.7)}, ("three-protons-for-one",)),
        # discrepancies.md 7a: 25.6 for 29.2 mg/L P, the density of another acid
        ({"acid": (25.6, 29.2)}, ("acid-of-another-density",)),
        # discrepancies.md 7c: 1.13 protons, 11 % below
        ({"acid": (100 / 1.13, 100)}, ("acid-dose-of-1.13-protons",)),
        # discrepancies.md 26: the teaspoon rounded to 5 mL is rounding, no slip
        ({"N": (100 * 5 / 4.92892, 100, 0.0144 / 3**0.5)}, ()),
    ],
)
def test_documented_discrepancies_are_explained(pairs, expected):
    found = explain(pairs)
    assert expected in [c.keys for c in found.groups[0].candidates]
    assert found.finding.is_right == (expected == ())


def test_what_nothing_explains_is_wrong_all_the_same():
    found = explain({"Cl": (4, 190), "N": (100, 100), "P": (50, 61)})
    assert found.groups == ()
    assert not found.is_right
    assert found.finding.verdict == "wrong"


def published(name):
    with (PUBLISHED / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_standards_by_mass_and_by_volume_differ_by_the_density_of_water():
    """At 25 °C [kell-1975, from memory]; what is left is 0.05 %, uncertainty 0.03 % [nist-kcl]."""
    (density,) = (
        float(row["T_25"])
        for row in published("water_properties")
        if row["property"] == "density of water" and row["source_key"] == "kell-1975"
    )
    by_mass, by_volume = (
        float(row["EC_0.01m_KCl_uS_cm"])
        for row in published("conductivity_kcl_standards")
        if row["temperature_C"] == "25"
    )
    (found,) = (
        candidate
        for candidate in explain({"EC": (by_mass, by_volume, 0.0005)})
        .groups[0]
        .candidates
        if candidate.keys == ("per-kilogram-for-per-litre",)
    )
    assert found.factors["EC"] == pytest.approx(density, abs=1e-5)
    assert found.misfit_percent == pytest.approx(
        100 * (by_volume * density / by_mass - 1), abs=0.001
    )
    assert found.misfit_percent < 0.05


def test_a_slip_smaller_than_the_noise_is_none():
    """0.3 % is not told where numbers are known to 1 %, alone or beside another slip."""
    found = explain({"EC": (1.4 * 0.997, 1.0)})
    keys = {key for group in found.groups for c in group.candidates for key in c.keys}
    assert "scale-700-for-500" in keys
    assert "per-kilogram-for-per-litre" not in keys


# mg/L of a mmol/L and of a meq/L [IUPAC weights]
MILLIMOLES = {
    "N": 14.007,
    "P": 30.974,
    "K": 39.098,
    "Ca": 40.078,
    "Mg": 24.305,
    "S": 32.06,
}
CHARGES = {"Ca": 2, "Mg": 2, "S": 2}


@pytest.mark.parametrize("by_charge", [False, True])
def test_a_whole_table_of_the_wrong_unit_is_one_slip(by_charge):
    """A Steiner solution, mmol/L or meq/L under the heading mg/L [targets_mmol_per_L.csv]."""
    amounts = {"N": 12, "P": 1, "K": 7, "Ca": 4.5, "Mg": 2, "S": 3.5}
    pairs = {
        key: (
            mmol * (CHARGES.get(key, 1) if by_charge else 1),
            mmol * MILLIMOLES[key],
        )
        for key, mmol in amounts.items()
    }
    first = explain(pairs).groups[0].first
    assert first.keys == ("all-equivalents" if by_charge else "all-millimoles",)
    turned = {key: (b, a) for key, (a, b) in pairs.items()}
    words = str(explain(turned).groups[0].first)
    unit = "meq/L" if by_charge else "mmol/L"
    assert words == f"mg/L taken for {unit} throughout"


def test_quantities_as_text_are_brought_to_one_unit():
    """discrepancies.md 1: 3.5 mmol/L of sulfate are 112 mg/L S, 336 mg/L SO4."""
    found = explain({"S": ("336 mg/L", "3.5 mmol/L")})
    assert found.pairs["S"][1] == pytest.approx(112.2, abs=0.05)
    assert found.groups[0].first.keys == ("so4-as-s",)
    assert explain({"SO4": ("336 mg/L", "3.5 mmol/L")}).is_right
    assert explain({"S": ("112 ppm", "7 meq/L")}).is_right
    assert explain({"EC": ("1,41 mS/cm", "1413 µS/cm")}).is_right
    assert explain({"TDS": ("1.0 mS/cm", "500 ppm (500 scale)")}).is_right
    assert explain({"dose": ("1 oz/100 US gal", "74.89 mg/L")}).is_right  # vt-spes201
    assert explain({"hardness": ("10 German degree", "178.5 mg/L as CaCO3")}).is_right
    assert explain({"Cl": ("4 mg/L", "4 meq/L")}).groups[0].first.keys == (
        "mmol-as-mg-chloride",
    )
    assert explain({"N": ("150", "150.5")}).is_right
    assert explain({"N": ("+150 mg/L", "150.5 mg/L")}).is_right


@pytest.mark.parametrize(
    ("pair", "words"),
    [
        (("336 mg/L", 3.5), "give both as text"),
        (("336", "3.5 mmol/L"), "has no unit"),
        (("336 mg", "3.5 mmol/L"), "measures mass"),
        (("336 mg/L", "3.5 mS/cm"), "measures conductivity"),
        (("0 mg/L", "3.5 mg/L"), "S claimed"),
        (("-3 mg/L", "3.5 mg/L"), "S claimed"),
        (("1,327 mg/L", "1500 mg/L"), "is the comma a decimal mark"),
        (("336 smoots", "1 mg/L"), "smoots"),
    ],
)
def test_quantities_that_are_none_are_refused(pair, words):
    with pytest.raises(InputError, match=words):
        explain({"S": pair})


def test_the_first_of_a_group_is_the_plainest():
    """336 is three times 112 as well, but sulfate for sulfur is thought of first."""
    group = explain({"S": (336, 112)}).groups[0]
    assert group.first.keys == ("so4-as-s",)
    counts = [len(c.moves) for c in group.candidates]
    assert counts == sorted(counts)


def test_two_scales_are_told_apart_and_same_effects_are_not():
    """700 for 500 is 1.4; on P and K alone 'oxides throughout' is P2O5 for P with K2O for K."""
    assert explain({"EC": (1.4, 1.0)}).groups[0].first.keys == ("scale-700-for-500",)
    pairs = {"P": (229.14, 100), "K": (120.46, 100)}
    keys = [c.keys for c in explain(pairs).groups[0].candidates]
    assert ("all-oxides",) in keys
    assert ("p2o5-as-p", "k2o-as-k") in keys


def test_numbers_in_each_others_place():
    found = explain({"N": (200, 150), "K": (150, 200), "P": (50, 50)})
    assert found.groups[0].first.keys == ("exchanged",)
    assert str(found.groups[0].first) == "N and K exchanged"


def test_a_hydrate_moves_what_its_salt_brings():
    """Tetrahydrate for anhydrous, 236.15/164.09 (IUPAC weights); 60 % of N from it."""
    ratio = 236.15 / 164.09
    pairs = {
        "Ca": (100, 100 * ratio),
        "N": (100, 100 * (0.4 + 0.6 * ratio)),
        "K": (50, 50),
    }
    shares = {"calcium-nitrate-hydrate": {"N": 1.0}}
    assert explain(pairs, shares=shares, most_slips=1).groups == ()
    pairs["N"] = (100 * (0.4 + 0.6 / ratio), 100)
    shares = {"calcium-nitrate-hydrate": {"N": 0.6}}
    first = explain(pairs, shares=shares).groups[0].first
    assert first.keys == ("calcium-nitrate-hydrate",)


def test_published_worked_examples_are_right_within_their_rounding():
    """Each printed answer against its recomputation; whole and half ounces as noted there."""
    halves = {
        "w-oz-cn-250": 0.5,
        "w-umass-20": 0.25,
        "w-umass-15": 0.25,
        "w-5gal": 0.005,
    }
    with (PUBLISHED / "worked_examples_ppm.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) >= 10
    for row in rows:
        printed, right = float(row["published_answer"]), float(row["recomputed_answer"])
        noise = max(halves.get(row["id"], 0.0) / printed / 3**0.5, 0.001)
        found = explain({"dose": (printed, right, noise)})
        assert found.is_right, row["id"]


def test_a_sharper_claim_is_told_from_a_slip():
    """The 75 rule is 0.15 % high (discrepancies.md 4): wrong if known to 0.01 %."""
    assert not explain({"N": (11.25, 11.2337, 1e-4)}).is_right


def test_moves_are_each_given_once_and_do_something():
    found = moves_on({"N": 100.0, "P": 50.0, "EC": 1.0}, ratio=5, density=1.2)
    assert len({(m.slip, m.effects) for m in found}) == len(found)
    assert all(any(m.effects) for m in found)
    meters = [m for m in found if m.slip.key == "scale-700-for-500"]
    assert {m.scope for m in meters} == {("EC",)}
    assert not [m for m in found if m.slip.key == "calcium-chloride-hydrate"]


def test_order_does_not_matter():
    pairs = {"N": (125, 150), "P": (95.8, 50), "K": (166.7, 200)}
    turned = dict(reversed(pairs.items()))
    one, other = explain(pairs).groups[0], explain(turned).groups[0]
    assert {frozenset(c.keys) for c in one.candidates} == {
        frozenset(c.keys) for c in other.candidates
    }


def test_results_as_rows_table_and_text():
    found = explain({"N": (150, 150), "P": (114.6, 50)})
    assert found.rows()[0][:2] == (1, "p2o5-as-p")
    assert len(found.to_frame()) == len(found.rows())
    assert "P2O5 taken for P" in str(found)
    assert found.finding.what.startswith("P2O5 taken for P")
    assert "no slip" in str(explain({"N": (150, 150)}))
    assert "explains it" in str(explain({"N": (1, 1), "P": (1.07, 1), "K": (1, 1.9)}))


def test_every_fault_of_an_input_is_told_at_once():
    bad = {"N": (0, "x"), "Q": (1, 2), "P": 4, "NO3-N": (1, 2), "NO3-N ": (1, 2)}
    given = {
        "noise": 3,
        "ratio": -1,
        "density": "k",
        "shares": {"a": {}},
        "most_slips": 3,
    }
    with pytest.raises(InputError) as error:
        explain(bad, **given)
    told = str(error.value)
    for word in ("noise", "ratio", "density", "most_slips", "shares", "N claimed"):
        assert word in told
    for word in ("N computed", "'Q'", "give (claimed, computed)"):
        assert word in told
    for nothing in ({}, None, [("N", 1)], {"N": (1, float("nan"))}, {"N": (True, 1)}):
        with pytest.raises(InputError):
            explain(nothing)
    with pytest.raises(InputError, match="given twice"):
        explain({"EC": (1, 2), "ec": (1, 2)})


def test_pairs_on_a_lone_number_are_called_weak():
    """0.73 is no single slip; of many numbers the same two slips say something."""
    lone = explain({"N": (73, 100)})
    assert lone.is_weak
    assert "almost anything" in lone.finding.what
    assert "almost anything" in str(lone)
    both = {"P": (229.14 * 1.20095, 100), "K": (120.095, 100), "Ca": (120.095, 100)}
    assert not explain(both).is_weak
    assert not explain({"S": (336, 112)}).is_weak
    assert "almost anything" not in str(explain({"S": (336, 112)}))
