"""The water: public analyses give their printed sums; what is unclear is asked or told."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import FormulateError, InputError, UnknownName
from formulate.ingredients.water import Water, preset_names, water

PUBLISHED = Path(__file__).parent / "published"
PRESETS = {  # name in waters.csv to the preset
    "hard-supply-voehringen": "hard-tap-voehringen",
    "hard-sulfate-supply-eisenach": "sulfate-tap-eisenach",
    "medium-supply-zarnewanz": "medium-tap-zarnewanz",
    "soft-supply-st-ingbert": "soft-tap-st-ingbert",
    "rain-maine-coast-2019": "rain-coast-2019",
    "rain-world-mean-britannica": "rain-world-mean",
}
# equivalent weights in mg per meq (water_report_example.csv, from standard masses)
CATIONS = {
    "Ca": "calcium Ca2+",
    "Mg": "magnesium Mg2+",
    "Na": "sodium Na+",
    "K": "potassium K+",
    "NH4": "ammonium NH4+",
}
ANIONS = {
    "NO3": "nitrate NO3-",
    "Cl": "chloride Cl-",
    "SO4": "sulfate SO4 2-",
    "HCO3": "bicarbonate HCO3-",
    "F": "fluoride F-",
}
IONS = st.dictionaries(
    st.sampled_from([*CATIONS, "NO3", "Cl", "SO4", "F", "Si", "B"]), st.floats(0, 500)
)


def published(name):
    with (PUBLISHED / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def report(name):
    """Return quantity to (number as printed, unit) of one published water."""
    rows = [row for row in published("waters") if row["water"] == name]
    return {row["quantity"]: (row["value"], row["unit"]) for row in rows}


def equivalents(mg_l, ions):
    weights = {
        row["item"].removeprefix("equivalent weight, "): float(row["value"])
        for row in published("water_report_example")
        if row["item"].startswith("equivalent weight")
    }
    return math.fsum(mg_l.get(key, 0) / weights[word] for key, word in ions.items())


def measured(printed):
    """Return key to mg/L of what an analysis found; "<" counts as nothing."""
    return {
        key: float(value)
        for key, (value, unit) in printed.items()
        if unit.startswith(("mg", "ppm")) and not value.startswith("<")
    }


# --- public waters -----------------------------------------------------------------------


@pytest.mark.parametrize(("name", "preset"), PRESETS.items())
def test_a_public_water_holds_what_its_page_prints(name, preset):
    printed, tap = report(name), water(preset)
    for key, value in measured(printed).items():
        if key != "HCO3":  # as all inorganic carbon in the solution, checked below
            found = tap.solution.mg_l({"SiO2": "Si"}.get(key, key))
            if key == "SiO2":
                basis = "Si" if printed[key][1] == "mg/l as Si" else "SiO2"
                found = tap.solution.mg_l(basis)
            assert found == pytest.approx(value, rel=1e-9), key
    for key, (value, _) in printed.items():
        if value.startswith("<"):
            assert tap.solution.mg_l(key) == 0
            assert [text for text in tap.assumed if key in text and "<" in text]
    if "pH" in printed:
        assert tap.ph == float(printed["pH"][0])
    if "alkalinity" in printed:
        assert tap.alkalinity == pytest.approx(float(printed["alkalinity"][0]))


def test_only_conductivities_that_fit_their_ions_are_kept():
    # µS/cm at 25 °C; the pages of Eisenach and St. Ingbert print one that does not fit
    assert water("hard-tap-voehringen").ec == pytest.approx(0.651)
    assert water("medium-tap-zarnewanz").ec == pytest.approx(0.429)
    assert water("sulfate-tap-eisenach").ec is None
    assert water("soft-tap-st-ingbert").ec is None


def test_voehringen_gives_the_ion_sums_its_page_prints():
    # voehringen-2025, read: cations 6.88, anions 7.05 meq/L
    tap = water("hard-tap-voehringen")
    assert tap.cations == pytest.approx(6.88, abs=0.005)
    assert tap.anions == pytest.approx(7.05, abs=0.005)
    assert tap.balance_percent == pytest.approx(100 * (6.88 - 7.05) / 13.93, abs=0.05)
    assert tap.notices == ()


@pytest.mark.parametrize(("name", "preset"), PRESETS.items())
def test_ion_sums_follow_the_equivalent_weights(name, preset):
    # borate, silicate, fluoride and hydroxide add less than 0.01 meq/L to these waters
    printed, tap = report(name), water(preset)
    found = measured(printed)
    alkalinity = float(printed.get("alkalinity", ("0", ""))[0])
    anions = equivalents(found, ANIONS) + alkalinity
    assert tap.cations == pytest.approx(equivalents(found, CATIONS), abs=0.01)
    assert tap.anions == pytest.approx(anions, abs=0.01)


def test_st_ingbert_has_its_printed_hardness():
    # st-ingbert, read: 3.4 German degrees, 10 mg/L CaO each
    calcium_oxide = water("soft-tap-st-ingbert").solution.mmol_l("hardness") * 56.077
    assert calcium_oxide / 10 == pytest.approx(3.4, abs=0.05)


def test_hardness_follows_the_handbook_formula():
    # 2.497 Ca + 4.118 Mg in mg/L (Standard Methods 2340 B, memory), four digits each
    tap = water({"Ca": 80, "Mg": 20})
    expected = 2.497 * 80 + 4.118 * 20
    assert tap.solution.mg_l("hardness") == pytest.approx(expected, rel=2e-4)


def test_milliequivalents_as_a_teaching_sheet_prints_them():
    # uc-anr-water, read: 200 mg/L Ca is 10 meq/L, with 20 mg per meq for 20.04
    assert water({"Ca": 200}).cations == pytest.approx(10, rel=0.002)


# --- the worked report -------------------------------------------------------------------


def worked():
    rows = {
        row["item"].removeprefix("worked report: "): row
        for row in published("water_report_example")
        if row["item"].startswith("worked report")
    }
    ions = {"Ca": 40.4, "Mg": 5.4, "Na": 47, "K": 3.1}
    ions |= {"HCO3": 120, "Cl": 59, "SO4": 32, "NO3-N": 0.05}
    return rows, water(ions | {"EC": "0.42 mmho/cm"})


def test_the_worked_report_gives_its_sums_and_its_balance():
    # hightunnels-water, read: 4.6 meq/L printed, 4.58 and 4.30 recomputed; 3.2 % ± 0.2
    rows, tap = worked()
    assert tap.cations == pytest.approx(float(rows["cation sum"]["high"]), abs=0.05)
    assert tap.cations == pytest.approx(4.58, abs=0.005)
    assert tap.anions == pytest.approx(float(rows["anion sum"]["high"]), abs=0.005)
    balance = float(rows["charge balance"]["high"])
    assert tap.balance_percent == pytest.approx(balance, abs=0.2)
    assert tap.ec == 0.42


def test_the_worked_report_is_told_to_be_out_of_balance():
    # 3.2 % against a limit of 2 % at 3 to 10 meq/L (Standard Methods 1030 E, memory)
    _, tap = worked()
    (notice,) = tap.notices
    assert notice.severity == "caution"
    assert notice.limit == 2
    assert notice.number == pytest.approx(3.2, abs=0.2)
    assert notice.source_key == "sm-1030e"
    assert "4.58" in str(notice)


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize(
    ("anions", "off", "told"),
    [
        # Standard Methods 1030 E, memory: 0.2 meq/L below 3, 2 % to 10, 5 % to 800
        (2.0, 0.19, False),
        (2.0, 0.21, True),
        (2.99, 0.19, False),
        (3.01, 0.019, False),
        (3.01, 0.021, True),
        (9.9, 0.019, False),
        (9.9, 0.021, True),
        (10.1, 0.049, False),
        (10.1, 0.051, True),
        (500.0, 0.049, False),
        (500.0, 0.051, True),
    ],
)
def test_the_limits_of_the_balance_are_told_and_never_refused(anions, off, told, sign):
    if anions < 3:
        cations = anions + sign * off
    else:
        cations = anions * (1 + sign * off) / (1 - sign * off)
    made = water({"Na": cations, "Cl": anions}, unit="meq/L")
    assert made.anions == pytest.approx(anions)
    assert bool(made.notices) is told


def test_an_analysis_of_half_the_ions_is_told():
    assert water({"Ca": 80}).notices
    assert water({"Cl": 80}).notices


@given(IONS, st.floats(6, 9))
def test_no_analysis_is_refused_for_its_balance(ions, ph):
    made = water(ions, ph=ph)
    assert isinstance(made, Water)
    assert -100 - 1e-9 <= made.balance_percent <= 100 + 1e-9


@given(IONS)
def test_the_order_of_an_analysis_does_not_matter(ions):
    one, other = water(ions), water(dict(reversed(ions.items())))
    assert one.solution.forms == other.solution.forms
    assert one.cations == pytest.approx(other.cations)


# --- alkalinity --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "meq_l"),
    [
        ("100.086 mg/L as CaCO3", 2.0),
        ("50.04 mg/L as CaCO3", 1.0),  # bailey-alkalinity, read: 1 meq/L = 50.04 mg/L
        ("5.72 meq/L", 5.72),
        ("5,72 mmol/l", 5.72),  # acid capacity: a millimole of acid is one meq
        ("10 °dH", 3.5665),  # 10 mg/L CaO each, 28.04 mg per meq
        ("10 French degrees", 1.998),  # 10 mg/L CaCO3 each, 50.04 mg per meq
        ("0 meq/L", 0.0),
    ],
)
@pytest.mark.parametrize("ph", [None, 7.4])
def test_alkalinity_in_its_units(text, meq_l, ph):
    if meq_l == 0 and ph is not None:
        ph = 6.9  # where water itself is not alkaline
    made = water({"alkalinity": text}, ph=ph)
    assert made.alkalinity == pytest.approx(meq_l, rel=2e-4)


@pytest.mark.parametrize(
    ("key", "text", "meq_l"),
    [
        ("HCO3", "61.016 mg/L", 1.0),
        ("HCO3", "1 mmol/L", 1.0),
        ("HCO3", "1 meq/L", 1.0),
        ("HCO3", "50.043 mg/L as CaCO3", 1.0),
        ("CO3", "30.004 mg/L", 1.0),  # 60.008/2 mg per meq (water_report_example)
        ("CO3", "0.5 mmol/L", 1.0),
        ("CO3", "1 meq/L", 1.0),
        ("CO3", "50.043 mg/L as CaCO3", 1.0),
    ],
)
def test_bicarbonate_and_carbonate_are_alkalinity(key, text, meq_l):
    assert water({key: text}).alkalinity == pytest.approx(meq_l, rel=1e-4)


def test_bicarbonate_and_carbonate_of_one_report_add_up():
    made = water({"HCO3": "122.03 mg/L", "CO3": "6 mg/L"})
    assert made.alkalinity == pytest.approx(2 + 0.2, rel=1e-3)


@pytest.mark.parametrize("text", ["120 mg/L", "120 ppm", "0.12 g/L", 120, "<5 mg/L"])
def test_alkalinity_in_plain_mg_per_litre_is_asked_back(text):
    with pytest.raises(InputError, match="CaCO3"):
        water({"alkalinity": text})


@given(st.floats(0.05, 20), st.floats(5.5, 9.5))
def test_alkalinity_and_ph_give_the_inorganic_carbon_back(alkalinity, ph):
    # handbook constants 6.35 and 10.33 (acid_base_constants, memory), water 13.995
    made = water({"alkalinity": f"{alkalinity!r} meq/L", "pH": ph})
    carbon = made.solution.mmol_l("C")
    acid, base = 10 ** (6.35 - ph), 10 ** (ph - 10.33)
    bicarbonate = carbon / (acid + 1 + base)
    own = 1000 * (10 ** (ph - 13.995) - 10**-ph)
    assert bicarbonate * (1 + 2 * base) + own == pytest.approx(alkalinity, rel=1e-9)
    assert made.alkalinity == pytest.approx(alkalinity)
    assert made.solution.unassigned_charge == pytest.approx(alkalinity, rel=1e-9)


def test_without_a_ph_alkalinity_counts_as_bicarbonate_and_says_so():
    made = water({"alkalinity": "2 meq/L"})
    assert made.solution.mmol_l("HCO3") == pytest.approx(2)
    assert made.ph is None
    assert [text for text in made.assumed if "bicarbonate" in text]


@pytest.mark.parametrize(
    "entries",
    [
        {"alkalinity": "2 meq/L", "HCO3": 122},
        {"alkalinity": "2 meq/L", "Alkalinity": "2 meq/L"},
        {"alkalinity": "2 meq/L", "HCO3": 122, "CO3": 5},
        {"HCO3": 122, "bicarbonate": 61},
        {"HCO3": 122, "hydrogen carbonate": 122},
    ],
    ids=str,
)
def test_alkalinity_told_twice_is_asked_back(entries):
    with pytest.raises(InputError):
        water(entries)


def test_alkalinity_that_the_ph_alone_exceeds_is_refused():
    with pytest.raises(InputError, match="alkalinity"):
        water({"alkalinity": "0.01 meq/L", "pH": 11})


@pytest.mark.parametrize("ph", [0, 3, 4])
def test_alkalinity_below_the_end_of_its_titration_is_told_or_refused(ph):
    # alkalinity is what acid takes down to about pH 4.3: no water below that has any
    balanced = {"alkalinity": "2 meq/L", "Na": "2 meq/L", "pH": ph}
    try:
        words = " ".join(map(str, water(balanced).notices))
    except InputError as error:
        words = str(error)
    assert "pH" in words
    assert "alkalinity" in words


# --- readings and small print ------------------------------------------------------------


@pytest.mark.parametrize("text", ["<0.05", "< 0,05 mg/l", "<0.05 mg/L", "<50 µg/L"])
def test_below_the_limit_of_reporting_counts_as_nothing_and_says_so(text):
    made = water({"Mn": text})
    assert made.solution.mg_l("Mn") == 0
    assert [line for line in made.assumed if "Mn" in line and text in line]


@pytest.mark.parametrize("text", ["<", "<x", "<-5", "n.d.", "-", "trace", "5 °C"])
def test_what_is_no_reading_is_refused(text):
    with pytest.raises(InputError, match="Mn"):
        water({"Mn": text})


@pytest.mark.parametrize(
    ("entries", "field", "value"),
    [
        ({"pH": 7.41}, "ph", 7.41),
        ({"ph-Wert": "7,41"}, "ph", 7.41),
        ({"EC": "651 µS/cm"}, "ec", 0.651),
        ({"conductivity": 0.651}, "ec", 0.651),
        ({"EC": "0.651 dS/m"}, "ec", 0.651),
    ],
)
def test_readings_are_read_as_reports_print_them(entries, field, value):
    assert getattr(water(entries), field) == pytest.approx(value)


@pytest.mark.parametrize(
    ("entries", "more"),
    [
        ({"pH": 7.4, "pH value": 6.0}, {}),
        ({"pH": 7.4}, {"ph": 6.0}),
        ({"EC": 1.0}, {"ec": 3.0}),
        ({"Ca": 80, "calcium": 40}, {}),
        ({"NO3": 10, "NO3-N": 2}, {}),
    ],
    ids=str,
)
def test_what_is_told_twice_is_asked_back(entries, more):
    with pytest.raises(InputError):
        water(entries, **more)


def test_total_iron_is_assumed_to_be_iron_three():
    made = water({"Fe": 0.07})
    assert made.solution.mg_l("Fe(III)") == pytest.approx(0.07)
    assert [text for text in made.assumed if "iron(III)" in text]
    assert not [text for text in water({"Fe(II)": 0.07}).assumed if "iron" in text]


def test_units_of_one_analysis_may_differ():
    one = water({"Ca": 80, "Mg": "1 mmol/L", "Na": "1 meq/L", "K": "500 ug/L"})
    other = water({"Ca": "80 ppm", "Mg": 24.305, "Na": 22.98976928, "K": 0.5})
    for key in ("Ca", "Mg", "Na", "K"):
        assert one.solution.mg_l(key) == pytest.approx(
            other.solution.mg_l(key), rel=1e-6
        )
    assert water({"Ca": "100.086 mg/L as CaCO3"}).solution.mmol_l("Ca") == (
        pytest.approx(1, rel=1e-6)
    )


# --- presets and words -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("word", "preset"),
    [
        ("hard", "hard-tap-voehringen"),
        ("  Soft  Tap Water ", "soft-tap-st-ingbert"),
        ("RO", "reverse-osmosis"),
        ("rain", "rain-coast-2019"),
        ("distilled water", "pure"),
    ],
)
def test_a_water_is_found_by_its_plain_name(word, preset):
    assert water(word).name == water(preset).name
    assert water(word, name="ours").name == "ours"


def test_presets_are_there_with_their_sources():
    assert set(PRESETS.values()) | {"pure", "reverse-osmosis"} == set(preset_names())
    assert all(water(name).source_key for name in preset_names())


@pytest.mark.parametrize(
    "word", ["", "tap", "Vöhringen?", "\0", "hard tap", "x" * 5000]
)
def test_an_unknown_water_lists_the_known_ones(word):
    with pytest.raises(UnknownName, match="reverse-osmosis"):
        water(word)


def test_water_without_salts_holds_nothing():
    for made in (water({}), water("pure"), water("RO")):
        assert dict(made.solution.forms) == {}
        assert (made.cations, made.anions, made.balance_percent) == (0, 0, 0)
        assert type(made.cations) is type(made.anions) is float
        assert made.notices == ()
    assert water("RO").assumed  # a membrane lets some of the feed through


def test_a_water_tells_readings_assumptions_and_notices():
    text = str(water({"Ca": 80, "Mn": "<0.05", "pH": 7.4, "EC": 0.5}, name="well"))
    for word in ("well", "pH 7.4", "EC 0.5", "80.00", "assumed: Mn", "balance"):
        assert word in text
    shown = water({"K": 1}, name="<script>alert(1)</script>")._repr_html_()
    assert "<script>" not in shown


# --- bad input ---------------------------------------------------------------------------

NO_NUMBER = [math.nan, math.inf, True, None, "", "much", b"1", [], {}, 1j, object()]


def short(value):
    return repr(value)[:16]


@pytest.mark.parametrize("value", [*NO_NUMBER, -1, "-1 mg/L", "1,000"], ids=short)
@pytest.mark.parametrize("key", ["Ca", "EC", "alkalinity"])
def test_what_is_no_amount_is_refused(key, value):
    with pytest.raises(FormulateError, match=key):
        water({key: value})


@pytest.mark.parametrize("value", [*NO_NUMBER, -0.1, 14.1], ids=short)
def test_what_is_no_ph_is_refused(value):
    with pytest.raises(FormulateError, match="pH"):
        water({"pH": value})
    if value is not None:
        with pytest.raises(FormulateError, match="pH"):
            water({}, ph=value)


@pytest.mark.parametrize("value", [math.nan, True, "much", [], -1], ids=short)
def test_what_is_no_conductivity_is_refused(value):
    with pytest.raises(FormulateError):
        water({}, ec=value)


@pytest.mark.parametrize("contents", [None, True, 7, b"rain", object(), [1, 2]])
def test_what_is_no_analysis_is_refused(contents):
    with pytest.raises(FormulateError):
        water(contents)


@pytest.mark.parametrize("unit", ["", "mgl", "g", "gal", "mS/cm", None, 7])
def test_what_is_no_unit_of_an_analysis_is_refused(unit):
    with pytest.raises(FormulateError):
        water({"Ca": 80}, unit=unit)


@pytest.mark.parametrize("number", [np.int64(7), np.float32(7), np.float64(7)])
def test_numbers_of_numpy_are_numbers(number):
    made = water({"Ca": number, "EC": number}, ph=number)
    assert (made.ph, made.ec) == (7.0, 7.0)
    assert made.solution.mg_l("Ca") == pytest.approx(7)


def test_every_fault_is_listed_at_once():
    entries = {"Ca": -1, "Mg": math.nan, "Zz": 1, "K": "3 parsec", "pH": 20}
    entries |= {"alkalinity": 5, "EC": "much"}
    with pytest.raises(InputError) as caught:
        water(entries)
    assert len(caught.value.faults) == 7
    for word in entries:
        assert word in str(caught.value)
