"""Charges: mean charges follow the published acid constants; sums are linear and close."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import FormulateError, InputError, UnknownName
from formulate.stoichiometry.charge import (
    charge_at_ph,
    check_ph,
    mean_charge,
    nominal_charge,
)
from formulate.stoichiometry.nutrients import form_names

PUBLISHED = Path(__file__).parent / "published"
# form: the charge with every listed proton, and its pairs in acid_base_constants.csv
STEPS = {
    "phosphate": (0, ("H3PO4/H2PO4-", "H2PO4-/HPO4 2-", "HPO4 2-/PO4 3-")),
    "carbonate": (0, ("CO2(aq)+H2O/HCO3-", "HCO3-/CO3 2-")),
    "ammonium": (1, ("NH4+/NH3",)),
    "sulfate": (-1, ("HSO4-/SO4 2-",)),
    "borate": (0, ("H3BO3/B(OH)4-",)),
    "citrate": (0, ("citric acid 1", "citric acid 2", "citric acid 3")),
}
# charge numbers of the ions, by their formulas
STRONG = {
    "nitrate": -1,
    "nitrite": -1,
    "urea": 0,
    "potassium": 1,
    "calcium": 2,
    "magnesium": 2,
    "chloride": -1,
    "sodium": 1,
    "iron_ii": 2,
    "iron_iii": 3,
    "manganese": 2,
    "zinc": 2,
    "copper": 2,
    "fluoride": -1,
    "nickel": 2,
    "cobalt": 2,
    "edta": -4,
    "dtpa": -5,
    "eddha": -4,
    "hbed": -4,
}
NOMINAL = STRONG | {
    "ammonium": 1,
    "phosphate": -1,  # as H2PO4-
    "sulfate": -2,
    "carbonate": -1,  # as HCO3-
    "silicate": 0,
    "borate": 0,
    "molybdate": -2,
    "citrate": -3,
}
PH = st.floats(0, 14)
AMOUNT = st.floats(0, 100)
FORMS = st.dictionaries(st.sampled_from(sorted(NOMINAL)), AMOUNT)


def published(name):
    with (PUBLISHED / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def pkas(form):
    rows = {row["acid_base_pair"]: row for row in published("acid_base_constants")}
    return [float(rows[pair]["pKa_25C"]) for pair in STEPS[form][1]]


def charge_by_fractions(form, ph):
    """Return the mean charge from the textbook fractions, top proton first."""
    parts = [1.0]
    for pka in pkas(form):
        parts.append(parts[-1] * 10 ** (ph - pka))
    return STEPS[form][0] - sum(n * p for n, p in enumerate(parts)) / sum(parts)


@pytest.mark.parametrize("form", STEPS)
@pytest.mark.parametrize("ph", [0, 2.15, 4.5, 5.8, 7.0, 7.2, 8.3, 9.25, 12.35, 14])
def test_mean_charge_follows_the_acid_constants(form, ph):
    # handbook constants at 25 °C, memory (acid_base_constants.csv)
    assert mean_charge(form, ph) == pytest.approx(
        charge_by_fractions(form, ph), abs=1e-12
    )


@pytest.mark.parametrize("form", ["ammonium", "sulfate", "borate"])
def test_at_its_constant_an_acid_is_half_and_half(form):
    assert mean_charge(form, pkas(form)[0]) == pytest.approx(STEPS[form][0] - 0.5)


def test_shares_of_dihydrogen_phosphate():
    # ph_and_chelates.csv: 99 % at pH 5 and 61 % at pH 7, to the whole percent; the mean
    # charge also counts H3PO4, 0.14 % at pH 5 by pK1 2.15
    for row in published("ph_and_chelates"):
        ph = float(row["item"].rpartition(" ")[2])
        share = 100 * (2 + mean_charge("phosphate", ph))
        assert share == pytest.approx(float(row["high"]), abs=0.5 + 0.15)


def test_share_of_bicarbonate_turned_to_carbon_dioxide():
    # acid_neutralisation.csv, note of the rows to pH 5.8: 78 % with pK1 6.35 (memory)
    assert 100 * (1 + mean_charge("carbonate", 5.8)) == pytest.approx(78, abs=0.5)


@pytest.mark.parametrize(("form", "charge"), STRONG.items())
def test_what_takes_no_proton_keeps_its_charge(form, charge):
    assert {mean_charge(form, ph) for ph in (0, 5.8, 14)} == {float(charge)}


@pytest.mark.parametrize(
    ("form", "at_0", "at_14"),
    [
        ("phosphate", 0, -3),
        ("carbonate", 0, -2),
        ("ammonium", 1, 0),
        ("borate", 0, -1),
        ("silicate", 0, -1),
        ("citrate", 0, -3),
        ("sulfate", -1, -2),
        ("molybdate", 0, -2),
    ],
)
def test_far_from_its_constants_a_form_is_one_ion(form, at_0, at_14):
    # at the ends of the scale the nearest constant is 1.65 away: 10**-1.65 is 2.2 %
    assert mean_charge(form, 0) == pytest.approx(at_0, abs=0.03)
    assert mean_charge(form, 14) == pytest.approx(at_14, abs=0.03)


@given(st.sampled_from(sorted(NOMINAL)), PH, PH)
def test_more_acid_never_lowers_a_charge(form, one, other):
    low, high = sorted((one, other))
    assert mean_charge(form, low) >= mean_charge(form, high) - 1e-12


def test_every_form_has_its_nominal_charge():
    assert set(NOMINAL) == set(form_names())
    for form, charge in NOMINAL.items():
        assert nominal_charge({form: 1.0}) == charge


@given(FORMS)
def test_nominal_charge_is_a_sum(forms):
    expected = math.fsum(NOMINAL[key] * amount for key, amount in forms.items())
    assert nominal_charge(forms) == pytest.approx(expected, abs=1e-9)


def test_nothing_carries_no_charge():
    assert nominal_charge({}) == 0.0


def test_pure_water_is_neutral_where_protons_and_hydroxide_are_equal():
    # log K of water -13.995 at 25 °C (phreeqc.dat 3.8.6, read)
    assert charge_at_ph({}, 13.995 / 2) == pytest.approx(0, abs=1e-15)
    assert charge_at_ph({}, 4.0) == pytest.approx(0.1, rel=1e-5)  # 0.1 mmol/L of H+
    assert charge_at_ph({}, 10.0) == pytest.approx(-(10**-0.995), rel=1e-5)


@given(FORMS, PH)
def test_charge_at_a_ph_is_the_sum_over_forms_and_water(forms, ph):
    expected = charge_at_ph({}, ph) + math.fsum(
        mean_charge(key, ph) * amount for key, amount in forms.items()
    )
    assert charge_at_ph(forms, ph) == pytest.approx(expected, rel=1e-12, abs=1e-9)


def test_a_solution_of_one_salt_closes_at_its_textbook_ph():
    # 1 mmol/L NaHCO3: pH = (pK1 + pK2)/2 = 8.34 within 0.1 (textbook, memory)
    charge = [
        charge_at_ph({"sodium": 1.0, "carbonate": 1.0}, ph) for ph in (8.24, 8.44)
    ]
    assert charge[0] > 0 > charge[1]


def test_stacks_of_ph_and_of_amounts_give_what_each_gives_alone():
    ph = np.array([[4.0, 6.0, 8.0]])
    amounts = np.array([[1.0], [2.0]])
    stack = charge_at_ph({"phosphate": amounts, "calcium": 2.0}, ph)
    assert stack.shape == (2, 3)
    for (row, column), value in np.ndenumerate(stack):
        one = {"phosphate": float(amounts[row, 0]), "calcium": 2.0}
        assert value == pytest.approx(charge_at_ph(one, float(ph[0, column])))
    assert nominal_charge({"phosphate": amounts}).shape == (2, 1)


@pytest.mark.parametrize("ph", [0, 14, 7, 5.8, np.float64(5.8), np.int64(7)])
def test_a_ph_from_0_to_14_is_one(ph):
    assert check_ph(ph) == float(ph)
    assert type(check_ph(ph)) is float


BAD_PH = [
    -0.01,
    14.01,
    math.nan,
    math.inf,
    -math.inf,
    True,
    False,
    None,
    "",
    "seven",
    b"7",
    [],
    {},
    (7,),
    1j,
    10**400,
    object(),
]


@pytest.mark.parametrize("ph", BAD_PH, ids=lambda ph: repr(ph)[:12])
def test_what_is_no_ph_is_refused(ph):
    with pytest.raises(InputError, match=r"pH.*14"):
        check_ph(ph)


@pytest.mark.parametrize(
    "ph",
    [math.nan, math.inf, True, None, "seven", 1j, 10**400],
    ids=lambda ph: repr(ph)[:12],
)
@pytest.mark.parametrize("charge", [mean_charge, charge_at_ph])
def test_a_charge_at_no_ph_is_refused(charge, ph):
    with pytest.raises(FormulateError):
        charge("carbonate" if charge is mean_charge else {"carbonate": 1.0}, ph)


@pytest.mark.parametrize("form", ["", "NO3", "water", "nitrates", None, 7, []])
def test_what_is_no_form_is_refused(form):
    with pytest.raises(UnknownName, match="nitrate"):
        mean_charge(form, 7.0)
