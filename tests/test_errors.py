"""Errors carry what was found, keep it on the way, and collect every fault of an input."""

import ast
import copy
import pickle

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from formulate import errors
from formulate.errors import (
    AmbiguousName,
    Faults,
    FormulaError,
    FormulateError,
    Infeasible,
    InputError,
    MissingData,
    NoConvergence,
    OutOfReach,
    RangeWarning,
    UnitError,
    UnknownName,
    shortened,
)

KINDS = [
    (InputError, ValueError),
    (FormulaError, InputError),
    (UnitError, InputError),
    (UnknownName, LookupError),
    (AmbiguousName, UnknownName),
    (MissingData, LookupError),
    (Infeasible, ValueError),
    (OutOfReach, Infeasible),
    (NoConvergence, ArithmeticError),
]
TEXTS = st.lists(st.text(max_size=30), min_size=1, max_size=5)


@pytest.mark.parametrize(("kind", "builtin"), KINDS)
def test_each_error_is_ours_and_python_knows_its_kind(kind, builtin):
    assert issubclass(kind, FormulateError)
    assert issubclass(kind, builtin)


def test_every_error_of_the_module_is_in_the_list():
    known = {FormulateError, *(kind for kind, _ in KINDS)}
    found = {
        thing
        for thing in vars(errors).values()
        if isinstance(thing, type) and issubclass(thing, Exception)
    }
    assert found == known | {RangeWarning}


def test_a_range_warning_warns_and_is_no_error():
    assert issubclass(RangeWarning, UserWarning)
    assert not issubclass(RangeWarning, FormulateError)


@given(TEXTS)
def test_every_fault_is_kept_and_printed(texts):
    error = FormulateError(*texts)
    assert error.faults == tuple(texts)
    assert all(text in str(error) for text in texts)


def test_one_fault_is_printed_alone_and_several_are_counted():
    assert str(InputError("no water given")) == "no water given"
    assert str(InputError("a", "b", "c")) == "3 faults:\n- a\n- b\n- c"


@pytest.mark.parametrize(
    "error",
    [
        InputError("a", "b"),
        FormulaError("a", text="Kno3", position=1, suggestion="KNO3"),
        AmbiguousName("a", readings=["US gal", "imp gal"]),
        Infeasible("a", requirements=["N", "EC"]),
        NoConvergence("a", state=(1.0, 2.0)),
    ],
    ids=lambda error: type(error).__name__,
)
@pytest.mark.parametrize(
    "again", [copy.copy, copy.deepcopy, lambda e: pickle.loads(pickle.dumps(e))]
)
def test_an_error_keeps_all_it_carries_between_processes(error, again):
    other = again(error)
    assert type(other) is type(error)
    assert str(other) == str(error)
    assert vars(other) == vars(error)


def test_names_to_choose_from_are_tuples():
    assert AmbiguousName("a", readings=["x"]).readings == ("x",)
    assert Infeasible("a", requirements=["x"]).requirements == ("x",)
    assert AmbiguousName("a").readings == ()


def test_nothing_found_raises_nothing():
    faults = Faults("water")
    with faults.collecting("Ca"):
        pass
    faults.raise_if_any()
    assert faults.found == []


@given(TEXTS, TEXTS)
@example(["Ca", "Ca: no number", "no number of Ca"], [""])
def test_faults_come_in_the_order_found(first, second):
    faults = Faults("water")
    with faults.collecting("Ca"):
        raise UnitError(*first)
    for text in second:
        faults.add(text)
    with pytest.raises(InputError) as caught:
        faults.raise_if_any()
    assert caught.value.faults == (
        *(f"water: {t}" if t.startswith("Ca") else f"water: Ca: {t}" for t in first),
        *(f"water: {text}" for text in second),
    )


def test_raising_twice_says_the_same():
    faults = Faults()
    faults.add("a")
    said = []
    for _ in range(2):
        with pytest.raises(InputError) as caught:
            faults.raise_if_any()
        said.append(caught.value.faults)
    assert said == [("a",), ("a",)]


def test_a_lone_error_keeps_its_kind_and_place():
    faults = Faults()
    with faults.collecting():
        raise FormulaError("a", text="K0", position=1)
    with pytest.raises(FormulaError) as caught:
        faults.raise_if_any()
    assert caught.value.position == 1


def test_two_errors_become_one_input_error():
    faults = Faults()
    for error in (UnitError("a"), UnknownName("b")):
        with faults.collecting():
            raise error
    with pytest.raises(InputError) as caught:
        faults.raise_if_any()
    assert type(caught.value) is InputError
    assert caught.value.faults == ("a", "b")


def test_a_mistake_of_the_program_is_not_swallowed():
    faults = Faults("water")
    with pytest.raises(ZeroDivisionError), faults.collecting():
        raise ZeroDivisionError
    assert faults.found == []


@given(st.text(max_size=200), st.integers(3, 80))
def test_shortened_text_fits_and_keeps_both_ends(text, longest):
    kept = ast.literal_eval(shortened(text, longest))
    assert len(kept) <= longest
    if len(text) <= longest:
        assert kept == text
    else:
        half = (longest - 3) // 2
        assert kept.startswith(text[:half] + "...")
        assert kept.endswith("..." + text[len(text) - half :])


@pytest.mark.parametrize("thing", [None, 5, b"K", [], {"a": 1}, object()])
def test_anything_can_stand_in_a_message(thing):
    assert ast.literal_eval(shortened(thing)) == str(thing)[:60]


def test_a_number_too_long_to_print_can_stand_in_a_message():
    """Python refuses to print whole numbers of more than 4300 digits."""
    assert len(shortened(10**5000)) <= 62
