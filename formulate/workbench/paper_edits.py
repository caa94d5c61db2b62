"""What a person changes on the papers of a job: one function each, to the next job."""

import re
from dataclasses import fields, replace

from formulate.checks import checked_number
from formulate.errors import Faults, InputError, shortened
from formulate.jobs import ShelfLine
from formulate.papers import CHOICES, Paper
from formulate.workbench.edits import number_or_none
from formulate.workbench.shelf_edits import with_line

__all__ = [
    "EXAMPLES",
    "claims_text",
    "label_on_shelf",
    "typed_claims",
    "with_comparison",
    "with_paper",
    "with_paper_entry",
    "without_paper",
]

EXAMPLES = {  # invented, each with a slip in it
    "label": """Lindenhof school glasshouse, potash bag 13-0-55
Total Nitrogen (N) 13 %
  13 % Nitrate Nitrogen
Soluble Potash (K2O) 55 %
Derived from: potassium nitrate
""",
    "chart": """week;potassium nitrate g/L;magnesium sulfate heptahydrate g/L;K mg/L;Mg mg/L
1;0.5;0.25;193;25
2;0.8;0.5;373;49
3;1;0.5;387;49
""",
    "assay": """nutrient;guaranteed;found;unit
N;13;12.9;%
K2O;46;41.2;%
""",
    "table": """salt;N %;P2O5 %;K2O %
KNO3;13.9;;46.6
KH2PO4;;34.6;52.2
NH4H2PO4;12.2;61.7;
""",
}
ENTRIES = tuple(field.name for field in fields(Paper))


def with_paper(job, paper):
    """
    Return a job with one paper more.

    Parameters
    ----------
    job : Job
        The job.
    paper : Paper
        What is to be checked.

    Returns
    -------
    Job
        The next job; a name that is there already gets a number.

    Raises
    ------
    InputError
        If it is empty.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> with_paper(Job(), Paper("N 46 %", "bag")).papers[0].name
    'bag'
    """
    if not paper.text.strip() and not paper.product.strip():
        raise InputError(
            "nothing was pasted; paste a label, a chart, an assay or a table"
        )
    return replace(job, papers=(*job.papers, replace(paper, name=_free(job, paper))))


def _free(job, paper):
    """Return a name that no paper of the job has."""
    taken = {one.name.casefold() for one in job.papers}
    plain = paper.name.strip() or f"paper {len(job.papers) + 1}"
    name, number = plain, 2
    while name.casefold() in taken:
        name, number = f"{plain} {number}", number + 1
    return name


def without_paper(job, place):
    """
    Return a job with one paper less.

    Parameters
    ----------
    job : Job
        The job.
    place : int
        Which paper, counted from 0. [-]

    Returns
    -------
    Job
        The next job; it is not compared any more either.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> without_paper(with_paper(Job(), Paper("N 46 %")), 0).papers
    ()
    """
    gone = _paper(job, place).name
    left = (*job.papers[:place], *job.papers[place + 1 :])
    kept = tuple(name for name in job.compared if name != gone)
    return replace(job, papers=left, compared=kept)


def with_paper_entry(job, place, key, text):
    """
    Return a job with one entry of a paper changed.

    Parameters
    ----------
    job : Job
        The job.
    place : int
        Which paper, counted from 0. [-]
    key : str
        A field of `Paper`.
    text : str
        What was typed.

    Returns
    -------
    Job
        The next job.

    Raises
    ------
    InputError
        If it is nothing that a paper has.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> job = with_paper(Job(), Paper("N 46 %"))
    >>> with_paper_entry(job, 0, "claims", "N 150 ppm; EC 1.8 mS/cm").papers[0].claims
    (('N', '150 ppm'), ('EC', '1.8 mS/cm'))
    """
    paper, typed = _paper(job, place), str(text).strip()
    if key not in ENTRIES:
        raise InputError(f"{shortened(key)} is nothing that a paper has")
    if typed and key in CHOICES and typed not in CHOICES[key]:
        raise InputError(f"{shortened(typed)}: choose one of {', '.join(CHOICES[key])}")
    value = READ.get(key, str)(str(text) if key == "text" else typed)
    if key == "name" and any(
        p.name.casefold() == typed.casefold() for p in job.papers if p is not paper
    ):
        raise InputError(f"{shortened(typed)} is the name of another paper")
    papers = list(job.papers)
    papers[place] = replace(paper, **{key: value})
    renamed = {paper.name: typed} if key == "name" else {}
    compared = tuple(renamed.get(name, name) for name in job.compared)
    return replace(job, papers=tuple(papers), compared=compared)


def _paper(job, place):
    if not 0 <= place < len(job.papers):
        raise InputError(f"there is no paper {place + 1}")
    return job.papers[place]


def typed_claims(text):
    """
    Return what is claimed of a dose, from a line as a person types it.

    Parameters
    ----------
    text : str
        Such as "N 150 ppm; EC 1.8 mS/cm".

    Returns
    -------
    tuple of (str, str)
        What is claimed to amount.

    Raises
    ------
    InputError
        With every part that is no claim.

    Examples
    --------
    >>> typed_claims("N 150; P2O5=50 mg/L")
    (('N', '150'), ('P2O5', '50 mg/L'))
    """
    faults, pairs = Faults(), {}
    for part in filter(str.strip, re.split(r"[;\n]", text)):
        found = re.fullmatch(r"\s*(\S+?)\s*[=:\s]\s*(\S.*?)\s*", part)
        if not found:
            faults.add(f"{shortened(part)}: write it like N 150 ppm; EC 1.8 mS/cm")
        elif found[1] in pairs:
            faults.add(f"{found[1]} is claimed twice")
        else:
            pairs[found[1]] = found[2]
    faults.raise_if_any()
    return tuple(pairs.items())


def _price(text):
    """Return a price, or None for an empty cell."""
    value = number_or_none(text)
    return value if value is None else checked_number(value, "price per kg", least=0)


READ = {"claims": typed_claims, "price_per_kg": _price}


def claims_text(claims):
    """
    Return claims as a person types them.

    Parameters
    ----------
    claims : iterable of (str, str)
        What is claimed to amount.

    Returns
    -------
    str
        One line.

    Examples
    --------
    >>> claims_text((("N", "150 ppm"), ("EC", "1.8 mS/cm")))
    'N 150 ppm; EC 1.8 mS/cm'
    """
    return "; ".join(f"{key} {amount}" for key, amount in claims)


def with_comparison(job, name):
    """
    Return a job in which one product more, or one less, is compared.

    Parameters
    ----------
    job : Job
        The job.
    name : str
        A product of the shelf or of a label.

    Returns
    -------
    Job
        The next job.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> with_comparison(Job(compared=("A",)), "B").compared
    ('A', 'B')
    >>> with_comparison(Job(compared=("A", "B")), "A").compared
    ('B',)
    """
    if name in job.compared:
        return replace(job, compared=tuple(n for n in job.compared if n != name))
    return replace(job, compared=(*job.compared, name))


def label_on_shelf(job, place, *, by_sources=False):
    """
    Return a job with the label of a paper on the shelf.

    Parameters
    ----------
    job : Job
        The job.
    place : int
        Which paper, counted from 0. [-]
    by_sources : bool
        Whether it is counted by the middle of the blends that its named sources allow.

    Returns
    -------
    Job
        The next job.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> label_on_shelf(with_paper(Job(), Paper("N 46 %", "bag")), 0).shelf[0].name
    'bag'
    """
    paper = _paper(job, place)
    line = ShelfLine(
        label=paper.text,
        name=paper.name,
        price_per_kg=paper.price_per_kg,
        by_sources=by_sources,
    )
    return with_line(job, line)
