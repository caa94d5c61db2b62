"""Chelates: which metal is held, the window of pH, charge and mass."""

import pytest

from formulate.chemistry.chelates import bound, chelate_notices
from formulate.chemistry.speciation import speciate
from formulate.stoichiometry.solution import Solution, solution
from formulate.tables import read_table


def test_an_agent_goes_to_the_firmest_metal_first():
    """log K at I = 0.1 (nist-srd46-leaflet, read): Fe 25.0, Cu 18.8, Zn 16.5, Mn 13.8."""
    metals = {"iron_iii": 0.01, "copper": 0.01, "zinc": 0.01, "manganese": 0.01}
    found = bound({"edta": 0.025, **metals, "calcium": 4.0})
    assert found["edta:iron_iii"] == 0.01
    assert found["edta:copper"] == 0.01
    assert found["edta:zinc"] == pytest.approx(0.005)
    assert found["manganese"] == 0.01
    assert "edta" not in found
    assert "iron_iii" not in found


def test_nothing_is_lost():
    totals = {"edta": 0.03, "dtpa": 0.02, "iron_iii": 0.04, "calcium": 3.0}
    found = bound(totals)
    for key, total in totals.items():
        counted = sum(v for k, v in found.items() if key in k.split(":"))
        assert counted == pytest.approx(total)


def test_a_bought_chelate_is_neutral_to_the_ph():
    """NaFe-EDTA: Na+ and one ion of charge -1, which takes no proton."""
    made = solution({"Na": 0.05, "Fe": 0.05, "EDTA": 0.05})
    assert made.unassigned_charge == pytest.approx(0.0, abs=1e-12)
    state = speciate(made)
    assert state.ph == pytest.approx(7.0, abs=0.01)
    assert state.amount("FeEdta-") == pytest.approx(0.05)
    assert state.free("iron_iii") == 0.0


def test_an_agent_without_metal_is_an_acid():
    """Na2H2EDTA: pH 4 to 6 (laboratory practice, no source); the third proton at 6.2."""
    state = speciate(Solution({"edta": 10.0, "sodium": 20.0}))
    assert 4.0 < state.ph < 5.5
    assert state.amount("H2Edta-2") > 9.0


@pytest.mark.parametrize(
    ("chelate", "ph", "told"),
    [
        # trade page 6.0, literature 6.5 (chelate-trade-page read, chelate-literature memory)
        ("edta:iron_iii", 5.8, None),
        ("edta:iron_iii", 6.2, "note"),
        ("edta:iron_iii", 6.8, "caution"),
        ("dtpa:iron_iii", 6.8, None),
        ("dtpa:iron_iii", 7.2, "note"),
        ("eddha:iron_iii", 8.4, None),
        ("eddha:iron_iii", 9.2, "caution"),
        ("edta:iron_iii", 2.5, "caution"),
        ("edta:calcium", 2.5, None),
    ],
)
def test_the_window_of_ph_and_the_spread_of_sources(chelate, ph, told):
    notices = chelate_notices([chelate], ph)
    assert [n.severity for n in notices] == ([told] if told else [])
    if chelate == "edta:iron_iii" and told and ph > 6:
        assert "6 to 6.5, by source" in notices[0].what


def test_a_state_tells_of_its_chelates():
    made = solution({"Fe": 0.05, "EDTA": 0.05, "K": 5, "NO3": 4.95})
    assert any("EDTA" in n.what for n in speciate(made, ph=7.5).notices)
    assert not any("EDTA" in n.what for n in speciate(made, ph=5.8).notices)


def test_every_agent_of_the_forms_has_metals():
    rows = read_table("chelates")
    assert {row["ligand"] for row in rows} == {"edta", "dtpa", "eddha", "hbed"}
    for agent in ("edta", "dtpa", "eddha", "hbed"):
        first = next(row for row in rows if row["ligand"] == agent)
        assert first["metal"] == "iron_iii"
        assert first["high_least"]
