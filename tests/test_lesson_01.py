"""Exercises of lesson 01 worked out again with atomic weights and definitions typed here."""

from functools import partial

import lesson_checks
import pytest
from lesson_checks import CA, MG, OX, H, K, N, P, S, agrees, has_sets_for_a_school, keys

pupils = partial(lesson_checks.pupils, "01")
is_slip = partial(lesson_checks.is_slip, form=".8g")

SHARES = {  # mg of the element in a gram of the salt, crystal water in it
    ("potassium nitrate", "K"): 1000 * K / (K + N + 3 * OX),
    ("magnesium sulfate heptahydrate", "Mg"): 1000 * MG / (MG + S + 11 * OX + 14 * H),
    ("monopotassium phosphate", "P"): 1000 * P / (K + 2 * H + P + 4 * OX),
    ("potassium sulfate", "K"): 1000 * 2 * K / (2 * K + S + 4 * OX),
    ("potassium sulfate", "S"): 1000 * S / (2 * K + S + 4 * OX),
    ("calcium nitrate tetrahydrate", "Ca"): 1000 * CA / (CA + 2 * N + 10 * OX + 8 * H),
}
# exact by definition, NIST Handbook 44 appendix C: 1 lb = 453.59237 g of 16 oz; a US gallon 231 cubic inches of 2.54 cm
OUNCE = 453.59237 / 16
GALLON = 231 * 2.54**3 / 1000
IMPERIAL = 4.54609  # L, exact by UK law


@pytest.mark.parametrize("key", keys("01"))
def test_there_are_a_thousand_sets_of_numbers(key):
    has_sets_for_a_school(key)


def test_dose_for_a_tank():
    for one in pupils(1):
        dose, left, tank = (one.task.given[k] for k in ("dose", "left", "tank"))
        agrees(one, (tank - left) * dose / 10)
        is_slip(one, tank * dose / 10, "feed already")
        is_slip(one, (tank - left) * dose, "not for one litre")
        is_slip(one, left * dose / 10, "that was left")


def test_grams_in_litres():
    for one in pupils(2):
        given = one.task.given
        each = SHARES[given["salt"], given["key"]]
        agrees(one, given["grams"] * each / given["tank"])
        is_slip(one, given["grams"] * 1000 / given["tank"], "whole salt")
        is_slip(one, given["grams"] * each, "whole tank")


def test_from_jug_to_tank():
    for one in pupils(3):
        given = one.task.given
        agrees(one, given["grams"] / (given["jug"] / 1000) * given["tank"])
        is_slip(one, given["grams"] * given["tank"], "one litre")
        is_slip(one, given["grams"] * given["jug"] / 1000 * given["tank"], "divide")
        is_slip(one, given["grams"] / given["jug"] * given["tank"], "one unit")


def test_ounces_for_gallons():
    for one in pupils(4):
        given = one.task.given
        litre = given["ounces"] * OUNCE / (100 * GALLON)
        agrees(one, litre * given["tank"])
        agrees(one, given["ounces"] * 0.07489 * given["tank"])  # 74.89 mg/L to the oz
        is_slip(one, litre, "strength")
        is_slip(one, given["ounces"] * OUNCE / 100 * given["tank"], "gallon were")
        is_slip(
            one, given["ounces"] * OUNCE / 100 / IMPERIAL * given["tank"], "imperial"
        )


def test_thinner_for_seedlings():
    for one in pupils(5):
        given = one.task.given
        wanted, water, share = (given[k] for k in ("wanted", "water", "share"))
        agrees(one, wanted * share - water)
        assert one.task.answer > 0
        is_slip(one, (wanted - water) * share, "always brings")
        is_slip(one, wanted * share, "brings some")
        is_slip(one, wanted - water, "full strength")


SAVED = {
    "Ca": "calcium nitrate tetrahydrate",
    "Mg": "magnesium sulfate heptahydrate",
    "S": "potassium sulfate",
}


def test_what_the_water_saves():
    for one in pupils(6):
        given = one.task.given
        each = SHARES[SAVED[given["key"]], given["key"]]
        alone = given["water"] * given["tank"] / 1000
        agrees(one, alone / each * 1000)
        assert SAVED[given["key"]] in one.question
        is_slip(one, alone, "alone")
        is_slip(one, alone * each / 1000, "more salt than")
        is_slip(one, given["water"] / each, "one litre")


def test_how_long_a_bag_lasts():
    for one in pupils(7):
        given = one.task.given
        batches = given["bag"] * 1000 / given["grams"]
        agrees(one, batches / (given["drunk"] / given["batch"]))
        assert one.check(f"{24 * one.task.answer:.6g} h").right
        is_slip(one, batches, "batches")
        is_slip(one, batches * given["batch"], "litres")
        is_slip(one, batches * given["drunk"] / given["batch"], "divides")


def test_by_the_label():
    for one in pupils(8):
        given = one.task.given
        salts, litres = given["wanted"] - given["water"], given["tank"]
        alone = salts * litres / 1000
        agrees(one, alone / (given["percent"] / 100))
        is_slip(
            one, given["wanted"] * litres / 10 / given["percent"], "water brings some"
        )
        is_slip(one, alone, "alone")
        is_slip(one, salts / 10 / given["percent"], "one litre")


def test_exactly_one_line_of_the_sheet_cannot_be():
    seen = set()
    for one in pupils(9):
        tank, off = one.task.given["tank"], []
        rows = zip("ABCD", one.task.given["sheet"], strict=True)
        for letter, (salt, key, grams, _, printed) in rows:
            true = grams * SHARES[salt, key] / tank
            if abs(printed / true - 1) > 0.01:  # three digits leave 0.5 %
                off.append(letter)
                assert abs(printed / true - 1) > 0.08
            else:
                assert one.check(letter).verdict == "slip"
                assert "is it not what the sheet says" in one.check(letter).says
        assert off == [one.task.right]
        seen |= set(off)
    assert seen == set("ABCD")
