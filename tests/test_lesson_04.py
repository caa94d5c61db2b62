"""Exercises of lesson 04 worked out again with atomic weights typed here."""

import json
import subprocess
import sys
from functools import partial
from pathlib import Path

import lesson_checks
import pytest
from lesson_checks import (
    CA,
    CL,
    CLOSE,
    MG,
    NA,
    OX,
    C,
    H,
    K,
    N,
    S,
    agrees,
    has_sets_for_a_school,
    keys,
)

pupils = partial(lesson_checks.pupils, "04")
is_slip = partial(lesson_checks.is_slip, form=".8g")

MASSES = {
    "Ca": CA,
    "Mg": MG,
    "Na": NA,
    "K": K,
    "Cl": CL,
    "SO4": S + 4 * OX,
    "NO3": N + 3 * OX,
    "HCO3": H + C + 3 * OX,
    "NH4": N + 4 * H,
}
CHARGES = dict.fromkeys(MASSES, 1) | {"Ca": 2, "Mg": 2, "SO4": 2}
CAO, CACO3 = CA + OX, CA + C + 3 * OX


@pytest.mark.parametrize("key", keys("04"))
def test_there_are_a_thousand_sets_of_numbers(key):
    has_sets_for_a_school(key)


def test_charge_of_an_ion():
    for one in pupils(1):
        ion, mg = one.task.given["ion"], one.task.given["mg_l"]
        agrees(one, mg / MASSES[ion] * CHARGES[ion])
        is_slip(one, mg * CHARGES[ion], "mass of the ion")
        if CHARGES[ion] == 2:
            is_slip(one, mg / MASSES[ion], "more than one charge")
            is_slip(one, mg / MASSES[ion] / 2, "Divided by the charge")
        if ion == "SO4":
            is_slip(one, mg / S * 2, "mg of S alone")
        if ion == "NO3":
            is_slip(one, mg / N, "mg of N alone")


def test_hardness_in_degrees():
    for one in pupils(2):
        calcium, magnesium = one.task.given["calcium"], one.task.given["magnesium"]
        millimoles = calcium / CA + magnesium / MG
        agrees(one, millimoles * CAO / 10)  # 1 °dH is 10 mg/L CaO, by definition
        assert one.check(f"{millimoles * CACO3 / 10:.5g} °fH").right
        assert one.check(f"{millimoles * CACO3:.5g} mg/L as CaCO3").right
        is_slip(one, calcium / CA * CAO / 10, "calcium alone")
        is_slip(one, millimoles * CACO3, "as CaCO₃")
        is_slip(one, millimoles * CACO3 / 10, "French")
        is_slip(one, (calcium + magnesium) / CA * CAO / 10, "Masses cannot be added")


def test_alkalinity_by_titration():
    for one in pupils(3):
        given = one.task.given
        millilitres = given["end"] - given["start"]
        right = millilitres * 0.1 / given["sample"] * 1000  # of 0.1 mol/L acid
        agrees(one, right)
        assert 1 <= right <= 7
        assert one.check(f"{right * CACO3 / 2:.5g} mg/L CaCO3").right
        is_slip(one, given["end"] * 0.1 / given["sample"] * 1000, "read twice")
        is_slip(one, right / 2, "Halved")
        is_slip(one, right * CACO3 / 2, "as CaCO₃")
        assert any("acid" in text for text in one.task.care)


def test_nitrate_or_nitrogen():
    for one in pupils(4):
        value, ratio = one.task.given["value"], N / MASSES["NO3"]
        as_ion = one.task.given["as_ion"]
        agrees(one, value * ratio if as_ion else value / ratio)
        is_slip(one, value, "counts the other thing")
        is_slip(one, value / ratio if as_ion else value * ratio, "other way round")


# --- the misprinted report: exactly one option is right -----------------------------------

TOO_LARGE = {  # the line and by what its misprint makes it too large
    "lime": ("Ca", CAO / CA),
    "bicarbonate": ("alkalinity", 2 * MASSES["HCO3"] / CACO3),
    "sulfur": ("SO4", S / MASSES["SO4"]),
    "magnesia": ("Mg", (MG + OX) / MG),
    "sodium": ("Na", 10),
    "chloride": ("Cl", 10),
    "chalk": ("Ca", CACO3 / CA),
}
WORDS = {
    "lime": "lime",
    "bicarbonate": "bicarbonate",
    "sulfur": "sulfur",
    "magnesia": "magnesia",
    "sodium": "sodium",
    "chloride": "chloride",
    "chalk": "chalk",
}


def balance_percent(given, change=None):
    lines = {k: given[k] for k in ("Ca", "Mg", "Na", "K", "Cl", "SO4", "NO3")}
    alkalinity = given["alkalinity"]
    if change:
        key, times = TOO_LARGE[change]
        if key == "alkalinity":
            alkalinity /= times
        else:
            lines[key] /= times
    meq = {k: v / MASSES[k] * CHARGES[k] for k, v in lines.items()}
    cations = sum(meq[k] for k in ("Ca", "Mg", "Na", "K"))
    anions = sum(meq[k] for k in ("Cl", "SO4", "NO3")) + alkalinity * 2 / CACO3
    return 100 * abs(cations - anions) / (cations + anions)


def test_exactly_one_misprint_mends_the_report():
    seen = set()
    for one in pupils(5):
        given, choices = one.task.given, one.task.given["choices"]
        assert list(choices) == list("ABCD") == list(one.task.options)
        assert balance_percent(given) > 4.9
        mended = [k for k in choices if balance_percent(given, choices[k]) < 2]
        assert mended == [one.task.right]
        for letter, name in choices.items():
            assert WORDS[name] in one.task.options[letter].words
            if letter != one.task.right:
                assert balance_percent(given, name) > 4.9
                assert one.check(letter).verdict == "slip"
                assert "still apart" in one.check(letter).says
        shown = {row[0]: float(row[1]) for row in one.task.table[1:]}
        assert shown["Calcium (Ca)"] == given["Ca"]
        assert shown["Alkalinity as CaCO₃"] == given["alkalinity"]
        seen.add(choices[one.task.right])
    assert len(seen) >= 4


def test_sodium_behind_a_softener():
    for one in pupils(6):
        given = one.task.given
        gone = (
            (given["before"] - given["after"]) * 10 / CAO
        )  # mmol/L, 1 °dH 10 mg/L CaO
        agrees(one, 2 * gone * NA + given["sodium"])
        is_slip(one, gone * NA + given["sodium"], "Two charges")
        is_slip(one, 2 * gone * NA, "There was sodium before")
        all_of_it = given["before"] * 10 / CAO
        is_slip(one, 2 * all_of_it * NA + given["sodium"], "stays in the water")


def test_rain_for_an_alkalinity():
    for one in pupils(7):
        given = one.task.given
        tap, rain, tank = given["chalk"] * 2 / CACO3, given["rain"], given["tank"]
        right = one.task.answer
        blend = ((tank - right) * tap + right * rain) / tank
        assert blend == pytest.approx(given["wanted"], rel=CLOSE)
        agrees(one, tank * (tap - given["wanted"]) / (tap - rain))
        is_slip(one, tank - right, "tap water")
        is_slip(one, tank * (tap - given["wanted"]) / tap, "cistern is not free")


def test_the_exercises_do_without_numpy():
    code = (
        "import sys\n"
        "for name in ('numpy', 'scipy', 'pandas', 'matplotlib', 'jinja2'):\n"
        "    sys.modules[name] = None\n"
        "from formulate.classroom import exercises\n"
        "print(len([str(t) + str(t.solution()) for t in exercises('04', seed='ada')]))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False
    )
    assert done.stdout.strip() == "7", done.stderr


def test_the_notebook_does_without_numpy():
    folder = Path(__file__).parent.parent / "notebooks"
    notebook = json.loads((folder / "04_your_water.ipynb").read_text(encoding="utf-8"))
    code = ["".join(c["source"]) for c in notebook["cells"] if c["cell_type"] == "code"]
    barred = "import sys\nfor name in ('numpy', 'scipy', 'pandas', 'matplotlib', 'jinja2'):\n    sys.modules[name] = None\n"
    lines = "\n\n".join([barred, "display = print", *code, "print('to the end')"])
    done = subprocess.run(
        [sys.executable, "-c", lines],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout.strip().endswith("to the end"), done.stderr
