"""The arithmetic of one mixture: a nutrient in it, its pH, its EC, an index."""

from dataclasses import dataclass
from types import SimpleNamespace

from formulate.recipes.recipe_working import recipe_working
from formulate.stoichiometry.nutrients import nutrient
from formulate.working import Quantity, Step, Working

__all__ = ["Mixture", "factor_step", "mixture_working", "sum_of", "titled"]


@dataclass(frozen=True, eq=False)
class Mixture:
    """
    What is dosed into a volume of water, as far as its arithmetic needs it.

    Attributes
    ----------
    amounts : tuple of (Ingredient, float)
        What goes in. [g]
    water : Water
        The water.
    volume : float
        Volume. [L]
    """

    amounts: tuple
    water: object
    volume: float = 1.0

    @property
    def target(self):
        """Return a target that wants nothing."""
        return SimpleNamespace(wanted={})


def mixture_working(mixture, key, title):
    """
    Return the working of a nutrient in a mixture.

    Parameters
    ----------
    mixture : Mixture
        What is dosed into a volume of water.
    key : str
        Nutrient key.
    title : str
        What it is about.

    Returns
    -------
    Working
        What the water brings and what each ingredient does, and the sum.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.ingredients.water import water
    >>> made = Mixture(((salt("KNO3"), 5.0),), water("pure"), 10.0)
    >>> round(mixture_working(made, "K", "K").value, 1)
    193.4
    """
    return Working(title, recipe_working(mixture, nutrient(key)).steps)


def titled(state, what, title):
    """
    Return the working of one number of a state, under a title of its own.

    Parameters
    ----------
    state : Speciation
        The state.
    what : str
        "pH", "EC" or the name of a solid.
    title : str
        What it is about.

    Returns
    -------
    Working
        The working.

    Examples
    --------
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> titled(speciate(solution({"K": 1.0, "Cl": 1.0})), "pH", "pH of a feed").title
    'pH of a feed'
    """
    return Working(title, state.working(what).steps)


def sum_of(text, steps, unit, source_key=""):
    """
    Return the line that adds up what other lines give.

    Parameters
    ----------
    text : str
        What it is.
    steps : sequence of Step
        The lines.
    unit : str
        Unit of the sum.
    source_key : str
        Where it comes from.

    Returns
    -------
    Step
        The line.

    Examples
    --------
    >>> one = Step("water", (Quantity(7.5, "L"),), "L")
    >>> print(sum_of("both", [one, one], "L"))
    both: 7.5 L + 7.5 L = 15.000 L
    """
    terms = [term for step in steps for term in ("+", Quantity(step.value, unit))]
    return Step(text, tuple(terms[1:]) or (Quantity(0.0, unit),), unit, source_key)


def factor_step(claimed, computed, unit):
    """
    Return the line of what a computed value must be multiplied by to be the printed one.

    Parameters
    ----------
    claimed : float
        What is printed, in `unit`. [-]
    computed : float
        What was computed, in `unit`. [-]
    unit : str
        Their unit.

    Returns
    -------
    Step
        The line.

    Examples
    --------
    >>> print(factor_step(120.0, 100.0, "mg/L"))
    times this factor it is what is printed: 100 mg/L × 1.2 = 120.00 mg/L
    """
    terms = (Quantity(computed, unit), "×", Quantity(claimed / computed))
    return Step("times this factor it is what is printed", terms, unit)
