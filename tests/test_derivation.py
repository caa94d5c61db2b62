"""Ranges of blends from guarantees and named sources, against programmes set up anew."""

import itertools
import math
import re
from functools import cache

import numpy as np
import periodictable
import pytest
from scipy.optimize import linprog

from formulate.chemistry.conductivity import ec
from formulate.claims.derivation import derive
from formulate.claims.derivation_findings import ABSENT
from formulate.errors import Infeasible, InputError, UnknownName
from formulate.ingredients.labels import label, read_label
from formulate.ingredients.salts import catalogue, salt
from formulate.stoichiometry.solution import solution

SEED = 10
BLENDS = 200
TRACE = ("Fe", "Mn", "Zn", "Cu", "B", "Mo", "Ni", "Co")
OXIDES = {"P2O5": "P", "K2O": "K", "CaO": "Ca", "MgO": "Mg", "Na2O": "Na", "SO3": "S"}
MAJORS = {"us": ("Ca", "Mg", "S"), "eu": ("CaO", "MgO", "SO3")}
# groups whose atoms or nitrogen a formula shows; element to atoms, by hand
NITROGEN = {"NO3-N": "NO3", "NH4-N": "NH4", "urea-N": r"CO\(NH2\)2"}
IONS = {"S": ("SO4", 4), "Cl": ("Cl", 0), "Na": ("Na", 0)}


# --- composition from formulas alone, by periodictable -----------------------------------------


def _mass(text):
    return periodictable.formula(text).mass


def _groups(formula, group):
    """Return how often a group stands in a formula."""
    if group.startswith("CO"):
        return len(re.findall(group, formula))
    total = 0
    for found in re.finditer(rf"(\(?){group}(?![0-9])(\)([0-9]*))?", formula):
        total += int(found[3] or 1) if found[1] else 1
    return total


@cache
def _content(name):
    """Return element, oxide and nitrogen shares of a salt in percent, from its formula."""
    made = catalogue()[name]
    formula = made.formula
    read = periodictable.formula(formula.replace("·", "+"))
    purity = made.purity_percent / read.mass
    atoms = {str(a): n for a, n in read.atoms.items()}
    found = {e: n * _mass(e) * purity for e, n in atoms.items()}
    for oxide, element in OXIDES.items():
        per = periodictable.formula(oxide).atoms[getattr(periodictable, element)]
        found[oxide] = atoms.get(element, 0) * _mass(oxide) / per * purity
    for key, group in NITROGEN.items():
        each = 2 if key == "urea-N" else 1
        found[key] = each * _groups(formula, group) * _mass("N") * purity
    return found


def _of(name, key):
    return _content(name).get(key, 0.0)


def _is_plain(made):
    """Return whether a salt is a solid whose formula alone tells its forms."""
    formula = made.formula
    plain = (
        formula and not made.is_liquid and "DT" not in formula and "ED" not in formula
    )
    carbon = "C6" in formula or "HBED" in formula or "Mo7" in formula
    return bool(plain) and not carbon and made.role != "acid"


SALTS = sorted(name for name, made in catalogue().items() if _is_plain(made))


def _is_trace(name):
    return any(_of(name, key) for key in TRACE)


def test_the_formulas_of_this_file_count_nitrogen_as_nitrogen():
    for name in SALTS:
        forms = sum(_of(name, key) for key in NITROGEN)
        assert forms == pytest.approx(_of(name, "N"), abs=1e-9), name


# --- labels as the law prints them ----------------------------------------------------------------


def _rounded(share, decimals, rule):
    """Return a share as text: rounded down for a minimum, to the nearest else."""
    scale = 10**decimals
    units = math.floor(share * scale + 1e-9) if rule == "us" else round(share * scale)
    return f"{units / scale:.{decimals}f}"


def _blend(rng):
    """Return names and grams in 100 g of a blend of three to seven salts with filler."""
    names = list(rng.choice(SALTS, rng.integers(3, 8), replace=False))
    if all(map(_is_trace, names)):
        names[0] = "potassium nitrate"
    weights = rng.dirichlet(np.ones(len(names)))
    weights *= [0.02 if _is_trace(name) else 1.0 for name in names]
    return names, weights / weights.sum() * (100.0 - rng.uniform(0, 15))


def _guarantees(names, grams, rule, rng):
    """Return what a label of this rule prints of a blend, without zeros."""

    def share(key):
        return sum(_of(n, key) * g for n, g in zip(names, grams, strict=True)) / 100

    whole = 0 if rule == "us" else 1
    printed = {key: (share(key), whole) for key in ("N", "P2O5", "K2O")}
    if rng.random() < 0.5:
        printed |= {key: (share(key), 1) for key in NITROGEN}
    printed |= {key: (share(key), whole) for key in MAJORS[rule]}
    printed |= {key: (share(key), 4 if key == "Mo" else 2) for key in TRACE}
    texts = {key: _rounded(*pair, rule) for key, pair in printed.items()}
    return {key: text for key, text in texts.items() if float(text)}


def _limits(text, rule):
    """Return least and greatest share behind a printed one: the rounding, undone."""
    step = 10.0 ** -len(text.partition(".")[2])
    value = float(text)
    return (
        (value, value + step) if rule == "us" else (value - step / 2, value + step / 2)
    )


def _rows(names, printed, rule):
    """Return A, b of A x <= b, each row divided by its share."""
    rows, most = [[0.01] * len(names)], [1.0]
    for key, text in printed.items():
        low, high = _limits(text, rule)
        row = np.array([_of(name, key) / 100 for name in names]) / float(text)
        rows += [row, -row]
        most += [high / float(text), -low / float(text)]
    return np.array(rows), np.array(most)


def _optimum(costs, rows, most):
    """Return least and greatest of a sum, or None; each is a programme of its own."""
    size = np.abs(costs).max() or 1.0
    ends = []
    for sign in (1, -1):
        found = linprog(
            sign * costs / size, A_ub=rows, b_ub=most + 1e-9, method="highs-ipm"
        )
        if found.status == 2:
            return None
        assert found.status == 0
        ends.append(sign * found.fun * size)
    return ends


@cache
def _cases():
    """Return the seeded blends: names, grams, printed shares, rule."""
    rng = np.random.default_rng(SEED)
    made = []
    for place in range(BLENDS):
        rule = ("us", "eu")[place % 2]
        names, grams = _blend(rng)
        made.append((tuple(names), grams, _guarantees(names, grams, rule, rng), rule))
    return tuple(made)


def _derived(names, printed, rule, **facts):
    facts.setdefault("overage", 0 if rule == "us" else None)
    return derive(printed, list(names), rule=rule, **facts)


# --- the bars ---------------------------------------------------------------------------------


def test_the_interval_is_the_optimum_of_a_programme_set_up_anew():
    compared = 0
    for names, _, printed, rule in _cases():
        found = _derived(names, printed, rule)
        rows, most = _rows(names, printed, rule)
        asked = {
            key: np.array([_of(n, key) for n in names]) / 100
            for key in (*IONS, "NO3-N")
        }
        asked |= {n: np.eye(len(names))[i] for i, n in enumerate(names)}
        for what, costs in asked.items():
            low, high = _optimum(costs, rows, most)
            ours = found.range_of(what)
            assert ours.low == pytest.approx(low, rel=1e-5, abs=1e-5), (what, names)
            assert ours.high == pytest.approx(high, rel=1e-5, abs=1e-5), (what, names)
            compared += 1
    assert compared > 8 * BLENDS


def test_three_salts_by_counting_every_corner():
    small = [case for case in _cases() if len(case[0]) == 3]
    assert len(small) > 20
    for names, _, printed, rule in small:
        rows, most = _rows(names, printed, rule)
        rows, most = np.vstack([rows, -np.eye(3)]), np.append(most, [0.0] * 3)
        corners = []
        for three in itertools.combinations(range(len(rows)), 3):
            if abs(np.linalg.det(rows[list(three)])) < 1e-12:
                continue
            corner = np.linalg.solve(rows[list(three)], most[list(three)])
            if (rows @ corner <= most + 1e-7).all():
                corners.append(corner)
        found = _derived(names, printed, rule)
        for place, name in enumerate(names):
            held = [corner[place] for corner in corners]
            ours = found.range_of(name)
            assert (ours.low, ours.high) == pytest.approx(
                (min(held), max(held)), abs=1e-4
            )


def test_the_truth_lies_in_every_interval_and_nothing_true_is_flagged():
    inside, flagged = [], []
    for names, grams, printed, rule in _cases():
        found = _derived(names, printed, rule)
        flagged += [f for f in found.findings if f.verdict in ("wrong", "impossible")]
        true = dict(zip(names, grams, strict=True))
        for key in ("S", "Cl", "Na", "NO3-N", "NH4-N"):
            true[key] = sum(_of(n, key) * true[n] for n in names) / 100
        for what, value in true.items():
            ours = found.range_of(what)
            inside.append(ours.low - 1e-6 <= value <= ours.high + 1e-6)
    assert not flagged
    assert np.mean(inside) >= 0.99  # the bar; all of them, but for round-off


def test_minima_hold_the_truth_of_every_american_label():
    for names, grams, printed, rule in _cases()[::2]:
        found = _derived(names, printed, rule, overage=None)
        assert found.is_possible
        for name, share in zip(names, grams, strict=True):
            ours = found.range_of(name)
            assert ours.low - 1e-6 <= share <= ours.high + 1e-6


def test_a_guarantee_whose_only_source_is_left_out_is_impossible():
    left_out = 0
    for names, _, printed, rule in _cases():
        for key in printed:
            holders = [name for name in names if _of(name, key)]
            rest = [name for name in names if name not in holders]
            if len(holders) != 1 or not rest:
                continue
            found = _derived(rest, printed, rule)
            flagged = {f.subject for f in found.findings if f.verdict == "impossible"}
            assert any(subject.startswith(f"{key} ") for subject in flagged), (
                key,
                names,
            )
            left_out += 1
    assert left_out > BLENDS


def _sharing(name, others):
    """Return salts that share a cation or anion element with one, and are not named."""
    mine = {
        e
        for e in ("K", "Ca", "Mg", "S", "Cl", "Na", "P", *TRACE, *NITROGEN)
        if _of(name, e)
    }
    return [
        other
        for other in SALTS
        if other not in others and any(_of(other, element) for element in mine)
    ]


def _wrong_statements():
    """Yield (kind, names, the one that is not there, printed, rule)."""
    rng = np.random.default_rng(SEED + 1)
    for names, _, printed, rule in _cases():
        swapped = names[rng.integers(len(names))]
        others = _sharing(swapped, names)
        if others:  # urea has no other
            other = str(rng.choice(others))
            rest = [other if name == swapped else name for name in names]
            yield "swapped", rest, other, printed, rule
        extra = str(rng.choice([name for name in SALTS if name not in names]))
        yield "extra", [*names, extra], extra, printed, rule


def test_every_wrong_statement_that_can_be_proven_is_flagged():
    caught = {"swapped": [], "extra": []}
    for kind, names, other, printed, rule in _wrong_statements():
        found = _derived(names, printed, rule)
        rows, most = _rows(names, printed, rule)
        most = _optimum(np.array([float(n == other) for n in names]), rows, most)
        provable = most is None or most[1] < ABSENT
        verdicts = [f.verdict for f in found.findings if f.subject == other]
        flagged = not found.is_possible or verdicts == ["wrong"]
        assert flagged == provable, (kind, names, other)
        caught[kind].append(flagged)
    assert min(map(len, caught.values())) > 0.9 * BLENDS
    undetectable = {kind: 1 - np.mean(values) for kind, values in caught.items()}
    # no source: measured here and told in the report; a swap is mostly seen, an extra not
    assert undetectable["swapped"] < 0.5 < undetectable["extra"]


def test_one_programme_gives_every_range(monkeypatch):
    calls = []

    def counted(*given, **facts):
        calls.append(1)
        return linprog(*given, **facts)

    monkeypatch.setattr("formulate.claims.blend_ranges.linprog", counted)
    names, _, printed, rule = next(case for case in _cases() if len(case[0]) == 7)
    found = _derived(names, printed, rule)
    assert len(found.ranges) > 10
    assert found.findings
    assert len(calls) == 1


# --- worked cases -----------------------------------------------------------------------------


def test_the_double_salt_of_calcium_and_ammonium_nitrate():
    # egro-2018: 15.5-0-0 with 19 % Ca holds 14.4 % NO3-N and 1.1 % NH4-N
    bag = {"N": "15.5", "Ca": "19.0"}
    found = derive(bag, ["calcium nitrate", "ammonium nitrate"], rule="eu")
    nitrate, ammonium = found.range_of("NO3-N"), found.range_of("NH4-N")
    assert nitrate.low <= 14.4 + 0.05
    assert nitrate.high >= 14.4 - 0.05
    assert ammonium.low <= 1.1 + 0.05
    assert ammonium.high >= 1.1 - 0.05
    assert ammonium.high - ammonium.low < 0.15
    wet = derive(bag, ["calcium nitrate tetrahydrate", "ammonium nitrate"], rule="eu")
    assert not wet.is_possible  # the tetrahydrate holds 17 % Ca, by its formula


def test_sulfate_of_a_mix_by_hand():
    # 13.0 and 45.0 ± 0.05; KNO3 holds 13.854 % N and 46.585 % K2O, K2SO4 54.05 and
    # 45.95 % SO3: between (44.95 - 43.88)/54.05 and (45.05 - 43.54)/54.05 g of it
    bag = {"N": "13.0", "K2O": "45.0"}
    found = derive(bag, ["KNO3", "K2SO4"], rule="eu").range_of("SO3")
    assert found.low == pytest.approx(0.91, abs=0.01)
    assert found.high == pytest.approx(1.28, abs=0.01)


def test_what_is_impossible_is_named():
    found = derive({"N": "12", "Mg": "2"}, ["potassium nitrate", "urea"])
    assert found.findings[0].verdict == "impossible"
    assert "Mg" in found.findings[0].subject
    assert found.verdict == "impossible"
    with pytest.raises(Infeasible, match="none of the named sources holds Mg"):
        found.accepted()
    assert found.range_of("N").low == pytest.approx(
        12.0, abs=1e-6
    )  # the rest still told


def test_the_least_slack_ends_the_conflict():
    names = ["potassium nitrate", "potassium sulfate"]
    found = derive({"N": "12", "K2O": "50"}, names, overage=0)
    short, over, room = found.slack
    assert not found.is_possible
    assert room == pytest.approx(4.5, abs=0.1)  # 86.6 g KNO3 and 17.9 g K2SO4, by hand
    assert (short > 0).sum() == 1
    assert not over.any()
    low = [g.low - less for g, less in zip(found.guarantees, short, strict=True)]
    given_way = {"N": f"{low[0]:.9f}", "K2O": f"{low[1] - 1e-6:.9f}"}
    assert derive(given_way, names).is_possible
    given_way["K2O"] = f"{low[1] + 1e-3:.9f}"
    assert not derive(given_way, names).is_possible


def test_a_source_that_cannot_be_there():
    assert (
        derive({"NO3-N": "13.7", "K2O": "46.1"}, ["KNO3"], rule="eu").verdict == "right"
    )
    whole = f"{_of('potassium sulfate', 'K2O'):.9f}"  # all 100 g are potassium sulfate
    found = derive({"K2O": whole}, ["K2SO4", "urea"], rule="eu")
    assert found.verdict == "wrong"
    assert [f.subject for f in found.findings if f.verdict == "wrong"] == ["urea"]
    # a digit less and a trace may hide behind the rounding: nothing is proven
    found = derive({"K2O": "54.1"}, ["K2SO4", "urea"], rule="eu")
    assert found.verdict == "cannot tell"
    assert found.range_of("urea").high == pytest.approx(
        100 * (1 - 54.05 / float(whole)), rel=0.1
    )


def test_an_open_name_stands_for_every_hydrate():
    found = derive({"Mg": "9.0"}, ["magnesium sulfate"], rule="eu")
    assert len(found.materials) == 3
    assert any("may be" in text for text in found.assumed)
    kinds = {each.kind for each in found.ranges}
    assert {"source", "material", "filler", "ion"} <= kinds
    # sulfate follows from magnesium, whatever the hydrate: 1:1
    sulfate, magnesium = found.range_of("SO4"), found.range_of("Mg")
    ratio = 96.06 / 24.305
    assert sulfate.low == pytest.approx(magnesium.low * ratio, rel=1e-3)


def test_nothing_is_there_of_what_no_source_holds():
    assert derive({"K2O": "46"}, ["KNO3"]).range_of("Cl").high == 0.0
    with pytest.raises(UnknownName):
        derive({"K2O": "46"}, ["KNO3"]).range_of("unobtainium")


def test_the_accepted_blend_keeps_the_guarantees_and_charge():
    for names, _, printed, rule in _cases()[:60]:
        found = _derived(names, printed, rule, overage=None)
        made = found.accepted("bag")
        assert made.unassigned_charge == 0.0
        assert sum(found.central) <= 100 + 1e-6
        for key, text in printed.items():
            low, high = _limits(text, rule)
            assert made.percent(key) >= low * (1 - 1e-6), (key, names)
            assert rule == "us" or made.percent(key) <= high * (1 + 1e-6), (key, names)
        for each in found.untold:
            assert each.low - 1e-9 <= made.percent(each.what) <= each.high + 1e-9
            assert any(
                note.what.startswith(f"{each.what} is not") for note in made.notices
            )


def test_minima_are_counted_as_little_as_the_sources_allow():
    # sodium nitrate holds 16.48 % N and the chelate at most 15.2 % Fe, so that 5.0 and 0.10
    # are reached together to the digit: nothing has to be more
    text = (
        "Total Nitrogen (N) {n} %\n  {n} % Nitrate Nitrogen\nIron (Fe) {fe} %\n"
        "  {fe} % Chelated Iron\nDerived from: sodium nitrate, iron EDTA"
    )
    for n, fe in (("5", "0.1"), ("5.0", "0.10")):
        made = derive(text.format(n=n, fe=fe)).accepted()
        assert made.percent("N") == pytest.approx(5.0, abs=1e-6)
        assert made.percent("Fe") == pytest.approx(0.1, abs=1e-6)
    # KNO3 by its formula: 13.854 % N beside 46.585 % K2O; 44 % K2O brings 13.085 % N
    made = derive({"N": "2", "K2O": "44"}, ["KNO3"]).accepted()
    assert made.percent("K2O") == pytest.approx(44.0, abs=1e-6)
    assert made.percent("N") == pytest.approx(13.085, abs=1e-3)


@pytest.mark.parametrize(
    ("name", "key", "share", "beyond"),
    [
        # formulas: NaFeEDTA 15.2 % Fe, NaHFeDTPA 11.9, NaFeHBED 12.1, NaFeEDDHA 12.8,
        # Na2ZnEDTA 16.4 % Zn, Na2CuEDTA 16.0 % Cu, Na2MnEDTA 14.1 % Mn; acids: 72.42 % P2O5,
        # 22.23 % N
        ("iron EDTA", "Fe", "15.2", "15.3"),
        ("iron DTPA", "Fe", "11.6", "12.1"),
        ("iron HBED", "Fe", "9", "12.2"),
        ("iron EDDHA", "Fe", "7", "13.0"),
        ("zinc EDTA", "Zn", "15.5", "16.5"),
        ("copper EDTA", "Cu", "15.5", "16.1"),
        ("manganese EDTA", "Mn", "14", "14.3"),
        ("phosphoric acid", "P2O5", "72", "72.5"),
        ("nitric acid", "N", "22", "22.3"),
    ],
)
def test_a_named_chelate_or_acid_may_be_as_rich_as_the_pure_compound(
    name, key, share, beyond
):
    assert derive({key: share}, [name]).is_possible
    assert not derive({key: beyond}, [name]).is_possible


def test_a_grade_that_is_named_is_that_grade():
    named = "iron EDTA chelate (13 % Fe)"
    assert len(derive({"Fe": "12"}, [named]).materials) == 1
    assert not derive({"Fe": "13.3"}, [named]).is_possible


def test_each_conflict_is_printed_once():
    text = (
        "0-0-70\nSoluble Potash (K2O) 70 %\nIron (Fe) 16 %\n  16 % Chelated Iron\n"
        "Copper (Cu) 1 %\n  1 % Chelated Copper\nDerived from: muriate of potash, iron EDTA"
    )
    subjects = [f.subject for f in derive(text, rule="us").findings]
    assert len(subjects) == len(set(subjects)), subjects
    assert not any(each.startswith("grade") for each in subjects)


def test_a_greatest_value_is_no_minimum():
    # K2SO4 by its formula: 54.05 % K2O and no chloride
    text = (
        "Soluble Potash (K2O) 50 %\nSulfur (S) 17 %\nChlorine (Cl) not more than 1 %\n"
        "Derived from: {}"
    )
    alone = derive(text.format("potassium sulfate"))
    assert alone.is_possible
    mixed = derive(text.format("potassium sulfate, potassium chloride"))
    assert mixed.range_of("Cl").low == pytest.approx(0.0, abs=1e-9)
    assert mixed.range_of("Cl").high == pytest.approx(1.0, abs=1e-6)


def test_all_guarantees_are_counted_once():
    bag = "13-0-44\nTotal Nitrogen (N) 13 %\nSoluble Potash (K2O) 44 %"
    found = derive(bag, ["potassium nitrate"], rule="us")
    assert "all 2 guarantees" in found.findings[0].what


def test_minima_are_counted_near_to_what_is_printed():
    bag = {"N": "10", "P2O5": "5", "K2O": "25"}
    names = ["potassium nitrate", "monopotassium phosphate", "ammonium sulfate"]
    found = derive(bag, names)
    assert found.range_of("P2O5").high > 10  # a minimum alone leaves much open
    made = found.accepted()
    for key, text in bag.items():
        assert float(text) - 1e-6 <= made.percent(key) < float(text) + 1.0 + 1e-6


def test_ec_and_ph_of_a_dilution_from_salts_weighed_apart():
    found = derive({"K2O": "54.0"}, ["K2SO4"], rule="eu", tolerance=0.5)
    low, high = found.range_of("K2SO4").low, found.range_of("K2SO4").high
    seen = found.diluted(2.0)
    each = salt("K2SO4").amount("K") * 2.0 / 100
    apart = [ec(solution({"K": each * x, "SO4": each * x / 2})) for x in (low, high)]
    assert seen.ec_range == pytest.approx(apart, rel=1e-6)
    assert seen.ph_range == pytest.approx((7.0, 7.1), abs=0.1)
    assert "2 g/L" in str(seen)
    with pytest.raises(InputError):
        found.diluted(-1)


def test_a_printed_label_brings_its_own_sources_and_rule():
    text = """Total Nitrogen (N) ..... 13 %
      13 % Nitrate Nitrogen
    Soluble Potash (K2O) ... 44 %
    Derived from: potassium nitrate"""
    for given in (text, read_label(text)):
        found = derive(given)
        assert found.rule == "us"
        assert [source.name for source in found.sources] == ["potassium nitrate"]
        assert found.is_possible


def test_shares_by_volume_need_a_density():
    bag = "Liquid fertiliser\nTotal Nitrogen (N) 8 % w/v\nDerived from: urea"
    thick = {"N": "8"}
    made = label("liquid", basis="us", guarantees={"urea-N": 8}, density=1.1)
    assert derive(made, ["urea"]).guarantees[0].percent == pytest.approx(8.0)
    with pytest.raises(InputError, match="density"):
        derive(bag, ["urea"])
    weighed = derive(bag, ["urea"], density=1.25).guarantees[0].percent
    assert weighed == pytest.approx(8 / 1.25)
    assert derive(thick, ["urea"]).density is None


def test_less_filler_narrows_the_range():
    bag, names = {"N": "13", "K2O": "44"}, ["KNO3", "K2SO4", "urea"]
    wide, narrow = (derive(bag, names, filler=f).range_of("N") for f in (100, 1))
    assert wide.low - 1e-9 <= narrow.low
    assert narrow.high <= wide.high + 1e-9
    full = derive(bag, names, filler=0).range_of("filler")
    assert (full.low, full.high) == pytest.approx((0, 0), abs=1e-6)


def test_overage_and_tolerance_widen_the_range():
    bag, names = {"N": "13", "K2O": "44"}, ["KNO3", "KCl"]
    spans = [derive(bag, names, overage=o).range_of("N").high for o in (0, 2, None)]
    assert spans == sorted(spans)
    eu = [
        derive(bag, names, rule="eu", tolerance=t).range_of("Cl").high
        for t in (0.0, {"N": 0.5}, 0.5)
    ]
    assert eu == sorted(eu)
    assert eu[0] < eu[-1]


def test_ranges_as_rows_frame_and_text():
    found = derive({"N": "13", "K2O": "44"}, ["KNO3", "KCl"], name="bag")
    assert len(found.to_frame()) == len(found.rows()) == len(found.ranges)
    text = str(found)
    assert text.startswith("bag: cannot tell (us rule")
    assert "KCl" in text
    assert "Cl 0 to" in text


# --- bad input -----------------------------------------------------------------------------------


def test_every_fault_is_told_at_once():
    shares = {"N": 60, "K2O": 70, "unobtainium": 3}
    with pytest.raises(InputError) as caught:
        derive(shares, ["potasium nitrate"], rule="uk", overage=-1)
    faults = " / ".join(caught.value.faults)
    for part in (
        "rule",
        "overage",
        "unobtainium",
        "near: potassium nitrate",
        "in 100 g",
    ):
        assert part in faults


@pytest.mark.parametrize(
    ("claim", "sources", "told"),
    [
        ({}, ["KNO3"], "no guarantees"),
        ({"N": 13}, [], "no sources"),
        ({"N": 13}, None, "no sources"),
        ({"N": 13}, 3, "give a list"),
        ({"N": 13}, [3], "no ingredient"),
        (3, ["KNO3"], "no label"),
        ({"N": -1}, ["KNO3"], "from 0 up"),
        ({"N": "thirteen"}, ["KNO3"], "thirteen"),
        ({"N": math.nan}, ["KNO3"], "from 0 up"),
        ({"N": 13}, ["bone of moon"], "give a catalogue name"),
        ({"P2O5": 99, "K2O": 99}, ["KNO3"], "elements"),
    ],
)
def test_bad_input_is_refused_in_words(claim, sources, told):
    with pytest.raises(InputError, match=told):
        derive(claim, sources)


def test_nothing_and_both_are_told_together():
    with pytest.raises(InputError) as caught:
        derive({}, [])
    assert len(caught.value.faults) == 2
