"""Pure water: density, permittivity, viscosity, the Debye-Hückel numbers."""

import csv
from pathlib import Path

import pytest

from formulate.chemistry.water_properties import (
    check_temperature,
    debye_hueckel,
    density_wp02,
    permittivity_bp79,
    viscosity_ksw78,
)
from formulate.errors import InputError

with (Path(__file__).parent / "published" / "water_properties.csv").open() as file:
    ROWS = {
        (row["property"], row["source_key"]): row
        for row in csv.DictReader(file, strict=True)
    }
CASES = (
    ("density of water, saturation line", "wagner-pruss-2002", density_wp02, 1e-6),
    ("relative permittivity of water", "pq386-phreeqc", permittivity_bp79, 1e-4),
    ("viscosity of water", "kestin-1978", viscosity_ksw78, 1e-5),
    ("viscosity of water", "pq386-phreeqc", viscosity_ksw78, 1.3e-3),
    (
        "Debye-Hueckel A (log10)",
        "pq386-phreeqc",
        lambda t: debye_hueckel(t)[0],
        2e-5,
    ),
    ("Debye-Hueckel B", "pq386-phreeqc", lambda t: debye_hueckel(t)[1], 2e-5),
)


@pytest.mark.parametrize("celsius", range(0, 45, 5))
@pytest.mark.parametrize(("name", "key", "function", "apart"), CASES)
def test_published_values_are_met(name, key, function, apart, celsius):
    """The table of the project, formulas evaluated by other hands; half its last digit."""
    published = float(ROWS[name, key][f"T_{celsius}"])
    assert function(float(celsius)) == pytest.approx(published, abs=apart, rel=3e-5)


@pytest.mark.parametrize("celsius", [-0.1, 50.1, "warm", None, float("nan")])
def test_temperatures_out_of_range_are_refused(celsius):
    with pytest.raises(InputError, match="0 to 50"):
        check_temperature(celsius)
