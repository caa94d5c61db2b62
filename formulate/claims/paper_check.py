"""Is this paper right: a label, a chart, an assay, a table or a dose, checked as what it is.

Whatever it is, the answer has one shape: a line, the findings, what was assumed, what to
know, and which slips would explain what is wrong.
"""

from dataclasses import dataclass, field
from pathlib import Path

from formulate.claims.assay_file import check_assay_file
from formulate.claims.chart_slips import ChartSlips
from formulate.claims.dose_claims import check_dose
from formulate.claims.feed_chart import read_chart
from formulate.claims.finding import Finding, gravest_finding
from formulate.claims.label_check import check_label
from formulate.claims.paper_kinds import KIND_WORDS, KINDS, paper_kind
from formulate.claims.published_table import check_table
from formulate.claims.slip_search import SlipSearch
from formulate.claims.water_claims import WaterClaims, check_water_report
from formulate.errors import Faults, FormulateError, InputError, shortened
from formulate.files import read_text
from formulate.ingredients.labels import read_label
from formulate.working import Shown

__all__ = ["PaperCheck", "check_file", "check_paper", "unread_paper"]

NOT_LEGAL = (
    "a calculation from what stands on the paper: no legal, agronomic or medical advice; "
    "labels, local rules and official samples come first"
)


@dataclass(frozen=True, eq=False)
class PaperCheck(Shown):
    """
    A paper with what was found of it.

    Attributes
    ----------
    name : str
        How it is called.
    kind : str
        "label", "chart", "assay", "table", "water" or "dose"; empty if it could not be
        read.
    results : tuple
        What each check gave: `LabelCheck`, `FeedChart`, `AssayReport`, `TableCheck`,
        `DoseCheck`.
    faults : tuple of str
        Why it could not be read.
    product : Ingredient or None
        What a label makes, for a shelf or a chart.
    """

    name: str
    kind: str
    results: tuple = field(default=(), repr=False)
    faults: tuple = ()
    product: object = None

    @property
    def findings(self):
        """Return what was found, in the order of the paper; a fault of reading is one."""
        unread = [
            Finding("reading", "cannot tell", fault, severity="serious")
            for fault in self.faults
        ]
        found = (f for one in self.results for f in one.findings)
        return (*unread, *found, *self._warnings)

    @property
    def _warnings(self):
        """Return what a chart warns of beside its claims: what falls out."""
        return tuple(w for one in self.results for w in getattr(one, "warnings", ()))

    @property
    def verdict(self):
        """Return the gravest verdict of all checks."""
        verdicts = [one.verdict for one in self.results]
        told = [Finding("whole", verdict, "") for verdict in verdicts]
        faults = (f for f in self.findings if self.faults)
        return gravest_finding([*told, *self._warnings, *faults])

    @property
    def is_refuted(self):
        """Return whether something is wrong or impossible."""
        return self.verdict in ("wrong", "impossible")

    @property
    def answer(self):
        """Return the answer in one line."""
        if self.faults:
            return f"{self.name}: cannot be read"
        counts = [
            f"{sum(f.verdict == word for f in self.findings)} {word}"
            for word in ("right", "impossible", "wrong", "cannot tell")
            if any(f.verdict == word for f in self.findings)
        ]
        head = f"{self.name}, {KIND_WORDS[self.kind]}: "
        if self.verdict == "right":
            return f"{head}yes, this is right ({', '.join(counts)})"
        told = f"{head}{self.verdict} ({', '.join(counts) or 'nothing was claimed'})"
        return "; ".join([told, *(w.what.partition(" (")[0] for w in self._warnings)])

    @property
    def assumed(self):
        """Return what had to be assumed."""
        told = [
            text
            for one in self.results
            for text in (
                *getattr(one, "assumed", ()),
                *(a for week in getattr(one, "weeks", ()) for a in week.assumed),
                *([one.dose.assumed] if getattr(one, "dose", None) else ()),
            )
        ]
        return tuple(dict.fromkeys(filter(None, told)))

    @property
    def notices(self):
        """Return what to know: of each check, each once."""
        found = [n for one in self.results for n in getattr(one, "notices", ())]
        return tuple({notice.what: notice for notice in found}.values())

    @property
    def slips(self):
        """Return which slips would explain what is wrong, in words."""
        found = [text for one in self.results for text in _slip_words(one)]
        return tuple(dict.fromkeys(found))

    def rows(self):
        """
        Return what is shown: the row of each finding.

        Returns
        -------
        tuple of tuple of str
            Subject, verdict, number, limit, what, rule.

        Examples
        --------
        >>> check_paper("Potash (K2O) 62 %", rule="us").rows()[0][:2]
        ('sums', 'right')
        """
        return tuple(finding.row() for finding in self.findings)

    def __str__(self):
        lines = [self.answer, *(f"  {finding}" for finding in self.findings)]
        lines += [f"  slip: {text}" for text in self.slips]
        lines += [f"  assumed: {text}" for text in self.assumed]
        lines += [f"  {notice}" for notice in self.notices]
        return "\n".join([*lines, f"  {NOT_LEGAL}"])


def _slip_words(result):
    """Return the slips behind a check in words; those of a label are findings already."""
    found = getattr(result, "slips", None)
    if isinstance(result, WaterClaims):
        return result.slip_words
    if isinstance(found, ChartSlips):
        return str(found).splitlines() if found.off else ()
    if isinstance(found, SlipSearch):
        return () if found.is_right else (found.finding.what,)
    return ()


def unread_paper(name, faults, kind=""):
    """
    Return a paper that could not be read, with its faults.

    Parameters
    ----------
    name : str
        How it is called.
    faults : sequence of str
        What is wrong with it.
    kind : str
        What it was taken for.

    Returns
    -------
    PaperCheck
        Its faults as findings.

    Examples
    --------
    >>> unread_paper("page 3", ["line 2: no number"]).answer
    'page 3: cannot be read'
    """
    return PaperCheck(name, kind, (), tuple(faults))


def check_paper(
    text,
    *,
    kind=None,
    name=None,
    rule=None,
    product=None,
    dose=None,
    claims=None,
    products=None,
    water=None,
    targets=None,
    volume=None,
    density=None,
):
    """
    Return whether a paper is right, whatever it is.

    Parameters
    ----------
    text : str
        A label, a feed chart, an assay, a table of a book or a water report; empty where
        only a dose of `product` is claimed.
    kind : str or None
        "label", "chart", "assay", "table" or "water"; found out if None.
    name : str or None
        How it is called.
    rule : str or None
        What a bare word means: "us", "eu" or "element"; found out if None.
    product : Ingredient, str or None
        Whose dose, or whose analysis; the label itself if None.
    dose : str or None
        A dose, such as "5 mL/L".
    claims : mapping of str to str, or None
        What is claimed of the dose, as in `check_dose`. [mg/L]
    products : mapping of str to Ingredient, or None
        Name in a chart to product.
    water : Water, str, mapping or None
        The water; pure if None.
    targets : Target, mapping of str to Target, or None
        What the weeks of a chart are to hold.
    volume : float, str or None
        Volume of solution used in a week. [L]
    density : float or None
        Density of a liquid, if it is not printed. [kg/L]

    Returns
    -------
    PaperCheck
        The findings.

    Raises
    ------
    InputError
        If it cannot be read, with every fault.

    Examples
    --------
    >>> bag = "Total Nitrogen (N) 46 %\\n  46 % Urea Nitrogen\\nDerived from: urea"
    >>> print(check_paper(bag, name="bag").answer)
    bag, a label: yes, this is right (7 right)
    >>> check_paper("", product="KNO3", dose="1 g/L", claims={"K": "387"}).verdict
    'right'
    """
    faults, results, made = Faults(), [], None
    text = f"{text or ''}\n"  # of several lines, so that it is never taken for a path
    kind = _kind_of(text, kind, dose)
    given = {"water": water, "volume": volume}
    if kind == "label":
        with faults.collecting():
            results.append(check_label(text, name=name, rule=rule, density=density))
            made = _product(results[0], text, rule, density, name)
    elif kind == "chart":
        known = dict(products or {})
        with faults.collecting():
            results.append(read_chart(text, known, targets=targets, **given))
    elif kind == "assay":
        told = {"label": product, "rule": rule if rule != "element" else None}
        with faults.collecting():
            results.append(check_assay_file(text, **told))
    elif kind == "water":
        with faults.collecting():
            results.append(check_water_report(text, name=name))
    elif kind == "table":
        with faults.collecting():
            results.append(check_table(text, rule=rule))
    if dose or claims or kind == "dose":
        with faults.collecting("dose"):
            results.append(_dosed(product or made, dose, claims, given))
    faults.raise_if_any()
    called = name or getattr(results[0], "name", "") or _dosed_name(product) or kind
    return PaperCheck(called, kind, tuple(results), (), made)


def _kind_of(text, kind, dose):
    """Return what a paper is."""
    if kind and kind not in (*KINDS, "dose"):
        raise InputError(f"kind {shortened(kind)}: give one of {', '.join(KINDS)}")
    if kind:
        return kind
    return "dose" if dose and not text.strip() else paper_kind(text)


def _product(checked, text, rule, density, name):
    """Return what a label makes: by its sources where they fit, else as it is read."""
    made = checked.derivation
    try:
        if made is not None and made.is_possible:
            return made.accepted().renamed(name or checked.name)
        return read_label(text, basis=rule, density=density, name=name or "")
    except FormulateError:
        return None


def _dosed(product, dose, claims, given):
    """Return a dose held against what is claimed of it."""
    if not dose or not claims:
        raise InputError("give both: a dose such as 5 mL/L, and what is claimed of it")
    if product is None:
        raise InputError("say of which product; its label cannot be counted as it is")
    return check_dose(product, dose, dict(claims), **given)


def _dosed_name(product):
    return product if isinstance(product, str) else getattr(product, "name", "")


def check_file(path, **given):
    """
    Return whether a file is right: a label, a feed chart, an assay or a table.

    Parameters
    ----------
    path : str or Path
        The file.
    **given : object
        As in `check_paper`.

    Returns
    -------
    PaperCheck
        The findings.

    Raises
    ------
    InputError
        If it cannot be read, with every fault.

    Examples
    --------
    >>> check_file("no-such-file.txt")
    Traceback (most recent call last):
        ...
    formulate.errors.InputError: 'no-such-file.txt': cannot be read (No such file or directory)
    """
    text = read_text(path)
    given = {"name": Path(path).stem, **given}
    faults, found = Faults(Path(path).name), None
    with faults.collecting():
        found = check_paper(text, **given)
    faults.raise_if_any()
    return found
