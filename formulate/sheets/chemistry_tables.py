"""The tables of the chemistry: meters, what falls out, what brings the pH, air, iron."""

from formulate.chemistry.acidity import ph_rule
from formulate.chemistry.oxygen import air_times, oxygen_saturation, salinity_from_ec
from formulate.chemistry.species_working import bare_ions
from formulate.sheets.table import Table
from formulate.stoichiometry.notation import printed_ion
from formulate.stoichiometry.nutrients import form
from formulate.working import Quantity, Step, Working

__all__ = [
    "COOL",
    "OTHERS",
    "ROOM",
    "WARM",
    "chemistry_data",
    "chemistry_tables",
    "others_working",
    "species_named",
    "species_table",
]

OTHERS = "others"
LEAST = 0.01  # mmol/L of an ion or pair that is told by itself
MOST_TOLD = 8  # of those that are told together by name
COOL, ROOM, WARM = 15.0, 20.0, 25.0  # °C of the oxygen that is told


def chemistry_tables(outcome, *, quick=False):
    """
    Return the tables of the chemistry of a batch.

    Parameters
    ----------
    outcome : Outcome
        The outcome of a job.
    quick : bool
        Whether what falls out in the end is left out, which takes longest.

    Returns
    -------
    tuple of Table
        What meters show, what carries the EC, what may fall out, the correction of pH and
        how it is done, the air, sources of iron.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> [table.key for table in chemistry_tables(run_job(read_job(DEMO)))][:3]
    ['meters', 'carriers', 'solids']
    """
    return (
        _meters(outcome),
        _carriers(outcome),
        _solids(outcome, quick),
        _correction(outcome),
        _steps(outcome),
        _air(outcome),
        _iron(outcome),
    )


def _meters(outcome):
    """Return what meters will show: pH and EC, with how sure they are."""
    rows = outcome.expected.rows()
    return Table("meters", "What meters will show", ("reading", "expected"), rows)


def _carriers(outcome):
    """Return which ion carries how much of the EC."""
    rows = tuple(
        (printed_ion(ion), f"{value:.3f}", f"{share:.0f}")
        for ion, value, share in outcome.expected.shares()
    )
    columns = ("ion", "mS/cm", "% of EC")
    return Table("carriers", "What carries the EC", columns, rows, (1, 2))


def _solids(outcome, quick):
    """Return what may fall out, in words, and what would be lost."""
    ph = outcome.correction.tomorrow
    columns = ("solid", "risk", "saturation index", "in the end")
    columns += (f"in the air, pH {ph:.1f}", "why it matters")
    title = "What may fall out of the finished batch"
    later = {risk.name: risk for risk in outcome.solids_in_air.solids}
    rows = [
        (*row, _word(later.get(row[0])), reason)
        for *row, reason in outcome.solids.rows(in_the_end=not quick)
    ]
    named = {row[0] for row in rows}
    rows += [
        (risk.name, "none", "", "", _word(risk), risk.reason)
        for risk in outcome.solids_in_air.telling
        if risk.name not in named
    ]
    return Table("solids", title, columns, tuple(rows), (2, 3, 4))


def _word(risk):
    """Return word and index of a solid in the air; nothing where it is far from it."""
    return f"{risk.word} {risk.index:+.2f}" if risk else "none"


def _correction(outcome):
    """Return what brings the wanted pH, of each acid or alkali at hand."""
    found = outcome.correction
    columns = (
        f"to pH {found.ph:g}",
        "at once",
        "errors allow",
        "in all, aerated",
        "brings mg/L",
        "pH tomorrow",
        "cost",
    )
    title = f"pH: {found.line}"
    return Table("correction", title, columns, found.rows(), (1, 2, 3, 5, 6))


def _steps(outcome):
    """Return how the pH is corrected, step by step."""
    rows = tuple((text,) for text in outcome.correction.steps())
    return Table("correcting", "Correcting the pH", ("",), rows)


def _air(outcome):
    """Return what the air does: pH tomorrow, how soon, how much oxygen there may be."""
    found = outcome.expected
    salinity = salinity_from_ec(found.conductivity.ec)
    oxygen = ", ".join(
        f"{t:g} °C: {oxygen_saturation(t, salinity=salinity):.1f}"
        for t in (COOL, ROOM, WARM)
    )
    ppm = ph_rule("air carbon dioxide")
    rows = [
        (f"pH in balance with the air ({ppm:g} ppm CO2)", found.ph_aerated.words),
    ]
    if outcome.correction.poured:
        rows.append(("the same once corrected", f"{outcome.correction.tomorrow:.1f}"))
    rows.append(("most oxygen at sea level, mg/L", oxygen))
    rows += [
        (f"carbon dioxide settles with: {how}", carbon)
        for how, carbon, _ in air_times()
    ]
    return Table("air", "The air", ("", ""), tuple(rows))


def _iron(outcome):
    """Return the sources of iron on the shelf, the best at the wanted pH first."""
    columns = (
        "source of iron",
        "verdict",
        "by source",
        "amount",
        "cost of a gram of Fe",
    )
    title = f"Iron on the shelf at pH {outcome.correction.ph:g}"
    rows = tuple(source.row() for source in outcome.iron)
    return Table("iron", title, columns, rows, (3, 4))


def species_table(outcome):
    """
    Return the ions and pairs of a batch when mixed, the most of them first.

    Parameters
    ----------
    outcome : Outcome
        The outcome of a job.

    Returns
    -------
    Table
        Ion or pair, what it is, how much of it there is, how much it holds of each of its
        parts; what is under 0.01 mmol/L in one row. [mmol/L]

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> species_table(run_job(read_job(DEMO))).rows[0][:2]
    ('HCO₃⁻', 'ion')
    """
    state = outcome.expected.state
    named = {s.name: s for s in state.net.species}
    rows = [
        (
            printed_ion(name),
            _kind(state.net, named[name]),
            f"{state.species[name]:.3f}",
            _held(state, named[name]),
        )
        for name in species_named(state)
    ]
    rest = [v for v in state.species.values() if v < LEAST]
    rows.append(
        (f"{len(rest)} others", f"each under {LEAST:g}", f"{sum(rest):.3f}", "")
    )
    columns = ("ion or pair", "what it is", "mmol/L", "holds")
    return Table("species", "Ions and pairs when mixed", columns, tuple(rows), (2,))


def species_named(state):
    """
    Return the ions and pairs that have a row of their own, the most of them first.

    Parameters
    ----------
    state : Speciation
        One solution.

    Returns
    -------
    tuple of str
        Their names; what is under 0.01 mmol/L is left out.

    Examples
    --------
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> species_named(speciate(solution({"K": 2.0, "Cl": 1.0})))
    ('K+', 'Cl-')
    """
    found = sorted(state.species.items(), key=lambda pair: -pair[1])
    return tuple(name for name, value in found if value >= LEAST)


def others_working(state):
    """
    Return the arithmetic of the ions and pairs that have no row of their own.

    Parameters
    ----------
    state : Speciation
        One solution.

    Returns
    -------
    Working
        Their sum, what is least among them in one number. [mmol/L]

    Examples
    --------
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> working = others_working(speciate(solution({"K": 2.0, "SO4": 1.0})))
    >>> working.value < 0.01
    True
    """
    small = sorted((v for v in state.species.values() if v < LEAST), reverse=True)
    names = {v: name for name, v in state.species.items()}
    told, rest = small[:MOST_TOLD], sum(small[MOST_TOLD:])
    terms = [t for v in told for t in ("+", Quantity(v, "mmol/L"))][1:]
    terms += [*["+"] * bool(terms), Quantity(rest, "mmol/L")]
    words = f"{', '.join(printed_ion(names[v]) for v in told)}, and all others"
    return Working(
        "Ions and pairs that are few", (Step(words, tuple(terms), "mmol/L"),)
    )


def _kind(net, species):
    """Return what a species is: an ion, a pair, a chelate, a molecule without charge."""
    if ":" in bare_ions(net).get(species.name, ""):
        return "chelate"
    if species.cation and species.ligand:
        return "pair"
    return "ion" if species.charge else "molecule"


def _held(state, species):
    """Return how much a species holds of what it is made of."""
    bare = bare_ions(state.net).get(species.name)
    parts = {species.cation: 1, species.ligand: species.ligands}
    parts = dict.fromkeys(bare.split(":"), 1) if bare else parts
    told = []
    for key, count in parts.items():
        whole = state.solution.forms.get(key)
        if key and whole:
            share = 100 * count * state.amount(species.name) / whole
            words = f"{share:.0f} %" if share >= 1 else "under 1 %"
            told.append(f"{words} of {form(key).name}")
    return ", ".join(told)


def chemistry_data(outcome):
    """
    Return what may fall out and the correction of pH as plain data.

    Parameters
    ----------
    outcome : Outcome
        The outcome of a job.

    Returns
    -------
    dict
        Solids with index and word; doses in grams for the batch. [-]

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> sorted(chemistry_data(run_job(read_job(DEMO))))
    ['correction', 'solids']
    """
    found, risks = outcome.correction, outcome.solids
    solids = {
        risk.name: {
            "index": risk.index,
            "low": risk.low,
            "high": risk.high,
            "risk": risk.word,
            "role": risk.role,
        }
        for risk in risks.solids
    }
    doses = {
        dose.ingredient.name: {
            "grams": dose.grams * found.volume,
            "grams_low": dose.interval[0] * found.volume,
            "grams_high": dose.interval[1] * found.volume,
            "brings_mg_l": dict(dose.brings),
            "ph_in_balance_with_air": dose.tomorrow.ph,
        }
        for dose in found.doses
    }
    needed = {"ph": found.ph, "acid_meq_l": found.needed, "doses": doses}
    return {"solids": solids, "correction": needed}
