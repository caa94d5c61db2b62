"""Lesson 11: each answer worked out again with masses typed here, the usual slips met by their sentences.

Standard atomic masses: IUPAC abridged values 2021 (Pure Appl. Chem. 94, 573; from memory), whole formulas added up by hand.
"""

from functools import cache, partial

import lesson_checks
import pytest
from lesson_checks import (
    CA,
    CL,
    CLOSE,
    MG,
    OX,
    H,
    K,
    N,
    P,
    S,
    follows,
    has_sets_for_a_school,
    keys,
)
from scipy.optimize import linprog

from formulate.classroom.school_salts import SchoolSalt
from formulate.ingredients.salts import salt
from formulate.recipes.nutrient_worth import usable_costs

pupils = cache(partial(lesson_checks.pupils, "11"))

ATOM = {"N": N, "Mg": MG, "P": P, "S": S, "Cl": CL, "K": K, "Ca": CA}
WATER = 2 * H + OX
SALT = {  # name: molar mass [g/mol], atoms that feed
    "potassium nitrate": (K + N + 3 * OX, {"K": 1, "N": 1}),
    "potassium sulfate": (2 * K + S + 4 * OX, {"K": 2, "S": 1}),
    "potassium chloride": (K + CL, {"K": 1, "Cl": 1}),
    "monopotassium phosphate": (K + 2 * H + P + 4 * OX, {"K": 1, "P": 1}),
    "monoammonium phosphate": (N + 6 * H + P + 4 * OX, {"N": 1, "P": 1}),
    "magnesium sulfate heptahydrate": (MG + S + 4 * OX + 7 * WATER, {"Mg": 1, "S": 1}),
    "magnesium sulfate monohydrate": (MG + S + 4 * OX + WATER, {"Mg": 1, "S": 1}),
    "magnesium nitrate hexahydrate": (
        MG + 2 * N + 6 * OX + 6 * WATER,
        {"Mg": 1, "N": 2},
    ),
    "calcium nitrate tetrahydrate": (
        CA + 2 * N + 6 * OX + 4 * WATER,
        {"Ca": 1, "N": 2},
    ),
    "calcium chloride dihydrate": (CA + 2 * CL + 2 * WATER, {"Ca": 1, "Cl": 2}),
}


def share(name, element):
    molar, atoms = SALT[name]
    return atoms.get(element, 0) * ATOM[element] / molar


def test_molar_masses_of_the_salts_are_those_of_the_table():
    for name, (molar, atoms) in SALT.items():
        assert abs(SchoolSalt(name).molar_mass / molar - 1) < 1e-4
        for element in ATOM:
            assert SchoolSalt(name).count(element) == atoms.get(element, 0)


def test_what_a_kilogram_of_nutrient_costs():
    def answer(given):
        held = share(given["salt"], given["element"])
        return given["price"] / given["size"] / held

    def slips(given, right):
        name, element = given["salt"], given["element"]
        yield given["price"] / given["size"], "of the salt"
        yield given["price"] / given["size"] * share(name, element), "dearer"
        if SALT[name][1][element] == 2:
            yield 2 * right, "more than one"

    follows(pupils(1), answer, slips)


def test_cheap_up_to_a_limit_is_the_least_cost_of_a_linear_programme():
    """The oracle is the linear programme itself, solved by SciPy [mg/L of salt]."""

    def answer(given):
        cheap, dear = given["prices"]
        found = linprog(
            [cheap, dear],
            A_eq=[
                [share("potassium chloride", "K"), share("potassium sulfate", "K")],
            ],
            b_eq=[given["wanted"]],
            A_ub=[[share("potassium chloride", "Cl"), 0]],
            b_ub=[given["most"] - given["there"]],
        )
        return found.fun * given["litres"] / 1e6

    def slips(given, right):
        for name, price, word in (
            ("potassium chloride", given["prices"][0], "too much chloride"),
            ("potassium sulfate", given["prices"][1], "the dear salt alone"),
        ):
            kilograms = given["wanted"] / share(name, "K") * given["litres"] / 1e6
            yield kilograms * price, word
        yield answer(dict(given) | {"there": 0}), "used up"

    follows(pupils(2), answer, slips)


def test_whole_scoops():
    """Tried out: of 1 to 20 scoops the one that comes nearest."""

    def answer(given):
        tried = [(n * given["scoop"] / given["exact"] - 1) * 100 for n in range(1, 21)]
        return min(tried, key=abs)

    def slips(given, right):
        tried = [(n * given["scoop"] / given["exact"] - 1) * 100 for n in range(1, 21)]
        yield sorted(tried, key=abs)[1], "lies nearer"
        yield right * given["exact"] / given["scoop"], "part of one scoop"
        yield 100 + right, "is reached"

    follows(pupils(3), answer, slips)


def test_the_sign_of_what_is_off_counts():
    one = pupils(3)[0]
    reply = one.check(f"{-one.task.answer:.4g}")
    assert reply.verdict == "slip"
    assert "sign" in reply.says


def test_the_price_at_which_two_salts_cost_the_same():
    def answer(given):
        (size, other), (one, two) = given["sizes"], given["salts"]
        per_nutrient = given["price"] / (size * share(one, given["element"]))
        return per_nutrient * other * share(two, given["element"])

    def slips(given, right):
        (size, other), (one, two) = given["sizes"], given["salts"]
        plain = given["price"] / size * other
        yield plain, "salt with salt"
        ratio = share(two, given["element"]) / share(one, given["element"])
        yield plain / ratio, "may cost more"
        yield right / other, "one kilogram"

    follows(pupils(4), answer, slips)


def test_at_that_price_the_cheapest_recipe_changes():
    """A law: a ct per kg below it the other salt alone is cheapest, a ct above it the first."""
    for one in pupils(4)[:20]:
        given, found = one.task.given, []
        (size, other), element = given["sizes"], given["element"]
        for ct in (-1, 1):
            price = one.task.answer / other * (1 + 0.01 * ct)
            best = linprog(
                [given["price"] / size, price],
                A_eq=[[share(name, element) for name in given["salts"]]],
                b_eq=[1.0],
            )
            found.append(best.x[1] > 0)
        assert found == [True, False]


def test_one_bag_fewer():
    def brought(given):
        return {n: g * share(n, given["element"]) for n, g in given["grams"].items()}

    def answer(given):
        parts = brought(given)
        return 100 * parts[given["gone"]] / sum(parts.values())

    def slips(given, right):
        grams = given["grams"]
        yield 100 * grams[given["gone"]] / sum(grams.values()), "compares salts"
        yield 100 - right, "what remains"

    follows(pupils(5), answer, slips)


def test_the_purse_of_a_tank():
    def answer(given):
        euros = sum(grams / 1000 * price for grams, price in given["rows"].values())
        return euros * 1000 / given["litres"]

    def slips(given, right):
        yield right * given["litres"] / 1000, "volume of the recipe"
        weights, prices = zip(*given["rows"].values(), strict=True)
        mean = sum(prices) / 3
        yield sum(weights) * mean / given["litres"], "mean price"

    follows(pupils(6), answer, slips)


def test_the_least_that_is_near_enough():
    """Found by trying: the least weight, in steps of a ten-thousandth, that is not below the band."""

    def reached(given, grams):
        there = grams * share(given["salt"], given["element"]) / given["litres"] * 1000
        return given["water"] + there

    def answer(given):
        low, high = 0.0, 1e5
        edge = given["wanted"] * (1 - given["percent"] / 100)
        for _ in range(100):
            middle = (low + high) / 2
            low, high = (
                (low, middle) if reached(given, middle) >= edge else (middle, high)
            )
        return high

    def slips(given, right):
        held = share(given["salt"], given["element"]) * 1000 / given["litres"]
        left = given["wanted"] - given["water"]
        yield left / held, "exact weight"
        yield given["wanted"] * (1 - given["percent"] / 100) / held, "water brings some"
        yield left * (1 - given["percent"] / 100) / held, "in all"

    follows(pupils(7), answer, slips)


def test_once_the_nitrogen_is_paid():
    def answer(given):
        worth = given["other"] / share("calcium nitrate tetrahydrate", "N")
        salt = given["price"] - worth * share("potassium nitrate", "N")
        return salt / share("potassium nitrate", "K")

    def slips(given, right):
        yield given["price"] / share("potassium nitrate", "K"), "a worth, too"
        yield right * share("potassium nitrate", "K"), "left to pay of the salt"

    follows(pupils(8), answer, slips)


def test_once_the_nitrogen_is_paid_as_the_program_counts_it():
    """A second way: the cost after credit of `usable_costs`, for a gram."""
    for one in pupils(8)[:5]:
        given = one.task.given
        shelf = [
            salt("potassium nitrate", price_per_kg=given["price"]),
            salt("calcium nitrate tetrahydrate", price_per_kg=given["other"]),
        ]
        (told,) = [c for c in usable_costs(shelf, ("N", "K")) if c.key == "K"]
        assert abs(1000 * told.credited / one.task.answer - 1) < CLOSE


@pytest.mark.parametrize("key", keys("11"))
def test_pupils_have_numbers_of_their_own(key):
    has_sets_for_a_school(key)
