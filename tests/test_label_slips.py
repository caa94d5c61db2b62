"""A slip made on a label is told; a label that is right is left alone."""

from pathlib import Path

import numpy as np
import pytest

from formulate.claims.blend_ranges import Blends, extremes
from formulate.claims.label_check import check_label
from formulate.claims.slip_blends import ranges_left, which_hold

LABELS = Path(__file__).parent / "labels"
KNO3 = (
    "Total Nitrogen (N) {n} %\n  {form} % Nitrate Nitrogen\nSoluble Potash (K2O) {k} %\n"
    "Derived from: potassium nitrate"
)


def slips_of(text, **facts):
    return [str(slip) for slip in check_label(text, rule="us", **facts).slips]


# the numbers below: tests/published/salt_analyses.csv and conversion_factors.csv
@pytest.mark.parametrize(
    ("text", "told"),
    [
        # KH2PO4 22-28 as elements, 52-34 as oxides
        (
            "0-22-28\nAvailable Phosphate (P2O5) 52 %\nSoluble Potash (K2O) 34 %\n"
            "Derived from: monopotassium phosphate",
            "its guarantees: elements taken for oxides throughout",
        ),
        (
            "Phosphorus pentoxide (P2O5) 20 %\nPhosphorus (P) 20 %",
            "P2O5 20 %: P2O5 taken for P",
        ),
        # 13 % N is 57.6 % NO3 (factor 4.427)
        (KNO3.format(n=13, form=57.6, k=44), "the total of nitrogen: NO3 taken for N"),
        # 46.6 % K2O is 38.7 % K
        (KNO3.format(n=13.7, form=13.7, k=38.6), "potassium nitrate: K taken for K2O"),
        (KNO3.format(n=13.7, form=13.7, k=4.6), "once taken for ten times"),
        # MgSO4: 20.2 % Mg and 26.6 % S without water, 9.86 and 13.0 with seven
        (
            "Magnesium (Mg) 20 %\nSulfur (S) 26 %\n"
            "Derived from: magnesium sulfate heptahydrate",
            "magnesium sulfate anhydrous taken for magnesium sulfate heptahydrate",
        ),
        # 9.86 % Mg is 16.35 % MgO
        (
            "Magnesium (Mg) 16.3 %\nSulfur (S) 13.0 %\n"
            "Derived from: magnesium sulfate heptahydrate",
            "MgO taken for Mg",
        ),
        (
            "Available Phosphate (P2O5) 34 %\nSoluble Potash (K2O) 52 %\n"
            "Derived from: monopotassium phosphate",
            "P2O5 and K2O exchanged",
        ),
        # 13.33 % N in nitric acid of 60 %; g/L = % w/w x density x 10
        (
            "Total Nitrogen (N) 18.2 %\n  18.2 % Nitrate Nitrogen\nDensity 1.366 kg/L\n"
            "Derived from: nitric acid (60 %)",
            "% w/v taken for % w/w",
        ),
        # no source named: the shares of KH2PO4 as elements
        (
            "Available Phosphate (P2O5) 22.7 %\nSoluble Potash (K2O) 28.7 %",
            "monopotassium phosphate: elements taken for oxides throughout",
        ),
    ],
)
def test_a_slip_is_told(text, told):
    slips = slips_of(text)
    assert any(told in slip for slip in slips), slips


def test_what_the_numbers_cannot_tell_apart_is_one_group():
    # of one share too high by 1.2046 only one basis fits; by ten, only the power of ten
    checked = check_label(KNO3.format(n=13.7, form=13.7, k=38.6), rule="us")
    assert len(checked.slips) == 1
    assert len(checked.slips[0].search.groups[0].candidates) == 1
    assert checked.about("slip")[0].what == str(checked.slips[0])
    assert checked.about("slip")[0].verdict == "cannot tell"


# purities of usual bags; pure shares from salt_analyses.csv, oxides by conversion_factors.csv:
# what is printed as an element where the oxide is meant is 0.436 (P2O5), 0.830 (K2O), 0.603
# (MgO), 0.400 (SO3) of it
@pytest.mark.parametrize("purity", [1.0, 0.985, 0.96, 0.93])
@pytest.mark.parametrize(
    ("material", "shares"),
    [
        ("potassium nitrate", (("NO3-N", 13.85, 1), ("K2O", 46.58, 0.830))),
        ("monopotassium phosphate", (("P2O5", 52.15, 0.436), ("K2O", 34.61, 1))),
        ("potassium sulfate", (("K2O", 54.05, 0.830), ("SO3", 45.94, 0.400))),
        ("magnesium sulfate heptahydrate", (("MgO", 16.35, 0.603), ("SO3", 32.48, 1))),
    ],
)
def test_a_slip_on_a_salt_of_any_usual_purity_is_told(material, shares, purity):
    true = "\n".join(f"{key} {v * purity:.1f} %" for key, v, _ in shares)
    right = check_label(true, rule="eu")
    assert (right.verdict, right.slips) == ("right", ())
    slipped = "\n".join(f"{key} {v * f * purity:.1f} %" for key, v, f in shares)
    found = check_label(slipped, rule="eu")
    assert found.verdict != "right"
    assert any(
        material in str(slip) and "taken for" in str(slip) for slip in found.slips
    )


@pytest.mark.parametrize(
    "text",
    [
        "Solfato di potassio\nK2O 41,5 %\nSO3 17 %",
        "Bittersalz\nMgO 9,6 %\nSO3 13 %",
        "MgO 9,6 %\nSO3 32 %",
        "Total nitrogen 13,7 %\nNitric nitrogen 13,7 %\nK2O 38,3 %",
    ],
)
def test_elements_under_the_names_of_oxides_are_told(text):
    # 50 % K2O is 41.5 % K, 42.5 % SO3 17 % S; 16 % MgO is 9.6 % Mg, 46.1 % K2O 38.3 % K
    checked = check_label(text, rule="eu")
    assert checked.verdict == "cannot tell"
    assert "taken for" in str(checked.slips[0])


def test_a_slip_leaves_the_verdict():
    wrong = check_label(KNO3.format(n=13.7, form=13.7, k=56), rule="us")
    assert wrong.verdict == "impossible"  # 46.6 x 1.2046 = 56.1
    assert any("K2O" in str(slip) and "for K" in str(slip) for slip in wrong.slips)
    low = check_label(KNO3.format(n=13.7, form=13.7, k=38.6), rule="us")
    assert (
        low.verdict == "cannot tell"
    )  # a minimum may be low, but the slip explains it
    assert low.about("slip")[0].severity == "caution"


@pytest.mark.parametrize(
    "path", sorted(LABELS.glob("[!w]*.txt")), ids=lambda path: path.stem
)
def test_no_slip_on_a_label_that_is_right(path):
    assert check_label(path.read_text(encoding="utf-8")).slips == ()


def test_a_label_that_cannot_be_explained_stays_unexplained():
    # 13 and 46.6 are potassium nitrate's; 61 % K2O is 1.31 times as much, which nothing is
    checked = check_label(KNO3.format(n=13, form=13, k=61), rule="us")
    assert checked.is_refuted
    assert checked.slips == ()


def test_a_liquid_that_falls_out_is_no_slip():
    # 40 % KNO3; handbooks: 27.5 % of a saturated solution at 25 °C
    text = KNO3.format(n="5.5", form="5.5", k="18.6") + "\nDensity 1.27 kg/L"
    checked = check_label(text, rule="us")
    assert checked.about("clear liquid")[0].verdict == "wrong"
    assert checked.slips == ()


# --- the programmes beneath -----------------------------------------------------------------------


def test_ranges_in_one_programme_are_those_of_each_alone():
    # blend_ranges solves each row by itself, without slack: another way to the same ends
    rng = np.random.default_rng(4)
    for _ in range(20):
        matrix = rng.uniform(0, 0.5, (4, 3))
        held = matrix @ rng.dirichlet(np.ones(3)) * 80
        low, high = held * 0.97, held * 1.05
        found = ranges_left(matrix, low, high, 100.0, [[row] for row in range(4)])
        for row, ((least, most),) in enumerate(found):
            kept = [i for i in range(4) if i != row]
            limits = Blends(matrix[kept], low[kept], high[kept], high[kept])
            ends = extremes(limits, matrix[[row]])[:, 0] @ matrix[row]
            assert [least, most] == pytest.approx(ends.tolist(), rel=1e-5)


def test_sets_of_limits_do_not_touch_each_other():
    one = np.array([[0.4, 0.0], [0.0, 0.5]])
    low = np.array([[20.0, 20.0], [30.0, 30.0], [10.0, 5.0]])  # 90, 135 and 35 g
    held = [which_hold(one, low[[k]], low[[k]] * 1.01, 100.0)[0] for k in range(3)]
    assert held == [True, False, True]
    assert which_hold(one, low, low * 1.01, 100.0).tolist() == held
    assert which_hold(one, low, low * 1.01, 12.0).tolist() == [True, False, False]
    assert which_hold(one, low[:0], low[:0], 100.0).tolist() == []
