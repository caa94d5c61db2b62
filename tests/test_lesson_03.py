"""The exercises of lesson 03, each worked out again from its numbers, with masses typed here.

Atomic masses: IUPAC abridged standard atomic weights (CIAAW 2021, five figures), from memory.
"""

from functools import partial

import lesson_checks
import pytest
from lesson_checks import agrees, given, has_sets_for_a_school, is_slip, keys

pupils = partial(lesson_checks.pupils, "03", called="class 9b,")

H, C, N, OXYGEN, P, S, K = 1.008, 12.011, 14.007, 15.999, 30.974, 32.06, 39.098
K2O, P2O5 = 2 * K + OXYGEN, 2 * P + 5 * OXYGEN
SULFUR = {"S": S, "SO3": S + 3 * OXYGEN, "SO4": S + 4 * OXYGEN}
NO3, NH4, UREA = N + 3 * OXYGEN, N + 4 * H, C + OXYGEN + 2 * (N + 2 * H)
H2PO4, PO3 = 2 * H + P + 4 * OXYGEN, P + 3 * OXYGEN


@pytest.mark.parametrize("key", keys("03"))
def test_pupils_have_numbers_of_their_own(key):
    has_sets_for_a_school(key)


def test_factors_are_those_of_handbooks():
    """K2O × 0.8302 = K, P2O5 × 0.4364 = P: fertiliser handbooks, from memory."""
    assert round(2 * K / K2O, 4) == 0.8302
    assert round(2 * P / P2O5, 4) == 0.4364


def test_potassium_of_potash():
    for one in pupils(1):
        potash, phosphate = given(one, "potash", "phosphate")
        agrees(one, potash * 0.8302)
        is_slip(one, potash, "That is K₂O")
        is_slip(one, potash / 0.8302, "other way round")
        is_slip(one, potash * K / K2O, "two K")
        of_the_other = phosphate * 0.8302
        if abs(of_the_other / (potash * 0.4364) - 1) > 0.1:
            is_slip(one, potash * 0.4364, "share of its own")
        assert one.check(of_the_other).verdict == "slip"


def test_phosphorus_in_the_bag():
    for one in pupils(2):
        pack, phosphate = given(one, "pack", "phosphate")
        counted = pack * phosphate / 100
        agrees(one, counted * 0.4364)
        is_slip(one, counted, "That is P₂O₅")
        is_slip(one, counted * P / P2O5, "two P")
        is_slip(one, counted / 0.4364, "other way round")
        is_slip(one, phosphate / 100 * 0.4364, "one kilogram")


def test_grade_to_litre():
    for one in pupils(3):
        grade, grams, volume, symbol = given(one, "grade", "grams", "volume", "symbol")
        nitrogen, phosphate, potash = grade
        percent, factor = {"P": (phosphate, 0.4364), "K": (potash, 0.8302)}[symbol]
        counted = grams * 1000 / volume * percent / 100
        assert 0.4 <= grams / volume <= 2.0  # g/L, as feeds are made
        assert sum(grade) <= 60
        agrees(one, counted * factor)
        is_slip(one, counted, "the question asks for")
        is_slip(one, counted * factor * volume, "all litres")
        is_slip(one, grams * 10 / volume * nitrogen * factor, "nitrogen")
        other = phosphate + potash - percent
        if other != nitrogen:
            assert one.check(grams * 10 / volume * other * factor).verdict == "slip"


def test_three_forms_of_nitrogen():
    for one in pupils(4):
        nitric, ammoniacal, ureic, dose = given(
            one, "nitric", "ammoniacal", "ureic", "dose"
        )
        agrees(one, (nitric + ammoniacal + ureic) * 10 * dose)
        of_ions = nitric * N / NO3 + ammoniacal * N / NH4 + ureic * 2 * N / UREA
        is_slip(one, of_ions * 10 * dose, "as N already")
        is_slip(one, nitric * 10 * dose, "nitric nitrogen alone")
        is_slip(one, (nitric + ammoniacal) * 10 * dose, "left out")


def test_sulfur_three_ways():
    for one in pupils(5):
        printed, asked, share, dose = given(one, "printed", "asked", "share", "dose")
        in_feed = share * 10 * dose
        ratio = SULFUR[asked] / SULFUR[printed]
        (third,) = set(SULFUR) - {printed, asked}
        agrees(one, in_feed * ratio)
        is_slip(one, in_feed, "as the bag has it")
        is_slip(one, in_feed / ratio, "other way round")
        is_slip(one, in_feed * SULFUR[third] / SULFUR[printed], "the recipe counts")


def test_two_labels():
    for one in pupils(6):
        potash, element, grams = given(one, "potash", "element", "grams")
        agrees(one, grams * potash * 0.8302 / element)
        is_slip(one, grams * potash / element, "same thing")
        is_slip(one, grams * potash / 0.8302 / element, "wrong way")
        is_slip(one, grams * element / (potash * 0.8302), "other way round")


def test_label_of_a_blend():
    for one in pupils(7):
        first, second, low, high = given(one, "first", "second", "low", "high")
        right = (first * low + second * high) / (first + second)
        agrees(one, right)
        is_slip(one, (low + high) / 2, "equal parts")
        is_slip(one, low + high, "do not add")
        is_slip(one, right * 0.8302, "That is K")


def carried(label):
    """Return what carries the lines of a label. [g in 100 g]"""
    return (
        label["nitric"] * NO3 / N
        + label["ammoniacal"] * NH4 / N
        + label["ureic"] * UREA / (2 * N)
        + label["phosphate"] * 2 * H2PO4 / P2O5
        + label["potash"] * 2 * K / K2O
    )


def faults_on(label):
    """Return the letters of what is against arithmetic on a label, by hand."""
    nitrogen = label["nitric"] + label["ammoniacal"] + label["ureic"]
    found = {
        "A": abs(nitrogen - label["total"]) > 0.05,
        "B": abs(label["phosphate"] * 0.4364 - label["phosphorus"]) > 0.06,
        "C": abs(label["potash"] * 0.8302 - label["potassium"]) > 0.06,
        "D": carried(label) > 100,
    }
    return "".join(letter for letter, at_fault in found.items() if at_fault)


def test_one_thing_on_the_label_cannot_be():
    for one in pupils(8):
        label = one.task.given
        assert faults_on(label) == one.task.answer
        for letter in set("ABCD") - {one.task.answer}:
            assert one.check(letter).verdict == "slip"
        for key in label:
            assert f"{label[key]:.1f}" in [row[1] for row in one.task.table]


def test_a_fault_on_a_label_is_wide_and_no_room_is_no_room_in_any_form():
    """Off by 0.8 points at least; without room also were all phosphate PO3, the lightest that dissolves."""
    for one in pupils(8):
        label = one.task.given
        spare = label["phosphate"] * 2 * (H2PO4 - PO3) / P2O5
        nitrogen = label["nitric"] + label["ammoniacal"] + label["ureic"]
        off = {
            "A": abs(nitrogen - label["total"]),
            "B": abs(label["phosphate"] * 0.4364 - label["phosphorus"]),
            "C": abs(label["potash"] * 0.8302 - label["potassium"]),
            "D": carried(label) - spare - 100,
        }
        assert off[one.task.answer] > 0.75
        assert label["total"] + label["phosphate"] + label["potash"] < 100


def test_all_faults_are_asked():
    assert {one.task.answer for one in pupils(8)} == set("ABCD")
