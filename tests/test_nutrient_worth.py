"""What a gram of usable nutrient costs: prices over grams, by hand and at random."""

from dataclasses import replace

import numpy as np
import pytest
from priced_problems import plain_salts

from formulate.errors import FormulateError, InputError
from formulate.ingredients.ingredient import analysed
from formulate.ingredients.salts import salt
from formulate.ingredients.shelf import nutrient_costs
from formulate.recipes.nutrient_worth import usable_costs

# Mass shares by hand, atomic masses CIAAW 2021, abridged.
N_KNO3, K_KNO3 = 14.007 / 101.1023, 39.0983 / 101.1023
K_KCL = 39.0983 / 74.5483
N_AN = 28.014 / 80.043  # both forms of ammonium nitrate


def of(costs, key, name):
    (row,) = (row for row in costs.rows() if row[:2] == (key, name))
    return row[2:]


def test_saltpetre_by_hand():
    bags = [salt("KNO3", price_per_kg=1.3), salt("KCl", price_per_kg=0.5)]
    costs = usable_costs(bags, ["N", "K"])
    potassium = 0.5 / 1000 / K_KCL  # cheapest potassium on the shelf
    whole, credited = of(costs, "N", "KNO3")
    assert whole == pytest.approx(1.3 / 1000 / N_KNO3, rel=1e-5)
    assert credited == pytest.approx(
        (1.3 / 1000 - K_KNO3 * potassium) / N_KNO3, rel=1e-5
    )
    whole, credited = of(costs, "K", "KCl")
    assert whole == credited == pytest.approx(potassium, rel=1e-5)


def test_both_forms_of_nitrogen_count():
    (row,) = usable_costs([salt("NH4NO3", price_per_kg=0.7)], ["N"]).rows()
    assert row[2] == pytest.approx(0.7 / 1000 / N_AN, rel=1e-5)


def test_credit_never_pays_for_more_than_the_bag():
    # 10 % N and 20 % K at 1.00; K alone costs 0.01 a gram: 200 g of it are worth 2.00.
    bags = [
        analysed("both", {"NO3-N": 10, "K": 20}, price=1.0),
        analysed("dear", {"K": 10}, price=1.0),
    ]
    costs = usable_costs(bags, ["N", "K"])
    assert of(costs, "N", "both") == (pytest.approx(0.01), 0.0)


def test_urea_counts_only_if_asked():
    mixed = analysed("mixed", {"NO3-N": 5, "urea-N": 15}, price=1.0)
    assert of(usable_costs([mixed], ["N"]), "N", "mixed")[0] == pytest.approx(0.02)
    both = usable_costs([mixed], ["N"], urea=True)
    assert of(both, "N", "mixed")[0] == pytest.approx(0.005)
    assert any("urea" in notice.what for notice in usable_costs([mixed], ["N"]).notices)
    assert not both.notices


def test_whole_costs_are_those_of_the_shelf():
    bags = [salt("KNO3", price_per_kg=1.3), salt("KH2PO4", price_per_kg=1.8)]
    known = {(key, name): cost for key, name, cost in nutrient_costs(bags)}
    for key, name, whole, _ in usable_costs(bags, ["NO3-N", "P", "K"]).rows():
        assert whole == pytest.approx(known[key, name], rel=1e-12)


def test_random_shelves_by_grams():
    rng = np.random.default_rng(4)
    keys, mass = ("N", "P", "K", "Ca"), (14.007, 30.973762, 39.0983, 40.078)
    salts = plain_salts()
    for _ in range(30):
        picked = rng.choice(len(salts), 8, replace=False)
        bags = [replace(salts[j], price=float(rng.lognormal(0, 1))) for j in picked]
        grams = np.array(
            [
                [b.amount(k) * m / 1000 for k, m in zip(keys, mass, strict=True)]
                for b in bags
            ]
        )
        price = np.array([bag.price for bag in bags]) / 1000
        with np.errstate(divide="ignore", invalid="ignore"):
            whole = np.where(grams > 0, price[:, None] / grams, np.inf)
        cheapest = np.where(np.isfinite(whole.min(axis=0)), whole.min(axis=0), 0.0)
        found = {row[:2]: row[2:] for row in usable_costs(bags, keys).rows()}
        assert len(found) == (grams > 0).sum()
        for j, bag in enumerate(bags):
            for k, key in enumerate(keys):
                if not grams[j, k]:
                    continue
                rest = float(grams[j] @ cheapest - grams[j, k] * cheapest[k])
                left = max(price[j] - rest, 0.0) / grams[j, k]
                assert found[key, bag.name] == (
                    pytest.approx(whole[j, k], rel=1e-4),
                    pytest.approx(left, rel=1e-3, abs=1e-4 * whole[j, k]),
                )


def test_cheapest_first_and_in_order_of_the_keys():
    bags = [salt("KNO3", price_per_kg=1.3), salt("KCl", price_per_kg=0.5)]
    bags.append(salt("K2SO4", price_per_kg=0.9))
    rows = usable_costs(bags, ["K", "N"]).rows()
    assert [row[0] for row in rows] == ["K", "K", "K", "N"]
    costs = [row[2] for row in rows if row[0] == "K"]
    assert costs == sorted(costs)


def test_a_gift_costs_nothing():
    costs = usable_costs([salt("KNO3", price_per_kg=0.0)], ["N", "K"])
    assert {row[2:] for row in costs.rows()} == {(0.0, 0.0)}


def test_what_has_no_price_is_told():
    costs = usable_costs([salt("KNO3"), salt("KCl", price_per_kg=0.5)])
    assert any("no price, so left out: KNO3" in notice.what for notice in costs.notices)
    assert any("brings N, P" in notice.what for notice in costs.notices)
    assert [row[1] for row in costs.rows()] == ["KCl"]
    assert costs.to_frame().shape == (1, 4)
    assert "KCl" in str(costs)


def test_every_fault_at_once():
    with pytest.raises(InputError) as caught:
        usable_costs(["KNO3", 5, "KNO3"], ["N", "NO3-N", "Xx", "P2O5"], urea="yes")
    text = str(caught.value)
    for words in ("ingredient 2", "twice", "'Xx'", "'P2O5'", "urea: 'yes'"):
        assert words in text


@pytest.mark.parametrize("keys", ["N", [], 5, None])
def test_keys_are_a_list(keys):
    with pytest.raises(FormulateError, match="keys"):
        usable_costs(["KNO3"], keys)
