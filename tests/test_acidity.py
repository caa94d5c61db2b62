"""pH one can believe: the primary standards, buffer capacity, the interval of errors."""

import numpy as np
import pytest
from test_conductivity import molal

from formulate.chemistry.acidity import buffer_capacity, ph_range, ph_rule
from formulate.chemistry.speciation import speciate
from formulate.errors import InputError
from formulate.stoichiometry.solution import Solution, solution

PHOSPHATE = {"K": 0.025, "Na": 0.05, "P": 0.05}
WEAK_PHOSPHATE = {"K": 0.008695, "Na": 0.06086, "P": 0.039125}
CARBONATE = {"Na": 0.075, "HCO3": 0.05}
BORAX = {"Na": 0.02, "B": 0.04}
CITRATE = {"K": 0.05, "citrate": 0.05}


@pytest.mark.parametrize(
    ("contents", "celsius", "published"),
    # NIST (NBS) primary and secondary standards of pH, mol/kg (from memory: tables in
    # every handbook of chemistry)
    [
        (PHOSPHATE, 15, 6.900),
        (PHOSPHATE, 20, 6.881),
        (PHOSPHATE, 25, 6.865),
        (PHOSPHATE, 30, 6.853),
        (PHOSPHATE, 35, 6.844),
        (WEAK_PHOSPHATE, 25, 7.413),
        (CARBONATE, 5, 10.245),
        (CARBONATE, 15, 10.118),
        (CARBONATE, 25, 10.012),
        (CARBONATE, 35, 9.925),
        (BORAX, 25, 9.180),
        (CITRATE, 25, 3.776),
    ],
)
def test_the_standards_of_the_ph_scale(contents, celsius, published):
    held = molal(contents, float(celsius))
    made = Solution(held.forms, 0.0, float(celsius))
    assert speciate(made).ph == pytest.approx(published, abs=0.02)


@pytest.mark.parametrize(("celsius", "apart"), [(0, 0.045), (45, 0.03)])
def test_at_the_ends_of_the_range_phosphate_is_farther_off(celsius, apart):
    """6.984 at 0 °C, 6.834 at 45 °C (memory): the second constant of phosphate has one heat."""
    published = {0: 6.984, 45: 6.834}[celsius]
    held = molal(PHOSPHATE, float(celsius))
    ph = speciate(Solution(held.forms, 0.0, float(celsius))).ph
    assert abs(ph - published) < apart


def test_buffer_capacity_of_a_buffer_is_that_of_its_definition():
    """β = ln 10 C a (1 − a) with a half: 0.576 C; in very thin solution."""
    made = solution({"K": 0.15, "P": 0.1}, ph=7.2)
    k2 = 7.199 + 0.5 * 3 * np.sqrt(2e-4)  # 19.553 - 12.354 and the limiting law
    share = 1 / (1 + 10 ** (k2 - 7.2))
    expected = np.log(10) * 0.1 * share * (1 - share)
    assert buffer_capacity(made) == pytest.approx(expected, rel=0.02)  # pairs with K


def test_buffer_capacity_is_the_slope_of_a_titration():
    made = solution({"Ca": 2, "HCO3": 4, "P": 1, "K": 1})
    state = speciate(made)
    step = 0.01
    up = Solution(made.forms, made.unassigned_charge + step)
    down = Solution(made.forms, made.unassigned_charge - step)
    slope = 2 * step / (speciate(up).ph - speciate(down).ph)
    assert buffer_capacity(state) == pytest.approx(slope, rel=0.01)


def test_buffer_capacity_of_a_stack():
    made = Solution({"phosphate": np.array([0.5, 1.0]), "potassium": 1.5}, -0.4)
    found = buffer_capacity(speciate(made, ph=7.2))
    assert found.shape == (2,)
    assert found[1] == pytest.approx(2 * found[0], rel=0.01)


def test_where_nothing_buffers_the_interval_is_wide():
    thin = ph_range(solution({"K": 5, "NO3": 5}))
    assert thin.low < 4.5
    assert thin.high > 9.3
    assert not thin.is_single
    assert thin.words.startswith("between")
    hard = ph_range(Solution({"calcium": 2.0, "carbonate": 4.4}))
    assert hard.high - hard.low < 0.6
    assert hard.is_single


def test_the_interval_is_that_of_its_ends():
    made = solution({"Ca": 2, "HCO3": 4, "P": 1, "K": 1})
    found = ph_range(made, alkalinity_error=0.1, weight_error_percent=0)
    ends = [
        speciate(Solution(made.forms, made.unassigned_charge + way * 0.1)).ph
        for way in (-1, 1)
    ]
    assert (found.low, found.high) == pytest.approx(tuple(ends))
    assert found.low < found.ph < found.high


def test_errors_add_up():
    made = solution({"Ca": 2, "HCO3": 4})
    least = ph_rule("least alkalinity error")
    found = ph_range(made, alkalinity_error=least, weight_error_percent=1.0)
    assert found.charge_error == pytest.approx(least + 0.01 * 4.0)
    wide = ph_range(made, open_charge=1.0)
    assert wide.charge_error > 1.0
    assert wide.high - wide.low > found.high - found.low


def test_a_measured_ph_has_no_interval():
    found = ph_range(solution({"Ca": 2, "HCO3": 4}, ph=7.6))
    assert (found.low, found.high) == pytest.approx((7.6, 7.6))
    assert found.words == "7.60 (given)"


@pytest.mark.parametrize(
    "given",
    [{"alkalinity_error": -1}, {"weight_error_percent": "much"}, {"open_charge": -2}],
)
def test_errors_that_are_none_are_refused(given):
    with pytest.raises(InputError):
        ph_range(solution({"K": 1, "NO3": 1}), **given)


def test_every_error_that_is_none_is_told_at_once():
    with pytest.raises(InputError) as caught:
        ph_range(solution({"K": 1}), alkalinity_error=-1, open_charge=-2)
    assert len(caught.value.faults) == 2


def test_a_stack_and_a_stranger_are_refused():
    with pytest.raises(InputError, match="stack"):
        ph_range(Solution({"potassium": np.ones(3), "nitrate": np.ones(3)}))
    with pytest.raises(InputError, match="no Solution"):
        buffer_capacity("tap")
