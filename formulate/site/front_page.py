"""The first page of a site: which lessons are there, how to serve them, what is not there."""

from pathlib import Path

import jinja2

import formulate

__all__ = ["front_page", "told_apart"]

TEMPLATE = Path(__file__).with_name("front_page.html")


def told_apart():
    """
    Return what a site does not hold.

    Returns
    -------
    str
        One sentence.

    Examples
    --------
    >>> "numpy" in told_apart()
    True
    """
    return (
        "Not in it: whatever needs numpy, that is recipes, the chemistry of a solution, mixing, "
        "claims, figures, the workbench."
    )


def front_page(lessons):
    """
    Return the first page of a site as HTML.

    Parameters
    ----------
    lessons : iterable of SiteLesson
        What stands in the site.

    Returns
    -------
    str
        The page.

    Examples
    --------
    >>> from formulate.site.lessons import SiteLesson
    >>> page = front_page([SiteLesson(Path("02_salts.ipynb"), "02 Salts & ions", "Why?")])
    >>> 'lab/index.html?path=02_salts.ipynb' in page, "Salts &amp; ions" in page
    (True, True)
    """
    template = jinja2.Template(
        TEMPLATE.read_text(encoding="utf-8"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
    )
    return template.render(
        lessons=list(lessons), apart=told_apart(), version=formulate.__version__
    )
