"""What a job's recipe could be exchanged for: cost, bags, steps, and how sure it is."""

from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

from formulate.errors import FormulateError
from formulate.job_recipe import JobRecipe
from formulate.recipes.cheapest import cheapest
from formulate.recipes.cost_curve import cost_curve
from formulate.recipes.few_curve import few_curve
from formulate.recipes.limit_worth import limit_worths
from formulate.recipes.nutrient_worth import usable_costs
from formulate.recipes.price_changes import price_changes
from formulate.recipes.uncertainty import doubt
from formulate.working import Shown

__all__ = ["TRADES", "TradeOffs"]

SEARCH = 1.0  # s, for each number of bags
DRAWS = 10_000


TRADES = MappingProxyType(  # what can be exchanged, to its title
    {
        "cost_curve": "what coming nearer costs",
        "few_curve": "what one bag less costs",
        "limit_worths": "what one more unit of each limit is worth",
        "cheapest": "the cheapest recipe within its bands",
        "price_changes": "which price would change it",
        "usable_costs": "what a kilogram of usable nutrient costs",
        "doubt": "how sure the weighed batch is",
    }
)


@dataclass(frozen=True, eq=False)
class TradeOffs(Shown):
    """
    What could be had instead of a recipe, worked out when it is first asked for.

    Attributes
    ----------
    chosen : JobRecipe
        The recipe, and how it was chosen.
    """

    chosen: JobRecipe

    @property
    def unpriced(self):
        """Return the names of what may be used and has no price."""
        usable = self.chosen.nearest.ingredients
        return tuple(one.name for one in usable if one.price is None)

    @cached_property
    def cost_curve(self):
        """Return the least cost at each worst deviation; None without every price."""
        return None if self.unpriced else cost_curve(self.chosen.nearest)

    @cached_property
    def cheapest(self):
        """Return the cheapest recipe within the job's band, or the usual one; or None."""
        if self.unpriced:
            return None
        return self.chosen.cheapest or cheapest(self.chosen.nearest)

    @cached_property
    def price_changes(self):
        """Return which price change would change the cheapest recipe; or None."""
        return None if self.cheapest is None else price_changes(self.cheapest)

    @cached_property
    def usable_costs(self):
        """Return what a gram of usable N, P and K costs from each bag with a price."""
        priced = [i for i in self.chosen.nearest.ingredients if i.price is not None]
        return usable_costs(priced) if priced else None

    @cached_property
    def limit_worths(self):
        """Return what one more unit of each limit that holds the recipe back is worth."""
        return limit_worths(self.chosen.nearest)

    @cached_property
    def few_curve(self):
        """Return the best recipe of every number of ingredients."""
        return few_curve(self.chosen.nearest, time_limit=SEARCH)

    @cached_property
    def doubt(self):
        """Return what the weighed batch may turn out to be, and which input matters most."""
        return doubt(self.chosen.weighing, draws=DRAWS)

    def parts(self):
        """
        Return each part that can be worked out, and why the others cannot.

        Returns
        -------
        list of (str, object or str)
            Title and what was found, or the reason why there is nothing.

        Examples
        --------
        >>> from formulate.jobs import DEMO, read_job
        >>> from formulate.outcome import run_job
        >>> [title for title, _ in run_job(read_job(DEMO)).trade_offs.parts()][:2]
        ['what coming nearer costs', 'what one bag less costs']
        """
        return [(title, self.part(name)) for name, title in TRADES.items()]

    def part(self, name):
        """
        Return one part, or why there is nothing of it.

        Parameters
        ----------
        name : str
            One of `TRADES`, such as "doubt".

        Returns
        -------
        object or str
            What was found, or the reason why there is nothing.

        Examples
        --------
        >>> from formulate.jobs import DEMO, read_job
        >>> from formulate.outcome import run_job
        >>> run_job(read_job(DEMO)).trade_offs.part("doubt").draws
        10000
        """
        try:
            part = getattr(self, name)
        except FormulateError as error:
            return str(error)
        if part is None:
            return f"no price for {', '.join(self.unpriced)}"
        return (
            "no limit is reached, so none holds the recipe back" if part == () else part
        )

    def __str__(self):
        return "\n\n".join(f"{title}\n{part}" for title, part in self.parts())
