"""What went wrong, in words: the answer, the air, topping up, edges."""

import re

import numpy as np
import pytest
from test_mistakes import (
    GREENHOUSE,
    MACRO,
    MEANT,
    NITRIC,
    SURE,
    TRACE,
    asked,
    dissolved,
    of_kind,
    recipe,
    the_one,
)

import formulate.mixing.judging as judging
from formulate.chemistry.conductivity import ec as ec_of
from formulate.chemistry.speciation import speciate
from formulate.chemistry.waters import water
from formulate.errors import InputError, NoConvergence
from formulate.ingredients.dissolve import dissolve
from formulate.ingredients.salts import as_ingredient, catalogue
from formulate.mixing.batch import batch_of
from formulate.mixing.hypotheses import Hypothesis, hypotheses
from formulate.mixing.mistakes import what_went_wrong

# --- the answer ---------------------------------------------------------------------------


def test_it_names_one_only_if_only_one_is_possible():
    meant = {"KNO3": 50.0, "KH2PO4": 14.0}
    right = asked(meant, ec=1, ph=7)
    one = the_one(right, "KNO3 went in twice")
    found = asked(meant, ec=one.ec, ph=one.ph, **SURE)
    assert found.verdict == "named"
    assert found.named.words == one.words
    assert found.what_to_do == one.what_to_do
    assert str(found).startswith("KNO3 went in twice: of ")
    assert "pour half of the batch away" in str(found)
    vague = asked(meant, ec=one.ec, ph=one.ph, own_ec_error_percent=20)
    assert vague.verdict == "cannot tell"
    assert vague.named is None


def test_what_cannot_be_told_apart_stands_in_one_group():
    meant = {**MEANT, "CuSO4·5H2O": 0.01}
    right = of_kind(asked(meant, ec=1, ph=7), "nothing")[0]
    found = asked(meant, ec=right.ec, ph=right.ph, **SURE)
    group = {s.words for s in found.groups[0]}
    assert {"nothing is wrong", "CuSO4·5H2O was forgotten"} <= group
    assert found.verdict == "cannot tell"
    assert sum(len(g) for g in found.groups) == len(found.candidates)
    for some in found.groups:
        for one in some:
            for other in some:
                ecs = (one.ec - other.ec) / (0.01 * (one.ec + other.ec))
                assert np.hypot(ecs, (one.ph - other.ph) / 0.05) < 2


def test_a_further_reading_tells_calcium_from_potassium():
    """Forgotten calcium nitrate leaves what the water holds, forgotten KNO3 leaves Ca.

    80 g of the tetrahydrate (40.078/236.15 Ca) in 100 L bring 135.8 mg/L.
    """
    one = the_one(asked(ec=1, ph=7), "Ca(NO3)2·4H2O was forgotten")
    found = asked(ec=one.ec, ph=one.ph, **SURE)
    low, high = re.search(
        r"Ca .*?: ([\d.]+) mg/L.*?, ([\d.]+) mg/L", found.next_reading
    ).groups()
    assert float(high) - float(low) == pytest.approx(135.8, abs=0.6)


def test_none_of_these_explains_it():
    found = asked(ec=9, ph=2)
    assert found.verdict == "none of these explains it"
    assert found.candidates == ()
    assert "None of these explains it" in str(found)
    assert "Nearest" in str(found)
    assert not any(row[4] for row in found.rows())


def test_all_is_held_against_a_batch_known_to_be_right():
    found = asked(ec=1.7, ph=6.0, known_right=(2.1, 6.1))
    nothing = of_kind(found, "nothing")[0]
    assert (nothing.ec, nothing.ph) == pytest.approx((2.1, 6.1))
    plain = asked(ec=1.7, ph=6.0)
    half = {"KNO3 was forgotten", "MgSO4·7H2O went in twice"}
    scale = 2.1 / of_kind(plain, "nothing")[0].ec
    for words in half:
        assert the_one(found, words).ec == pytest.approx(
            scale * the_one(plain, words).ec
        )
    read = of_kind(plain, "nothing")[0]
    sure = asked(ec=2.1, ph=6.1, known_right=(2.1, 6.1))
    assert sure.suspects[0].kind == "nothing"
    assert len(sure.candidates) < len(asked(ec=read.ec, ph=read.ph).candidates)


def test_little_buffered_batches_are_told():
    found = asked({"KNO3": 50.0}, water="pure", ec=0.7, ph=5.6)
    assert any("little buffers" in n.what for n in found.notices)
    assert found.may_be_right
    assert not asked(water="hard", ec=2.4, ph=6.9).notices


def test_carbon_dioxide_that_leaves_is_told():
    """A feed gives off carbon dioxide and its pH rises; it never falls by that."""
    right = of_kind(asked(water="hard", ec=2.4, ph=6.9), "nothing")[0]
    stood = {"water": "hard", "ec": right.ec, "ph": right.ph + 0.8}
    assert "carbon dioxide may have left" in asked(**stood).answer
    assert not asked(**stood).notices
    closed = asked(**stood, aired=False)
    assert any("carbon dioxide leaves" in n.what for n in closed.notices)
    assert not closed.may_be_right
    thin = asked(**{**stood, "ec": 0.7 * right.ec})
    assert any("carbon dioxide leaves" in n.what for n in thin.notices)
    for off in (0.0, -0.8):
        for aired in (None, False):
            other = {**stood, "ph": right.ph + off, "aired": aired}
            assert "carbon dioxide" not in str(asked(**other))


def test_the_answer_is_short_and_the_table_whole():
    for readings in (
        {"ec": 1.95, "ph": 6.38},
        {"ec": 9, "ph": 2},
        {"ec": 1.3},
        {"ph": 7},
    ):
        found = asked(**readings)
        assert len(str(found).splitlines()) <= 15
        assert "Never add concentrates" in str(found)
        frame = found.to_frame()
        assert len(frame) == len(found.suspects) == len(found.rows())
        assert frame["possible"].sum() == len(found.candidates)
    best = [s.misfit for s in found.suspects]
    assert best[1:] == pytest.approx(sorted(best[1:]), abs=0.1)


def test_acids_carry_their_caution():
    meant = {**MEANT, NITRIC: 30.0}
    one = the_one(asked(meant, water="hard", ec=1, ph=7), f"{NITRIC} was forgotten")
    assert "goggles" in one.what_to_do
    given = {"water": "hard", "ec": one.ec, "ph": one.ph, **SURE}
    found = asked(meant, **given, aired=False)
    assert found.suspects[0].words == one.words
    assert "never water to acid" in str(found)
    assert "never water to acid" not in str(asked(meant, **given))  # keep it as it is
    thin = asked(meant, water="hard", ec=0.9, ph=6.9)
    assert "by the meter" in thin.what_to_do
    assert "never water to acid" in str(thin)


# --- the air ------------------------------------------------------------------------------

SOUR = {**MEANT, NITRIC: 25.0}
POURS = re.compile(r"\b(pour|dissolve|add) [\d{]|of it slowly|once more")


def alone(meant=SOUR, tap="hard", volume=100, **given):
    """Return EC and pH of one solution by itself, closed to the air or open to it."""
    state = speciate(
        dissolve(meant, volume=volume, water=water(tap)), temperature=25.0, **given
    )
    return ec_of(state), state.ph


@pytest.mark.parametrize("share", [0.0, 0.2, 0.5, 0.8, 1.0])
def test_a_right_batch_in_hard_water_may_be_right_at_any_ph_up_to_the_aerated(share):
    """The pH rises as carbon dioxide leaves; acid poured for it would spoil the batch."""
    (conducts, closed), (then, aired) = alone(), alone(air_co2_ppm=420)
    assert aired - closed > 1.5
    assert conducts / then > 1.03  # more of calcium and magnesium stands in pairs
    for own in ({}, SURE):
        read = {
            "ec": conducts + share * (then - conducts),
            "ph": closed + share * (aired - closed),
        }
        found = asked(SOUR, water="hard", **read, **own)
        assert found.may_be_right
        assert found.what_to_do == of_kind(found, "nothing")[0].what_to_do
        assert "keep the batch as it is" in str(found)
        assert not POURS.search(str(found))
        assert "If " not in str(found)
        if share:
            assert found.answer.startswith("Yes, this may well be right")
            ends = f"(pH from {closed:.2f} at once to {aired:.2f} aerated)"
            assert f"carbon dioxide may have left {ends}" in found.answer


def test_beyond_the_aerated_ph_it_is_wrong():
    (conducts, closed), (_, aired) = alone(), alone(air_co2_ppm=420)
    for ph in (closed - 0.3, aired + 0.3):
        assert not asked(SOUR, water="hard", ec=conducts, ph=ph, **SURE).may_be_right
    wide = {"own_ec_error_percent": 0, "own_ph_error": 0.3}
    for ph in (closed - 0.3, aired + 0.3):
        assert asked(SOUR, water="hard", ec=conducts, ph=ph, **wide).may_be_right


def test_random_right_batches_that_stood_open_may_be_right():
    rng = np.random.default_rng(30)
    for _ in range(25):
        batch = recipe(rng)
        made = dissolved(batch, Hypothesis("nothing"))
        closed = speciate(made, temperature=25.0)
        opened = speciate(made, temperature=25.0, air_co2_ppm=420)
        share = rng.uniform()
        ph = closed.ph + share * (opened.ph - closed.ph)
        read_ec = ec_of(closed) + share * (ec_of(opened) - ec_of(closed))
        found = what_went_wrong(batch, ec=read_ec, ph=ph)
        assert found.may_be_right
        assert not POURS.search(str(found))


def test_who_knows_how_it_stood_has_one_ph():
    closed, opened = alone(), alone(air_co2_ppm=420)
    read = {"water": "hard"}
    at_once = asked(SOUR, **read, ec=closed[0], ph=closed[1], aired=False)
    aerated = asked(SOUR, **read, ec=opened[0], ph=opened[1], aired=True)
    for found, (_, ph) in ((at_once, closed), (aerated, opened)):
        one = of_kind(found, "nothing")[0]
        assert one.ph == pytest.approx(ph, abs=1e-6)
        assert one.ec == pytest.approx(found.ec, rel=1e-9)
        assert one.ph_in_air is None
        assert found.suspects[0].kind == "nothing"
        assert "carbon dioxide" not in str(found)
    read |= {"ec": closed[0]}
    assert not asked(SOUR, **read, ph=opened[1], aired=False).may_be_right
    assert not asked(SOUR, **read, ph=closed[1], aired=True).may_be_right


def test_a_batch_known_to_be_right_stood_alike():
    (conducts, closed), (_, aired) = alone(), alone(air_co2_ppm=420)
    given = {"water": "hard", "ec": conducts, "ph": aired}
    fresh = asked(SOUR, **given, known_right=(conducts, closed))
    assert not fresh.may_be_right
    stood = asked(SOUR, **given, known_right=(conducts, aired))
    assert stood.suspects[0].kind == "nothing"
    assert of_kind(stood, "nothing")[0].ph_in_air is None
    only_ec = asked(SOUR, **given, known_right=(conducts, None))
    assert only_ec.may_be_right


def test_both_ends_are_shown_where_they_are_far_apart():
    found = asked(SOUR, water="hard", ec=2.3, ph=7.0)
    for one in found.suspects:
        far = abs(one.ph - one.ph_in_air) > 0.3
        both = f"pH {one.ph:.2f} at once to {one.ph_in_air:.2f} aerated"
        assert (both in str(one)) == far
        assert far or f"pH {one.ph:.2f};" in str(one)
        assert one.is_soft or (both in one.shown) == far
    assert {one.moves for one in found.suspects} == {True, False}


def test_acid_and_alkali_go_in_by_the_meter_only():
    """No cure orders a weight of acid or alkali to be poured: air first, then at most."""
    meant = {**SOUR, "potassium carbonate": 3.0, "sodium carbonate decahydrate": 3.0}
    every = asked(meant, water="hard", ec=2.3, ph=7.0, others=["KNO3"]).suspects
    sour = {NITRIC, "potassium carbonate", "sodium carbonate decahydrate"}
    seen = set()
    for one in every:
        first, cure = one.hypothesis.first, one.what_to_do
        if one.kind in ("forgotten", "instead", "hydrate less", "weaker acid"):
            if first.name not in sour:
                continue
            seen.add(one.kind)
            assert "mix anew" in cure or cure.index("let air bubble") < cure.index(
                "at most"
            )
            assert not POURS.search(cure)
        if one.kind in ("doubled", "too much water"):
            seen.add(one.kind)
            named = cure.partition("; ")[2]
            others = sour - ({first.name} if first else set())
            assert all(name in named for name in others)
            assert "by the meter" in named
    assert seen >= {"forgotten", "instead", "weaker acid", "doubled", "too much water"}
    salts = asked(ec=1.5, ph=6).suspects
    assert not any("by the meter" in one.what_to_do for one in salts)


def test_what_does_not_come_to_rest_in_the_air_counts_as_closed():
    """Copper and soda beyond any use: open to the air a few of these do not settle."""
    absurd = {"sodium carbonate decahydrate": 53.7, "copper chloride dihydrate": 50.8}
    found = asked(absurd, water="hard", ec=1.5, ph=6.5)
    closed = asked(absurd, water="hard", ec=1.5, ph=6.5, aired=False)
    assert [
        s.ph for s in sorted(found.suspects, key=lambda s: s.words)
    ] == pytest.approx([s.ph for s in sorted(closed.suspects, key=lambda s: s.words)])
    assert any("did not come to rest" in n.what for n in found.notices)
    same = {s.place for s in found.suspects if s.ph_in_air == s.ph}
    assert any(f"{len(same)} of the hypotheses" in n.what for n in found.notices)
    assert 0 < len(same) < 10
    assert "come to rest" not in str(closed)
    with pytest.raises(NoConvergence):
        asked(absurd, water="hard", ec=1.5, ph=6.5, aired=True)


# --- topping up, and nothing at all -------------------------------------------------------


def test_topping_up_was_forgotten():
    """Three quarters of the water, and all that was poured on top of it."""
    poured = 25.0 / catalogue()[NITRIC].density / 1000  # L
    for share in (0.75, 0.25):
        stands = share * (100 - poured) + poured
        true = alone(volume=stands)
        found = asked(SOUR, water="hard", ec=true[0], ph=true[1])
        one = found.suspects[0]
        assert one.kind == "not topped up"
        assert one.hypothesis.filled == pytest.approx(stands / 100)
        assert (one.ec, one.ph) == pytest.approx(true, rel=1e-6)
        assert f"it stands at {stands:.1f}".rstrip("0").rstrip(".") in one.words
        assert found.what_to_do.startswith("fill up to 100 L")
        assert not found.may_be_right


def test_liquids_stand_on_top_of_the_water_first():
    """10 L hold 4 L of acid of 1 kg/L: a quarter of the 6 L of water stand at 5.5 L."""
    thin = as_ingredient(NITRIC)
    grams = 4000 * thin.density
    low = [
        h for h in hypotheses(batch_of({thin: grams}, volume=10)) if "topped" in h.kind
    ]
    assert [h.filled for h in low] == pytest.approx([0.85, 0.55])


def test_the_own_share_of_the_water_is_looked_at():
    def shares(**given):
        found = of_kind(asked(ec=1.5, ph=6, **given), "not topped up")
        return sorted(s.hypothesis.filled for s in found)

    assert shares() == shares(start_fraction=0.75) == pytest.approx([0.25, 0.75])
    assert shares(start_fraction=0.6) == pytest.approx([0.25, 0.6, 0.75])
    half = asked(ec=1.5, ph=6, start_fraction=0.5).suspects
    (one,) = [s for s in half if s.hypothesis.filled == pytest.approx(0.5)]
    assert one.kind == "not topped up"


def test_nothing_went_in():
    """The water by itself, whatever the batch."""
    true = alone({"KNO3": 0.0}, tap="medium")
    found = asked(SOUR, water="medium", ec=true[0], ph=true[1])
    assert found.suspects[0].kind == "no salts"
    assert (found.suspects[0].ec, found.suspects[0].ph) == pytest.approx(true, rel=1e-6)
    assert "mix the batch as planned" in found.what_to_do
    assert not of_kind(asked({"KNO3": 50.0}, ec=1), "no salts")
    pure = asked(water="pure", ec=0.0)
    assert pure.suspects[0].kind == "no salts"


def test_lines_are_the_answer_without_its_notices():
    found = asked({"KNO3": 50.0}, water="pure", ec=0.7, ph=5.6)
    assert found.notices
    assert "\n".join([*found.lines, *map(str, found.notices)]) == str(found)
    assert not any(str(notice) in found.lines for notice in found.notices)


# --- shelf and waters ---------------------------------------------------------------------


def test_other_bags_of_the_shelf_are_looked_at():
    words = "urea went in instead of KNO3"
    assert not [s for s in asked(ec=1, ph=7).suspects if s.words == words]
    one = the_one(asked(ec=1, ph=7, others=["urea", "KNO3"]), words)
    without = {name: grams for name, grams in MEANT.items() if name != "KNO3"}
    made = dissolve({**without, "urea": 50.0}, volume=100, water=water("soft"))
    assert one.ec == pytest.approx(ec_of(speciate(made, temperature=25.0)), rel=1e-9)


def test_pure_water_is_looked_at_only_where_it_differs():
    assert len(of_kind(asked(ec=1, ph=7), "water")) == 1
    assert of_kind(asked(ec=1, ph=7, water="pure"), "water") == []
    assert len(of_kind(asked(ec=1, ph=7, water="pure", waters="hard"), "water")) == 1


# --- edges --------------------------------------------------------------------------------


def test_zero_grams_are_left_out():
    found = asked({**MEANT, "K2SO4": 0.0}, ec=1.9, ph=6.4)
    assert not any("K2SO4 was" in s.words for s in found.suspects)
    assert len(of_kind(found, "forgotten")) == len(MEANT)
    nothing_in = asked({"KNO3": 0.0}, ec=0.2, ph=7)
    assert of_kind(nothing_in, "forgotten") == []


def test_one_salt_and_acids_only():
    assert asked({"KNO3": 50.0}, ec=0.9).candidates
    found = asked({NITRIC: 10.0}, water="hard", ec=0.7, ph=6.9)
    assert len(of_kind(found, "forgotten")) == 1
    assert of_kind(found, "weaker acid")


def test_one_reading_is_enough_and_meters_need_an_ec():
    assert of_kind(asked(ec=1.9), "meter")
    found = asked(ph=6.4)
    assert of_kind(found, "meter") == []
    assert found.ec is None
    assert "EC" not in found.answer


def test_every_fault_at_once():
    with pytest.raises(InputError) as caught:
        what_went_wrong(
            {"KNO3": -1.0},
            volume=100,
            ec=-1,
            ph=15,
            others=["kryptonite"],
            waters=["styx"],
            ec_error_percent=0,
            own_ph_error=float("nan"),
            known_right=3,
            aired="long",
            start_fraction=1.5,
        )
    text = str(caught.value)
    for word in (
        "KNO3",
        "ec",
        "ph",
        "kryptonite",
        "styx",
        "ec_error",
        "own_ph",
        "right",
        "aired",
        "start_fraction",
    ):
        assert word in text
    assert len(caught.value.faults) == 10


@pytest.mark.parametrize(
    "given", [{}, {"ec": float("nan")}, {"ph": "six"}, {"ec": "2 kg"}]
)
def test_bad_readings_are_refused(given):
    with pytest.raises(InputError):
        asked(**given)


def test_the_chemistry_is_asked_as_often_for_two_salts_as_for_twelve(monkeypatch):
    """One stack: no loop over hypotheses."""
    calls = []

    def counting(*args, **given):
        calls.append(1)
        return speciate(*args, **given)

    monkeypatch.setattr(judging, "speciate", counting)
    asked({"KNO3": 50.0, "KH2PO4": 14.0}, ec=1, ph=6)
    few = len(calls)
    many = dict.fromkeys([*MACRO][2:], 5.0) | dict.fromkeys(TRACE, 0.1)
    assert len(asked(many, ec=1, ph=6).suspects) > 100
    assert len(calls) == 2 * few == 4


def test_an_ingredient_of_a_label_is_known_by_its_analysis():
    own = as_ingredient(GREENHOUSE).renamed("my bag")
    found = asked({own: 80.0, "KNO3": 50.0}, ec=1, ph=6)
    assert any("instead of my bag" in s.words for s in found.suspects)
