"""Titration curves: equal to doses, falling or rising, steepest where little buffers."""

import numpy as np
import pytest

from formulate.chemistry.acid_doses import with_dose
from formulate.chemistry.dosing import acid_dose
from formulate.chemistry.speciation import speciate
from formulate.chemistry.titration import titration_curve
from formulate.errors import InputError
from formulate.ingredients.salts import salt
from formulate.ingredients.stock import stock
from formulate.ingredients.water import water
from formulate.stoichiometry.formula import molar_mass
from formulate.stoichiometry.solution import Solution, solution

TAP = solution({"Ca": 2.35, "HCO3": 4.7}, ph=7.4)
NITRIC = "nitric acid (67 %)"


@pytest.mark.parametrize("ph", [6.5, 5.8, 5.0])
def test_a_curve_meets_the_doses(ph):
    curve = titration_curve(TAP, NITRIC)
    closed = acid_dose(TAP, NITRIC, ph=ph).grams
    aired = acid_dose(TAP, NITRIC, ph=ph, air_co2_ppm=420).grams
    place = np.searchsorted(curve.grams, [closed, aired])
    for line, where in ((curve.ph, place[0]), (curve.ph_aerated, place[1])):
        assert line[where] <= ph <= line[where - 1]


@pytest.mark.parametrize(("name", "way"), [(NITRIC, -1), ("KOH", 1), ("KHSO4", -1)])
def test_a_curve_goes_one_way_from_where_it_starts(name, way):
    curve = titration_curve(TAP, name)
    assert curve.ph[0] == pytest.approx(7.4, abs=1e-6)
    assert curve.grams[0] == 0
    assert np.all(way * np.diff(curve.ph) > 0)
    assert np.all(way * np.diff(curve.ph_aerated) > 0)
    assert (curve.ph[-1] < 4.0) if way < 0 else (curve.ph[-1] > 10.0)


def test_each_point_is_a_solution_of_its_own():
    start = solution({"Ca": 2.0, "HCO3": 4.0})
    curve = titration_curve(start, "HCl", most=0.1)
    for place in (0, 60, 120):
        alone = with_dose(start, salt("HCl"), float(curve.grams[place]))
        assert speciate(alone).ph == pytest.approx(curve.ph[place], abs=1e-9)
        aired = speciate(alone, air_co2_ppm=420).ph
        assert aired == pytest.approx(curve.ph_aerated[place], abs=1e-9)


def test_the_steepest_place_is_where_the_alkalinity_is_used_up():
    """The classic titration: 4 meq/L of strong acid for 4 meq/L of alkalinity."""
    start = solution({"Ca": 2.0, "HCO3": 4.0})
    curve = titration_curve(start, "HCl", most=0.008 * molar_mass("HCl"))
    meq = 1000 * curve.grams / molar_mass("HCl")
    steepest = meq[np.argmin(np.gradient(curve.ph, meq))]
    assert steepest == pytest.approx(4.0, abs=2 * (meq[1] - meq[0]))


def test_water_alone_by_hand():
    """pH = -lg(c γ): 1 mmol/L of strong acid, γ 0.966 at that strength (Kielland, memory)."""
    curve = titration_curve(solution({}), "HCl", most=0.001 * molar_mass("HCl"))
    assert curve.ph[-1] == pytest.approx(-np.log10(0.966e-3), abs=0.005)
    assert curve.ph[0] == pytest.approx(7.0, abs=0.005)
    rain = (6.35 + 1.47 - np.log10(420e-6)) / 2  # pK1 and pKH (memory)
    assert curve.ph_aerated[0] == pytest.approx(rain, abs=0.01)


def test_millilitres_and_words():
    """67 % nitric acid weighs 1.40 kg/L (acid-choices-table)."""
    curve = titration_curve(TAP, NITRIC)
    assert curve.millilitres == pytest.approx(curve.grams / 1.40)
    assert "from 7.40 to" in str(curve)
    assert titration_curve(TAP, "KOH").millilitres is None
    weak = titration_curve(TAP, stock("thin acid", {NITRIC: 100}, volume=1))
    assert weak.millilitres is weak.grams
    assert weak.grams[-1] / 10 == pytest.approx(curve.grams[-1], rel=0.02)


def test_a_neutral_salt_leaves_the_ph_nearly_alone():
    tap = water({"Ca": 80, "HCO3": 244, "pH": 7.5})
    curve = titration_curve(tap, "KNO3", most=1.0)
    assert np.ptp(curve.ph) < 0.05


def test_every_fault_is_told_at_once():
    with pytest.raises(InputError) as caught:
        titration_curve("tap", "zz", most=-1)
    told = " ".join(caught.value.faults)
    for word in ("no Solution", "'zz'", "last dose"):
        assert word in told
    with pytest.raises(InputError, match="stack"):
        titration_curve(Solution({"calcium": np.ones(2), "carbonate": 2.0}), NITRIC)
    with pytest.raises(InputError, match="no name in the catalogue"):
        titration_curve(TAP, "aqua fortissima")


@pytest.mark.parametrize("most", [0, -1, True, "1", [1], float("inf"), float("nan")])
def test_a_last_dose_that_is_none_is_refused(most):
    with pytest.raises(InputError, match="last dose"):
        titration_curve(TAP, NITRIC, most=most)
