"""Several acids beside each other, and what the wrong way is told."""

from dataclasses import replace

import numpy as np
import pytest

from formulate.chemistry.acid_doses import fitted
from formulate.chemistry.dosing import acid_dose, compare_acids
from formulate.chemistry.speciation import speciate
from formulate.errors import InputError
from formulate.ingredients.salts import acid
from formulate.stoichiometry.solution import Solution, solution

TAP = solution({"Ca": 2.35, "HCO3": 4.7}, ph=7.4)
SOFT = solution({"Ca": 0.5, "HCO3": 1.0}, ph=5.5)
NITRIC, PHOSPHORIC = "nitric acid (67 %)", "phosphoric acid (85 %)"


def test_acids_are_compared_by_their_cost():
    dear = acid("HNO3", percent=67, density=1.4, price_per_kg=3.0)
    cheap = acid("H2SO4", percent=35, density=1.26, price_per_kg=1.0)
    every = [NITRIC, dear, "KOH", PHOSPHORIC, cheap, "KNO3"]
    found = compare_acids(TAP, every, ph=5.8)
    assert [d.ingredient for d in found[:2]] == [cheap, dear]
    assert [d.ingredient.name for d in found[2:]] == [NITRIC, PHOSPHORIC]
    assert found[0].cost(100) == pytest.approx(found[0].grams * 0.1)
    upwards = compare_acids(SOFT, [NITRIC, "KOH", "K2CO3"], ph=6.5)
    assert [d.ingredient.formula for d in upwards] == ["KOH", "K2CO3"]


def test_a_fault_of_the_solution_or_the_wish_is_told_when_acids_are_compared():
    with pytest.raises(InputError, match="no Solution"):
        compare_acids("tap", [NITRIC], ph=5.8)
    with pytest.raises(InputError, match="pH"):
        compare_acids(TAP, [NITRIC], ph=15)
    with pytest.raises(InputError, match="aqua fortissima"):
        compare_acids(TAP, ["aqua fortissima"], ph=5.8)
    with pytest.raises(InputError, match="0 to 50"):
        compare_acids(TAP, [NITRIC], ph=5.8, temperature=99)
    with pytest.raises(InputError, match="stack"):
        compare_acids(TAP, [NITRIC], ph=np.array([5.0, 6.0]))


def test_a_salt_that_buffers_counts_by_what_it_does_at_the_wanted_ph():
    """KHCO3 raises a soft acid water, KH2PO4 lowers an alkaline one: common practice."""
    acid_water = Solution({"potassium": 0.5, "nitrate": 0.51})
    assert acid_dose(acid_water, "KHCO3", ph=6.0).grams > 0
    assert acid_dose(TAP, "KH2PO4", ph=7.2).grams > 0
    (only,) = compare_acids(TAP, NITRIC, ph=5.8)
    assert only.ingredient.formula == "HNO3"


def test_a_wrong_way_in_the_open_air_names_the_ph_there():
    """The tap water stands near 8.3 in the air, above its 7.40 when closed."""
    loose = replace(fitted(TAP).solution, ph=None)
    aired = speciate(loose, air_co2_ppm=420).ph
    with pytest.raises(InputError, match=f"{aired:.2f} in balance with the air"):
        acid_dose(TAP, "KOH", ph=8.0, air_co2_ppm=420)
