"""Is this label right: its arithmetic, its room, its material, its sources, its clearness.

Every question is answered by a finding; "right" is a finding like any other. What cannot be
read at all is refused with every fault; what can be read and cannot be true is found.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from formulate.checks import checked_number
from formulate.claims.clear_label import clear_finding
from formulate.claims.derivation import derive
from formulate.claims.finding import Finding, gravest_finding
from formulate.claims.guarantees import RULES, guarantees_of, read_guarantees
from formulate.claims.label_arithmetic import arithmetic_findings, nominal_ingredient
from formulate.claims.label_slips import label_slips
from formulate.claims.least_salts import room_finding
from formulate.claims.material_fit import material_finding
from formulate.claims.micronutrient_minimums import minimum_findings
from formulate.errors import Faults, FormulateError, InputError, shortened
from formulate.ingredients.ingredient import DENSITIES, Ingredient
from formulate.ingredients.label_text import read_entries
from formulate.working import Shown

__all__ = ["LabelCheck", "check_label"]

GRADE_KEYS = ("N", "P2O5", "K2O", "P", "K")
EVERY_RULE = (*RULES, "element")
PERCENT, HALF = 100.0, 0.5
ROUNDING_RULE = "guarantees are minima, rounded down"
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
    faults.raise_if_any()
    called = str(name or title or "label")
    text = label_or_text if isinstance(label_or_text, str) else called
    known = density or reading.density
    return _checked_label(called, reading, text, known, coldest, assumed)


def _checked(faults, value, what, least, most):
    """Return a number within limits, or None with a fault noted."""
    with faults.collecting():
        if value is not None:
            return checked_number(value, what, least=least, most=most)
    return None


def _read(claim, rule, density, faults):
    """Return reading, title and assumptions of what was given, faults noted."""
    if isinstance(claim, str):
        reading, page = read_entries(claim, faults, basis=rule, density=density)
        if not reading.entries:
            faults.add("no guaranteed nutrient was found; give the analysis as printed")
        return reading, page.title[:60], tuple(page.assumed)
    if not isinstance(claim, Ingredient | Mapping):
        what = f"{shortened(claim)} is no label; give its text, or {{'K2O': '46.0'}}"
        faults.add(what)
        return None, "", ()
    if isinstance(claim, Ingredient) and claim.reading is None:
        faults.add(f"{claim.name} was not read from a label; give the label's text")
        return None, "", ()
    reading = read_guarantees(claim, rule, faults, density=density)
    return reading, getattr(claim, "name", ""), getattr(claim, "assumed", ())


def _checked_label(name, reading, text, density, coldest, assumed):
    """Return the check of what was read."""
    findings, shares = arithmetic_findings(reading, name)
    derivation, told = _derived(name, reading, density)
    possible = derivation is not None and derivation.is_possible
    on_guarantees = _on_guarantees(reading, density, possible)
    findings = [*findings, *on_guarantees, *told]
    findings += minimum_findings(reading, text, density=density)
    if reading.is_liquid or density is not None:
        made = _composition(name, reading, shares, derivation)
        findings.append(_clear(made, density, coldest))
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
    told = [g for g in made if g.kind == "grade"]
    told = told or [g for g in made if g.key in GRADE_KEYS]
    found = [room_finding("grade", told)] if any(g.percent for g in told) else []
    if {g.key for g in told} != {g.key for g in made} or not found:
        found.append(room_finding("all guarantees", made))
    material = material_finding(made)
    if is_possible:
        found = [_brought(each, "the named sources bring it") for each in found]
    elif material.is_right:
        found = [_brought(each, "one material brings it") for each in found]
    return [*found, material]


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
    close = {entry.key: PURITY_DIGIT * entry.percent for entry in reading.entries}
    facts = {"density": density, "name": name}
    try:
        made = derive(carrier, tolerance=close, **facts)
        if made.is_possible or made.rule != "us" or not _may_be_rounded(made):
            return made, list(made.findings)
        for entry in reading.entries:
            close[entry.key] = max(close[entry.key], entry.half_digit)
        raised = derive(carrier, tolerance=close, **facts)
    except FormulateError as error:
        return None, [_untold("sources", fault) for fault in error.faults]
    if raised.is_possible:
        return raised, [_rounded_up(made), *raised.findings]
    return made, list(made.findings)


def _may_be_rounded(made):
    """Return whether half a digit of each guarantee may be all that is missing."""
    if made.unsupplied:
        return False
    weights = [each.weight for each in made.guarantees]
    halves = [HALF * each.step for each in made.guarantees]
    missing = sum(s / w for s, w in zip(made.slack[0], weights, strict=True))
    return missing <= sum(h / w for h, w in zip(halves, weights, strict=True))


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


def _clear(made, density, coldest):
    """Return whether a liquid can stay clear, or why it cannot be told."""
    if made is None:
        why = "what is in it is not known, so it cannot be told whether it stays clear"
        return _untold("clear liquid", why)
    return clear_finding(made, density, coldest=coldest)
