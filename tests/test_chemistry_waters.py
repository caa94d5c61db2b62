"""A water against its chemistry: carbon, EC, pH; what cannot be is told."""

import statistics
from dataclasses import replace
from pathlib import Path

import pytest

import formulate as fm
from formulate.chemistry.speciation import speciate
from formulate.chemistry.waters import check_chemistry, examined, settled
from formulate.errors import FormulateError, InputError
from formulate.ingredients.water import preset_names
from formulate.ingredients.water import water as plain_water

WATERS = Path(__file__).parent / "waters"
HARD = {"Ca": 94.4, "Mg": 18.3, "Na": 13.9, "K": 2.2, "Cl": 24.4, "SO4": 37.5}


def hard(**more):
    """A tap water like that of the demonstration, invented, with changes."""
    values = {**HARD, "NO3": 16.4, "alkalinity": "5.72 meq/L", "pH": 7.41, **more}
    return plain_water(values)


def test_a_refined_water_takes_its_own_ph_again():
    for tap in (hard(), hard(pH=6.8), hard(pH=8.2), plain_water({"Na": 5, "pH": 6.0})):
        loose = replace(settled(tap).solution, ph=None)
        assert speciate(loose).ph == pytest.approx(tap.ph, abs=1e-6)


def test_refining_keeps_the_alkalinity_and_moves_only_the_carbon():
    tap = hard()
    better = settled(tap)
    assert better.solution.alkalinity() == pytest.approx(5.72, abs=0.02)
    kept = {f: v for f, v in tap.solution.forms.items() if f != "carbonate"}
    assert {f: better.solution.forms[f] for f in kept} == kept
    change = better.solution.mmol_l("HCO3") / tap.solution.mmol_l("HCO3")
    assert 0.97 < change < 1.0  # activity coefficients favour bicarbonate


def test_a_water_without_ph_is_left_as_it_is():
    tap = plain_water({"Ca": 40, "HCO3": 122})
    assert settled(tap) is tap
    assert settled(plain_water({})).solution.forms == {}


def test_an_ec_that_fits_is_said_to_fit():
    (notice,) = [n for n in check_chemistry(hard(EC=0.65)) if "EC" in n.what]
    assert notice.severity == "note"
    assert notice.what.endswith("they agree")
    assert notice.number == pytest.approx(0.65, rel=0.06)


@pytest.mark.parametrize(("ec", "word"), [(0.9, "missing"), (0.4, "too large")])
def test_an_ec_that_does_not_fit_is_told_with_its_side(ec, word):
    (notice,) = [n for n in check_chemistry(hard(EC=ec)) if n.what.startswith("EC")]
    assert notice.severity == "caution"
    assert word in notice.what


def test_a_ph_that_the_ions_do_not_bear_is_told():
    told = [n.what for n in check_chemistry(hard(pH=8.6)) if "balance at" in n.what]
    assert "off" in told[0]
    told = [n.what for n in check_chemistry(hard()) if "balance at" in n.what]
    assert told[0].endswith("they agree")


def test_carbon_dioxide_that_cannot_be_is_told():
    told = [n.what for n in check_chemistry(hard(pH=5.2)) if "dioxide" in n.what]
    assert "too high" in told[0]


def test_calcite_far_above_saturation_is_told():
    told = [n.what for n in check_chemistry(hard(pH=9.2)) if "calcite" in n.what]
    assert told


@pytest.mark.parametrize("name", preset_names())
def test_every_water_of_the_package_passes_through(name):
    tap = examined(plain_water(name))
    assert tap.name == fm.water(name).name
    assert not [n for n in tap.notices if n.severity == "serious"]


def reports():
    """Yield each report of the tests that reads, balances within 3 % and tells its EC."""
    for path in sorted(WATERS.iterdir()):
        if path.name in ("eisenach.txt",):  # means of a year beside their extremes
            continue
        try:
            tap = fm.read_water(path)
        except FormulateError:
            continue
        if tap.ec and tap.ec > 0.05 and abs(tap.balance_percent) < 3:
            yield path.stem, tap


def test_reports_of_utilities_agree_with_their_own_ec():
    """EC as printed by laboratories: half within 4 %, all but one within 7 %."""
    apart = {}
    for name, tap in reports():
        (told,) = [n for n in tap.notices if n.what.startswith("EC from the ions")]
        apart[name] = abs(told.number / tap.ec - 1)
    assert len(apart) >= 15
    assert statistics.median(apart.values()) < 0.04
    assert sorted(apart.values())[-2] < 0.07, apart


def test_what_is_no_water_is_refused():
    with pytest.raises(InputError, match="no Water"):
        settled({"Ca": 40})
