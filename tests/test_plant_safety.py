"""What may harm plants is told by stage, with its limit and source; good feeds pass."""

import pytest

import formulate as fm
from formulate.chemistry.plant_safety import STAGES, plant_safety
from formulate.errors import FormulateError, InputError
from formulate.ingredients.dissolve import dissolve
from formulate.ingredients.ec_rules import rough_ec
from formulate.ingredients.salts import acid
from formulate.recipes.target import published_target_names
from formulate.tables import read_table, source

MACROS = ("NO3", "NH4", "H2PO4", "SO4", "K", "Ca", "Mg")


def feed(**extra):
    """A feed of ordinary strength, invented, with something added."""
    wanted = {"NO3": 10, "NH4": 0.5, "K": 5, "Ca": 3, "Mg": 1.5, "SO4": 2, "P": 1}
    return fm.solution({**wanted, **extra})


@pytest.mark.parametrize("stage", ["young", "mature"])
def test_an_ordinary_feed_passes(stage):
    assert plant_safety(feed(), stage=stage, ph=5.8) == ()


def test_full_strength_is_too_strong_for_seedlings():
    (notice,) = plant_safety(feed(), stage="seedling", ph=5.8)
    assert notice.what.startswith("EC 1.")
    assert notice.limit == 1.2  # ext-seedling, memory: 0.5-1.2 mS/cm


@pytest.mark.parametrize(
    ("key", "mg_l", "severity"),
    [
        # FAO 29 as reprinted (key fao29-pmc, read): 0.7-3.0 slight to moderate, > 3.0 severe
        ("B", 0.69, None),
        ("B", 0.71, "caution"),
        ("B", 3.1, "serious"),
        # state extension (okstate-hla6722, read): Na 50, Cl 140 mg/L
        ("Na", 49, None),
        ("Na", 51, "caution"),
        ("Na", 200, "serious"),
        ("Cl", 139, None),
        ("Cl", 141, "caution"),
        # from memory, marked so in the table
        ("Cu", 0.21, "caution"),
        ("Zn", 2.1, "serious"),
        ("Mn", 2.1, "caution"),
        ("Mo", 0.21, "caution"),
        ("F", 1.1, "caution"),
    ],
)
def test_each_limit_speaks_just_above_itself(key, mg_l, severity):
    notices = plant_safety(feed(**{key: f"{mg_l} mg/L"}), ec=1.5)
    told = {n.severity for n in notices if n.what.startswith(f"{key} ")}
    assert told == ({severity} if severity else set())


def test_ammonium_above_its_share_is_told():
    notices = plant_safety(fm.solution({"NO3": 5, "NH4": 5, "K": 2, "P": 2}), ec=1.0)
    (notice,) = notices
    assert notice.number == pytest.approx(50.0)
    assert notice.severity == "serious"


@pytest.mark.parametrize(
    ("ph", "severity"),
    [(5.4, "caution"), (5.5, None), (6.5, None), (7.0, "caution"), (7.6, "serious")],
)
def test_ph_outside_its_range_is_told(ph, severity):
    told = {n.severity for n in plant_safety(feed(), ph=ph, ec=1.5)}
    assert told == ({severity} if severity else set())


def test_without_a_reading_the_ph_is_that_of_the_chemistry():
    """A feed with no buffer is not blamed; one with alkalinity or acid in it is."""
    assert not [n for n in plant_safety(feed()) if n.what.startswith("pH")]
    hard = fm.solution({"Ca": 3, "NO3": 2, "HCO3": 4}, ph=None)
    (notice,) = [n for n in plant_safety(hard) if n.what.startswith("pH")]
    assert notice.severity == "caution"
    sour = dissolve({"KNO3": 5, acid("HNO3", percent=60): 10}, volume=20)
    assert {n.severity for n in plant_safety(sour)} == {"serious"}


def test_a_reading_of_the_ec_goes_before_the_computed_one():
    assert plant_safety(feed(), ph=5.8, ec=1.0, stage="seedling") == ()


def test_each_quantity_is_told_once_and_the_gravest_first():
    notices = plant_safety(feed(B="5 mg/L", Cu="0.5 mg/L"), stage="seedling")
    first_words = [notice.what.split()[0] for notice in notices]
    assert len(set(first_words)) == len(first_words)
    order = [("serious", "caution", "note").index(n.severity) for n in notices]
    assert order == sorted(order)


def test_notices_stay_even_where_a_target_asks_for_it():
    strong = fm.solve(fm.target({"B": 4.0}), ["H3BO3"], volume=10)
    assert any("B 4.0" in n.what for n in plant_safety(strong.solution))


def test_a_brine_is_serious():
    notices = plant_safety(fm.solution({"K": 500, "NO3": 500}))
    assert notices[0].severity == "serious"
    # 0.5 mol/L KNO3 has about 102 S cm²/mol (handbook, memory): 51 mS/cm
    assert notices[0].what.startswith("EC ")
    assert notices[0].number == pytest.approx(51, rel=0.1)


@pytest.mark.parametrize(
    ("key", "published"),
    # EC by 0.095 x cations + 0.19, recomputed in the published table (sonneveld-ec-1999)
    [("sv-tomato-drip", 2.69), ("sv-cucumber-drip", 2.09), ("sv-rose-drip", 1.59)],
)
def test_rough_ec_repeats_the_published_rule(key, published):
    wanted = fm.published_target(key).wanted
    made = fm.solution({k: v for k, v in wanted.items() if k in MACROS})
    assert rough_ec(made) == pytest.approx(published, abs=0.005)


def test_published_supply_solutions_raise_nothing_serious():
    """Feeds that growers use are not cried wolf at, pH aside."""
    for key in published_target_names():
        if key.endswith(("-root", "misprint")):
            continue
        wanted = fm.published_target(key).wanted
        if "NO3" not in wanted:
            continue
        notices = plant_safety(fm.solution(wanted))
        assert [n.what for n in notices if n.severity == "serious"] == [], key


@pytest.mark.parametrize("stage", ["adult", "", None, 3])
def test_an_unknown_stage_is_refused(stage):
    with pytest.raises(InputError, match="seedling"):
        plant_safety(feed(), stage=stage)


def test_an_impossible_ph_is_refused():
    with pytest.raises(FormulateError):
        plant_safety(feed(), ph=float("nan"))


def test_every_limit_has_a_stage_an_effect_and_a_source():
    for row in read_table("plant_limits"):
        assert row["stage"] in (*STAGES, "any")
        assert row["effect"]
        assert row.number("low") is not None or row.number("high") is not None
        assert source(row["source_key"])
