"""Exercises of lesson 10 worked out again with atomic weights typed here and errors added by hand."""

import re
from functools import partial
from math import sqrt

import lesson_checks
import pytest
from lesson_checks import (
    CU,
    MN,
    MO,
    NA,
    OX,
    ZN,
    H,
    K,
    N,
    P,
    S,
    agrees,
    has_sets_for_a_school,
    keys,
)

pupils = partial(lesson_checks.pupils, "10")
is_slip = partial(lesson_checks.is_slip, form=".8g")

POTASSIUM = {  # mg of K in a gram
    "potassium nitrate": 1000 * K / (K + N + 3 * OX),
    "potassium sulfate": 1000 * 2 * K / (2 * K + S + 4 * OX),
    "monopotassium phosphate": 1000 * K / (K + 2 * H + P + 4 * OX),
}
TRACES = {  # mg of the metal in a gram, crystal water in it
    "manganese sulfate monohydrate": 1000 * MN / (MN + S + 5 * OX + 2 * H),
    "zinc sulfate heptahydrate": 1000 * ZN / (ZN + S + 11 * OX + 14 * H),
    "copper sulfate pentahydrate": 1000 * CU / (CU + S + 9 * OX + 10 * H),
    "sodium molybdate dihydrate": 1000 * MO / (2 * NA + MO + 6 * OX + 4 * H),
}


@pytest.mark.parametrize("key", keys("10"))
def test_there_are_a_thousand_sets_of_numbers(key):
    has_sets_for_a_school(key)


def test_half_a_step():
    for one in pupils(1):
        step, grams = one.task.given["step"], one.task.given["grams"]
        assert round(grams / step, 6) == round(grams / step)  # as the balance shows it
        agrees(one, 100 * (step / 2) / grams)
        is_slip(one, 100 * step / grams, "rounded")
        is_slip(one, step / 2, "Those are grams")


def test_litres_to_weigh_for():
    for one in pupils(2):
        given = one.task.given
        least = given["step"] / 2 / (given["percent"] / 100)
        litres = 1000 * least / given["each"]
        agrees(one, litres)
        of_it = litres * given["each"] / 1000  # g: half a step is that share of it
        assert given["step"] / 2 / of_it == pytest.approx(given["percent"] / 100)
        is_slip(one, 2 * litres, "whole step")
        is_slip(one, 1000 * given["step"] / 2 / given["each"], "all of it")
        is_slip(one, least, "grams")


def test_two_errors_together():
    """The root of the sum of squares of relative errors, for a quotient [JCGM 100:2008, 5.1.6, from memory]."""
    for one in pupils(3):
        given = one.task.given
        weight = 100 * given["step"] / 2 / given["grams"]
        volume = 100 * given["off"] / 1000 / given["jug"]
        agrees(one, sqrt(weight**2 + volume**2))
        is_slip(one, weight + volume, "worst case")
        is_slip(one, weight**2 + volume**2, "step is missing")
        is_slip(one, max(weight, volume), "the other counts")


def test_potassium_at_worst():
    for one in pupils(4):
        given = one.task.given
        step, tank, salts = given["step"], given["tank"], given["salts"]
        has = sum(g * POTASSIUM[s] for g, s in zip(given["grams"], salts, strict=True))
        more = sum(
            (g + step / 2) * POTASSIUM[s]
            for g, s in zip(given["grams"], salts, strict=True)
        )
        worst = (more - has) / tank
        agrees(one, worst)
        is_slip(one, 2 * worst, "whole step")
        squares = sum((step / 2 * POTASSIUM[s] / tank) ** 2 for s in salts)
        is_slip(one, sqrt(squares), "likely")
        is_slip(one, max(POTASSIUM[s] for s in salts) * step / 2 / tank, "Both salts")


def decimals_of(text):
    return len(text.partition(".")[2])


def significant(text):
    digits = text.replace(".", "").lstrip("0")
    return len(digits if "." in text else digits.rstrip("0"))


def test_exactly_one_line_prints_the_digits_that_are_known():
    """One digit of the doubt, the value to the same place: the common rule of laboratory courses, no source."""
    letters = set()
    for one in pupils(5):
        given, fit = one.task.given, []
        doubt = given["value"] * given["percent"] / 100
        for letter, option in one.task.options.items():
            value, left = re.match(r"([\d.]+) ± ([\d.]+) mg/L$", option.words).groups()
            one_digit = significant(left) == 1
            places = decimals_of(value) == decimals_of(left)
            near = abs(float(left) - doubt) <= 0.25 * doubt  # 2.5 may be written 2
            assert places
            if one_digit and near and abs(float(value) - given["value"]) <= doubt:
                fit.append(letter)
        assert fit == [one.task.right], str(one)
        letters |= set(fit)
    assert letters == set("ABCD")


def test_millilitres_of_stock():
    for one in pupils(6):
        given = one.task.given
        needs = given["wanted"] * given["tank"]
        strong = given["grams"] * TRACES[given["salt"]] / given["stock"]
        agrees(one, needs / strong)
        assert one.check(f"{needs / strong / 1000:.6g} L").right
        is_slip(one, needs / (1000 * given["grams"] / given["stock"]), "were all")
        is_slip(one, given["wanted"] / strong, "one litre")
        is_slip(one, needs, "mg of")


WORDS = {
    "steps of the balance": "balance",
    "purity": "purity",
    "mark": "mark",
    "molar mass": "mass",
}


def test_exactly_one_source_leaves_most():
    seen = set()
    for one in pupils(7):
        given = one.task.given
        leaves = {
            "balance": 100 * given["step"] / 2 / given["grams"],
            "purity": (99.8 - given["low"]) / 2,
            "mark": 100 * given["off"] / given["tank"],
            "mass": 100 * 0.05 / (K + N + 3 * OX),
        }
        largest, second, *_ = sorted(leaves, key=leaves.get, reverse=True)
        assert leaves[largest] > 1.4 * leaves[second]
        named = {
            letter: next(name for word, name in WORDS.items() if word in option.words)
            for letter, option in one.task.options.items()
        }
        assert sorted(named.values()) == sorted(leaves)
        assert named[one.task.right] == largest
        for letter, name in named.items():
            if name != largest:
                said = float(re.search(r"± ([\d.]+) %", one.check(letter).says)[1])
                assert said == pytest.approx(leaves[name], rel=0.06)  # two digits
        seen.add(largest)
    assert seen == {"balance", "purity", "mark"}


def test_moist_salt():
    for one in pupils(8):
        given = one.task.given
        in_a_gram = given["bag"] / given["now"]
        agrees(one, given["grams"] / in_a_gram)
        assert given["now"] > given["bag"]
        is_slip(one, given["grams"] * in_a_gram, "more or less")
        is_slip(one, given["grams"], "no salt")
