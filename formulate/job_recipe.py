"""From a job to its recipe: the nearest, at an EC, with few ingredients, or the cheapest."""

from dataclasses import dataclass, replace
from functools import cached_property

from formulate.checks import checked_number
from formulate.chemistry.acid_doses import acid_rule
from formulate.errors import Faults, InputError, OutOfReach, shortened
from formulate.ingredients.shelf import Shelf
from formulate.ingredients.water import Water
from formulate.notices import Notice
from formulate.recipes.at_ec import at_ec
from formulate.recipes.cheapest import cheapest
from formulate.recipes.few_bags import few_bags
from formulate.recipes.limits import amount_limit
from formulate.recipes.ph_means import check_counter_ions, held_ph
from formulate.recipes.practical import weigh
from formulate.recipes.solve import metered_limit, solve
from formulate.recipes.target import Target
from formulate.recipes.whole_steps import whole_steps
from formulate.working import printed

__all__ = ["JobRecipe", "check_choices"]

PERCENT = 100.0
NEAR = 1e-3
SEARCH = 2.0  # s: longer nobody waits at a bench


@dataclass(frozen=True, eq=False)
class JobRecipe:
    """
    The recipe of a job, and how it was chosen.

    Attributes
    ----------
    job : Job
        The job.
    target : Target
        What is wanted.
    shelf : Shelf
        What is at hand.
    water : Water
        The water.
    volume : float
        Final volume. [L]
    amounts : mapping of str to str
        Name to how much the batch may take, as it was typed.
    """

    job: object
    target: Target
    shelf: Shelf
    water: Water
    volume: float
    amounts: object

    @cached_property
    def ph(self):
        """Return the pH that the recipe itself is to have, or None. [-]"""
        return self.job.ph if self._ph_words is None else None

    @cached_property
    def _ph_words(self):
        """Return why the recipe itself is asked for no pH; None if it is."""
        if self.job.ph is None or held_ph(self.target.limits):
            return ""
        usable = [one for one in self.shelf if not self._is_barred(one)]
        if not any(one.role for one in usable):
            return ""
        try:
            check_counter_ions(usable)
        except InputError as error:
            return str(error)
        return None

    def _is_barred(self, ingredient):
        use = self.amounts.get(ingredient.name, "")
        if "urea" in ingredient.forms and not self.target.urea_allowed:
            return True
        return bool(use) and amount_limit("", use, ingredient, self.volume).high == 0

    @cached_property
    def _nearest(self):
        """Return the nearest recipe, and what kept the pH out of it."""
        told = self._ph_words or ""
        try:
            return self._solved(self.ph), told
        except OutOfReach as error:
            if self.ph is None:
                raise
            return self._solved(None), str(error)

    def _solved(self, ph):
        given = {"volume": self.volume, "water": self.water, "amounts": self.amounts}
        if not self.job.ec:
            return solve(self.target, self.shelf, ph=ph, **given)
        found = at_ec(self.target, self.shelf, ec=self.job.ec, ph=ph, **given)
        if self.job.most_ingredients is None and self.job.within_percent is None:
            return found
        kept = tuple(
            h for h in found.target.limits if h not in held_ph(found.target.limits)
        )
        target = found.target if ph is None else replace(found.target, limits=kept)
        return solve(target, self.shelf, ph=ph, ec=self.job.ec, **given)

    @property
    def wanted_ph(self):
        """Return the pH that a correction aims at: the job's, or that of its limits. [-]"""
        held = held_ph(self.target.limits)
        if self.job.ph is not None or not held:
            return self.job.ph
        return min(max(acid_rule("wanted pH"), held[0].low), held[0].high)

    @property
    def nearest(self):
        """Return the recipe that comes nearest to what is wanted, whatever it takes."""
        return self._nearest[0]

    @cached_property
    def few(self):
        """Return the choice of few ingredients, or None if any number will do."""
        if self.job.most_ingredients is None or self.job.whole_steps:
            return None
        given = {"most": self.job.most_ingredients, "time_limit": SEARCH}
        if self.job.within_percent is not None:
            given |= {"objective": "cost", "within": self.job.within_percent / PERCENT}
        return few_bags(self.nearest, **given | {"most": int(given["most"])})

    @cached_property
    def cheapest(self):
        """Return the cheapest recipe within the bands, or None if cost does not choose."""
        if self.job.within_percent is None or self.job.whole_steps or self.few:
            return None
        return cheapest(self.nearest, within=self.job.within_percent / PERCENT)

    @property
    def recipe(self):
        """Return the recipe of the job."""
        chosen = self.few or self.cheapest
        return chosen.recipe if chosen else self.nearest

    @cached_property
    def whole(self):
        """Return the best whole steps, or None if the nearest ones will do."""
        if not self.job.whole_steps:
            return None
        most = self.job.most_ingredients
        given = {"time_limit": SEARCH, "stocks": self.job.trace_stocks}
        given |= {} if most is None else {"most": int(most)}
        if self.job.within_percent is not None:
            given |= {"objective": "cost", "within": self.job.within_percent / PERCENT}
        return whole_steps(self.nearest, **given)

    @cached_property
    def weighing(self):
        """Return the recipe as the balance can weigh it, with stocks for traces."""
        if self.whole is not None:
            return self.whole.weighing
        return weigh(self.recipe, stocks=self.job.trace_stocks)

    @cached_property
    def notices(self):
        """Return what to know about how the recipe was chosen."""
        found = []
        if self._nearest[1]:
            what = f"{self._nearest[1]}. The pH is left to a correction"
            found.append(Notice(what, "caution", self.job.ph))
        for chosen in (self.few, self.whole):
            found += chosen.told if chosen is not None else ()
        if self.cheapest is not None:
            found += self.cheapest.notices
        return tuple(found)

    @cached_property
    def lines(self):
        """Return how the recipe was chosen, one sentence each; none if it is the nearest."""
        found = []
        if self.job.ec:
            strength = self.recipe.target.name or self.recipe.target.stage
            found.append(f"EC {self.job.ec}: {strength or 'the target as it is'}")
        if self.ph is not None and not self._nearest[1]:
            found.append(
                f"pH {self.job.ph:g} in balance with the air is met by the recipe itself; "
                "what its acid or alkali brings counts"
            )
        if self.few is not None:
            sure = "proven" if self.few.proven else f"gap {100 * self.few.gap:.2g} %"
            price = "; ".join(str(self.few.price).splitlines())
            found.append(f"{self.few.head} ({sure}): {price}")
        if self.cheapest is not None:
            now, before = self.cheapest.cost, self.cheapest.before
            asked = f"the cheapest within {self.job.within_percent:g} % of each wanted value"
            worst = PERCENT * max(map(abs, self.cheapest.recipe.misses.values()))
            if worst > self.job.within_percent * (1 + NEAR):
                asked += f", as far as that can be kept (at worst {worst:.3g} % off)"
            costs = (
                f"{printed(now, 3)} a batch, the nearest recipe {printed(before, 3)}"
            )
            found.append(f"{asked}: {costs}")
        if self.whole is not None:
            sure = "proven" if self.whole.proven else "not proven in time"
            few, within = self.job.most_ingredients, self.job.within_percent
            of = "" if few is None else f" of at most {few:g} ingredients"
            of += "" if within is None else f", the cheapest within {within:g} %"
            found.append(f"whole steps{of} ({sure}): {self.whole.price}")
        return tuple(found)

    def solved_for(self, **changes):
        """
        Return the same for a job with some of its choices changed.

        Parameters
        ----------
        **changes : object
            Fields of the job.

        Returns
        -------
        JobRecipe
            The same with that job.

        Examples
        --------
        >>> from formulate.jobs import DEMO, read_job
        >>> from formulate.outcome import run_job
        >>> chosen = run_job(read_job(DEMO)).chosen
        >>> len(chosen.solved_for(most_ingredients=6).recipe.amounts)
        6
        """
        return replace(self, job=replace(self.job, **changes))


def check_choices(job, shelf, target=None):
    """
    Return what is wrong with how a job asks its recipe to be chosen.

    Parameters
    ----------
    job : Job
        The job.
    shelf : iterable of Ingredient
        What may be used, as far as it could be read.
    target : Target or None
        The target, if it could be read.

    Returns
    -------
    tuple of str
        Every fault.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> check_choices(Job(most_ingredients=0), [])
    ("most_ingredients: '0' is not a number from 1 up",)
    """
    faults = Faults()
    with faults.collecting():
        most = job.most_ingredients
        if most is not None:
            checked_number(most, "most_ingredients", least=1)
            if most != int(most):
                raise InputError(f"most_ingredients: {most:g}; write a whole number")
    with faults.collecting():
        if job.within_percent is not None:
            checked_number(job.within_percent, "within_percent", least=0, most=PERCENT)
    with faults.collecting("within_percent"):
        if job.within_percent is not None:
            lacking = [one.name for one in shelf if one.price is None]
            if lacking:
                raise InputError(
                    f"the cheapest recipe needs every price; none for {', '.join(lacking)}"
                )
    limited = () if target is None else target.limits
    if job.ph is not None and held_ph(limited):
        faults.add("ph: the target limits the pH already; give one or the other")
    with faults.collecting("ec"):
        held = metered_limit("EC", job.ec) if job.ec else None
        if held and held.low != held.high:
            raise InputError(
                f"{shortened(job.ec)}: write the one that is wanted; a range or a ceiling "
                "is a limit of the target"
            )
        if job.ec and any(one.subject == "EC" for one in limited):
            raise InputError("the target limits the EC already; give one or the other")
        if job.ec and job.strength_percent is not None:
            raise InputError("the EC finds the strength; leave strength_percent out")
    if not isinstance(job.whole_steps, bool):
        faults.add(f"whole_steps: {job.whole_steps!r}; write true or false")
    return tuple(faults.found)
