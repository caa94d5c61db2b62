"""Misprinted digits: two documented ones, every way to misprint, and where nothing can be told."""

import csv
from pathlib import Path

import numpy as np
import pytest

from formulate.claims.misprints import misprints
from formulate.claims.slip_search import explain
from formulate.errors import InputError

PUBLISHED = Path(__file__).parent / "published"


def series(salt, source):
    """Return printed concentration to equivalent conductivity of a salt."""
    with (PUBLISHED / "conductivity_single_salts.csv").open(encoding="utf-8") as file:
        return {
            float(row["concentration_mol_L"]): row[
                "molar_conductivity_S_cm2_mol_recomputed"
            ]
            for row in csv.DictReader(file)
            if (row["salt"], row["source_key"]) == (salt, source)
            and row["temperature_C"] == "25"
            and row["concentration_mol_L"]
        }


def ohms():
    """Return new over older compilation of KNO3 without the suspect, and its scatter."""
    new, old = series("KNO3", "crc-kno3-code"), series("KNO3", "harned-owen")
    shares = [float(new[c]) / float(old[c]) for c in old if c != 0.01]
    return np.mean(shares), np.std(shares, ddof=1)


# --- documented ------------------------------------------------------------------------------


def test_potassium_nitrate_of_a_handbook():
    """discrepancies.md 8: 132.75 for 135.75; the older compilation has 135.82."""
    text = series("KNO3", "crc-kno3-code")[0.01]
    right = float(series("KNO3", "harned-owen")[0.01]) * ohms()[0]
    assert text == "132.75"
    (found,) = misprints(text, right, 0.05)
    assert str(found) == "a digit misprinted: 135.75 printed 132.75"
    search = explain({"EC": (float(text), right, 0.05 / right)}, printed={"EC": text})
    assert not search.is_right
    assert "no known slip" in search.finding.what
    assert "135.75 printed 132.75" in search.finding.what
    assert search.misprints["EC"] == (found,)


def test_potassium_nitrate_by_its_own_series():
    """The law of Kohlrausch through the other printed values asks for the same digit."""
    known = {
        c: float(v) for c, v in series("KNO3", "crc-kno3-code").items() if c != 0.01
    }
    roots = np.sqrt([*known])
    line = np.polyfit(roots, [*known.values()], 3)
    off = np.std(np.polyval(line, roots) - [*known.values()], ddof=4)
    right = float(np.polyval(line, 0.1))
    (found,) = misprints("132.75", right, max(float(off), 0.05))
    assert found.meant == "135.75"


def test_potassium_chloride_of_a_handbook():
    """discrepancies.md 19: 143.38 for 143.48; 143.55 in the older ohms."""
    text = series("KCl", "crc-conductivity-dilute")[0.005]
    share, scatter = ohms()
    right, sure = 143.55 * share, np.hypot(143.55 * scatter, 0.005)
    assert text == "143.38"
    (found,) = misprints(text, right, sure)
    assert (found.how, found.meant) == ("a digit misprinted", "143.48")
    search = explain({"EC": (143.38, right, sure / right)}, printed={"EC": text})
    assert "143.48 printed 143.38" in str(search)


# --- every way -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "right", "how"),
    [
        ("161.5", 116.5, "two neighbouring digits exchanged"),
        ("16,15", 16.51, "two neighbouring digits exchanged"),
        ("1166.5", 116.5, "a digit doubled"),
        ("16.5", 116.5, "a digit dropped"),
        ("11.5", 116.5, "a digit dropped"),
        ("116.8", 116.5, "a digit misprinted"),
        ("416.5", 116.5, "a digit misprinted"),
        ("0.0561", 0.0516, "two neighbouring digits exchanged"),
        ("1050", 1500, "two neighbouring digits exchanged"),
    ],
)
def test_every_way_to_misprint_is_found(text, right, how):
    found = misprints(text, right, right * 1e-4)
    assert (found[0].how, found[0].value) == (how, right)
    assert all(abs(one.value / right - 1) < 1e-3 for one in found)


@pytest.mark.parametrize(
    ("text", "right", "sure"),
    [
        ("132.75", 132.7, 0.05),  # right as it is
        ("12", 15, 0.01),  # too few digits
        ("0.012", 0.015, 1e-5),
        ("132.75", 135.75, 1.0),  # not known well enough to decide the digit
        ("132.75", 148.21, 0.05),  # no single change
        ("100", 10, 0.01),  # ten times is a slip, no digit of two numbers
    ],
)
def test_where_nothing_can_be_told(text, right, sure):
    assert [
        one for one in misprints(text, right, sure) if one.how != "a digit doubled"
    ] == []


def test_numbers_off_by_anything_are_seldom_called_misprints():
    """Seeded: 0.1 % sure, off by up to a third, a change fits by chance in less than 1 of 4."""
    draw, called = np.random.default_rng(8), 0
    for _ in range(400):
        right = float(draw.uniform(100, 1000))
        text = f"{right * np.exp(draw.uniform(0.02, 0.3) * draw.choice([-1, 1])):.1f}"
        called += bool(misprints(text, right, right * 1e-3))
    assert called < 100


def test_a_seeded_misprint_is_found():
    """One digit of four replaced: found in every case where the right number is sure."""
    draw = np.random.default_rng(9)
    for _ in range(200):
        right = int(draw.integers(1000, 9999))
        marks = list(str(right))
        place = int(draw.integers(0, 4))
        others = [d for d in "123456789" if d != marks[place]]
        marks[place] = str(draw.choice(others))
        found = misprints("".join(marks), right, 0.01 if place == 3 else 0.1)
        assert str(right) in [one.meant for one in found]


# --- in the search for slips -------------------------------------------------------------------


def test_a_misprint_is_told_only_where_no_slip_explains():
    slip = explain({"S": (336, 112, 0.001)}, printed={"S": "336"})
    assert slip.misprints == {}
    many = {"N": (150.5, 150.5), "K": (234.5, 243.5), "P": (31.0, 31.0)}
    sharp = {key: (*pair, 0.001) for key, pair in many.items()}
    found = explain(sharp, printed={"K": "234.5"})
    assert [one.meant for one in found.misprints["K"]] == ["243.5"]
    assert found.finding.verdict == "wrong"
    assert explain(sharp).misprints == {}


def test_the_text_of_a_claim_is_its_own_print_in_any_unit():
    found = explain({"EC": ("1.3275 mS/cm", "1357.5 uS/cm", 3e-4)})
    assert [one.meant for one in found.misprints["EC"]] == ["1.3575"]


def test_a_print_with_a_comma_is_read_by_its_digits():
    found = explain({"N": (132.75, 135.75, 3e-4)}, printed={"N": "132,75"})
    assert [str(one) for one in found.misprints["N"]] == [
        "a digit misprinted: 135,75 printed 132,75"
    ]
    thousands = explain({"N": (1327, 1357, 3e-4)}, printed={"N": "1,327"})
    assert [one.meant for one in thousands.misprints["N"]] == ["1,357"]


@pytest.mark.parametrize("text", ["", "1.2.3", "x", None, 132, "-5", "1e5", "12 5"])
def test_what_is_no_printed_number_is_refused(text):
    with pytest.raises(InputError, match="as printed"):
        misprints(text, 1.0, 0.1)
    with pytest.raises(InputError, match="printed"):
        explain({"N": (1, 2)}, printed={"N": text})


def test_a_print_of_nothing_is_refused():
    with pytest.raises(InputError, match="none of the pairs"):
        explain({"N": (1, 2)}, printed={"P": "132"})
    with pytest.raises(InputError, match="mapping"):
        explain({"N": (1, 2)}, printed=["132"])
    with pytest.raises(InputError, match="uncertainty"):
        misprints("132", 1.0, 0)
