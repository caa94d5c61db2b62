"""Notation: parts, brackets, counts, hydrate dots and charges, and the place of a fault."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import FormulaError
from formulate.stoichiometry.notation import (
    Item,
    Part,
    ligand_names,
    notation_fault,
    read_notation,
)

SEPARATORS = ["·", "•", "*", ".", "⋅", "∙", " · ", " •", "* "]


def items(text):
    """Return (symbol, count) of a formula that has one part and no brackets."""
    (part,), _ = read_notation(text)
    return [(item.symbol, item.count) for item in part.items]


def read_or_refused(text):
    try:
        return (*read_notation(text), None)
    except FormulaError as error:
        return None, None, error


def test_elements_stand_in_the_order_written():
    assert items("NaHCO3") == [("Na", 1), ("H", 1), ("C", 1), ("O", 3)]
    assert items("HCO3Na") == [("H", 1), ("C", 1), ("O", 3), ("Na", 1)]


@pytest.mark.parametrize(
    ("text", "symbols"),
    [
        ("CO", ["C", "O"]),
        ("Co", ["Co"]),
        ("NO", ["N", "O"]),
        ("No", ["No"]),
        ("SiO", ["Si", "O"]),
        ("SIO", ["S", "I", "O"]),
        ("HF", ["H", "F"]),
        ("Hf", ["Hf"]),
    ],
)
def test_a_capital_starts_an_element(text, symbols):
    assert [symbol for symbol, _ in items(text)] == symbols


@pytest.mark.parametrize("brackets", ["()", "[]", "{}"])
def test_brackets_of_every_shape_group(brackets):
    (part,), _ = read_notation("Ca{}NO3{}2".format(*brackets))
    group = Item(None, (Item("N", (), 1), Item("O", (), 3)), 2)
    assert part == Part(Fraction(1), (Item("Ca", (), 1), group))


def test_brackets_nest():
    (part,), _ = read_notation("K4[Fe(CN)6]3")
    inner = Item(None, (Item("C", (), 1), Item("N", (), 1)), 6)
    assert part.items[1] == Item(None, (Item("Fe", (), 1), inner), 3)


@pytest.mark.parametrize("dot", SEPARATORS)
@pytest.mark.parametrize(
    ("left", "right", "waters"),
    [("CaSO4", "2H2O", 2), ("MgSO4", "H2O", 1), ("Ca(NO3)2", "4H2O", 4)],
)
def test_every_hydrate_dot_means_the_same(dot, left, right, waters):
    parts, charge = read_notation(left + dot + right)
    assert charge == 0
    assert parts == (
        read_notation(left)[0][0],
        Part(Fraction(waters), (Item("H", (), 2), Item("O", (), 1))),
    )
    assert [part.is_water for part in parts] == [False, True]


def test_a_full_stop_with_blanks_is_a_hydrate_dot_too():
    assert read_notation("CaSO4 . 2H2O") == read_notation("CaSO4·2H2O")


def test_a_part_may_have_a_number_before_it():
    parts, _ = read_notation("5Ca(NO3)2·NH4NO3·10H2O")
    assert [part.coefficient for part in parts] == [5, 1, 10]


@pytest.mark.parametrize("half", ["0.5", "0,5", "0.50"])
def test_a_hydrate_may_hold_half_a_water(half):
    parts, _ = read_notation(f"CaSO4·{half}H2O")
    assert parts[1].coefficient == Fraction(1, 2)


@pytest.mark.parametrize(
    ("text", "plain"),
    [("KNO₃", "KNO3"), ("Ca(NO₃)₂·4H₂O", "Ca(NO3)2·4H2O"), ("SO₄²⁻", "SO4-2")],
)
def test_small_digits_are_digits(text, plain):
    assert read_notation(text) == read_notation(plain)


SPELLINGS = [
    ("SO4", -2, "SO4-2|SO4^2-|SO4²⁻|SO4 2-|SO4--|SO4 -2|SO4−2|SO₄²⁻|SO4^-2|SO4⁻²"),
    ("NO3", -1, "NO3-|NO3^-|NO3−|NO3⁻|NO3-1|NO3^1-|NO3 -|NO3 1-|NO3^-1"),
    ("Ca", 2, "Ca+2|Ca2+|Ca++|Ca^2+|Ca²⁺|Ca 2+|Ca +2|Ca^+2"),
    ("K", 1, "K+|K^+|K⁺|K+1|K1+|K 1+"),
    ("Fe", 3, "Fe+3|Fe3+|Fe+++|Fe^3+|Fe³⁺"),
    ("PO4", -3, "PO4-3|PO4---|PO4^3-|PO4³⁻|PO4 3-"),
    ("NH4", 1, "NH4+|NH4+1|NH4^+|NH4⁺"),
    ("H2PO4", -1, "H2PO4-|H2PO4-1|H2PO4⁻"),
    ("[Fe(EDTA)]", -1, "[Fe(EDTA)]-|[Fe(EDTA)]-1|[Fe(EDTA)]⁻"),
    ("Mo7O24", -6, "Mo7O24-6|Mo7O24^6-|Mo7O24⁶⁻"),
]


@pytest.mark.parametrize(
    ("text", "body", "charge"),
    [
        (text, body, charge)
        for body, charge, texts in SPELLINGS
        for text in texts.split("|")
    ],
)
def test_a_charge_in_any_spelling_is_the_same_charge(text, body, charge):
    assert read_notation(text) == (read_notation(body)[0], charge)


@pytest.mark.parametrize("text", ["SO42-", "PO43-", "CO32-", "HPO42-", "MoO42-"])
def test_a_count_run_into_a_charge_is_asked_back(text):
    with pytest.raises(FormulaError, match="count and a charge") as caught:
        read_notation(text)
    plain = f"{text[:-2]}-{text[-2]}"
    assert plain in str(caught.value)
    assert read_notation(plain)[1] == -int(text[-2])


@pytest.mark.parametrize("text", ["[Fe(H2O)6]3+", "[Fe(EDTA)]2-", "[Cu(NH3)4]2+"])
def test_a_number_between_a_square_bracket_and_a_sign_is_no_silent_count(text):
    """Chemists write the charge of a complex so; three complexes are never meant."""
    parts, charge, error = read_or_refused(text)
    counts = [item.count for item in parts[0].items] if parts else None
    assert error or (counts, charge) == ([1], int(text[-1] + text[-2]))


@pytest.mark.parametrize("text", ["Ca+-", "SO4-+", "NO3-21", "K+99", "SO4^25-"])
def test_an_impossible_charge_is_refused(text):
    with pytest.raises(FormulaError, match="charge"):
        read_notation(text)


@pytest.mark.parametrize("name", ["EDTA", "DTPA", "EDDHA", "HBED", "citrate"])
def test_a_ligand_stands_for_itself(name):
    assert name in ligand_names()
    assert items(f"NaFe{name}") == [("Na", 1), ("Fe", 1), (name, 1)]
    assert items(f"{name}2") == [(name, 2)]


def test_a_longer_ligand_is_looked_for_before_a_shorter_one():
    names = ligand_names()
    assert list(names) == sorted(names, key=len, reverse=True)


REFUSED = [
    # text, place counted from 0, words of the message
    ("", 0, "nothing there"),
    ("  ", 0, "nothing there"),
    ("Kno3", 1, "'n' at character 2"),
    ("mgso4", 0, "'m' at character 1"),
    ("Ca(NO3)2)", 8, "')' at character 9 closes no open bracket"),
    ("Ca(NO3", 2, "'(' at character 3 is not closed"),
    ("Ca(NO3]2", 6, "']' at character 7 does not match '(' at character 3"),
    ("Ca()2", 3, "nothing inside the bracket"),
    ("K0", 1, "count of 0"),
    ("0KNO3", 0, "no possible number of parts"),
    ("H999999999", 1, "too large"),
    ("KNO3·", 5, "nothing beside the dot"),
    ("·KNO3", 0, "nothing beside the dot"),
    ("KNO3··H2O", 5, "nothing beside the dot"),
    ("Xx", 0, "'Xx' at character 1 is no element"),
    ("KNo3Qq", 4, "'Qq' at character 5 is no element"),
    ("CaSO4.0.5H2O", 5, "write CaSO4·0.5H2O"),
    ("K1,5NO3", 2, "whole number"),
    ("(" * 13 + "K" + ")" * 13, 12, "12 open brackets"),
]


@pytest.mark.parametrize(("text", "place", "words"), REFUSED)
def test_a_fault_is_named_with_its_place(text, place, words):
    with pytest.raises(FormulaError) as caught:
        read_notation(text)
    assert words in str(caught.value)
    assert caught.value.position == place
    assert caught.value.text == text


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1.5KNO3", "starts with a whole number"),
        ("1,5KNO3", "starts with a whole number"),
        ("-", "no element"),
        ("^2-", "no element"),
        ("+2", "no element"),
    ],
)
def test_a_message_says_what_is_wrong_and_not_something_else(text, words):
    with pytest.raises(FormulaError, match=words):
        read_notation(text)


@given(st.data())
def test_a_foreign_character_is_found_at_its_place(data):
    """The law holds wherever it stands."""
    text = data.draw(
        st.sampled_from(
            ["Ca(NO3)2·4H2O", "5Ca(NO3)2·NH4NO3·10H2O", "K2Cu(SO4)2", "NaHCO3"]
        )
    )
    place = data.draw(st.integers(0, len(text)))
    bad = data.draw(st.sampled_from("?/=&ßЖ√"))
    with pytest.raises(FormulaError) as caught:
        read_notation(text[:place] + bad + text[place:])
    assert caught.value.position == place
    assert f"character {place + 1} " in str(caught.value)


@pytest.mark.parametrize("text", ["CaSO4 · 2H2?", "CaSO4 ·  2 H2?", "K · 2H2O·?"])
def test_blanks_around_a_dot_do_not_shift_the_place(text):
    with pytest.raises(FormulaError) as caught:
        read_notation(text)
    assert caught.value.position == text.index("?")


@given(st.text(max_size=40) | st.text("CaNOHKEDT()[]·.0123456789+-^ ", max_size=40))
def test_any_text_is_read_or_refused(text):
    parts, charge, error = read_or_refused(text)
    if error:
        assert error.text == text
        assert error.position is None or 0 <= error.position <= len(text)
    else:
        assert parts
        assert all(part.items and part.coefficient > 0 for part in parts)
        assert -20 <= charge <= 20


@pytest.mark.parametrize(
    "text", ["(" * 10_000, "(" * 10_000 + "K" + ")" * 10_000, "K" * 10**6, "·" * 10**6]
)
def test_text_far_too_long_is_refused_unread(text):
    with pytest.raises(FormulaError, match=f"{len(text)} characters, at most 200"):
        read_notation(text)


def test_a_fault_made_by_hand_carries_text_and_place():
    error = notation_fault("K2", 1, "why two")
    assert (error.text, error.position, str(error)) == ("K2", 1, "'K2': why two")
