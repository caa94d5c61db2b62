"""Prices at which the cheapest recipe changes: solved again on both sides of each."""

from dataclasses import replace

import numpy as np
import pytest
from priced_problems import priced_recipe

from formulate.errors import InputError
from formulate.ingredients.ingredient import analysed
from formulate.ingredients.salts import salt
from formulate.recipes.cheapest import cheapest
from formulate.recipes.price_changes import price_changes
from formulate.recipes.solve import solve
from formulate.recipes.target import target

STEP = 1e-4  # share by which a price is moved beyond where the recipe changes


def repriced(recipe, name, price):
    """Return the recipe with another price of one ingredient, its amounts as they are."""
    shelf = tuple(
        replace(i, price=price) if i.name == name else i for i in recipe.ingredients
    )
    return replace(recipe, ingredients=shelf)


def amount_at(found, name, price):
    """Return amounts and cost of the cheapest recipe at another price of one ingredient."""
    again = cheapest(repriced(found.exact, name, price))
    place = [i.name for i in found.exact.ingredients].index(name)
    return float(again.recipe.optimum.amounts[place]) * 100, again.cost


def test_two_sources_of_nitrate_by_hand():
    # 70 g of N in a kilogram at 1.00, 175 g at 3.00: a gram costs 0.01429 and 0.01714. They
    # are even at 3.00 × 70/175 = 1.20 for the one, 1.00 × 175/70 = 2.50 for the other.
    weak = analysed("weak", {"NO3-N": 7}, price=1.0)
    strong = analysed("strong", {"NO3-N": 17.5}, price=3.0)
    found = cheapest(solve(target({"NO3-N": 100}), [weak, strong], volume=100))
    first, second = price_changes(found)
    assert first.above == pytest.approx(1.2)
    assert first.replaced_by == ("strong",)
    assert first.below is None
    assert second.below == pytest.approx(2.5)
    assert second.displaced == ("weak",)
    assert second.above is None
    assert second.amount == 0
    # 95 mg/L of N at 70 g in a kilogram: 1.357 g/L
    assert first.amount == pytest.approx(95 / 70 * 100, rel=1e-6)


def test_nothing_takes_the_place_of_an_only_source():
    found = cheapest(
        solve(target({"K": 200}), [salt("KNO3", price_per_kg=2)], volume=10)
    )
    (only,) = price_changes(found)
    assert (only.below, only.above) == (None, None)


def test_even_prices_change_at_once():
    # Two bags of the same contents at one price: any rise of the one that is used changes
    # the recipe, any fall of the other too.
    first = analysed("first", {"NO3-N": 10}, price=1.0)
    second = analysed("second", {"NO3-N": 10}, price=1.0)
    found = cheapest(solve(target({"NO3-N": 100}), [first, second], volume=100))
    one, two = price_changes(found)
    used, unused = (one, two) if one.amount else (two, one)
    assert used.above == pytest.approx(1.0)
    assert unused.below == pytest.approx(1.0)


@pytest.mark.parametrize("part", range(3))
def test_solved_again_on_both_sides(part):
    rng = np.random.default_rng(40 + part)
    moved = 0
    for _ in range(4):
        found = cheapest(priced_recipe(rng, least=8, most=14))
        for change in price_changes(found):
            name, now = change.name, change.amount
            if change.below is None:
                _, cost = amount_at(found, name, 0.0)
                assert cost == pytest.approx(
                    found.cost - change.price * now / 1000, abs=1e-7 * found.cost
                )
            else:
                assert change.below <= change.price
                more, _ = amount_at(found, name, change.below * (1 - STEP))
                assert more > now * (1 + 1e-6) + 1e-7
                moved += 1
                if change.below < change.price * (1 - 2 * STEP):
                    same, _ = amount_at(found, name, change.below * (1 + STEP))
                    assert same == pytest.approx(now, rel=1e-5, abs=1e-6)
            if not now:
                assert change.above is None
            elif change.above is None:
                dear, _ = amount_at(found, name, 1e4 * change.price)
                assert dear == pytest.approx(now, rel=1e-5)
            else:
                assert change.above >= change.price
                less, _ = amount_at(found, name, change.above * (1 + STEP))
                assert less < now * (1 - 1e-6)
                moved += 1
                if change.above > change.price * (1 + 2 * STEP):
                    same, _ = amount_at(found, name, change.above * (1 - STEP))
                    assert same == pytest.approx(now, rel=1e-5, abs=1e-6)
    assert moved > 10


def test_what_changes_places_is_named_rightly():
    rng = np.random.default_rng(2)
    named = 0
    for _ in range(5):
        found = cheapest(priced_recipe(rng, least=8, most=14))
        shelf = [i.name for i in found.exact.ingredients]
        now = found.recipe.optimum.amounts
        for change in price_changes(found):
            if change.above is None or not change.replaced_by:
                continue
            dear = repriced(found.exact, change.name, change.above * (1 + STEP))
            then = cheapest(dear).recipe.optimum.amounts
            rising = {shelf[j] for j in np.flatnonzero(then > now * (1 + 1e-5) + 1e-8)}
            assert rising & set(change.replaced_by)
            named += 1
    assert named > 3


def test_table_and_text():
    bags = [salt("KNO3", price_per_kg=2), salt("K2SO4", price_per_kg=1)]
    found = cheapest(solve(target({"K": 200, "NO3-N": 60}), bags, volume=100))
    changes = price_changes(found)
    assert changes.to_frame().shape == (2, 7)
    assert len(changes.rows()) == 2
    text = str(changes)
    assert "KNO3: 2.000 per kg" in text
    assert "less of it" in text


def test_only_the_result_of_cheapest():
    with pytest.raises(InputError, match="is no cheapest recipe"):
        price_changes("a recipe")
