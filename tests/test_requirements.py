"""Requirements: what each gram brings, what liquids displace, shares of nitrogen."""

import math

import pytest

from formulate.errors import FormulateError, InputError
from formulate.ingredients.dissolve import dissolve
from formulate.ingredients.ingredient import analysed
from formulate.ingredients.salts import acid, as_ingredient, salt
from formulate.ingredients.stock import blend, stock
from formulate.ingredients.water import water
from formulate.recipes.limits import amount_limit, limit
from formulate.recipes.requirements import (
    Requirement,
    amount_rows,
    brought,
    limit_rows,
    requirements_of,
    room_for_liquids,
    share_of_nitrogen,
)
from formulate.recipes.solve import solve
from formulate.recipes.target import target
from formulate.stoichiometry.solution import solution

# Standard atomic masses (CIAAW 2021, abridged) in g/mol; they carry five digits.
MASS = {
    "H": 1.008,
    "N": 14.007,
    "O": 15.999,
    "Na": 22.990,
    "Mg": 24.305,
    "P": 30.974,
    "S": 32.06,
    "Cl": 35.45,
    "K": 39.098,
    "Ca": 40.078,
}
FIVE_DIGITS = 3e-5
PURE = solution({})
# Formula, its atoms, and moles of each nutrient in a mole, counted by hand.
SALTS = [
    ("KNO3", {"K": 1, "N": 1, "O": 3}, {"K": 1, "N": 1, "NO3": 1, "K2O": 0.5}),
    ("KH2PO4", {"K": 1, "H": 2, "P": 1, "O": 4}, {"K": 1, "P": 1, "P2O5": 0.5, "N": 0}),
    (
        "Ca(NO3)2·4H2O",
        {"Ca": 1, "N": 2, "O": 10, "H": 8},
        {"Ca": 1, "N": 2, "NO3-N": 2, "NH4-N": 0},
    ),
    ("MgSO4·7H2O", {"Mg": 1, "S": 1, "O": 11, "H": 14}, {"Mg": 1, "S": 1, "SO4": 1}),
    ("(NH4)2SO4", {"N": 2, "H": 8, "S": 1, "O": 4}, {"N": 2, "NH4": 2, "S": 1}),
    ("NH4NO3", {"N": 2, "H": 4, "O": 3}, {"N": 2, "NH4-N": 1, "NO3-N": 1}),
    ("CaCl2·2H2O", {"Ca": 1, "Cl": 2, "H": 4, "O": 2}, {"Ca": 1, "Cl": 2, "Na": 0}),
]


def _molar(atoms):
    return sum(MASS[element] * count for element, count in atoms.items())


@pytest.mark.parametrize(("formula", "atoms", "moles"), SALTS)
def test_a_gram_of_salt_brings_what_its_formula_says(formula, atoms, moles):
    for key, count in moles.items():
        (coefficient,), constant = brought(key, [salt(formula)], PURE)
        expected = 1000 * count / _molar(atoms)
        assert coefficient == pytest.approx(expected, rel=FIVE_DIGITS, abs=1e-12)
        assert constant == 0


def test_purity_thins_what_a_gram_brings():
    (half,), _ = brought("K", [salt("KNO3", purity_percent=50)], PURE)
    (whole,), _ = brought("K", [salt("KNO3")], PURE)
    assert half == pytest.approx(whole / 2)


def test_an_analysis_brings_its_percentages():
    # egro-2018 (read): 645 mg/L of a 15.5-0-0, 19 % Ca bag bring 100 mg/L N, 122.6 Ca
    bag = analysed("bag", {"NO3-N": 14.4, "NH4-N": 1.1, "Ca": 19})
    (nitrogen,), _ = brought("N", [bag], PURE)
    (calcium,), _ = brought("Ca", [bag], PURE)
    assert 0.6451613 * nitrogen * MASS["N"] == pytest.approx(100, rel=FIVE_DIGITS)
    assert 0.645 * calcium * MASS["Ca"] == pytest.approx(122.6, abs=0.05)


def test_a_stock_brings_per_millilitre_and_a_blend_per_gram():
    # 1 mol/L of potassium nitrate brings 1 mmol in a millilitre, by definition
    one_molar = stock("K", {"KNO3": _molar(SALTS[0][1])}, volume=1)
    (potassium,), _ = brought("K", [one_molar], PURE)
    assert potassium == pytest.approx(1.0, rel=FIVE_DIGITS)
    both = blend("both", {"KNO3": 3, "KH2PO4": 1})
    (potassium,), _ = brought("K", [both], PURE)
    parts = 0.75 / _molar(SALTS[0][1]) + 0.25 / _molar(SALTS[1][1])
    assert potassium == pytest.approx(1000 * parts, rel=FIVE_DIGITS)


def test_room_for_liquids_counts_each_in_litres():
    # a gram of 1.40 kg/L takes 1/1.40 mL, a millilitre of a stock one
    nitric = acid("HNO3", percent=67, density=1.40)
    stirred = stock("K", {"KNO3": 100}, volume=1)
    (row,) = room_for_liquids([nitric, stirred, salt("KNO3")])
    assert row.coefficients == pytest.approx((1 / 1400, 0.001, 0.0), rel=1e-12)
    assert (row.kind, row.high) == ("hard", 1.0)
    assert room_for_liquids([salt("KNO3")]) == ()


def test_what_a_liquid_brings_does_not_count_the_water_it_displaces():
    """Else the solver would pour acid to push hard water out of the tank."""
    tap = solution({"Ca": 2.0, "NO3": 4.0})
    nitric = acid("HNO3", percent=67, density=1.40)
    assert brought("Ca", [nitric], tap) == ((0.0,), 2.0)


SHELF = [
    salt("Ca(NO3)2·4H2O"),
    salt("KH2PO4", purity_percent=98),
    as_ingredient("greenhouse calcium nitrate"),
    acid("HNO3", percent=67),
    stock("stock", {"KNO3": 80, "MgSO4·7H2O": 120}, volume=1),
    blend("blend", {"(NH4)2SO4": 1, "K2SO4": 3}),
    salt("CO(NH2)2"),
]


@pytest.mark.parametrize("key", ["N", "NH4", "P2O5", "K", "Ca", "S", "Cl", "hardness"])
def test_a_row_says_what_dissolving_gives(key):
    tap = water("hard")
    row, constant = brought(key, SHELF, tap.solution)
    grams = [0.8, 0.2, 0.1, 1.5, 6.0, 0.3, 0.05]
    made = dissolve(dict(zip(SHELF, grams, strict=True)), volume=1, water=tap)
    poured = sum(i.millilitres(g) for i, g in zip(SHELF, grams, strict=True)) / 1000
    value = constant * (1 - poured)
    value += sum(c * g for c, g in zip(row, grams, strict=True))
    assert made.mmol_l(key) == pytest.approx(value, rel=1e-12)


# --- the rows of a target --------------------------------------------------------------


def _by_name(rows):
    return {row.name: row for row in rows}


def test_each_wanted_value_is_a_row_in_mmol_scaled_to_itself():
    tap = solution({"K": 0.5})
    rows = requirements_of(target({"K": 200, "P": 31}), [salt("KH2PO4")], tap)
    row = _by_name(rows)["K 200.0 mg/L"]
    assert row.kind == "wanted"
    assert row.low == row.high == row.scale
    assert row.high == pytest.approx(200 / MASS["K"], rel=FIVE_DIGITS)
    assert (row.constant, row.weight, row.key, row.origin) == (0.5, 1.0, "K", "target")


def test_wanted_nothing_is_a_ceiling_with_a_scale_of_its_own():
    rows = requirements_of(target({"Cl": 0, "K": 5}), [salt("KCl")], PURE)
    row = _by_name(rows)["Cl as little as possible"]
    # mattson-peters-2014 (read): 70 mg/L Cl is the ideal limit in recirculating culture
    assert (row.low, row.high, row.origin) == (0, 0, "target")
    assert row.scale == pytest.approx(70 / MASS["Cl"], rel=FIVE_DIGITS)
    assert 0 < row.weight < 1


def test_sodium_and_chloride_are_kept_low_only_where_nobody_names_them():
    def low(wanted):
        shelf = [salt("KCl"), salt("NaNO3")]
        rows = requirements_of(target(wanted), shelf, PURE)
        return [row.key for row in rows if row.origin == "kept low"]

    assert low({"K": 5}) == ["Na", "Cl"]
    assert low({"K": 5, "Cl": 10}) == ["Na"]
    assert low({"K": 5, "Cl": 0, "Na2O": 3}) == []


def test_what_the_water_brings_is_left_out_of_keeping_low():
    shelf = [salt("NaCl"), acid("HNO3", percent=67)]
    rows = requirements_of(target({"K": 5}), shelf, water("hard").solution)
    low = [row for row in rows if row.origin == "kept low"]
    assert {"Na", "Cl"} == {row.key for row in low}
    for row in low:
        assert row.coefficients[1] == 0  # the acid holds none
        assert row.constant == 0


def test_a_trace_salt_is_no_filler():
    """Of two recipes that are equal else, the one without manganese; by hand, 1 mmol/L."""
    shelf = ["MnSO4·H2O", "KNO3", "K2SO4", "Ca(NO3)2·4H2O"]
    recipe = solve(target({"SO4": 1, "K": 3}, unit="mmol/L"), shelf, volume=100)
    assert "MnSO4·H2O" not in recipe.masses
    assert recipe.masses["K2SO4"] == pytest.approx(17.426, rel=1e-4)  # 174.26 g/mol


def test_a_trace_that_is_the_only_source_stops_where_plants_are_harmed():
    # least (1 - x)^2 + (54.938 x / 5 - 1)^2 for x mmol/L of manganese sulfate, 5 mg/L Mn
    # being the limit of the table: x = (1 + 10.988) / (1 + 10.988^2) = 0.09848, 5.410 mg/L
    recipe = solve(target({"SO4": 1}, unit="mmol/L"), ["MnSO4·H2O"], volume=100)
    assert recipe.solution.mg_l("Mn") == pytest.approx(5.410, rel=1e-3)
    assert any(notice.what.startswith("Mn 5.410") for notice in recipe.notices)


# --- shares of nitrogen ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("low", "high", "names"),
    [
        (0, 0.15, ["NH4-N at most 15 % of N"]),
        (0.1, 1, ["NH4-N at least 10 % of N"]),
        (0.07, 0.3, ["NH4-N at most 30 % of N", "NH4-N at least 7 % of N"]),
        (0, 1, []),
        (0, 0, ["NH4-N at most 0 % of N"]),
    ],
)
def test_a_share_is_at_most_two_hard_rows_named_in_words(low, high, names):
    rows = share_of_nitrogen("NH4-N", low, high, [salt("NH4NO3")], PURE)
    assert [row.name for row in rows] == names
    assert all(row.kind == "hard" for row in rows)


@pytest.mark.parametrize("grams", [(1, 0, 0), (1, 9, 0), (1, 0, 5), (0, 3, 1)])
def test_a_share_row_turns_at_the_share_and_counts_the_water(grams):
    shelf = [salt("(NH4)2SO4"), salt("KNO3"), salt("CO(NH2)2")]
    tap = solution({"NH4": 0.2, "NO3": 1.0})
    (row,) = share_of_nitrogen("NH4-N", 0, 0.15, shelf, tap)
    value = row.constant + sum(
        c * g for c, g in zip(row.coefficients, grams, strict=True)
    )
    moles = [
        1000 * g / m for g, m in zip(grams, (132.134, 101.102, 60.056), strict=True)
    ]
    ammonium = 0.2 + 2 * moles[0]
    nitrogen = 1.2 + 2 * moles[0] + moles[1] + 2 * moles[2]
    assert value == pytest.approx(ammonium - 0.15 * nitrogen, rel=1e-4, abs=1e-9)
    assert (value <= row.high) == (ammonium / nitrogen <= 0.15)


def test_the_share_becomes_a_hard_row_of_the_target():
    rows = requirements_of(target({"N": 150}), [salt("KNO3")], PURE)
    assert "NH4-N at most 15 % of N" in _by_name(rows)
    rows = requirements_of(target({"N": 150, "NH4-N": 9}), [salt("KNO3")], PURE)
    assert not [row for row in rows if row.kind == "hard"]


# --- the rows of limits and amounts ----------------------------------------------------


def _value(row, grams):
    pairs = zip(row.coefficients, grams, strict=True)
    return row.constant + sum(c * g for c, g in pairs)


@pytest.mark.parametrize(
    ("subject", "text", "of_solution"),
    [
        ("K", "at most 5", lambda s: s.mmol_l("K") * MASS["K"]),
        ("Ca", "at least 5", lambda s: s.mmol_l("Ca") * MASS["Ca"]),
        (
            "K:Ca",  # K less 1.5 Ca
            "at most 1.5",
            lambda s: s.mmol_l("K") * MASS["K"] - 1.5 * s.mmol_l("Ca") * MASS["Ca"],
        ),
    ],
)
def test_a_limit_row_counts_salts_and_water(subject, text, of_solution):
    shelf = [salt("KNO3"), salt("Ca(NO3)2·4H2O"), salt("MgSO4·7H2O")]
    tap = solution({"Ca": 1.0, "Na": 0.4, "NO3": 2.4})
    (row,) = limit_rows(limit(subject, text), shelf, tap)
    grams = [0.5, 0.7, 0.2]
    made = dissolve(dict(zip(shelf, grams, strict=True)), volume=1)
    both = solution(
        {key: made.mmol_l(key) + tap.mmol_l(key) for key in ("K", "Ca", "Mg")}
    )
    assert row.kind == "hard"
    assert _value(row, grams) == pytest.approx(of_solution(both), rel=1e-4)


def test_alkalinity_row_of_acid_and_alkali_by_hand():
    shelf = [acid("HNO3", percent=67), salt("KHCO3"), salt("KNO3")]
    (row,) = limit_rows(limit("alkalinity", "at most 1"), shelf, PURE)
    bicarbonate = MASS["K"] + MASS["H"] + 12.011 + 3 * MASS["O"]
    nitric = MASS["H"] + MASS["N"] + 3 * MASS["O"]
    expected = (-670 / nitric, 1000 / bicarbonate, 0.0)
    assert row.coefficients == pytest.approx(expected, rel=FIVE_DIGITS, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "ends"),
    [
        ("at most 20 g", [(-math.inf, 0.5)]),
        ("at least 20 g", [(0.5, math.inf)]),
        ("exactly 20 g", [(0.5, 0.5)]),
        ("none", [(0.0, 0.0)]),
        ("10 to 20 g", [(0.25, math.inf), (-math.inf, 0.5)]),
    ],
)
def test_an_amount_is_a_row_over_one_ingredient_per_litre(text, ends):
    shelf = [salt("KH2PO4"), salt("KNO3")]
    rows = amount_rows(amount_limit("KNO3", text, shelf[1], 40), shelf, 40)
    assert [(row.low, row.high) for row in rows] == ends
    assert {row.coefficients for row in rows} == {(0.0, 1.0)}
    assert all(row.name.startswith("amount of KNO3") for row in rows)


def test_a_range_is_a_row_with_two_ends_scaled_to_its_middle():
    rows = requirements_of(target({"K": "100-300"}), [salt("KNO3")], PURE)
    row = _by_name(rows)["K 100.0 to 300.0 mg/L"]
    ends = (row.low, row.scale, row.high)
    expected = tuple(value / MASS["K"] for value in (100, 200, 300))
    assert ends == pytest.approx(expected, rel=FIVE_DIGITS)


def test_weights_of_the_target_are_those_of_its_rows():
    wish = target({"K": 200, "P": 31, "Cl": 0}, weights={"K": 3, "Cl": 2})
    rows = {row.key: row for row in requirements_of(wish, [salt("KCl")], PURE)}
    assert (rows["K"].weight, rows["P"].weight) == (3.0, 1.0)
    assert rows["Cl"].weight == pytest.approx(2 * 0.3**2)


# --- rows that cannot be ---------------------------------------------------------------

NAN, INF = math.nan, math.inf


@pytest.mark.parametrize(
    "facts",
    [
        {"low": 2, "high": 1},
        {"low": NAN, "high": 1},
        {"low": 0, "high": NAN},
        {"low": INF, "high": INF},
        {"low": -INF, "high": -INF},
        {"low": "a"},
        {"low": None},
        {"low": 10**400, "high": 10**400},
        {"low": 0, "constant": INF},
        {"low": 0, "scale": 0},
        {"low": 0, "scale": -1},
        {"low": 0, "scale": NAN},
        {"low": 0, "scale": "a"},
        {"low": 0, "weight": -1},
        {"low": 0, "weight": INF},
        {"low": 0, "kind": "soft"},
        {"low": 0, "coefficients": (NAN,)},
        {"low": 0, "coefficients": ("a",)},
        {"low": 0, "coefficients": None},
        {"low": 0, "coefficients": 1.0},
    ],
    ids=lambda facts: str(facts)[:30],
)
def test_a_row_that_cannot_be_is_refused_by_name(facts):
    with pytest.raises(InputError, match="my row"):
        Requirement(**({"name": "my row", "coefficients": (1.0,)} | facts))


def test_a_row_without_any_bound_is_told_to_have_none():
    with pytest.raises(FormulateError, match=r"least|greatest|bound"):
        Requirement("my row", (1.0,))


def test_a_row_with_one_bound_is_fine():
    assert Requirement("at most", (1.0,), high=3).low == -INF
    assert Requirement("at least", (1.0,), low=3, kind="hard").high == INF
