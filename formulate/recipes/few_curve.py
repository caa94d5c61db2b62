"""What one bag less costs: the best recipe of every number of ingredients."""

from dataclasses import dataclass

from formulate.errors import Faults, Infeasible
from formulate.recipes.aims import check_recipe, checked_most
from formulate.recipes.few_bags import few_bags
from formulate.recipes.few_choice import COST
from formulate.recipes.few_price import TRACES, WORDS, shown
from formulate.working import Shown

__all__ = ["FewCurve", "few_curve"]


@dataclass(frozen=True, eq=False)
class FewCurve(Shown):
    """
    The best recipe of each number of ingredients, from one up.

    Attributes
    ----------
    objective : str
        What was to be least: "sum", "worst" or "cost".
    points : tuple of FewBags or None
        The best of one ingredient, of two at most, and so on; None where so few cannot hold
        what must.
    """

    objective: str
    points: tuple

    def rows(self):
        """
        Return what each number of ingredients comes to, the most first.

        Returns
        -------
        tuple of tuple
            (how many at most, value or None, whether it is proven, names taken, names that
            the next larger number takes and this does not, wanted keys whose miss grew by
            more than 1 % of what is wanted, the worst first). [-]

        Examples
        --------
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> recipe = solve(target({"K": 200, "P": 30}), ["KCl", "KH2PO4"], volume=10)
        >>> [(row[0], round(row[1], 3), row[4]) for row in few_curve(recipe).rows()]
        [(2, 0.21, ()), (1, 0.811, ('KCl',))]
        """
        found, above = [], ()
        for most in range(len(self.points), 0, -1):
            few = self.points[most - 1]
            if few is None:
                found.append((most, None, True, (), (), ()))
                continue
            gone = tuple(name for name in above if name not in few.chosen)
            facts = (few.value, few.proven, few.chosen, gone, few.price.lost)
            found.append((most, *facts))
            above = few.chosen
        return tuple(found)

    @property
    def notices(self):
        """Return what to know about the choices that are not proven."""
        known = [few for few in self.points if few is not None]
        told = [notice for few in known for notice in few.told]
        return tuple(dict.fromkeys(n for n in told if n.severity != "note"))

    def to_frame(self):
        """
        Return what each number of ingredients comes to as a table.

        Returns
        -------
        pandas.DataFrame
            One row for each number; columns "value", "proven", "taken", "left out" against
            the row above, "missed". [-]

        Examples
        --------
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> recipe = solve(target({"K": 200, "P": 30}), ["KCl", "KH2PO4"], volume=10)
        >>> few_curve(recipe).to_frame().loc[1, "taken"]
        'KH2PO4'
        """
        import pandas

        columns = ["value", "proven", "taken", "left out", "missed"]
        rows = {
            most: (value, proven, *(", ".join(names) for names in lists))
            for most, value, proven, *lists in self.rows()
        }
        return pandas.DataFrame.from_dict(rows, orient="index", columns=columns)

    def __str__(self):
        lines = [f"{WORDS[self.objective]}, of so many ingredients at most"]
        lines += [] if self.objective == COST else [TRACES]
        for most, value, proven, names, gone, lost in self.rows():
            if value is None:
                lines.append(f"{most:>3} {'none':>9}  so few cannot hold what must")
                continue
            words = f"without {', '.join(gone)}" if gone else ", ".join(names)
            words_of = self.points[most - 1].price.lost_words
            missed = f"; missed: {words_of}" if lost else ""
            sure = "" if proven else "; not proven"
            has = shown(value, self.objective)
            lines.append(f"{most:>3} {has:>9}  {words}{missed}{sure}")
        return "\n".join([*lines, *map(str, self.notices)])


def few_curve(recipe, *, most=None, objective="sum", within=None, time_limit=None):
    """
    Return the best recipe of one ingredient, of two at most, and so on.

    Parameters
    ----------
    recipe : Recipe
        The recipe with the whole shelf.
    most : int or None
        The greatest number; None for as many as the recipe uses. [-]
    objective : str
        What is least, as in `few_bags`.
    within : float or None
        As in `few_bags`. [-]
    time_limit : float or None
        How long the search of each number may take. [s]

    Returns
    -------
    FewCurve
        The recipes.

    Raises
    ------
    InputError
        With every fault of what was asked.

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> feed = target({"NO3-N": 210, "K": 235, "P": 31})
    >>> recipe = solve(feed, ["KNO3", "Ca(NO3)2·4H2O", "KH2PO4"], volume=100)
    >>> print(few_curve(recipe))
    least sum of deviations, of so many ingredients at most
    macronutrients first: a trace counts a twentieth
      3         0  KNO3, Ca(NO3)2·4H2O, KH2PO4
      2     0.666  without Ca(NO3)2·4H2O; missed: NO3-N -57.1 %, K +22.9 %, P -3.8 %
      1      1.60  without KH2PO4; missed: P -100.0 %, NO3-N -51.6 %, K +20.7 %
    """
    check_recipe(recipe, "few_curve")
    faults, used = Faults(), max(len(recipe.amounts), 1)
    with faults.collecting():
        used = used if most is None else checked_most(most)
    faults.raise_if_any()
    facts = {"objective": objective, "within": within, "time_limit": time_limit}
    points = []
    for number in range(1, used + 1):
        try:
            points.append(few_bags(recipe, most=number, **facts))
        except Infeasible:
            points.append(None)
    return FewCurve(objective, tuple(points))
