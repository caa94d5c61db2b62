"""Laboratory values against guarantees: right, wrong by how much, or cannot be told."""

from dataclasses import dataclass

from formulate.claims.allowances import MATERIALS, PRODUCTS
from formulate.claims.assay_findings import (
    beyond_limit,
    judged,
    named_rule,
    overall_index,
    worst_value,
)
from formulate.claims.assay_values import read_assay
from formulate.claims.finding import Finding, gravest_finding
from formulate.errors import Faults, shortened
from formulate.ingredients.label_amounts import SAME
from formulate.notices import Notice, gravest_first
from formulate.working import Shown

__all__ = ["RULES", "AssayReport", "check_assay"]

RULES = ("us", "eu")
NO_LEGAL_FINDING = (
    "this is a calculation, not a legal finding: what counts is the official sample, "
    "drawn and analysed by the official methods, under the rule in force at the place"
)
COLUMNS = (
    "nutrient",
    "guaranteed (%)",
    "found, mean (%)",
    "worst (%)",
    "spread (%)",
    "values",
    "allowed below (%)",
    "allowed above (%)",
    "beyond (%)",
    "verdict",
    "known",
)


def check_assay(
    label_or_guarantees,
    samples,
    *,
    rule="us",
    form="solid",
    basis=None,
    uncertainty=None,
    material=None,
):
    """
    Hold laboratory values against the guarantees of a fertiliser.

    The mean of the samples is judged, and the worst of them is told. Where the
    laboratory's uncertainty reaches over the limit, or where no allowance is known,
    nothing can be told. A part of a nutrient ("chelated Fe", "water-soluble Mg") is judged
    where a value names it.

    Parameters
    ----------
    label_or_guarantees : Ingredient, str or mapping of str to float
        A fertiliser read from its label, the text of one or of guarantees such as "N 10 %,
        Zn 0.05 %", or nutrient key to guarantee; a part is named, as in "chelated Fe". [%]
    samples : mapping or sequence of mapping
        Nutrient key to what was found, one mapping for each sample; in one mapping also a
        list of values. Text may carry a unit, or "<" where it is below detection: the
        value then lies anywhere from 0 to there. [%]
    rule : str
        "us" (investigational allowances: only what is missing counts) or "eu" (EU
        2019/1009: both ways).
    form : str
        "solid" or "liquid", for the EU.
    basis : str or None
        What the laboratory's words mean: "us", "eu" or "element"; a symbol means itself
        and is converted. None: every value must stand under the key that is guaranteed.
    uncertainty : float or mapping of str to float, optional
        How far a value may be off either way, in points of percent; of all or by key. [%]
    material : str or None
        "triple superphosphate", which has a US allowance of its own for P2O5.

    Returns
    -------
    AssayReport
        A finding for each guaranteed nutrient, with rule and edition.

    Raises
    ------
    InputError
        With every fault: unknown or unguaranteed nutrients, another basis that is not
        told, shares below 0 or above 100 %, nothing given.

    Examples
    --------
    >>> report = check_assay({"N": 10, "Zn": 0.05}, [{"N": 9.4, "Zn": 0.041}])
    >>> report.verdict
    'wrong'
    >>> print(report.findings[1].what)
    0.05 % guaranteed, 0.041 % found; 0.009 short, 0.01 allowed
    """
    faults = Faults()
    with faults.collecting():
        lines, notices = read_assay(
            label_or_guarantees, samples, basis=basis, uncertainty=uncertainty
        )
    _check_words(rule, form, material, faults)
    faults.raise_if_any()
    pairs = [judged(line, rule, form, material) for line in lines]
    index = overall_index(lines) if rule == "us" else None
    return AssayReport(
        lines,
        tuple(allowed for allowed, _ in pairs),
        tuple(finding for _, finding in pairs),
        index,
        rule,
        notices,
    )


def _check_words(rule, form, material, faults):
    """Note every word that means nothing here."""
    if rule not in RULES:
        faults.add(f"rule {shortened(rule)}: give one of {', '.join(RULES)}")
    if form not in PRODUCTS:
        faults.add(f"form {shortened(form)}: give one of {', '.join(PRODUCTS)}")
    if material is not None and (material not in MATERIALS or rule == "eu"):
        what = f"give {MATERIALS[0]}, under the rule us, or leave it out"
        faults.add(f"material {shortened(material)}: {what}")


# --- the report ---------------------------------------------------------------------------


@dataclass(frozen=True)
class AssayReport(Shown):
    """
    Laboratory values held against guarantees.

    Attributes
    ----------
    lines : tuple of Assayed
        Guarantee and values of each nutrient.
    allowances : tuple of Allowance or None
        The allowance of each, None where none is known.
    findings : tuple of Finding
        The finding on each.
    overall_index : Finding or None
        The US rule on all main nutrients together.
    rule : str
        "us" or "eu".
    said : tuple of Notice
        What was converted or left out in reading.
    """

    lines: tuple
    allowances: tuple
    findings: tuple
    overall_index: Finding | None
    rule: str
    said: tuple = ()

    @property
    def verdict(self):
        """Return the gravest verdict on the nutrients, each by itself."""
        return gravest_finding(self.findings)

    @property
    def editions(self):
        """Return each rule that was used, with its edition."""
        return tuple(dict.fromkeys(named_rule(a) for a in self.allowances if a))

    @property
    def notices(self):
        """Return what to know about it, the gravest first."""
        found = [*self.said]
        known = (a for a in self.allowances if a and a.how_known == "memory")
        keys = dict.fromkeys(a.key for a in known)
        if keys:
            what = (
                f"known from memory only: the allowances of {', '.join(keys)}; look them "
                "up before anything rests on them"
            )
            found.append(Notice(what, "caution"))
        found += [_uneven(line) for line in self.lines if line.unexplained > SAME]
        index = self.overall_index
        if index and not index.is_right:
            what = f"overall index: {index.verdict}; {index.what}"
            found.append(
                Notice(
                    what, index.severity, index.number, index.limit, index.source_key
                )
            )
        return gravest_first([*found, Notice(NO_LEGAL_FINDING)])

    def rows(self):
        """
        Return the nutrients one by one, as numbers.

        Returns
        -------
        tuple of tuple
            Nutrient, guarantee, mean, worst, spread, number of values, allowed below and
            above, beyond the allowance, verdict, how it is known; None where there is no
            number. [%]

        Examples
        --------
        >>> check_assay({"Zn": 0.05}, {"Zn": 0.041}).rows()[0][:3]
        ('Zn', 0.05, 0.041)
        """
        pairs = zip(self.lines, self.allowances, self.findings, strict=True)
        return tuple(_row(*three) for three in pairs)

    def to_frame(self):
        """
        Return the nutrients as a table.

        Returns
        -------
        pandas.DataFrame
            One row for each. [%]

        Examples
        --------
        >>> frame = check_assay({"Zn": 0.05}, {"Zn": 0.041}).to_frame()
        >>> list(frame["verdict"])
        ['right']
        """
        import pandas

        return pandas.DataFrame(self.rows(), columns=list(COLUMNS))

    @property
    def answer(self):
        """Return the answer in one line."""
        count = {
            word: sum(f.verdict == word for f in self.findings)
            for word in ("wrong", "cannot tell")
        }
        text = "Right: every guarantee holds within its allowance."
        if self.verdict != "right":
            parts = ", ".join(f"{n} {word}" for word, n in count.items() if n)
            head = "Wrong" if count["wrong"] else "Cannot tell"
            text = f"{head}: of {len(self.findings)} guarantees {parts}."
        index = self.overall_index
        if index and index.verdict == "wrong":
            text += " All main nutrients together fall short of the overall index."
        return text

    def __str__(self):
        lines = [self.answer, *(f"  {finding}" for finding in self.findings)]
        if self.overall_index:
            lines.append(f"  {self.overall_index}")
        lines += [f"Rule: {edition}" for edition in self.editions]
        return "\n".join([*lines, *(str(notice) for notice in self.notices)])


def _uneven(line):
    """Return that samples differ more than the laboratory's uncertainty explains."""
    apart = max(line.lows) - min(line.values)
    what = (
        f"{line.name}: samples lie {apart:.3g} points apart, of which ± "
        f"{line.uncertainty:.3g} of the laboratory explains {2 * line.uncertainty:.3g}; "
        "the product may be uneven: mix it, draw more samples from more places"
    )
    return Notice(what, "caution", apart, 2 * line.uncertainty)


def _row(line, allowed, finding):
    """Return one line of the report as numbers."""
    below, above = (allowed.below, allowed.above) if allowed else (None, None)
    found = (None, None, None)
    if line.values:
        found = (line.mean, worst_value(line, allowed)[0], line.spread)
    beyond = None
    if line.values and allowed:
        beyond = max(beyond_limit(line.nearest, allowed), 0.0)
        beyond = beyond if beyond > SAME else 0.0
    known = allowed.known if allowed else "not known"
    return (
        line.name,
        line.guarantee,
        *found,
        len(line.values),
        below,
        above,
        beyond,
        finding.verdict,
        known,
    )
