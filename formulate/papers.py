"""A paper whose claims are checked: a label, a chart, an assay, a table, as it was typed."""

from collections.abc import Mapping
from dataclasses import dataclass, fields

from formulate.errors import Faults, InputError, shortened
from formulate.stoichiometry.quantities import read_number

__all__ = [
    "CHOICES",
    "PAPER_KINDS",
    "PAPER_RULES",
    "Paper",
    "check_papers",
    "paper_as_mapping",
    "read_papers",
]

PAPER_KINDS = ("label", "chart", "assay", "table", "water", "dose")
PAPER_RULES = ("us", "eu", "element")
CHOICES = {"kind": PAPER_KINDS, "rule": PAPER_RULES, "water": ("job",)}


@dataclass(frozen=True)
class Paper:
    """
    One paper of a job.

    Attributes
    ----------
    text : str
        What stands on it; empty where only a dose of a product is claimed.
    name : str
        How it is called.
    kind : str
        "label", "chart", "assay", "table", "water" or "dose"; found out if empty.
    product : str
        Whose dose or analysis it is: a name on the shelf, of another paper or of the
        catalogue; empty for what the paper itself describes.
    target : str
        What the weeks of a chart are held against: "job" for the target of the job, or the
        key of a published one; empty for none.
    water : str
        "job" where a dose or a chart is made up with the water of the job; empty for pure
        water, which is what labels mean.
    rule : str
        What a bare word means: "us", "eu" or "element"; found out if empty.
    dose : str
        A dose of it, such as "5 mL/L"; empty for none.
    claims : tuple of (str, str)
        What is claimed of that dose: nutrient key, "EC" or "TDS" to amount.
    price_per_kg : float or None
        Price of what a label describes. [currency/kg]
    """

    text: str = ""
    name: str = ""
    kind: str = ""
    product: str = ""
    target: str = ""
    water: str = ""
    rule: str = ""
    dose: str = ""
    claims: tuple = ()
    price_per_kg: float | None = None


def read_papers(value, faults):
    """
    Return the papers of a job file, as they were typed.

    Parameters
    ----------
    value : list of mapping
        What stands under [[paper]].
    faults : Faults
        Where faults go.

    Returns
    -------
    tuple of Paper
        The papers.

    Examples
    --------
    >>> read_papers([{"text": "N 46 %", "name": "bag"}], Faults())[0].name
    'bag'
    """
    if not isinstance(value, list):
        raise InputError(f"{shortened(value)} is no list; write [[paper]] before each")
    papers = []
    for place, entry in enumerate(value, 1):
        with faults.collecting(f"paper {place}"):
            papers.append(_paper(entry))
    return tuple(papers)


def _paper(entry):
    """Return one paper, or raise every fault of it."""
    if not isinstance(entry, Mapping):
        raise InputError(f"{shortened(entry)} is no table; write [[paper]]")
    known, faults = [field.name for field in fields(Paper)], Faults()
    typed = {}
    for key, value in entry.items():
        if key not in known:
            faults.add(f"{key}: unknown key; known: {', '.join(known)}")
        else:
            with faults.collecting(key):
                typed[key] = READERS.get(key, _text)(value)
    for key, words in CHOICES.items():
        if typed.get(key, "") not in ("", *words):
            said = f"{key}: {shortened(typed[key])}"
            faults.add(f"{said}; write one of {', '.join(words)}, or leave it out")
    faults.raise_if_any()
    return Paper(**typed)


def _text(value):
    """Return a value that is text."""
    if not isinstance(value, str):
        raise InputError(f"{shortened(value)} is no text")
    return value


def _claims(value):
    """Return claims as pairs of text."""
    if not isinstance(value, Mapping):
        raise InputError(f"{shortened(value)} is no table; write [paper.claims]")
    faults, pairs = Faults(), []
    for key, claim in value.items():
        if isinstance(claim, bool) or not isinstance(claim, str | int | float):
            faults.add(f"{key}: {shortened(claim)} is neither text nor a number")
        pairs.append((str(key), str(claim)))
    faults.raise_if_any()
    return tuple(pairs)


def _price(value):
    """Return a price as it was typed."""
    if isinstance(value, str):
        raise InputError(f"{shortened(value)}; write a number without quotation marks")
    return read_number(value)


READERS = {"claims": _claims, "price_per_kg": _price}


def paper_as_mapping(paper):
    """
    Return a paper as the plain mapping that a job file holds.

    Parameters
    ----------
    paper : Paper
        The paper.

    Returns
    -------
    dict
        What is not empty.

    Examples
    --------
    >>> paper_as_mapping(Paper("N 46 %", claims=(("N", "150"),)))
    {'text': 'N 46 %', 'claims': {'N': '150'}}
    """
    pairs = {field.name: getattr(paper, field.name) for field in fields(Paper)}
    return {
        key: dict(value) if isinstance(value, tuple) else value
        for key, value in pairs.items()
        if value not in ("", (), None)
    }


def check_papers(job):
    """
    Return what is wrong with the papers of a job, before anything is checked.

    Parameters
    ----------
    job : Job
        The job.

    Returns
    -------
    tuple of str
        Every fault: no paper, an unknown kind or rule, a name twice.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> check_papers(Job(papers=(Paper(),)))
    ('paper 1: empty; give its text, or a product with a dose and what is claimed of it',)
    """
    faults, names = Faults(), set()
    with faults.collecting():
        if not isinstance(job.papers, tuple) or not isinstance(job.compared, tuple):
            raise InputError("papers and compared: give a tuple of each")
        for place, paper in enumerate(job.papers, 1):
            with faults.collecting(f"paper {place}"):
                _check(paper, names)
        for name in job.compared:
            if not isinstance(name, str):
                faults.add(f"compared: {shortened(name)} is no name")
    return tuple(faults.found)


def _check(paper, names):
    """Raise if a paper cannot be one."""
    if not isinstance(paper, Paper):
        raise InputError(f"{shortened(paper)} is no paper; give a Paper")
    if not paper.text.strip() and not paper.product.strip():
        raise InputError(
            "empty; give its text, or a product with a dose and what is claimed of it"
        )
    for key, words in CHOICES.items():
        value = getattr(paper, key)
        if value not in ("", *words):
            told = ", ".join(words)
            raise InputError(f"{key} {shortened(value)}: give one of {told}")
    if paper.name and paper.name.casefold() in names:
        raise InputError(f"{paper.name} stands here twice; give one another name")
    names.add(paper.name.casefold())
