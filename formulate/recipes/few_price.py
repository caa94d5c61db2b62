"""What it costs to do with few ingredients: deviations, what is missed now, money."""

from dataclasses import dataclass
from functools import cached_property

from formulate.recipes.aims import squared_misses
from formulate.recipes.few_choice import COST, SUM, WORST
from formulate.recipes.recipe import Recipe
from formulate.working import Shown, printed, printed_percent

__all__ = ["TRACES", "WORDS", "FewPrice", "shown"]

WORDS = {
    SUM: "least sum of deviations",
    WORST: "least worst deviation, then least sum",
    COST: "least cost",
}
TRACES = "macronutrients first: a trace counts a twentieth"
LOST = 0.01  # share of what is wanted: a miss that grew by more is told
NONE = 1e-9  # less is what adding up leaves


@dataclass(frozen=True, eq=False)
class FewPrice(Shown):
    """
    What it costs to do without the other ingredients.

    Attributes
    ----------
    objective : str
        What was to be least.
    without : float
        Its value with every ingredient allowed. [-]
    value : float
        Its value with so few. [-]
    before : Recipe
        The nearest recipe with every ingredient.
    after : Recipe
        The recipe with so few.
    """

    objective: str
    without: float
    value: float
    before: Recipe
    after: Recipe

    @cached_property
    def squares(self):
        """Return the weighted sums of squared deviations before and after. [-]"""
        both = (self.before, self.after)
        return tuple(squared_misses(r.requirements, r.optimum.amounts) for r in both)

    @cached_property
    def lost(self):
        """Return the wanted keys whose miss grew by more than 1 % of the wish, worst first."""
        was, now = self.before.misses, self.after.misses
        grew = [key for key in now if abs(now[key]) - abs(was[key]) > LOST]
        return tuple(sorted(grew, key=lambda key: -abs(now[key])))

    @property
    def lost_words(self):
        """Return these with how far off they are now."""
        misses = self.after.misses
        told = (f"{key} {printed_percent(100 * misses[key])}" for key in self.lost)
        return ", ".join(told)

    @property
    def cost_change(self):
        """Return what the batch costs more; None if a price is missing. [currency]

        Where the cost was to be least: more than with every ingredient within the same
        bands. Else more than the nearest recipe.
        """
        if self.objective == COST:
            return self.value - self.without
        was, now = self.before.cost, self.after.cost
        return None if None in (was, now) else now - was

    def __str__(self):
        was, now = (shown(v, self.objective) for v in (self.without, self.value))
        squares = " to ".join(shown(value, SUM) for value in self.squares)
        aside = "" if self.objective == COST else f" ({TRACES})"
        lines = [
            f"{WORDS[self.objective]}{aside}: {was} with every ingredient, {now} with these",
            f"weighted sum of squares: {squares}",
            f"further off than with every ingredient: {self.lost_words or 'none'}",
        ]
        if self.objective == COST:
            band = "within the same bands"
            lines[0] = (
                f"{WORDS[COST]}: {was} with every ingredient {band}, {now} with these"
            )
        if self.cost_change is not None:
            more = "more" if self.cost_change >= 0 else "less"
            lines.append(f"the batch costs {printed(abs(self.cost_change), 3)} {more}")
        return "\n".join(lines)


def shown(value, objective):
    """
    Return the value of an objective as text.

    Parameters
    ----------
    value : float
        Sum or worst of relative deviations, or a cost. [-]
    objective : str
        "sum", "worst" or "cost".

    Returns
    -------
    str
        The value; the worst deviation in percent.

    Examples
    --------
    >>> shown(0.025, "worst"), shown(0.025, "sum")
    ('2.50 %', '0.0250')
    """
    value = 0.0 if abs(value) < NONE else value
    if objective == WORST:
        return f"{printed(100 * value, 3)} %"
    return printed(value, 3)
