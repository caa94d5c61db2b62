"""The page of equations: it is what the docstrings say, and each equation has a test."""

import math
import re

import pytest
import reference_equations as page
from reference_calls import pieces_of_tests

import formulate as fm
from formulate.errors import MissingData
from formulate.ingredients.water_checks import _sum_of_ions
from formulate.ingredients.water_suitability import _sodium_adsorption_ratio
from formulate.tables import source

PAGE = page.ROOT / "reference" / "equations.md"
EQUATIONS = page.equations()
NAMES = [f"{each.module}:{each.name}:{each.gives}" for each in EQUATIONS]
REFRESH = "write it anew: python tests/make_reference.py"


def without_places(text):
    """Return a page without line numbers and tests: both move at every edit."""
    rows = [re.sub(r"#L\d+", "", line).split(" | ") for line in text.splitlines()]
    return [row[:3] + row[4:] if len(row) == 5 else row for row in rows]


def test_the_page_is_what_the_docstrings_say():
    kept = PAGE.read_text(encoding="utf-8")
    assert without_places(kept) == without_places(page.equations_page()), REFRESH


def test_there_are_equations_on_every_floor_that_computes():
    assert len(EQUATIONS) > 80
    assert {each.folder for each in EQUATIONS} >= {
        *("stoichiometry", "ingredients", "chemistry", "recipes", "mixing", "claims"),
    }


@pytest.mark.parametrize("each", EQUATIONS, ids=NAMES)
def test_each_equation_has_a_test_and_a_source(each):
    assert page.checked_by(each)
    assert each.keys
    for key in each.keys:
        assert source(key).title


def test_no_test_is_picked_that_does_not_exist_or_calls_something_else():
    missing = []
    shown = {(e.path.removeprefix("formulate/"), e.name): [] for e in EQUATIONS}
    for each in EQUATIONS:
        shown[each.path.removeprefix("formulate/"), each.name] += [
            f"{test.file}::{test.name}" for test, _ in page.checked_by(each)
        ]
    for (file, function, _), tests in page.picked().items():
        found = shown.get((file, function), [])
        missing += [(file, function, test) for test in tests if test not in found]
    assert missing == []


def test_each_test_that_the_page_shows_exists():
    shown = re.findall(r"\]\(\.\./tests/(test_\w+)\.py#L\d+\)", PAGE.read_text("utf-8"))
    names = re.findall(r"\[(test_\w+)\]\(\.\./tests/", PAGE.read_text("utf-8"))
    assert len(shown) == len(names) > 80
    gone = [
        f"{file}.{name}"
        for file, name in zip(shown, names, strict=True)
        if f"{file}.{name}" not in pieces_of_tests()
    ]
    assert gone == [], REFRESH


def test_a_block_that_looks_like_an_equation_is_one():
    """Whatever stands behind "Equation" in a docstring is read, none is passed over."""
    written = sum(
        len(re.findall(r"^ *Equation\b.*::$", path.read_text("utf-8"), re.MULTILINE))
        for path in (page.ROOT / "formulate").rglob("*.py")
    )
    assert written == len(EQUATIONS)


def test_reading_an_equation():
    text = '"""First.\n\nEquation of a sum [a; b]::\n\n    c = a + b\n    d = c\n\nMore.\n"""\n'
    (found,) = page.equations_of(text, "formulate/chemistry/sum.py")
    assert (found.gives, found.lines) == ("a sum", ("c = a + b", "d = c"))
    assert (found.keys, found.line, found.folder) == (("a", "b"), 1, "chemistry")


def test_an_equation_without_a_source_is_refused():
    text = '"""First.\n\nEquation [no-such-key]::\n\n    c = a + b\n"""\n'
    (found,) = page.equations_of(text, "formulate/chemistry/sum.py")
    with pytest.raises(MissingData, match="no-such-key"):
        page.paper(*found.keys)


# --- equations that no other test holds --------------------------------------------------


def test_sodium_adsorption_ratio_by_hand():
    """Na 10, Ca 4, Mg 2 meq/L: 10 / √((4 + 2)/2) = 10 / √3."""
    tap = fm.water({"Na": "10 mmol/L", "Ca": "2 mmol/L", "Mg": "1 mmol/L"})
    assert _sodium_adsorption_ratio(tap) == pytest.approx(10 / math.sqrt(3), rel=1e-12)
    assert _sodium_adsorption_ratio(fm.water({"Na": "10 mmol/L"})) is None


def test_residue_of_a_water_by_hand():
    """0.6 of the alkalinity as CaCO3 and the other ions, in mg/L (sm-1030e, memory)."""
    told = {"Ca": 80, "Mg": 15, "Na": 23, "K": 2, "Cl": 35, "SO4": 48, "NO3": 12}
    tap = fm.water({key: f"{value} mg/L" for key, value in told.items()} | {
        "alkalinity": "200 mg/L as CaCO3", "pH": 7.5,
    })  # fmt: skip
    assert _sum_of_ions(tap) == pytest.approx(0.6 * 200 + sum(told.values()), rel=1e-6)


def test_activity_of_water_over_salt_as_handbooks_have_it():
    """0.9669 over 1 mol/kg of NaCl at 25 °C (Robinson and Stokes, from memory).

    The linear law reads 1 − 0.017 × 2 = 0.966; it is good to 0.001 there.
    """
    salt = fm.speciate(fm.solution({"Na": 1000.0, "Cl": 1000.0}), water_kg_l=1.0)
    assert salt.water_activity == pytest.approx(0.9669, abs=0.0015)
    assert salt.water_activity == pytest.approx(1 - 0.017 * 2, abs=1e-5)
