"""Is this water report right: its charges, its sums, its conductivity, its hardness.

The report is read and examined as everywhere; here every check answers with a finding, and
the slips that would mend a balance stand beside it.
"""

from dataclasses import dataclass

from formulate.chemistry.waters import water_from_text
from formulate.claims.finding import Finding, gravest_finding
from formulate.errors import Faults
from formulate.ingredients.report_amounts import alkalinity_told, told_amounts
from formulate.ingredients.water import Water
from formulate.ingredients.water_checks import MAIN_ANIONS, MAIN_CATIONS, water_told
from formulate.working import Shown

__all__ = ["WaterClaims", "check_water_report"]

DISPROVED = ("balance of charges", "printed sums", "hardness")  # by arithmetic alone
PERHAPS = "perhaps "  # how a proposed slip begins
AGREE = "they agree"  # how a check that holds ends
RULE = "charges, sums and conductivity of one analysis"


@dataclass(frozen=True, eq=False)
class WaterClaims(Shown):
    """
    A water report with what was found of it.

    Attributes
    ----------
    name : str
        How the water is called.
    water : Water
        What the report makes.
    findings : tuple of Finding
        What was found.
    slip_words : tuple of str
        Slips that would bring it into balance; questions to the laboratory.
    """

    name: str
    water: Water
    findings: tuple
    slip_words: tuple = ()

    @property
    def verdict(self):
        """Return the gravest verdict."""
        return gravest_finding(self.findings)

    @property
    def assumed(self):
        """Return what had to be assumed."""
        return self.water.assumed

    @property
    def notices(self):
        """Return what else to know of the water: limits for plants, what was left out."""
        told = {finding.what for finding in self.findings}
        return tuple(
            n
            for n in self.water.notices
            if n.what not in told and not n.what.startswith(PERHAPS)
        )

    def __str__(self):
        lines = [f"{self.name}: {self.verdict}"]
        lines += [f"  {finding}" for finding in self.findings]
        return "\n".join([*lines, *(f"  {words}" for words in self.slip_words)])


def check_water_report(text, *, name=None):
    """
    Return whether a water report agrees with itself.

    Parameters
    ----------
    text : str
        The lines of a report, or a CSV with a heading line.
    name : str or None
        How the water is called.

    Returns
    -------
    WaterClaims
        The findings.

    Raises
    ------
    InputError
        With every fault and its line.

    Examples
    --------
    Sodium chloride alone, with 10 mmol/L of each ion:

    >>> found = check_water_report("Sodium 229.9 mg/L\\nChloride 354.5 mg/L\\n")
    >>> found.findings[0].verdict
    'cannot tell'
    """
    water = water_from_text(text, name=name or "")
    told = _told(water)
    pairs = water_told(water, told)
    slips = tuple(n.what for _, n in pairs if n.what.startswith(PERHAPS))
    findings = [
        _finding(subject, notice)
        for subject, notice in pairs
        if not notice.what.startswith(PERHAPS)
    ]
    told_off = {one.subject for one in findings if not one.is_right}
    if set(told) >= MAIN_CATIONS | MAIN_ANIONS and DISPROVED[0] not in told_off:
        findings.insert(0, _balanced(water))
    findings += [
        Finding("chemistry", "right", n.what, n.number, n.limit, rule=RULE)
        for n in water.notices
        if AGREE in n.what
    ]
    called = name or water.name or "water"
    return WaterClaims(called, water, tuple(findings), slips)


def _told(water):
    """Return quantity to what the report tells of it."""
    told = told_amounts(water.report, Faults(), [])
    alkalinity = alkalinity_told(told, [])
    return told if alkalinity is None else told | {"alkalinity": alkalinity}


def _finding(subject, notice):
    """Return a notice of a check as a finding."""
    verdict = "right"
    if notice.severity != "note":
        verdict = "wrong" if subject in DISPROVED else "cannot tell"
    elif subject == "what is told":
        verdict = "cannot tell"
    facts = (notice.number, notice.limit, notice.severity, RULE, notice.source_key)
    return Finding(subject, verdict, notice.what, *facts)


def _balanced(water):
    """Return that the charges agree, and how well."""
    what = (
        f"cations {water.cations:.3g} meq/L, anions {water.anions:.3g} meq/L: "
        "they balance within the limit"
    )
    return Finding(DISPROVED[0], "right", what, rule=RULE, source_key="sm-1030e")
