"""`formulate check`: are these papers right, a label, a chart, an assay, a table, a dose."""

import json
import sys
from dataclasses import replace
from pathlib import Path

from formulate.errors import Faults, InputError, shortened
from formulate.files import read_text
from formulate.jobs import Job, read_job
from formulate.papers import PAPER_KINDS, PAPER_RULES, Paper
from formulate.stoichiometry.quantities import read_number

__all__ = ["add_check", "job_of_papers"]

DONE, SERIOUS, AT_FAULT = 0, 1, 2
JOB_FILE = ".toml"
DESCRIPTION = (
    "Tell whether papers are right: what stands on a label, a feed chart, an assay, a table "
    "of a book or a water report is held against arithmetic and rules. Each is recognised; several "
    "are checked together, and a chart finds its products under the names of their files. "
    "It is a calculation: no legal, agronomic or medical advice."
)


def add_check(commands):
    """
    Add the command to a command line.

    Parameters
    ----------
    commands : argparse action
        Where commands are added.

    Examples
    --------
    >>> import argparse
    >>> parser = argparse.ArgumentParser()
    >>> add_check(parser.add_subparsers())
    >>> parser.parse_args(["check", "bag.txt"]).files
    ['bag.txt']
    """
    check = commands.add_parser(
        "check",
        help="is it right: a label, a feed chart, an assay, a table, a water report",
        description=DESCRIPTION,
    )
    check.add_argument(
        "files", nargs="*", metavar="FILE", help="a paper, or a job with papers (TOML)"
    )
    check.add_argument("--as", dest="kind", choices=PAPER_KINDS, help="what it is")
    check.add_argument(
        "--rule", choices=PAPER_RULES, help="what a bare word on a label means"
    )
    check.add_argument(
        "--product", metavar="NAME", help="whose dose, or whose analysis it is"
    )
    check.add_argument("--dose", help='such as "5 mL/L" or "2 lb/100 US gal"')
    check.add_argument(
        "--claim",
        action="append",
        default=[],
        metavar="KEY=AMOUNT",
        help='claimed of the dose, such as "N=150 ppm" or "EC=1.8 mS/cm"; may be repeated',
    )
    check.add_argument("--shelf", metavar="FILE", help="products and prices (CSV)")
    check.add_argument("--water", metavar="FILE", help="a water report, or its key")
    check.add_argument(
        "--target", metavar="KEY", help="a published target that a chart is to meet"
    )
    check.add_argument(
        "--price",
        action="append",
        default=[],
        metavar="NAME=PRICE",
        help="price of a kilogram of what a label describes; may be repeated",
    )
    check.add_argument(
        "--compare", metavar="NAMES", help="hold products against each other: A; B"
    )
    check.add_argument(
        "--json", action="store_true", help="print one JSON object instead"
    )
    check.add_argument("--out", metavar="DIR", help="write it as HTML and CSV, too")
    check.set_defaults(do=_check)


def job_of_papers(files, **given):
    """
    Return a job that holds papers to be checked.

    Parameters
    ----------
    files : iterable of str
        Papers, and at most one job.
    **given : object
        The options of the command line: kind, rule, product, dose, claim, shelf, water,
        target, price, compare; and unread, where faults of files go that cannot be read,
        so that the others are checked all the same.

    Returns
    -------
    Job
        The job.

    Raises
    ------
    InputError
        With every fault: files that cannot be read, claims and prices without a sign of
        equality, nothing to check.

    Examples
    --------
    >>> job = job_of_papers([], product="KNO3", dose="1 g/L", claim=["K=387"])
    >>> job.papers[0].claims
    (('K', '387'),)
    """
    faults, job, unread = Faults("check"), Job(), given.get("unread")
    unread = faults if unread is None else unread
    paths = [Path(name) for name in files]
    jobs = [path for path in paths if path.suffix.casefold() == JOB_FILE]
    if len(jobs) > 1:
        faults.add("give one job at a time")
    for path in jobs[:1]:
        with faults.collecting():
            job = read_job(path)
    papers = []
    for path in (path for path in paths if path not in jobs):
        with unread.collecting():
            papers.append(Paper(read_text(path), path.stem))
    claims = _pairs(given.get("claim") or (), "claim", "N=150 ppm", faults)
    prices = _pairs(given.get("price") or (), "price", "A=1.90", faults)
    papers = _with_options(papers, given, tuple(claims.items()), faults)
    papers = _with_prices(papers, prices, faults)
    with faults.collecting():
        job = _with_surroundings(job, given)
    job = replace(job, papers=(*job.papers, *papers))
    if not (job.papers or job.compared or faults.found or unread.found):
        faults.add("nothing to check; name a file, or a product with a dose and claims")
    if faults.found and unread is not faults:
        faults.found += unread.found
    faults.raise_if_any()
    return job


def _pairs(texts, what, example, faults):
    """Return what stands before and behind the signs of equality."""
    found = {}
    for text in texts:
        name, sign, value = text.partition("=")
        if not (sign and name.strip() and value.strip()):
            faults.add(f"{what} {shortened(text)}: write it like {example}")
        elif name.strip() in found:
            faults.add(f"{what} {name.strip()}: given twice")
        else:
            found[name.strip()] = value.strip()
    return found


def _with_options(papers, given, claims, faults):
    """Return papers with what the options say of them."""
    asked = {key: given[key] for key in ("kind", "rule", "target") if given.get(key)}
    asked |= {"water": "job"} if given.get("water") else {}
    papers = [replace(paper, **asked) for paper in papers]
    told = {key: given[key] for key in ("product", "dose") if given.get(key)}
    if len(papers) == 1 and told.get("product") == papers[0].name:
        del told["product"]  # it is that paper's own
    if not told.get("dose") and not claims:
        return [
            replace(paper, **told) if _is_of(paper, told) else paper for paper in papers
        ]
    told |= {"claims": claims, **asked}
    told.pop("kind", None)
    if len(papers) == 1:
        return [replace(papers[0], **told)]
    if given.get("product"):
        return [*papers, Paper(name=f"dose of {given['product']}", kind="dose", **told)]
    faults.add("a dose with claims: say of which product (--product), or give one file")
    return papers


def _is_of(paper, told):
    """Return whether a paper may be an analysis of the product that is named."""
    return bool(told) and paper.name != told["product"]


def _with_prices(papers, prices, faults):
    """Return papers with the prices of what they describe."""
    names, told = [paper.name for paper in papers], {}
    for name, price in prices.items():
        with faults.collecting(f"price {name}"):
            if name not in names:
                known = ", ".join(names) or "no file is given"
                raise InputError(f"no such paper; there are {known}")
            told[name] = read_number(price)
    return [replace(p, price_per_kg=told.get(p.name, p.price_per_kg)) for p in papers]


def _with_surroundings(job, given):
    """Return a job with the shelf, the water and the comparison that options give."""
    if given.get("shelf"):
        job = replace(job, shelf=(), shelf_file=str(Path(given["shelf"]).resolve()))
    if given.get("water"):
        there = Path(given["water"])
        key = "report" if there.exists() else "preset"
        value = read_text(there) if there.exists() else given["water"]
        job = replace(job, water=((key, value),))
    if given.get("compare"):
        names = [name.strip() for name in given["compare"].split(";")]
        job = replace(job, compared=tuple(filter(None, names)))
    return job


def _check(options):
    """Print whether papers are right."""
    from formulate.outcome import check_job
    from formulate.sheets.claims_page import claims_text, write_claims
    from formulate.sheets.claims_tables import claims_data

    given = {k: v for k, v in vars(options).items() if k not in ("files", "do")}
    unread = Faults()
    job = job_of_papers(options.files, unread=unread, **given)
    if unread.found and not job.papers:
        raise InputError(*unread.found)
    checked = check_job(job)
    asked = ("claims", *(["water"] * bool(options.water)))
    asked = (*asked, *(["shelf"] * bool(options.shelf)))
    faults = [text for part in asked for text in checked.faults.get(part, ())]
    if faults:
        raise InputError(*faults)
    outcome = checked.outcome
    claims = outcome.claims
    files = write_claims(outcome, options.out) if options.out else ()
    if options.json:
        data = {**claims_data(claims), "files": [str(path) for path in files]}
        data["unread"] = unread.found
        print(json.dumps(data, ensure_ascii=False, indent=1))
    else:
        print(claims_text(outcome))
        print("\n".join(f"written: {path}" for path in files), end="\n" * bool(files))
    faults = [f"{p.name}: {fault}" for p in claims.checked for fault in p.faults]
    for fault in (*unread.found, *faults):
        print(f"formulate: {fault}", file=sys.stderr)
    if faults or unread.found or claims.comparison_or_why[1]:
        return AT_FAULT
    refuted = any(paper.is_refuted for paper in claims.checked)
    return SERIOUS if refuted else DONE
