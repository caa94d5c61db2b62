"""Is this label right: its arithmetic, its room, its material, its sources, its clearness.

Every question is answered by a finding; "right" is a finding like any other. What cannot be
read at all is refused with every fault; what can be read and cannot be true is found.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from formulate.checks import checked_number
from formulate.claims.as_sold import grades_as_sold
from formulate.claims.clear_label import clear_finding
from formulate.claims.derivation import derive
from formulate.claims.derivation_findings import EXCESS, excess_findings
from formulate.claims.finding import Finding, gravest_finding
from formulate.claims.guarantees import RULES, guarantees_of, read_guarantees
from formulate.claims.label_arithmetic import arithmetic_findings, nominal_ingredient
from formulate.claims.label_slips import label_slips
from formulate.claims.least_salts import room_finding
from formulate.claims.loose_sources import loose_source
from formulate.claims.material_fit import material_finding
from formulate.claims.micronutrient_minimums import minimum_findings
from formulate.claims.named_product import name_findings, number_of_another
from formulate.errors import Faults, FormulateError, InputError, shortened
from formulate.ingredients.ingredient import DENSITIES, Ingredient
from formulate.ingredients.label_checks import element_grade
from formulate.ingredients.label_sources import sources_of
from formulate.ingredients.label_text import read_entries
from formulate.mixing.nearness import mixing_rule
from formulate.stoichiometry.nutrients import nutrient
from formulate.tables import rule_of
from formulate.working import Shown

__all__ = ["LabelCheck", "check_label"]

GRADE_KEYS = ("N", "P2O5", "K2O", "P", "K")
EVERY_RULE = (*RULES, "element")
PERCENT, HALF, PER_GRAM = 100.0, 0.5, 1000.0
STEADY = {"calcium": "Ca", "potassium": "K", "sulfate": "SO4"}  # of gypsum and its like
CONTRADICTS = "contradicts"  # why the reading leaves the second of two numbers out
TWICE_RULE = "one nutrient has one share"
ROUNDING_RULE = "guarantees are minima, rounded down"
VOLUME_RULE = "grams in 100 mL are the share by mass times the density"
PURITY_DIGIT = 2e-4  # of a share: purities in the catalogue have four digits


@dataclass(frozen=True, eq=False)
class LabelCheck(Shown):
    """
    What was found of a label.

    Attributes
    ----------
    name : str
        What the product is called.
    reading : LabelReading
        What the label was read as.
    findings : tuple of Finding
        What was found, in the order of the questions.
    assumed : tuple of str
        What had to be assumed.
    derivation : Derivation or None
        The blends that fit the named sources; None without sources.
    slips : tuple of LabelSlip
        What would explain a label that is wrong, or that fits no material; none on a
        label that is right.
    """

    name: str
    reading: object
    findings: tuple
    assumed: tuple = ()
    derivation: object = None
    slips: tuple = ()

    @property
    def verdict(self):
        """Return the gravest verdict; what only cannot be told by the way does not count."""
        counted = [f for f in self.findings if f.severity != "note" or f.gravity != 1]
        return gravest_finding(counted)

    @property
    def is_refuted(self):
        """Return whether something on the label is wrong or impossible."""
        return self.verdict in ("wrong", "impossible")

    def about(self, subject):
        """
        Return the findings on one subject.

        Parameters
        ----------
        subject : str
            "sums", "analysis", "grade", "all guarantees", "material", "clear liquid",
            "least shares", "grade rule", "rounding", "slip", or the name of a guarantee or
            source.

        Returns
        -------
        tuple of Finding
            Those on it; empty if there are none.

        Examples
        --------
        >>> check_label({"K2O": "62"}).about("grade")[0].verdict
        'right'
        """
        return tuple(each for each in self.findings if each.subject == subject)

    def rows(self):
        """
        Return what is shown: the row of each finding.

        Returns
        -------
        tuple of tuple of str
            Subject, verdict, number, limit, what, rule.

        Examples
        --------
        >>> check_label({"K2O": "62"}).rows()[0][:2]
        ('sums', 'right')
        """
        return tuple(each.row() for each in self.findings)

    def __str__(self):
        lines = [f"{self.name}: {self.verdict}"]
        lines += [f"  {each}" for each in self.findings]
        return "\n".join([*lines, *(f"  assumed: {text}" for text in self.assumed)])


def check_label(label_or_text, *, name=None, rule=None, density=None, coldest=None):
    """
    Return whether a label can be true, question by question.

    It is a calculation, not a legal finding.

    Parameters
    ----------
    label_or_text : Ingredient, str or mapping of str to float
        A label that was read, its text, or label word or nutrient key to share; a share
        given as text ("46.0") shows how it is rounded. [%]
    name : str or None
        What the product is called.
    rule : str or None
        What a bare word means: "us", "eu" or "element"; found from the label if None.
    density : float or None
        Density of a liquid, if it is not printed. [kg/L]
    coldest : float or None
        Coldest temperature in which a liquid is kept; 10 if None. [°C]

    Returns
    -------
    LabelCheck
        The findings.

    Raises
    ------
    InputError
        With every fault: no label, nothing guaranteed, an unknown word, a number out of its
        limits.

    Examples
    --------
    >>> bag = "Total Nitrogen (N) 46 %\\n  46 % Urea Nitrogen\\nDerived from: urea"
    >>> checked = check_label(bag, name="bag")
    >>> checked.verdict, checked.about("material")[0].what
    ('right', 'agrees within rounding with urea')
    """
    faults = Faults(str(name or "label"))
    if rule is not None and rule not in EVERY_RULE:
        faults.add(f"rule {shortened(rule)}: give one of {', '.join(EVERY_RULE)}")
        rule = None
    density = _checked(faults, density, "density in kg/L", *DENSITIES)
    coldest = _checked(faults, coldest, "coldest in °C", 0, PERCENT)
    reading, title, assumed = _read(label_or_text, rule, density, faults)
    contradictions = _contradictions(faults, reading)
    faults.raise_if_any()
    called = str(name or title or "label")
    text = label_or_text if isinstance(label_or_text, str) else called
    known = density or reading.density
    told = [*contradictions, *map(_told_apart, reading.disagreements)]
    return _checked_label(called, reading, text, known, coldest, assumed, told)


def _contradictions(faults, reading):
    """Return numbers of one nutrient that differ as findings, and take them from the faults."""
    left_out = reading.left_out if reading is not None else ()
    lines = [each.line for each in left_out if each.why == CONTRADICTS]
    places = [f"and line {line}: " for line in lines]
    found = [f for f in faults.found if any(place in f for place in places)]
    faults.found[:] = [fault for fault in faults.found if fault not in found]
    where = f"{faults.where}: "
    facts = {"severity": "serious", "rule": TWICE_RULE, "source_key": "definition"}
    return [
        Finding("told twice", "wrong", fault.removeprefix(where), **facts)
        for fault in found
    ]


def _checked(faults, value, what, least, most):
    """Return a number within limits, or None with a fault noted."""
    with faults.collecting():
        if value is not None:
            return checked_number(value, what, least=least, most=most)
    return None


def _read(claim, rule, density, faults):
    """Return reading, title and assumptions of what was given, faults noted."""
    if isinstance(claim, str):
        facts = {"basis": rule, "density": density, "keep_going": True}
        reading, page = read_entries(claim, faults, **facts)
        if not reading.entries:
            faults.add("no guaranteed nutrient was found; give the analysis as printed")
        return element_grade(reading), page.title[:60], tuple(page.assumed)
    if not isinstance(claim, Ingredient | Mapping):
        what = f"{shortened(claim)} is no label; give its text, or {{'K2O': '46.0'}}"
        faults.add(what)
        return None, "", ()
    if isinstance(claim, Ingredient) and claim.reading is None:
        faults.add(f"{claim.name} was not read from a label; give the label's text")
        return None, "", ()
    reading = read_guarantees(claim, rule, faults, density=density)
    return reading, getattr(claim, "name", ""), getattr(claim, "assumed", ())


def _checked_label(name, reading, text, density, coldest, assumed, told_apart):
    """Return the check of what was read."""
    findings, shares = arithmetic_findings(reading, name)
    findings = [*findings, *told_apart]
    derivation, told = _derived(name, reading, density)
    possible = derivation is not None and derivation.is_possible
    on_guarantees = _on_guarantees(reading, density, possible)
    findings = [*findings, *on_guarantees, *told, *_called(name, reading, density)]
    findings += minimum_findings(reading, text, density=density)
    if reading.is_liquid or density is not None:
        made = _composition(name, reading, shares, derivation)
        facts = {"coldest": coldest, "sources": reading.derived_from, "text": text}
        least = _least(derivation) if possible else None
        findings.append(_clear(made, density, least_forms=least, **facts))
        cold = mixing_rule("coldest")
        kept = f"the liquid is kept at {cold:g} °C at the coldest; give coldest="
        assumed = [*assumed, *([kept] if coldest is None else [])]
    assumed = [*assumed, *(shares.assumed if shares else ())]
    assumed += derivation.assumed if derivation else ()
    unique = tuple(dict.fromkeys(assumed))
    slips = label_slips(reading, derivation, findings, name=name, density=density)
    findings += [slip.finding for slip in slips]
    return LabelCheck(name, reading, tuple(findings), unique, derivation, slips)


def _on_guarantees(reading, density, is_possible):
    """Return whether grade and guarantees have room, and which material they fit."""
    faults = Faults()
    rule = reading.basis if reading.basis in RULES else RULES[0]
    made = guarantees_of(reading, rule, faults, density=density)
    if faults.found:
        return [_untold("all guarantees", fault) for fault in faults.found]
    made = [g for g in made if not g.is_upper]
    if not made:
        return [_untold("all guarantees", "upper limits are all that is told")]
    told = [g for g in made if g.kind == "grade"]
    told = told or [g for g in made if g.key in GRADE_KEYS]
    found = [room_finding("grade", told)] if any(g.percent for g in told) else []
    if {g.key for g in told} != {g.key for g in made} or not found:
        found.append(room_finding("all guarantees", made))
    material = material_finding(made, _agents(reading))
    if is_possible:
        found = [_brought(each, "the named sources bring it") for each in found]
    elif material.is_right:
        found = [_brought(each, "one material brings it") for each in found]
    return [*found, material]


def _called(name, reading, density):
    """Return how a label agrees with the material that it is called."""
    if len(reading.derived_from) > 1:
        return ()  # a blend, called by one of its parts
    rule = reading.basis if reading.basis in RULES else RULES[0]
    made = guarantees_of(reading, rule, Faults(), density=density)
    is_liquid = reading.is_liquid or density is not None
    return name_findings(name, made, is_liquid=is_liquid)


def _agents(reading):
    """Return the chelating agents that a label names apart from its shares."""
    of_sources = (source.agents for source in sources_of(reading.derived_from))
    return {*reading.agents, *(agent for agents in of_sources for agent in agents)}


def _told_apart(each):
    """Return the finding on a share that is told by volume and by mass."""
    what = f"line {each.line}: {each.what}; one of the three is wrong"
    numbers = (each.number, each.limit, "serious", VOLUME_RULE, "stoichiometry")
    return Finding(f"{each.key} w/v and w/w", "wrong", what, *numbers)


def _brought(room, how):
    """Return a finding on room that acids, alkalis or oxides are known to fill."""
    if room.verdict != "cannot tell":
        return room
    return replace(room, verdict="right", what=f"{how}; {room.what}", severity="note")


def _untold(subject, why):
    return Finding(subject, "cannot tell", why, severity="caution")


def _derived(name, reading, density):
    """Return the derivation of a label that names sources, and its findings."""
    if not reading.derived_from:
        return None, []
    carrier = Ingredient(name, {}, reading=reading)
    facts = {"density": density, "name": name}
    try:
        strict = derive(carrier, **facts)
        if strict.is_possible or not _may_be_rounded(strict):
            return strict, _all_told(strict)
        close = {e.key: _close(strict, e) * e.percent for e in reading.entries}
        made = derive(carrier, tolerance=close, **facts)
        if made.is_possible or made.rule != "us":
            return made, _all_told(made)
        for entry in reading.entries:
            close[entry.key] = max(close[entry.key], entry.half_digit)
        raised = derive(carrier, tolerance=close, **facts)
    except FormulateError as error:
        return None, [_untold("sources", fault) for fault in error.faults]
    if raised.is_possible:
        return raised, [_rounded_up(strict), *_all_told(raised)]
    return strict, list(strict.findings)


def _all_told(derivation):
    """Return the findings of a derivation, and of a solid that one source makes alone."""
    told = list(derivation.findings)
    told += _number_of_another(derivation)
    is_solid = not derivation.reading.is_liquid and derivation.density is None
    if derivation.rule != "us" or len(derivation.sources) != 1 or not is_solid:
        return told
    materials, name = derivation.materials, derivation.sources[0].name
    is_open = isinstance(name, str) and loose_source(name)  # often sold as a solution
    if is_open or any(m.is_liquid or m.purity_percent < PERCENT for m in materials):
        return told  # its strength is open
    if not derivation.is_possible or any(f.rule == EXCESS for f in told):
        return told
    whole = rule_of("claim_rules", "one source alone").number("value") / PERCENT
    made = derivation.guarantees
    least = {g.key: whole * min(m.percent(g.key) for m in materials) for g in made}
    return [*told, *excess_findings(made, least)]


def _number_of_another(derivation):
    """Return the finding on a number that is not the one source's, of a solid."""
    is_solid = not derivation.reading.is_liquid and derivation.density is None
    sources = derivation.sources
    if len(sources) != 1 or not is_solid or not derivation.is_possible:
        return ()
    materials = derivation.materials
    if any(m.is_liquid or m.purity_percent < PERCENT for m in materials):
        return ()
    return number_of_another(materials, derivation.guarantees)


def _close(derivation, each):
    """Return by what part a share may be above what its sources hold pure. [-]"""
    return max(PURITY_DIGIT, _sold_above(derivation, each.key))


def _sold_above(derivation, key):
    """Return by what part a source may hold more of a nutrient as sold than pure. [-]"""
    pure = {made.name: made.percent(key) for made in derivation.materials}
    ranges = [
        (grade.range_of(key), pure[grade.material])
        for grade in grades_as_sold()
        if pure.get(grade.material)
    ]
    return max([0.0, *(ends[1] / held - 1.0 for ends, held in ranges if ends)])


def _may_be_rounded(strict):
    """Return whether a purity's rounding, or half a digit of a minimum, is all that is missing.

    So is what a source holds more as it is sold.
    """
    if strict.unsupplied:
        return False
    half = HALF if strict.rule == "us" else 0.0
    given = [
        (max(half * each.step, _close(strict, each) * each.percent), each.weight)
        for each in strict.guarantees
    ]
    short, over, _ = strict.slack
    missing = sum((a + b) / w for a, b, (_, w) in zip(short, over, given, strict=True))
    return missing <= sum(allowed / weight for allowed, weight in given)


def _rounded_up(strict):
    """Return the finding on guarantees that can only have been rounded up."""
    names = [
        f.subject for f in strict.findings if f.gravity > 1 and f.subject != "mass"
    ]
    what = (
        f"{', '.join(names)}: rounded up, for the named sources hold a little less; "
        "guarantees are rounded down (from memory only)"
    )
    facts = {"rule": ROUNDING_RULE, "source_key": "aapfco-label"}
    return Finding("rounding", "cannot tell", what, **facts)


def _composition(name, reading, shares, derivation):
    """Return a liquid with its ions: the middle blend of its sources, or as labelled."""
    if derivation is not None and derivation.is_possible:
        return derivation.accepted()
    try:
        return nominal_ingredient(name, reading, shares) if shares else None
    except InputError:
        return None


def _least(derivation):
    """Return the least of what sulfates fall out of, in a gram of a liquid. [mmol]"""
    found = {}
    for form, key in STEADY.items():
        share = derivation.range_of(key).low / PERCENT
        found[form] = share * PER_GRAM / nutrient(key).molar_mass
    return found


def _clear(made, density, **facts):
    """Return whether a liquid can stay clear, or why it cannot be told."""
    if made is None:
        why = "what is in it is not known, so it cannot be told whether it stays clear"
        return _untold("clear liquid", why)
    return clear_finding(made, density, **facts)
