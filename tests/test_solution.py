"""Solutions: what is in a litre, on every basis; mixing and thinning conserve it."""

import csv
import math
from dataclasses import FrozenInstanceError
from pathlib import Path

import numpy as np
import periodictable
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import FormulateError, InputError
from formulate.stoichiometry.charge import charge_at_ph
from formulate.stoichiometry.mixtures import dilute, mix
from formulate.stoichiometry.nutrients import form, form_names, nutrient_keys
from formulate.stoichiometry.solution import Solution, solution

PUBLISHED = Path(__file__).parent / "published"
IONS = {  # column of targets_mmol_per_L.csv to key, basis and charge number
    "NO3": ("NO3", "NO3", -1),
    "H2PO4": ("H2PO4", "H2PO4", -1),
    "SO4": ("SO4", "SO4", -2),
    "NH4": ("NH4", "NH4", 1),
    "K": ("K", "K", 1),
    "Ca": ("Ca", "Ca", 2),
    "Mg": ("Mg", "Mg", 2),
}
AMOUNT = st.floats(0, 1000, allow_subnormal=False)
FORMS = st.dictionaries(st.sampled_from(form_names()), AMOUNT, max_size=8)
SOLUTIONS = st.builds(Solution, FORMS, st.floats(-100, 100), st.floats(1, 60))
VOLUMES = st.floats(0.001, 1000)


def published(name):
    with (PUBLISHED / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def supplies():
    """Return the published supply solutions that are no doubtful rows."""
    rows = published("targets_mmol_per_L")
    return [
        row
        for row in rows
        if "root" not in row["where"] and "doubtful" not in row["note"]
    ]


def contents(row):
    return {key: float(row[f"{column}_mmol_L"]) for column, (key, _, _) in IONS.items()}


def same(one, other, rel=1e-12):
    """Compare two solutions; a form that is absent counts as 0."""
    keys = set(one.forms) | set(other.forms)
    return (
        all(
            one.forms.get(key, 0.0)
            == pytest.approx(other.forms.get(key, 0.0), rel=rel, abs=1e-300)
            for key in keys
        )
        and one.unassigned_charge
        == pytest.approx(other.unassigned_charge, rel=rel, abs=1e-10)
        and one.temperature == pytest.approx(other.temperature, rel=rel)
    )


# --- published solutions -----------------------------------------------------------------


@pytest.mark.parametrize("row", supplies(), ids=lambda row: row["id"])
def test_supply_solutions_have_their_published_sums(row):
    # targets_mmol_per_L.csv; sums recomputed there and exact to the digits printed
    made = solution(contents(row))
    cations = float(row["cation_sum_meq_L_recomputed"])
    anions = float(row["anion_sum_meq_L_recomputed"])
    assert made.cations() == pytest.approx(cations, abs=1e-9)
    assert made.anions() == pytest.approx(anions, abs=1e-9)
    assert made.unassigned_charge == pytest.approx(anions - cations, abs=1e-9)


@pytest.mark.parametrize("row", supplies(), ids=lambda row: row["id"])
def test_a_supply_solution_reads_on_every_basis(row):
    made = solution(contents(row))
    for column, (key, basis, charge) in IONS.items():
        amount = float(row[f"{column}_mmol_L"])
        mass = periodictable.formula(basis).mass
        assert made.mmol_l(key) == pytest.approx(amount, rel=1e-12)
        assert made.mg_l(key) == pytest.approx(amount * mass, rel=1e-12)
        assert made.meq_l(key) == pytest.approx(amount * abs(charge), rel=1e-12)


@pytest.mark.parametrize(
    ("key", "printed"),
    [
        # Hoagland & Arnon 1950, mg/L as printed (wiki-hoagland; hershey-1997, read)
        ("hoagland1-mmol", "N 210 NH4-N 0 P 31 K 235 Ca 200 Mg 48.6 S 64"),
        ("hoagland2-mmol", "N 210 NH4-N 14 P 31 K 235 Ca 160 Mg 48.6 S 64"),
    ],
)
def test_both_hoagland_solutions_have_their_printed_mg_per_litre(key, printed):
    (row,) = [row for row in published("targets_mmol_per_L") if row["id"] == key]
    made = solution(contents(row))
    words = printed.split()
    for nutrient, text in zip(words[::2], words[1::2], strict=True):
        half_digit = 0.5 * 10.0 ** -len(text.partition(".")[2])
        assert made.mg_l(nutrient) == pytest.approx(float(text), abs=half_digit)


def test_one_litre_reads_the_same_from_any_unit():
    ways = (
        solution({"Ca": 2.0}),
        solution({"Ca": "2 mmol/L"}),
        solution({"Ca": 4.0}, unit="meq/L"),
        solution({"Ca": "0,002 mol/L"}),
        solution({"CaO": 2 * periodictable.formula("CaO").mass}, unit="mg/L"),
        solution({"calcium": f"{2 * periodictable.formula('CaCO3').mass} mg/L CaCO3"}),
    )
    assert [way.mmol_l("Ca") for way in ways] == pytest.approx([2.0] * len(ways))


# --- charge ------------------------------------------------------------------------------


@given(FORMS, st.floats(0, 14))
def test_a_given_ph_closes_the_charge(forms, ph):
    named = Solution(forms)
    made = solution({form(key).symbol: v for key, v in named.forms.items()}, ph=ph)
    assert made.forms == named.forms
    size = 1 + 5 * math.fsum(named.forms.values()) + 1000  # meq/L, ions and water
    assert made.ph == ph
    assert charge_at_ph(made.forms, ph) + made.unassigned_charge == pytest.approx(
        0, abs=1e-13 * size
    )


def test_a_whole_salt_leaves_no_charge_open_and_half_of_it_does():
    assert solution({"K": 3.0, "NO3": 3.0}).unassigned_charge == 0
    assert solution({"Ca": 3.0}).unassigned_charge == -6
    assert solution({"SO4": 3.0}).unassigned_charge == 6
    assert solution({}).unassigned_charge == 0


def test_nitrogen_has_no_single_charge():
    with pytest.raises(InputError, match=r"NO3.*NH4"):
        solution({"NO3": 1.0}).meq_l("N")


# --- mixing and thinning -----------------------------------------------------------------


@given(st.lists(st.tuples(SOLUTIONS, VOLUMES), min_size=1, max_size=4))
def test_mixing_conserves_every_form_and_the_charge(parts):
    mixed = mix(parts)
    total = math.fsum(volume for _, volume in parts)
    for key in form_names():
        brought = math.fsum(part.forms.get(key, 0.0) * v for part, v in parts)
        assert mixed.forms.get(key, 0.0) * total == pytest.approx(brought, rel=1e-12)
    charge = math.fsum(part.unassigned_charge * v for part, v in parts)
    assert mixed.unassigned_charge * total == pytest.approx(charge, abs=1e-9 * total)
    assert mixed.ph is None


@given(SOLUTIONS, SOLUTIONS, SOLUTIONS, VOLUMES, VOLUMES, VOLUMES)
def test_the_order_of_mixing_does_not_matter(a, b, c, u, v, w):
    assert same(mix([(a, u), (b, v)]), mix([(b, v), (a, u)]))
    first = mix([(mix([(a, u), (b, v)]), u + v), (c, w)])
    last = mix([(a, u), (mix([(b, v), (c, w)]), v + w)])
    assert same(first, last, rel=1e-11)
    assert same(first, mix([(c, w), (a, u), (b, v)]), rel=1e-11)


@given(SOLUTIONS, VOLUMES, VOLUMES)
def test_mixing_with_itself_changes_nothing(a, u, v):
    assert same(mix([(a, u), (a, v)]), a)


@given(SOLUTIONS, st.floats(1, 1000), st.floats(1, 1000))
def test_thinning_twice_is_thinning_by_the_product(a, one, two):
    assert same(dilute(dilute(a, one), two), dilute(a, one * two), rel=1e-11)
    assert same(dilute(a, 1), a)


@given(SOLUTIONS, st.floats(1.001, 1000))
def test_thinning_is_mixing_with_pure_water(a, factor):
    water = Solution({}, temperature=a.temperature)
    mixed = mix([(a, 1.0), (water, factor - 1)])
    assert same(dilute(a, factor), mixed, rel=1e-9)


def test_a_ph_does_not_survive_mixing_or_thinning():
    acid = solution({"K": 1.0, "Cl": 1.0}, ph=5.0)
    assert dilute(acid, 1).ph == 5.0
    assert dilute(acid, 2).ph is None
    assert mix([(acid, 1), (acid, 1)]).ph is None


# --- stacks ------------------------------------------------------------------------------


@given(
    st.lists(st.floats(0, 50), min_size=1, max_size=5),
    st.floats(0, 50),
    st.floats(0, 14),
)
def test_a_stack_gives_what_each_solution_gives_alone(potassium, nitrate, ph):
    column = np.array(potassium)[:, None]
    stack = solution({"K": column, "NO3": nitrate, "P": column}, ph=ph)
    thin, mixed = dilute(stack, 3), mix([(stack, 1), (solution({"Ca": 1.0}), 2)])
    for row, value in enumerate(potassium):
        one = solution({"K": value, "NO3": nitrate, "P": value}, ph=ph)
        pairs = (
            (stack.mg_l("P2O5"), one.mg_l("P2O5")),
            (stack.meq_l("K"), one.meq_l("K")),
            (stack.cations(), one.cations()),
            (stack.anions(), one.anions()),
            (stack.unassigned_charge, one.unassigned_charge),
            (thin.mmol_l("K"), dilute(one, 3).mmol_l("K")),
            (
                mixed.mmol_l("K"),
                mix([(one, 1), (solution({"Ca": 1.0}), 2)]).mmol_l("K"),
            ),
        )
        for many, alone in pairs:
            assert many.shape == column.shape
            assert many[row, 0] == pytest.approx(alone, rel=1e-12, abs=1e-9)


def test_shapes_broadcast():
    stack = solution({"K": np.ones((2, 1)), "NO3": np.ones(3), "Ca": 1.0})
    assert stack.unassigned_charge.shape == (2, 3)
    assert stack.mmol_l("K").shape == (2, 1)
    assert stack.mmol_l("Ca") == 1.0


def test_shapes_that_do_not_broadcast_are_refused():
    with pytest.raises(InputError):
        solution({"K": np.ones(3), "NO3": np.ones(2)})


def test_scalars_come_out_as_python_floats():
    made = solution({"K": np.float64(1.0), "NO3": np.array(2.0), "Ca": 3}, ph=6)
    values = (
        made.mmol_l("K"),
        made.mg_l("NO3"),
        made.meq_l("Ca"),
        made.cations(),
        made.unassigned_charge,
        made.temperature,
    )
    assert [type(value) for value in values] == [float] * len(values)


def test_arrays_are_kept_apart_and_cannot_be_written():
    given_array = np.array([1.0, 2.0])
    made = solution({"K": given_array})
    given_array[0] = 99.0
    assert list(made.mmol_l("K")) == [1.0, 2.0]
    with pytest.raises(ValueError, match="read-only"):
        made.forms["potassium"][0] = 99.0
    with pytest.raises(ValueError, match="read-only"):
        made.unassigned_charge[0] = 99.0


def test_a_solution_cannot_be_changed():
    forms = {"potassium": 1.0}
    made = Solution(forms)
    forms["potassium"] = 5.0
    assert made.forms["potassium"] == 1.0
    with pytest.raises(FrozenInstanceError):
        made.temperature = 5
    with pytest.raises(TypeError):
        made.forms["potassium"] = 5.0


# --- shown -------------------------------------------------------------------------------


def evaluated(step):
    """Return the printed result of a line and what its printed numbers give."""
    left, result = step.arithmetic.split(" = ")
    number, _, unit = result.partition(" ")
    assert unit == step.unit
    total, product, sign = 0.0, 1.0, 1.0
    for words in left.replace(" ÷ ", " × 1/").replace(" − ", " + −").split(" + "):
        sign = -1.0 if words.startswith("−") else 1.0
        product = 1.0
        for factor in words.lstrip("−").split(" × "):
            value = factor.partition(" ")[0]
            product *= 1 / float(value[2:]) if value.startswith("1/") else float(value)
        total += sign * product
    return number, total


@given(FORMS, st.sampled_from(nutrient_keys()))
def test_every_printed_line_gives_its_printed_result(forms, key):
    made = Solution(forms)
    working = made.working(key)
    for step in working.steps:
        number, again = evaluated(step)
        half_digit = 0.5 * 10.0 ** -len(number.partition(".")[2])
        assert again == pytest.approx(float(number), abs=half_digit * (1 + 1e-6))
    assert working.value == pytest.approx(made.mg_l(key), rel=1e-12, abs=1e-300)
    assert working.unit == "mg/L"


def test_working_of_a_stack_asks_for_one_solution():
    with pytest.raises(InputError, match="take one"):
        solution({"K": np.ones(2)}).working("K")


@pytest.mark.parametrize("name", form_names())
def test_whatever_is_in_it_is_shown(name):
    made = Solution({name: 1.0})
    assert "pure water" not in str(made)
    assert ("2.000" if name == "urea" else "1.000") in str(made)  # urea holds two N
    assert len(made.to_frame()) == len(made.rows())


def test_pure_water_and_stacks_say_what_they_are():
    assert str(solution({})) == "pure water"
    assert "stack" in str(solution({"K": np.ones(2)}))
    assert "stack" in solution({"K": np.ones(2)})._repr_html_()


# --- bad input ---------------------------------------------------------------------------

NO_NUMBER = [
    math.nan,
    math.inf,
    True,
    np.True_,
    "",
    "two",
    "1e400",
    b"1",
    [],
    [1.0],
    {},
    1j,
    10**400,
    object(),
    np.array([]),
    np.array([1.0, math.nan]),
    np.array(["a"]),
    np.array([True]),
    np.array([1 + 2j]),
]
NO_AMOUNT = [-1.0, -1e-300, None, "1 mmol/L mg", "1,000 mg/L", np.array([1.0, -1.0])]


def short(value):
    return repr(value)[:20]


@pytest.mark.parametrize("value", NO_NUMBER + NO_AMOUNT, ids=short)
def test_what_is_no_concentration_is_refused(value):
    with pytest.raises(FormulateError, match=r"K|potassium"):
        solution({"K": value})
    with pytest.raises(FormulateError, match="potassium"):
        Solution({"potassium": value})


@pytest.mark.parametrize("value", [math.nan, "two", True, [], 10**400], ids=short)
@pytest.mark.parametrize("what", ["unassigned_charge", "temperature", "ph"])
def test_what_is_no_charge_temperature_or_ph_is_refused(what, value):
    with pytest.raises(FormulateError):
        Solution({"potassium": 1.0}, **{what: value})
    if what != "unassigned_charge":
        with pytest.raises(FormulateError):
            solution({"K": 1.0}, **{what: value})


@pytest.mark.parametrize("ph", [-0.1, 14.1])
def test_a_solution_has_no_ph_beyond_the_scale(ph):
    with pytest.raises(InputError):
        Solution({"potassium": 1.0}, ph=ph)
    with pytest.raises(InputError, match=r"pH.*14"):
        solution({"K": 1.0}, ph=ph)


@pytest.mark.parametrize("given_contents", [None, True, 7, "KNO3", b"K", object()])
def test_what_is_no_mapping_is_refused(given_contents):
    with pytest.raises(InputError):
        solution(given_contents)


@pytest.mark.parametrize(
    "volume",
    [0, -1, math.nan, math.inf, True, None, "", "many", [], "3 g", 10**400],
    ids=short,
)
def test_what_is_no_volume_is_refused(volume):
    with pytest.raises(FormulateError):
        mix([(solution({"K": 1.0}), volume)])


@pytest.mark.parametrize(
    "factor",
    [0.999, 0, -2, math.nan, math.inf, True, None, "2", [], 10**400],
    ids=short,
)
def test_what_does_not_thin_is_refused(factor):
    with pytest.raises(InputError, match="dilute"):
        dilute(solution({"K": 1.0}), factor)


@pytest.mark.parametrize(
    "parts", [[], (), None, 7, [None], [(solution({}),)], [(None, 1.0)], "ab"]
)
def test_what_cannot_be_mixed_is_refused(parts):
    with pytest.raises(InputError):
        mix(parts)


@pytest.mark.parametrize("number", [np.int64(2), np.int32(2), np.float32(2), 2])
def test_numbers_of_numpy_are_numbers(number):
    thick = solution({"K": number * 2}, ph=number)
    assert thick.ph == 2.0
    assert dilute(thick, number).mmol_l("K") == 2.0
    assert mix([(thick, number), (solution({}), 2)]).mmol_l("K") == 2.0


def test_every_fault_is_listed_at_once():
    with pytest.raises(InputError) as caught:
        solution({"K": -1, "Zz": 1, "Ca": "3 parsec", "N": 5, "Mg": math.nan}, ph=15)
    text = str(caught.value)
    for word in ("Zz", "parsec", "NO3", "Mg", "15"):
        assert word in text
    assert len(caught.value.faults) >= 5


@pytest.mark.parametrize(
    ("pair", "word"),
    [
        ({"P": 1.0, "P2O5": 1.0}, "same thing"),
        ({"NO3": 1.0, "nitrate": 1.0}, "same thing"),
        ({"NO3": 1.0, "NO3-N": 1.0}, "same thing"),
        ({"N": 1.0}, "NH4"),
        ({"hardness": 1.0}, "Ca, Mg"),
        ({"Fe": "1 meq/L"}, "Fe"),
        ({"urea": "1 meq/L"}, "no charge"),
        ({"nitrat": 1.0}, "NO3"),
    ],
)
def test_what_can_be_read_in_two_ways_is_asked_back(pair, word):
    with pytest.raises(InputError, match=word):
        solution(pair)
