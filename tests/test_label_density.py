"""A density printed in the unit of another: told in the numbers of the label.

A US gallon is 3.785411784 L and a pound 0.45359237 kg (NIST Handbook 44), an imperial one
4.54609 L; so 11.5 lb/gal is 1.378 kg/L.
"""

import pytest

from formulate.errors import InputError
from formulate.ingredients.labels import read_label

N = "Total Nitrogen (N) 7 %\nNitrate nitrogen 7 %\n"
CASES = (
    (
        "Density 11.5 kg/L",
        ("11.5 kg/L", "no liquid is so heavy", "11.5 lb/gal", "1.38 kg/L"),
    ),
    ("Net weight 1.15 lb/gal", ("1.15 lb/gal", "no liquid is so light", "1.15 kg/L")),
    ("Density 9.6 g/mL", ("no liquid", "9.6 lb/gal", "1.15 kg/L")),
    ("Density 1150 kg/L", ("1150 kg/L", "1150 g/L", "1.15 kg/L")),
    ("Density 0.115 kg/L", ("0.115 kg/L", "no liquid is so light")),
    ("Density 60 kg/L", ("60 kg/L", "no liquid is so heavy")),
)


@pytest.mark.parametrize(("line", "told"), CASES)
def test_a_density_that_no_liquid_has_is_told_with_the_likely_unit(line, told):
    with pytest.raises(InputError) as caught:
        read_label(N + line)
    (fault,) = caught.value.faults
    assert fault.startswith("label: line 3: ") or fault.startswith("line 3: ")
    for each in told:
        assert each in fault, fault
    assert "0.1378" not in fault
    assert "not a number" not in fault


def test_no_unit_is_offered_where_none_makes_it_likely():
    with pytest.raises(InputError) as caught:
        read_label(N + "Density 60 kg/L")
    assert "would be" not in str(caught.value)


@pytest.mark.parametrize("line", ["Density 1.38 kg/L", "Density 11.5 lb/gal"])
def test_a_likely_density_stays(line):
    assert read_label(N + line).density == pytest.approx(1.38, abs=0.003)
