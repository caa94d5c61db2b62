"""Trace stocks: what keeps together, round volumes and doses, errors both ways."""

import csv
import math
from pathlib import Path

import pytest

from formulate.ingredients.dissolve import dissolve
from formulate.ingredients.salts import salt
from formulate.ingredients.solubility import solubility
from formulate.ingredients.stock import stock
from formulate.recipes.trace_stocks import (
    keeps_apart,
    measuring_step,
    propose_stocks,
)
from formulate.tables import read_table

PUBLISHED = Path(__file__).parent / "published" / "recipes_salts.csv"
# hershey-1997 (read): grams in a litre of the micronutrient stock of Hoagland, 1 mL/L
HOAGLAND = {
    "H3BO3": 2.86,
    "MnCl2·4H2O": 1.81,
    "ZnSO4·7H2O": 0.22,
    "CuSO4·5H2O": 0.08,
}


def proposed(grams, volume, step=0.01):
    traces = [(salt(name, name=name), amount) for name, amount in grams.items()]
    steps = dict.fromkeys(grams, step)
    return propose_stocks(traces, volume=volume, steps=steps)


# --- the published stock ---------------------------------------------------------------


def test_the_published_amounts_are_those_of_the_table():
    with PUBLISHED.open(encoding="utf-8", newline="") as file:
        rows = [r for r in csv.DictReader(file) if r["recipe"] == "hoagland-micro"]
    printed = {r["formula"].replace(".", "·"): float(r["amount"]) for r in rows}
    assert {name: printed[name] for name in HOAGLAND} == HOAGLAND


def test_the_published_stock_counts_as_one_that_keeps():
    parts = [salt(name) for name in (*HOAGLAND, "Na2MoO4·2H2O")]
    for one in parts:
        for other in parts:
            assert keeps_apart(one, other) == ""


def test_the_published_stock_is_proposed_as_one():
    # for 10 L the recipe takes 10 mL of that stock: a hundredth of the grams in a litre;
    # 0.8 mg of copper sulfate, so a balance of 1 mg
    (made,), left = proposed({n: g / 100 for n, g in HOAGLAND.items()}, 10, 0.001)
    assert left == ()
    assert {part.name for part, _ in made.parts} == set(HOAGLAND)
    for part, grams in made.parts:
        published = HOAGLAND[part.name] / 100 * made.batches
        assert grams == pytest.approx(published, abs=0.0005 + 1e-9), part.name
    # hershey-1997 (read): B 0.5, Mn 0.5, Zn 0.05, Cu 0.02 mg/L, as printed
    feed = dissolve({made.ingredient: made.dose}, volume=10)
    for key, value, half in (("B", 0.5, 0.05), ("Mn", 0.5, 0.05)):
        assert feed.mg_l(key) == pytest.approx(value, abs=half)
    for key, value in (("Zn", 0.05), ("Cu", 0.02)):
        assert feed.mg_l(key) == pytest.approx(value, abs=0.005)


# --- what keeps together ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("one", "other"),
    [
        # fertigation-interaction-page (read)
        ("Ca(NO3)2·4H2O", "ZnSO4·7H2O"),
        ("Ca(NO3)2·4H2O", "KH2PO4"),
        ("Mg(NO3)2·6H2O", "NH4H2PO4"),
        ("KH2PO4", "FeSO4·7H2O"),
        # compat-chart and ext-mixing (memory)
        ("KH2PO4", "CuSO4·5H2O"),
        ("K2SiO3", "H3BO3"),
        ("nitric acid (38 %)", "KNO3"),
        ("citric acid monohydrate", "Na2MoO4·2H2O"),
        ("KOH", "H3BO3"),
        ("iron DTPA chelate (11 % Fe)", "MnSO4·H2O"),
        ("borax decahydrate", "MnSO4·H2O"),
        ("FeSO4·7H2O", "FeSO4·7H2O"),
    ],
)
def test_what_does_not_keep_together(one, other):
    assert keeps_apart(salt(one), salt(other))
    assert keeps_apart(salt(other), salt(one)) == keeps_apart(salt(one), salt(other))


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Ca(NO3)2·4H2O", "KNO3"),  # compat-chart (memory): compatible
        ("Ca(NO3)2·4H2O", "iron DTPA chelate (11 % Fe)"),  # the same chart
        ("iron DTPA chelate (11 % Fe)", "zinc EDTA chelate (15 % Zn)"),
        ("K2SiO3", "K2SiO3"),  # alone it keeps
        ("citric acid monohydrate", "citric acid monohydrate"),
    ],
)
def test_what_keeps_together(one, other):
    first, second = salt(one), salt(other)
    second = first if one == other else second
    assert keeps_apart(first, second) == ""


def test_traces_that_do_not_keep_go_into_two_stocks():
    made, left = proposed(
        {"iron DTPA chelate (11 % Fe)": 0.1, "MnSO4·H2O": 0.02, "H3BO3": 0.03}, 20
    )
    assert left == ()
    groups = [{part.name for part, _ in one.parts} for one in made]
    assert groups == [{"iron DTPA chelate (11 % Fe)", "H3BO3"}, {"MnSO4·H2O"}]


def test_iron_that_rusts_stays_weighed_and_is_told():
    made, left = proposed({"FeSO4·7H2O": 0.05}, 20)
    assert made == ()
    assert "FeSO4·7H2O stays weighed" in left[0].what
    assert "rust" in left[0].what


def test_a_batch_too_small_for_a_dose_is_told():
    # 10 mL/L of 0.1 L is 1 mL, ten steps of a syringe
    made, left = proposed({"H3BO3": 0.0003}, 0.1)
    assert made == ()
    assert "no round volume" in left[0].what


def test_what_dissolves_too_little_stays_weighed():
    # gypsum: 0.2 g in 100 g of water (crc-solubility, read); 1 g a batch in 10 mL is 100 g/L
    made, left = proposed({"CaSO4·2H2O": 0.9}, 1, step=0.1)
    assert made == ()
    assert "solubility" in left[0].what or "gypsum" in left[0].what


def test_no_data_on_solubility_is_told():
    (made,), _ = proposed({"iron HBED chelate (7 % Fe)": 0.05}, 20)
    assert any("no solubility" in notice.what for notice in made.notices)


# --- sizes and errors ------------------------------------------------------------------


@pytest.mark.parametrize("volume", [2, 4, 20, 100, 1000])
@pytest.mark.parametrize("step", [0.01, 0.1])
def test_every_part_and_dose_is_large_enough(volume, step):
    # 0.8 of a step to 15 steps a batch
    shares = (15, 8, 3, 0.8)
    grams = {n: s * step for n, s in zip(HOAGLAND, shares, strict=True)}
    made, left = proposed(grams, volume, step)
    assert len(left) + sum(len(one.parts) for one in made) == 4
    assert made
    for one in made:
        assert one.dose / one.dose_step >= 20 - 1e-9
        assert one.dose <= 10 * volume
        share = 0.0
        for part, weight in one.parts:
            count = weight / step
            assert count == pytest.approx(round(count), abs=1e-6)
            assert count >= 20
            exact = grams[part.name] * one.batches
            assert abs(weight - exact) <= step / 2 + 1e-9
            share += weight / one.volume / (10 * solubility(part, 5).low)
        assert share <= 0.5


def test_errors_by_hand():
    boric = salt("H3BO3")
    (made,), _ = propose_stocks([(boric, 0.0286)], volume=10, steps={"H3BO3": 0.01})
    # 1.43 g in 0.5 L, 10 mL a batch: ± 0.005/1.43 and ± 0.05/10, weighed alone ± 0.005/0.03
    assert (made.volume, made.dose, made.dose_step) == (0.5, 10, 0.1)
    ((name, grams, batch, alone, worst, likely),) = made.rows()
    assert (name, grams) == ("H3BO3", 1.43)
    assert batch == pytest.approx(0.0286)
    assert alone == pytest.approx(100 * 0.005 / 0.03)
    assert worst == pytest.approx(100 * (0.005 / 1.43 + 0.05 / 10))
    assert likely == pytest.approx(100 * math.sqrt((0.005 / 1.43) ** 2 + 0.005**2))


def test_measures_are_common_practice():
    # common practice, no source: syringe below 20 mL, cylinder from there
    assert measuring_step(19.9) == 0.1
    assert measuring_step(20) == 1.0


def test_a_name_that_is_taken_is_not_used():
    boric = salt("H3BO3")
    (made,), _ = propose_stocks(
        [(boric, 0.03)], volume=10, steps={"H3BO3": 0.01}, taken=["trace stock 1"]
    )
    assert made.ingredient.name == "trace stock 2"


def test_nothing_to_stock():
    assert propose_stocks([], volume=10, steps={}) == ((), ())


def test_the_stock_is_an_ordinary_ingredient_and_is_told_to_be_kept_well():
    (made,), _ = proposed({"H3BO3": 0.03}, 10)
    again = stock("again", dict(made.parts), volume=made.volume)
    assert made.ingredient.amount("B") == again.amount("B")
    words = str(made)
    assert all(word in words for word in ("dark", "label", "date", "batches"))


def test_every_rule_has_its_words():
    for row in read_table("stock_rules"):
        if row["kind"] in ("apart", "watch"):
            assert row["first"]
            assert row["second"]
            assert row["text"]
