"""Targets: published values, ranges, keys that clash, and whether the ions can balance."""

import contextlib
import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import FormulateError, InputError, UnknownName
from formulate.recipes.target import published_target, published_target_names, target
from formulate.tables import source

PUBLISHED = Path(__file__).parent / "published"
NUTRIENTS = ("N", "NH4_N", "P", "K", "Ca", "Mg", "S", "Cl")
NUTRIENTS += ("Fe", "Mn", "Zn", "B", "Cu", "Mo")
# Standard atomic masses (CIAAW 2021, abridged) in g/mol.
MASS = {"N": 14.007, "P": 30.974, "K": 39.098, "Ca": 40.078, "Mg": 24.305, "S": 32.06}


def _rows(name):
    with (PUBLISHED / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


MG_L = [
    (row["id"], key.replace("_", "-"), row[f"{key}_mg_L"])
    for row in _rows("targets_mg_per_L.csv")
    if row["id"] != "ufifas-tomato-early"  # one sentence, no table of its own
    for key in NUTRIENTS
    if row[f"{key}_mg_L"]
]
MMOL_L = [
    (row["id"], key, float(row[f"{key}_mmol_L"]))
    for row in _rows("targets_mmol_per_L.csv")
    for key in ("NO3", "H2PO4", "SO4", "NH4", "K", "Ca", "Mg")
]


# --- published targets -----------------------------------------------------------------


def test_at_least_25_published_targets_load_with_source_and_how_known():
    targets = [published_target(key) for key in published_target_names()]
    assert len(targets) >= 25
    for made in targets:
        assert made.name
        assert made.wanted
        assert made.how_known in ("read", "memory")
        keys = [key.strip() for key in made.source_key.split(";")]
        assert all(source(key).title for key in keys)


@pytest.mark.parametrize(("name", "key", "printed"), MG_L)
def test_mg_per_litre_as_printed_and_of_a_range_the_middle(name, key, printed):
    # Sources: the source_key column of tests/published/targets_mg_per_L.csv.
    low, _, high = printed.partition("-")
    middle = (float(low) + float(high or low)) / 2
    made = published_target(name)
    assert made.mg_l(key) == pytest.approx(middle, rel=1e-9, abs=1e-12)
    assert (key in made.ranges) == bool(high)
    if high:
        ends = made.ranges[key]
        scale = made.wanted[key] / middle
        assert ends == pytest.approx((float(low) * scale, float(high) * scale))


@pytest.mark.parametrize(("name", "key", "printed"), MMOL_L)
def test_mmol_per_litre_as_printed(name, key, printed):
    # Sources: the source_key column of tests/published/targets_mmol_per_L.csv.
    assert published_target(name).wanted[key] == pytest.approx(printed, rel=1e-12)


def test_a_target_from_memory_says_so():
    said = [str(notice) for notice in published_target("steiner-1984").notices]
    assert any("memory" in text for text in said)
    said = [str(notice) for notice in published_target("hoagland1-1950").notices]
    assert not any("memory" in text for text in said)


@pytest.mark.parametrize("key", ["steiner", "", None, 5, "../sources"])
def test_an_unknown_published_target_is_named_and_the_known_ones_listed(key):
    with pytest.raises(UnknownName, match="steiner-1984"):
        published_target(key)


# --- can it exist? ---------------------------------------------------------------------


def _balance(made):
    return [n for n in made.notices if "balance" in n.what or "anions" in n.what]


def test_the_reprint_that_prints_sulfate_as_sulfur_is_told_by_name():
    made = published_target("steiner-reprint-misprint")
    (notice,) = _balance(made)
    assert notice.severity in ("caution", "serious")
    assert made.name in notice.what
    assert "cannot balance" in notice.what
    assert "S 336 mg/L were SO4" in notice.what


def test_the_gap_of_the_reprint_equals_a_hand_computation():
    # mg/L of the reprint (trejo-tellez-2012, memory) over the masses above; the trace
    # metals (Fe 3, Mn 0.65, Zn 0.2, Cu 0.06 mg/L) add 0.19 meq/L of cations.
    cations = 273 / MASS["K"] + 2 * 180 / MASS["Ca"] + 2 * 48.6 / MASS["Mg"]
    cations += 3 * 3 / 55.845 + 2 * (0.65 / 54.938 + 0.2 / 65.38 + 0.06 / 63.546)
    anions = 168 / MASS["N"] + 31 / MASS["P"] + 2 * 336 / MASS["S"]
    (notice,) = _balance(published_target("steiner-reprint-misprint"))
    assert notice.number == pytest.approx(cations - anions, abs=0.02)


@pytest.mark.parametrize(
    "key",
    [
        "steiner-1984",
        "steiner-universal",
        "hoagland1-1950",
        "hoagland2-1950",
        "hoagland1-mmol",
        "hoagland2-mmol",
        "knop",
        "sv-tomato-drip",
        "sv-cucumber-drip",
    ],
)
def test_targets_that_balance_are_not_warned_about(key):
    assert not _balance(published_target(key))


def test_a_target_without_all_macronutrients_is_not_judged():
    assert not _balance(published_target("lettuce-trial-n4"))


# Hoagland No. 2 in mg/L (hoagland2-copy, read): N 210 = 196 as nitrate + 14 as ammonium.
HOAGLAND_2 = {"P": 31, "K": 235, "Ca": 160, "Mg": 48.6, "S": 64}


@pytest.mark.parametrize(
    "nitrogen",
    [
        {"N": 210, "NH4-N": 14},
        {"NO3-N": 196, "NH4-N": 14},
        {"N": 210, "NO3-N": 196},
        {"N": 210, "NO3-N": 196, "NH4-N": 14},
        {"N": 210, "NH4": 18.04},
        {"N": 210, "NH3": 17.03},
    ],
    ids=" ".join,
)
def test_one_solution_balances_however_its_nitrogen_is_written(nitrogen):
    assert not _balance(target(nitrogen | HOAGLAND_2))


def test_the_balance_follows_the_ammonium_share_that_was_asked_for():
    # 10 mmol/L N, half of it ammonium: cations 5 + 3 + 2 + 2, anions 5 + 1 + 6 meq/L.
    others = {"P": 1.0, "K": 3.0, "Ca": 1.0, "Mg": 1.0, "S": 3.0}
    half = target({"N": 10.0, **others}, unit="mmol/L", ammonium_share=(0.5, 0.5))
    assert not _balance(half)
    none = target({"N": 10.0, **others}, unit="mmol/L", ammonium_share=(0, 0))
    (notice,) = _balance(none)
    assert notice.number == pytest.approx(-10.0)


# --- what people write -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "mg_l"),
    [
        (65, 65),
        (65.0, 65),
        ("65", 65),
        ("65 mg/L", 65),
        ("65 ppm", 65),
        ("1,5", 1.5),
        ("60-70", 65),  # cv216 (read): "60-70 ppm" N early in the season
        ("60–70", 65),
        ("60–70 mg/L", 65),
        ("60—70", 65),
        ("60−70", 65),
        ("60 - 70 mg/L", 65),
        ("60 to 70", 65),
        ("1,5-2,5", 2.0),
        ((60, 70), 65),
        ([60, "70"], 65),
        (np.float64(65), 65),
        (np.int64(65), 65),
        ("0.065 g/L", 65),
        ("2 mmol/L", 2 * MASS["K"]),
        ("1-3 mmol/L", 2 * MASS["K"]),
        ("2 meq/L", 2 * MASS["K"]),
        ("1e-3", 1e-3),
    ],
)
def test_numbers_ranges_and_own_units(written, mg_l):
    # 1e-5: the masses above are abridged to five digits
    assert target({"K": written}).mg_l("K") == pytest.approx(mg_l, rel=1e-5)


def test_a_range_keeps_its_ends_and_shows_them():
    made = target({"K": "1-3 mmol/L", "Ca": 2}, unit="mmol/L")
    assert dict(made.ranges) == {"K": (1.0, 3.0)}
    assert made.wanted["K"] == 2.0
    assert "39.1 to 117 mg/L" in str(made)  # 1 and 3 times 39.098


def test_a_range_of_no_width_is_a_point():
    assert not target({"K": "5-5", "Ca": (3, 3)}).ranges


def test_wanted_nothing_is_kept_as_zero():
    made = target({"Cl": 0, "K": "0", "Na": "0-0 mg/L"})
    assert dict(made.wanted) == {"Cl": 0.0, "K": 0.0, "Na": 0.0}


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("K", "K2O"),
        ("P", "P2O5"),
        ("P", "H2PO4"),
        ("S", "SO4"),
        ("SO4", "SO3"),
        ("NO3", "NO3-N"),
        ("NH4", "NH4-N"),
        ("urea", "urea-N"),
        ("Ca", "CaO"),
        ("Mg", "MgO"),
        ("B", "H3BO3"),
        ("Mo", "MoO4"),
        ("K", "potassium"),
    ],
)
def test_two_keys_for_one_thing_are_refused_and_both_named(first, second):
    with pytest.raises(InputError) as caught:
        target({first: 1, second: 1})
    assert first in str(caught.value)
    assert second in str(caught.value)


def test_a_sum_and_its_part_may_both_be_wanted():
    made = target({"N": 210, "NH4-N": 14, "Fe": 2, "Fe(II)": 1})
    assert set(made.wanted) == {"N", "NH4-N", "Fe", "Fe(II)"}


def test_every_fault_is_told_at_once_with_its_key():
    wrong = {"K": -1, "Xx": 3, "Ca": "5 kg", "N": None, "K2O": "a", "P": 31}
    with pytest.raises(InputError) as caught:
        target(wrong, ammonium_share=(3, 4))
    faults = caught.value.faults
    assert len(faults) == 6
    for word in ("K:", "Xx:", "Ca:", "N:", "K2O:", "ammonium share"):
        assert sum(f"target: {word}" in fault for fault in faults) == 1


HOSTILE = [
    None,
    True,
    "",
    "-",
    "5-",
    "-5",
    "70-60",
    "60-70-80",
    "1,500",
    "nan",
    "inf",
    "1e400",
    "5 kg",
    "5 gal",
    "5 %",
    "5 mg/L\0",
    "½",
    b"5",
    float("nan"),
    float("inf"),
    -1,
    -0.1,
    1j,
    (),
    (1,),
    (1, 2, 3),
    (2, 1),
    (None, 1),
    (True, 2),
    {"a": 1},
    np.array([1.0, 2.0]),
    10**400,
    10**5000,
    object(),
]


@pytest.mark.parametrize("value", HOSTILE, ids=lambda v: type(v).__name__)
def test_a_value_that_is_no_amount_is_refused_in_words(value):
    with pytest.raises(InputError, match="K"):
        target({"K": value})


@pytest.mark.parametrize("key", [None, 5, True, "", "ΔK", "K\0", ("K",), "Xx"])
def test_a_key_that_is_no_nutrient_is_refused(key):
    with pytest.raises(InputError, match="no nutrient key"):
        target({key: 5})


def test_a_long_key_does_not_flood_the_message():
    with pytest.raises(InputError) as caught:
        target({"N" * 10_000: 5})
    assert len(str(caught.value)) < 2000


@pytest.mark.parametrize("wanted", [None, {}, [], "K", 5, [("K", 5)]])
def test_nothing_wanted_is_refused(wanted):
    with pytest.raises(InputError, match="nothing wanted"):
        target(wanted)


@given(
    st.dictionaries(
        st.sampled_from(["K", "N", "P2O5", "Mo", "hardness"]) | st.text(max_size=5),
        st.text(max_size=8)
        | st.floats()
        | st.integers()
        | st.booleans()
        | st.none()
        | st.tuples(st.floats(), st.floats()),
        max_size=4,
    )
)
def test_whatever_is_wanted_only_errors_in_words_come_out(wanted):
    made = None
    with contextlib.suppress(FormulateError):
        made = target(wanted)
    if made is not None:
        assert all(value >= 0 for value in made.wanted.values())
    assert str(made)


# --- ammonium and urea -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("wanted", "given", "kept"),
    [
        ({"N": 150}, None, (0, 0.15)),  # ext-general (memory): soilless practice
        ({"NO3-N": 150}, None, (0, 0.15)),
        ({"N": 150, "NH4-N": 30}, None, None),
        ({"N": 150, "NH4": 0}, None, None),
        ({"N": 150, "NH3": 1}, None, None),
        ({"K": 150}, None, None),
        ({"N": 150}, (0, 1), None),
        ({"N": 150}, (0.1, 0.3), (0.1, 0.3)),
        ({"N": 150}, [0, 0], (0, 0)),
        ({"N": 150, "NH4-N": 30}, (0, 0.5), (0, 0.5)),
    ],
)
def test_which_share_of_ammonium_is_kept(wanted, given, kept):
    assert target(wanted, ammonium_share=given).ammonium_share == kept


@pytest.mark.parametrize(
    "share",
    [
        (0, 15),
        (0.5, 0.2),
        (-0.1, 0.5),
        (0,),
        (0, 0.1, 0.2),
        5,
        "01",
        (None, 1),
        ("a", "b"),
        (float("nan"), 1),
        (0, float("inf")),
        (0, 10**400),
    ],
    ids=lambda share: str(share)[:20],
)
def test_a_share_that_is_none_is_refused(share):
    with pytest.raises(InputError, match="ammonium share"):
        target({"N": 150}, ammonium_share=share)


def test_urea_is_barred_unless_allowed():
    assert target({"N": 150}).urea_allowed is False
    assert target({"N": 150}, urea_allowed=True).urea_allowed is True
    assert published_target("steiner-1984", urea_allowed=True).urea_allowed is True


@pytest.mark.parametrize("word", ["no", "false", "0"])
def test_a_written_no_does_not_allow_urea(word):
    with pytest.raises(InputError, match="urea"):
        target({"N": 150}, urea_allowed=word)


# --- limits, weights, priorities, alkalinity -------------------------------------------

WISH = {"N": 150, "P": 31, "K": 200, "Ca": 150}


def test_limits_weights_and_priorities_are_kept_under_one_key():
    made = target(
        WISH,
        limits={"sodium": "at most 2 mmol/L", "K:Ca": (1, 2)},
        weights={"calcium": 3},
        priorities=[["potassium", "Ca"], [], "P"],
    )
    assert [held.subject for held in made.limits] == ["Na", "K:Ca"]
    assert made.limits[0].high == pytest.approx(2 * 22.990, rel=1e-4)
    assert dict(made.weights) == {"Ca": 3.0}
    assert made.priorities == (("K", "Ca"), ("P",))
    for line in ("Na at most 45.98 mg/L", "K:Ca at least 1", "K:Ca at most 2"):
        assert line in str(made)


def test_bare_limits_take_the_unit_of_the_target():
    made = target({"K": 5}, unit="mmol/L", limits={"Na": "at most 2"})
    assert made.limits[0].high == pytest.approx(2 * 22.990, rel=1e-4)


def test_a_published_target_takes_limits_weights_and_priorities():
    made = published_target(
        "steiner-1984", limits={"Na": "none"}, weights={"K": 2}, priorities=[["K"]]
    )
    assert made.limits[0].named("low") == "Na exactly 0 mg/L"
    assert (dict(made.weights), made.priorities) == ({"K": 2.0}, (("K",),))


@pytest.mark.parametrize(
    ("text", "ends"),
    [
        ("1 meq/L", (1, 1)),
        ("0.5 to 1 meq/L", (0.5, 1)),
        ("0.5-1 meq/L", (0.5, 1)),
        ("exactly 1 meq/L", (1, 1)),
        # 50 mg of CaCO3 (100.086 g/mol) take up 2 x 50 / 100.086 meq
        ("50 mg/L as CaCO3", (100 / 100.086, 100 / 100.086)),
        ("2 °dKH", (40 / 56.077, 40 / 56.077)),  # 10 mg/L CaO a degree
    ],
)
def test_a_wanted_alkalinity_is_read(text, ends):
    made = target({"K": 5, "alkalinity": text})
    assert made.alkalinity == pytest.approx(ends, rel=1e-5)
    assert "alkalinity" in str(made)
    assert "alkalinity" not in made.wanted


@pytest.mark.parametrize(
    "value",
    [1, "1", "-1 meq/L", "at most 1 meq/L", "at least 1 meq/L", "1 mg/L", "x", (1, 2)],
    ids=str,
)
def test_an_alkalinity_that_is_none_is_refused_by_name(value):
    with pytest.raises(InputError, match="alkalinity"):
        target({"K": 5, "alkalinity": value})


@pytest.mark.parametrize("value", ["at most 1 meq/L", "at least 1 meq/L"])
def test_a_one_sided_alkalinity_is_sent_to_the_limits(value):
    with pytest.raises(InputError, match="set it as a limit"):
        target({"K": 5, "alkalinity": value})


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"weights": {"Zn": 1, "K": -1, "P": float("nan")}}, ["Zn", "K: weight", "P"]),
        ({"weights": 5}, ["mapping"]),
        ({"priorities": [["K"], ["K", "Mn"]]}, ["K: stands here twice", "Mn"]),
        ({"priorities": "K"}, ["list of lists"]),
        ({"priorities": [5, None]}, ["5", "None"]),
        ({"priorities": 5}, ["list of lists"]),
        ({"priorities": [[5]]}, ["5"]),
        ({"limits": {"Xx": "none", "K": "5", "Ca": (2, 1)}}, ["Xx", "K", "Ca"]),
        ({"limits": "K at most 5"}, ["mapping"]),
    ],
    ids=str,
)
def test_faults_of_what_is_asked_besides_are_told_at_once(facts, words):
    with pytest.raises(InputError) as caught:
        target(WISH, **facts)
    assert len(caught.value.faults) == len(words)
    for word, fault in zip(words, caught.value.faults, strict=True):
        assert word in fault


def test_faults_of_every_part_stand_in_one_message():
    with pytest.raises(InputError) as caught:
        target(
            {"K": -1, "P": 31, "alkalinity": "1"},
            limits={"Xx": "none"},
            weights={"P": "a"},
            priorities=[["Zn"]],
            ammonium_share=(3, 4),
            urea_allowed="no",
        )
    assert len(caught.value.faults) == 7


@given(
    st.lists(st.lists(st.text(max_size=3) | st.integers()) | st.integers(), max_size=3)
    | st.text(max_size=4)
    | st.none(),
    st.dictionaries(
        st.sampled_from(["K", "N", "x"]), st.floats() | st.text(max_size=3)
    ),
)
def test_whatever_is_asked_besides_only_errors_in_words_come_out(priorities, weights):
    made = None
    with contextlib.suppress(FormulateError):
        made = target(WISH, priorities=priorities, weights=weights)
    assert made is None or all(value >= 0 for value in made.weights.values())


# --- laws ------------------------------------------------------------------------------


def test_mg_and_mmol_say_the_same():
    mmol = target({"N": 15.0, "P": 1.0, "K": 6.0}, unit="mmol/L")
    mg = target({key: mmol.mg_l(key) for key in mmol.wanted})
    assert dict(mg.wanted) == pytest.approx(dict(mmol.wanted), rel=1e-14)


def test_the_order_of_keys_and_their_spelling_do_not_matter():
    one = target({"N": 150, "K": 200, "Ca": 150})
    two = target({"calcium": 150, "k": 200, "total nitrogen": 150})
    assert dict(one.wanted) == dict(two.wanted)


def test_what_a_target_holds_cannot_be_changed():
    given = {"K": 200}
    made = target(given)
    given["K"] = 1
    assert made.mg_l("K") == pytest.approx(200)
    with pytest.raises(TypeError):
        made.wanted["K"] = 1
