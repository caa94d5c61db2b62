"""Bands that can be kept: hand arithmetic and scipy alone are the judges."""

import numpy as np
import pytest
from priced_problems import LOW, MASS, closest, least_alone, priced_recipe

from formulate.errors import Infeasible
from formulate.ingredients.salts import salt
from formulate.recipes.bands import reach_of, reachable_bands
from formulate.recipes.requirement import Requirement
from formulate.recipes.solve import solve
from formulate.recipes.target import target

STEP = 1e-4  # a common share is rounded up to 0.01 %


def bands_of(recipe, share):
    return reachable_bands(recipe.requirements, len(recipe.ingredients), share)


def ends(rows, key):
    """Return the band of a key as shares of its middle."""
    (row,) = (row for row in rows if row.key == key)
    return row.low / row.scale - 1, row.high / row.scale - 1


# Epsom salt brings Mg and S one to one: 40 mg/L Mg is 1.6458 mmol, 20 mg/L S 0.6238 mmol.
EPSOM = {"Mg": 40, "S": 20, "K": 200}
MG, SULFUR = 40 / MASS["Mg"], 20 / MASS["S"]


def epsom(**given):
    return solve(
        target({**EPSOM, **given}), [salt("MgSO4·7H2O"), salt("KCl")], volume=10
    )


def test_only_what_conflicts_gives_way():
    # x mmol of it: 1 - x/MG = x/SULFUR - 1 at the least worst deviation.
    x = 2 / (1 / MG + 1 / SULFUR)
    share = 1 - x / MG
    rows, told = bands_of(epsom(), 0.05)
    assert ends(rows, "K") == pytest.approx((-0.05, 0.05), abs=2e-7)
    for key in ("Mg", "S"):
        low, high = ends(rows, key)
        assert share <= high <= share + STEP + 1e-6
        assert low == pytest.approx(-high)
    (notice,) = (one for one in told if "is the least" in one.what)
    assert notice.what.startswith("Mg, S: 5 % cannot be kept")
    assert notice.number == pytest.approx(share, abs=STEP)
    assert notice.severity == "caution"


def test_narrow_bands_give_way_first():
    # S may be 60 % over, so x = 1.6 SULFUR and Mg is off by 1 - 1.6 SULFUR/MG = 39.4 %.
    rows, _ = bands_of(epsom(), {"Mg": 0.05, "S": 0.6, "K": 0.01})
    share = 1 - 1.6 * SULFUR / MG
    assert ends(rows, "S") == pytest.approx((-0.6, 0.6), rel=1e-6)
    assert ends(rows, "K") == pytest.approx((-0.01, 0.01), abs=2e-7)
    assert ends(rows, "Mg")[1] == pytest.approx(share, abs=STEP)


def test_bands_that_hold_stay_as_they_are():
    rows, told = bands_of(epsom(), 0.5)
    assert {key: ends(rows, key)[1] for key in EPSOM} == {
        key: pytest.approx(0.5, rel=1e-6) for key in EPSOM
    }
    assert not [notice for notice in told if "cannot be" in notice.what]


def test_what_no_salt_brings_is_out_of_reach():
    rows, told = bands_of(epsom(P=30), 0.5)
    assert ends(rows, "P")[0] == pytest.approx(-1, abs=2 * STEP)
    (notice,) = (one for one in told if one.what.startswith("P"))
    assert "cannot be brought within 50 %: at best -100.0 %" in notice.what
    assert ends(rows, "K")[1] == pytest.approx(0.5, rel=1e-6)  # nobody else gives way


def test_a_limit_puts_out_of_reach():
    # At most 3 g in 10 L: 0.3 g of KCl a litre bring 0.3/74.55 mol of K.
    recipe = solve(
        target({"K": 200}), [salt("KCl")], volume=10, amounts={"KCl": "at most 3 g"}
    )
    rows, told = bands_of(recipe, 0.05)
    reached = 0.3 / 74.548 * 1000 * MASS["K"] / 200 - 1
    assert ends(rows, "K")[0] == pytest.approx(reached, abs=2 * STEP)
    assert told[0].number == pytest.approx(reached, abs=1e-4)


def test_the_exact_recipe_has_no_say():
    # Weights move the exact recipe, and with it nothing here.
    plain, pulled = epsom(), epsom()
    heavy = target(EPSOM, weights={"Mg": 50})
    pulled = solve(heavy, pulled.ingredients, volume=10)
    assert pulled.optimum.amounts[0] > 1.5 * plain.optimum.amounts[0]
    one, two = (bands_of(recipe, 0.05)[0] for recipe in (plain, pulled))
    for key in EPSOM:
        assert ends(one, key) == pytest.approx(ends(two, key), abs=1e-9)


def test_what_is_kept_low_is_let_in_only_as_must_be():
    # K from KCl alone: 200 mg/L bring 181.3 mg/L of Cl, its scale is 70 mg/L. A percent of K
    # weighs more than what chloride that brings (2.6 % of its scale, weight 0.1).
    recipe = solve(target({"K": 200}), [salt("KCl")], volume=10)
    rows, told = bands_of(recipe, 0.01)
    assert ends(rows, "K") == pytest.approx((-0.01, 0.01), rel=1e-6)
    (low,) = (row for row in rows if row.key == "Cl")
    chloride = 200 / MASS["K"]
    assert low.high == pytest.approx(chloride, rel=1e-4)
    (notice,) = (one for one in told if "let in" in one.what)
    assert notice.number == pytest.approx(chloride / LOW["Cl"] - 1, rel=1e-4)


@pytest.mark.parametrize("part", range(3))
def test_random_shelves_by_scipy_alone(part):
    rng = np.random.default_rng(40 + part)
    widened = 0
    for _ in range(30):
        recipe = priced_recipe(rng)
        share = float(rng.choice([0.02, 0.05, 0.15]))
        rows, told = bands_of(recipe, share)
        alone = {key: least_alone(recipe, key) for key in recipe.target.wanted}
        out = {key for key, off in alone.items() if off > share + 1e-6}
        assert {n.what.split()[0] for n in told if "cannot be brought" in n.what} == out
        own = {key: alone[key] for key in out}
        if any("let in" in notice.what for notice in told):
            continue
        worst = closest(recipe, own)
        gave = [n for n in told if "is the least" in n.what]
        assert bool(gave) == (worst > share + 1e-6)
        if gave:
            assert 0 <= gave[0].number - worst + 1e-7 <= STEP + 2e-7
            widened += 1
        for key in set(alone) - out:
            low, high = ends(rows, key)
            wide = gave[0].number if gave else share
            assert high == pytest.approx(-low)
            assert min(abs(high - share), abs(high - wide)) <= 2e-7
    assert widened > 3


def test_the_bands_hold_together():
    # Scipy alone finds amounts within the final rows, random shelves.
    from scipy.optimize import linprog

    rng = np.random.default_rng(9)
    for _ in range(40):
        recipe = priced_recipe(rng)
        rows, _ = bands_of(recipe, float(rng.choice([0.0, 0.05, 0.2])))
        hard = [r for r in (*recipe.requirements, *rows) if r.kind == "hard"]
        upper, most = [], []
        for row in hard:
            own = np.array(row.coefficients)
            for sign, end in ((1.0, row.high), (-1.0, -row.low)):
                if np.isfinite(end):
                    upper.append(sign * own / row.scale)
                    most.append(end / row.scale)
        found = linprog(0 * own, A_ub=np.array(upper), b_ub=most, method="highs")
        assert found.status == 0
        for row in rows:
            if row.key in LOW:
                assert row.high >= LOW[row.key] * (1 - 1e-9)


def test_hard_rows_that_conflict_are_told():
    rows = [
        Requirement("low", (1.0,), high=1.0, kind="hard"),
        Requirement("high", (1.0,), low=2.0, kind="hard"),
        Requirement("K", (1.0,), 1.5, 1.5, scale=1.5, key="K"),
    ]
    with pytest.raises(Infeasible):
        reach_of(rows, 1, 0.05)


def test_nothing_wanted_needs_no_band():
    rows, told = reachable_bands(
        [Requirement("K", (1.0,), high=1.0, kind="hard")], 1, 0.1
    )
    assert rows == ()
    assert told == ()
