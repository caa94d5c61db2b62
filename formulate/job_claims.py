"""From a job to the claims that are checked: its papers, and products held against each other."""

from dataclasses import dataclass, fields, replace
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
MOST_KEPT = 24  # papers whose answers outlast a change


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
        return tuple(map(self.answer, range(len(self.papers))))

    def answer(self, place):
        """
        Return one paper with what was found of it; of the others only labels are checked.

        Parameters
        ----------
        place : int
            Which paper, counted from 0. [-]

        Returns
        -------
        PaperCheck
            The paper; one that cannot be read says why.

        Examples
        --------
        >>> from formulate.papers import Paper
        >>> JobClaims((Paper("K2O 62 %", rule="us"), Paper("milk"))).answer(0).verdict
        'right'
        """
        for turn in self.turns[: self.turns.index(place) + 1]:
            asked = turn == place or self._kinds[turn] == "label"
            if asked and turn not in self._answers:
                self._answers[turn] = self._still_so(turn) or self._check(turn)
        return self._answers[place]

    @property
    def answers(self):
        """Return each paper as far as it is checked; None for one that is not yet."""
        return tuple(self._answers.get(place) for place in range(len(self.papers)))

    def take_over(self, before):
        """
        Take over what was found of papers where nothing they rest on has changed.

        Parameters
        ----------
        before : JobClaims
            The claims of the job before a change.

        Examples
        --------
        >>> from formulate.papers import Paper
        >>> before = JobClaims((Paper("K2O 62 %", "bag", rule="us"),))
        >>> now = JobClaims((Paper("milk"), *before.papers))
        >>> found = before.answer(0)
        >>> now.take_over(before)
        >>> now.answers[1] is found
        True
        """
        if before is not self:
            self._kept[:] = [*before._kept, *self._kept][-MOST_KEPT:]
        for turn in self.turns:
            made = self._answers.get(turn) or self._still_so(turn)
            if made is not None:
                self._answers[turn] = made
            elif self._kinds[turn] == "label":
                return  # which products there are is not known yet

    @cached_property
    def _answers(self):
        """Return place to what was found of a paper, as far as it was asked for."""
        return {}

    @cached_property
    def _kept(self):
        """Return papers that were checked: paper, name, what it rested on, what was found."""
        return []

    @cached_property
    def _kinds(self):
        """Return what each paper is; empty if that cannot be told."""
        return tuple(map(_kind, self.papers))

    @cached_property
    def turns(self):
        """Return the places of the papers, labels first: others may name them."""
        places = range(len(self.papers))
        return tuple(sorted(places, key=lambda place: self._kinds[place] != "label"))

    def _check(self, place):
        """Return one paper, checked now and kept with what it rests on."""
        paper, name = self.papers[place], self._name(place)
        made = self._checked(place, paper, self._products(place))
        rests_on = self._rests_on(place, is_read=not made.faults)
        self._kept[:] = [*self._kept, (paper, name, rests_on, made)][-MOST_KEPT:]
        return made

    def _still_so(self, place):
        """Return what was found before of a paper, or None if it may be otherwise now."""
        asked = (self.papers[place], self._name(place))
        for paper, name, rested_on, made in self._kept:
            if (paper, name) == asked and rested_on == self._rests_on(
                place, is_read=not made.faults
            ):
                return made
        return None

    def _name(self, place):
        return self.papers[place].name or f"paper {place + 1}"

    def _products(self, place):
        """Return the products that a paper may name: the shelf, and labels before it."""
        earlier = self.turns[: self.turns.index(place)]
        made = [self._answers[p] for p in earlier if self._kinds[p] == "label"]
        named = [one.product for one in made if one.product is not None]
        return {one.name: one for one in (*self.shelf, *named)}

    def _rests_on(self, place, *, is_read):
        """Return what a paper rests on beside its own text."""
        paper, products = self.papers[place], self._products(place)
        named = _named(paper, products) if self._kinds[place] == "chart" else ()
        product = _known(paper.product, products)
        is_open = not is_read or (paper.product and product is None)
        return (
            named,
            _facts(product),
            tuple(products) if is_open else (),  # a fault names what is known
            self.water if paper.water else None,
            self.target if paper.target == OWN_TARGET else None,
        )

    def _checked(self, place, paper, products):
        """Return one paper with what was found of it."""
        name = self._name(place)
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


def _kind(paper):
    """Return what a paper is; empty if that cannot be told."""
    if paper.kind or not paper.text.strip():
        return paper.kind
    try:
        return paper_kind(paper.text)
    except FormulateError:
        return ""


def _named(paper, products):
    """Return the products that a chart may name, and whether all have names of their own."""
    there = _folded(paper.text)
    named = ((n, one) for n, one in products.items() if _folded(n) in there)
    found = ((name, _facts(one)) for name, one in named)
    return (*found, len(set(map(_folded, products))) == len(products))


def _facts(product):
    """Return all that is known of a product; None of no product."""
    known = () if product is None else fields(product)
    return tuple(getattr(product, one.name) for one in known) or None


def _folded(text):
    """Return text without quotes, capitals and more than one space at a time."""
    return " ".join(text.replace('"', "").split()).casefold()


def _known(name, products):
    """Return a product by its name, or None if it is neither on the shelf nor of a paper."""
    folded = {known.casefold(): one for known, one in products.items()}
    return folded.get(name.strip().casefold()) if name else None


def _product(name, products):
    """Return a product by its name on the shelf, of a paper or in the catalogue."""
    if not name:
        return None
    found = _known(name, products)
    if found is not None:
        return found
    try:
        return as_ingredient(name)
    except FormulateError:
        known = ", ".join(products) or "nothing is on the shelf"
        raise InputError(
            f"product {shortened(name)} is neither on the shelf, nor a paper, nor in the "
            f"catalogue; known: {known}"
        ) from None
