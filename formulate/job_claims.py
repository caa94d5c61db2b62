"""From a job to the claims that are checked: its papers, and products held against each other."""

from dataclasses import dataclass, replace
from functools import cached_property
from types import MappingProxyType

from formulate.checks import checked_number
from formulate.claims.finding import Finding, gravest_finding
from formulate.claims.paper_check import check_paper, unread_paper
from formulate.claims.paper_kinds import paper_kind
from formulate.claims.product_comparison import compare_products
from formulate.errors import FormulateError, InputError, shortened
from formulate.ingredients.salts import as_ingredient
from formulate.notices import gravest_first
from formulate.recipes.target import published_target

__all__ = ["JobClaims"]

OWN_TARGET = "job"


@dataclass(frozen=True, eq=False)
class JobClaims:
    """
    The claims of a job, checked when they are first asked for.

    Nothing here needs a recipe: papers are checked even where none can be found.

    Attributes
    ----------
    papers : tuple of Paper
        The papers of the job.
    compared : tuple of str
        Names of the products that are held against each other.
    shelf : tuple of Ingredient
        What stands on the shelf, as far as it could be read.
    water : Water or None
        The water; pure if it could not be read.
    target : Target or None
        The target, if it could be read.
    """

    papers: tuple = ()
    compared: tuple = ()
    shelf: tuple = ()
    water: object = None
    target: object = None

    @cached_property
    def checked(self):
        """Return each paper with what was found of it; one that cannot be read says why."""
        found, products = {}, {one.name: one for one in self.shelf}
        places = enumerate(self.papers)
        for place, paper in sorted(places, key=lambda pair: not _is_label(pair[1])):
            made = self._checked(place, paper, products)
            found[place] = made
            if made.product is not None:
                products[made.product.name] = made.product
        return tuple(found[place] for place in range(len(self.papers)))

    def _checked(self, place, paper, products):
        """Return one paper with what was found of it."""
        name = paper.name or f"paper {place + 1}"
        try:
            made = check_paper(
                paper.text,
                kind=paper.kind or None,
                name=name,
                rule=paper.rule or None,
                product=_product(paper.product, products),
                dose=paper.dose or None,
                claims=dict(paper.claims) or None,
                products=products,
                water=self.water if paper.water else None,
                targets=self._target(paper),
            )
            return _priced(made, paper.price_per_kg)
        except FormulateError as error:
            return unread_paper(name, error.faults, paper.kind)

    def _target(self, paper):
        """Return what the weeks of a chart are held against."""
        if paper.target == OWN_TARGET:
            if self.target is None:
                raise InputError("target: that of the job cannot be read")
            return self.target
        return published_target(paper.target) if paper.target else None

    @cached_property
    def products(self):
        """Return name to all that can be compared: the shelf, and what labels make."""
        made = [one.product for one in self.checked if one.product is not None]
        return MappingProxyType({one.name: one for one in (*self.shelf, *made)})

    @cached_property
    def comparison_or_why(self):
        """Return the products held against each other and "", or None and why not."""
        if not self.compared:
            return None, ""
        try:
            named = {name: _product(name, self.products) for name in self.compared}
            given = {"target": self.target, "salts": self._salts}
            return compare_products(named, **given), ""
        except FormulateError as error:
            return None, "; ".join(error.faults)

    @property
    def _salts(self):
        """Return the single salts at hand that are not compared; None if there are none."""
        asked = {name.casefold() for name in self.compared}
        salts = [i for i in self.shelf if i.formula and i.name.casefold() not in asked]
        return tuple(salts) or None

    @property
    def findings(self):
        """Return every finding of every paper, its name before the subject."""
        return tuple(
            replace(one, subject=f"{paper.name}: {one.subject}")
            for paper in self.checked
            for one in paper.findings
        )

    @property
    def verdict(self):
        """Return the gravest verdict of all papers."""
        told = [Finding(paper.name, paper.verdict, "") for paper in self.checked]
        return gravest_finding(told)

    @property
    def notices(self):
        """Return what to know about the papers, the gravest first, each once."""
        return gravest_first(n for paper in self.checked for n in paper.notices)


def _priced(made, price):
    """Return a paper whose product has the price that was typed."""
    if price is None or made.product is None:
        return made
    checked_number(price, "price per kg", least=0)
    return replace(made, product=replace(made.product, price=price))


def _is_label(paper):
    """Return whether a paper is a label, which others may name: it is read before them."""
    if paper.kind or not paper.text.strip():
        return paper.kind == "label"
    try:
        return paper_kind(paper.text) == "label"
    except FormulateError:
        return False


def _product(name, products):
    """Return a product by its name on the shelf, of a paper or in the catalogue."""
    if not name:
        return None
    folded = {known.casefold(): one for known, one in products.items()}
    if name.strip().casefold() in folded:
        return folded[name.strip().casefold()]
    try:
        return as_ingredient(name)
    except FormulateError:
        known = ", ".join(products) or "nothing is on the shelf"
        raise InputError(
            f"product {shortened(name)} is neither on the shelf, nor a paper, nor in the "
            f"catalogue; known: {known}"
        ) from None
