"""Exercises of lesson 08 worked out again with masses and constants typed here."""

from functools import partial

import lesson_checks
import pytest
from lesson_checks import (
    CA,
    CL,
    MG,
    OX,
    H,
    K,
    N,
    P,
    S,
    agrees,
    given,
    has_sets_for_a_school,
    keys,
)

pupils = partial(lesson_checks.pupils, "08")
is_slip = partial(lesson_checks.is_slip, form=".8f")

WATER = 2 * H + OX
NITRATE, SULFATE, PHOSPHATE = N + 3 * OX, S + 4 * OX, 2 * H + P + 4 * OX
AMMONIUM = N + 4 * H
MASSES = {
    "potassium nitrate": K + NITRATE,
    "calcium nitrate tetrahydrate": CA + 2 * NITRATE + 4 * WATER,
    "calcium chloride dihydrate": CA + 2 * CL + 2 * WATER,
    "magnesium sulfate heptahydrate": MG + SULFATE + 7 * WATER,
    "magnesium nitrate hexahydrate": MG + 2 * NITRATE + 6 * WATER,
    "potassium sulfate": 2 * K + SULFATE,
    "ammonium sulfate": 2 * AMMONIUM + SULFATE,
    "monopotassium phosphate": K + PHOSPHATE,
    "monoammonium phosphate": AMMONIUM + PHOSPHATE,
}
EPSOM, CALCIUM = "magnesium sulfate heptahydrate", "calcium nitrate tetrahydrate"
GYPSUM = CA + SULFATE + 2 * WATER
BRUSHITE = CA + H + P + 4 * OX + 2 * WATER
# solubility products at 25 °C: gypsum as WATEQ4F and phreeqc have it (pq386-wateq4f, read),
# CaHPO4·2H2O from NIST 46 (pq386-minteqv4, read)
PK_GYPSUM, PK_BRUSHITE = 4.58, 6.62
PK_PHOSPHATE = 7.20  # H2PO4- to HPO4-2, as handbooks print it, from memory


@pytest.mark.parametrize("key", keys("08"))
def test_there_are_a_thousand_sets_of_numbers(key):
    has_sets_for_a_school(key)


def test_calcium_beside_epsom_salt():
    for one in pupils(1):
        epsom, gamma = given(one, "epsom", "gamma")
        sulfate = epsom / MASSES[EPSOM]  # mol/L
        calcium = 10**-PK_GYPSUM / gamma**2 / sulfate
        right = calcium * MASSES[CALCIUM]
        agrees(one, right)
        is_slip(one, right * gamma, "Both ions")
        is_slip(one, right * gamma**2, "as they are")
        dry = MASSES[EPSOM] - 7 * WATER
        is_slip(one, right * dry / MASSES[EPSOM], "Epsom salt is weighed")


def test_more_calcium_keeps_than_the_hand_calculation_says():
    """As the remark says: the chemistry counts pairs, so the mixture is below saturation."""
    from formulate.mixing.sequence import simulate_mixing

    for one in pupils(1)[:10]:
        epsom = one.task.given["epsom"]
        both = {CALCIUM: one.task.answer, EPSOM: epsom}
        log = simulate_mixing(both, volume=1)
        assert log.steps[-1].index < 0


def test_gypsum_that_falls():
    for one in pupils(2):
        strong, weak, litres, left = given(one, "strong", "weak", "litres", "left")
        sulfate = weak * litres / MASSES[EPSOM]  # mol
        calcium = strong * litres / MASSES[CALCIUM]
        stays = left / 1000 * 2 * litres
        assert calcium > sulfate > stays
        agrees(one, (sulfate - stays) * GYPSUM)
        is_slip(one, sulfate * GYPSUM, "was measured")
        is_slip(one, (sulfate - stays / 2) * GYPSUM, "both volumes")
        is_slip(one, (sulfate - stays) * (CA + SULFATE), "two waters")


def test_locked_up():
    atoms = {"S": S, "Ca": CA, "P": P}
    seen = set()
    for one in pupils(3):
        names = ("solid", "element", "wanted", "tank", "grams")
        solid, element, wanted, tank, grams = given(one, *names)
        whole = {"gypsum": GYPSUM, "brushite": BRUSHITE}[solid]
        meant = wanted * tank / 1000  # g
        right = 100 * grams * atoms[element] / whole / meant
        agrees(one, right)
        assert 11 < right < 66
        is_slip(one, 100 * grams / meant, "as if all were")
        if abs(right - 50) > 2:
            is_slip(one, 100 - right, "left in the feed")
        waterless = right * whole / (whole - 2 * WATER)
        is_slip(one, waterless, "two waters")
        seen.add((solid, element))
    assert len(seen) == 3


def test_two_tanks():
    """By ion products: 0.06 of calcium times sulfate counts in a beaker (lesson 08, step 4).

    Of phosphate in its own acid solution, pH 4.3, one in 10^(7.2 − 4.3) is HPO4, and an eighth
    counts of its product with calcium (γ 0.35 each).
    """
    for one in pupils(4):
        grams, splits = given(one, "grams", "splits")
        keeps = [letter for letter, first in splits.items() if clear(grams, first)]
        assert keeps == [one.task.right], str(one)
        for letter in set("ABCD") - set(keeps):
            assert "calcium" in one.check(letter).says


def clear(grams, first):
    tanks = [set(first), set(grams) - set(first)]
    room = 2 if not tanks[1] else 1
    return all(tank_is_clear(grams, tank, room) for tank in tanks)


def tank_is_clear(grams, tank, room):
    def moles(word):
        return sum(grams[n] / MASSES[n] / room for n in tank if word in n)

    calcium = moles("calcium")
    hydrogen_phosphate = moles("phosphate") * 10 ** (4.3 - PK_PHOSPHATE)
    gypsum = 0.06 * calcium * moles("sulfate")
    brushite = 0.12 * calcium * hydrogen_phosphate
    return gypsum < 10**-PK_GYPSUM and brushite < 10**-PK_BRUSHITE


def test_grams_for_a_concentrate():
    atoms = {"K": K, "Ca": CA, "Mg": MG, "P": P}
    keys = {
        "potassium nitrate": "K",
        "calcium nitrate tetrahydrate": "Ca",
        "magnesium sulfate heptahydrate": "Mg",
        "monopotassium phosphate": "P",
    }
    for one in pupils(5):
        salt, wanted, times, litres = given(one, "salt", "wanted", "times", "litres")
        feed = litres * times  # L that the concentrate makes
        nutrient = wanted * feed / 1000  # g
        right = nutrient / atoms[keys[salt]] * MASSES[salt]
        agrees(one, right)
        is_slip(one, right / times, "concentrate is stronger")
        is_slip(one, nutrient, "alone")
        is_slip(one, right / litres, "one litre")


def test_concentrates_keep_at_ten_degrees():
    """Grams in 100 g of water at 10 °C, waterless (crc-solubility, read): KNO3 21.4, KH2PO4 17.5."""
    limits = {"potassium nitrate": 214, "monopotassium phosphate": 175}
    for one in pupils(5):
        salt, litres = given(one, "salt", "litres")
        if salt in limits:
            assert one.task.answer / litres < limits[salt]


def test_concentrate_for_a_tank():
    for one in pupils(6):
        tank, rest, times, percent = given(one, "tank", "rest", "times", "percent")
        right = (tank - rest) / times * percent / 100
        agrees(one, right)
        is_slip(one, tank / times * percent / 100, "already")
        is_slip(one, (tank - rest) / times, "full strength")
        is_slip(one, 2 * right, "asked is A alone")


def test_a_worn_injector():
    for one in pupils(7):
        wanted, times, feed, taken = given(one, "wanted", "times", "feed", "taken")
        concentrate = wanted * times  # mg/L of N in it
        right = concentrate * taken / 1000 / feed
        agrees(one, right)
        assert 0.07 < abs(right / wanted - 1) < 0.26
        is_slip(one, wanted**2 / right, "stronger")
        is_slip(one, wanted, "meant")
        is_slip(one, abs(right - wanted), "how far it is off")


def test_a_cold_night():
    # grams of waterless salt in 100 g of solution at 0, 10 and 20 °C (crc-solubility, read)
    percent = {
        "potassium nitrate": (12.0, 17.6, 24.2),
        "monopotassium phosphate": (11.74, 14.91, 18.25),
        "potassium sulfate": (7.11, 8.46, 9.95),
    }
    for one in pupils(8):
        salt, water, grams = given(one, "salt", "water", "grams")
        cold, warm = (p / (100 - p) * 1000 * water for p in percent[salt][1:])
        assert cold < grams < warm
        # the table shows one decimal: half of it is 0.5 g for each litre
        assert one.task.answer == pytest.approx(grams - cold, abs=0.5 * water + 0.01)
        is_slip(one, grams - one.task.answer, "stays dissolved")
        frost = percent[salt][0]
        shown = round(frost / (100 - frost) * 100, 1)
        is_slip(one, grams - 10 * shown * water, "frost")
        assert one.check(f"{one.task.answer:.4g} g").right
