"""Which rows of a recipe tell what is wanted, and which only hold it in bands."""

from formulate.recipes.requirement import WANTED

__all__ = ["NEAR", "WITHIN", "bound_rows", "is_ceiling", "own_rows"]

WITHIN = "within"  # origin of wishes that are held
NEAR = "near"  # origin of rows that hold amounts near others


def own_rows(requirements):
    """
    Return the rows of a recipe without the bands in which its wishes were held.

    Parameters
    ----------
    requirements : sequence of Requirement
        The rows of a recipe.

    Returns
    -------
    tuple of Requirement
        The rows; all of them if nothing else tells what is wanted.

    Examples
    --------
    >>> from formulate.recipes.requirement import Requirement
    >>> k = Requirement("K", (1.0,), 2.0, 2.0)
    >>> held = Requirement("K held", (1.0,), 1.9, 2.1, kind="hard", origin="within")
    >>> [row.name for row in own_rows([k, held])]
    ['K']
    """
    rest = tuple(row for row in requirements if row.origin not in (WITHIN, NEAR))
    has_wishes = any(row.kind == WANTED for row in rest)
    return rest if has_wishes else tuple(r for r in requirements if r.origin != NEAR)


def is_ceiling(row):
    """
    Return whether a wanted row only asks for little.

    Parameters
    ----------
    row : Requirement
        The row.

    Returns
    -------
    bool
        Whether it is a wanted 0, or what is kept low unasked.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.recipes.requirements import kept_low
    >>> is_ceiling(kept_low("Cl", 0.1, [salt("KCl")]))
    True
    """
    is_nothing = row.low == row.high == 0 and row.origin == "target"
    return is_nothing or row.origin == "kept low"


def bound_rows(requirements):
    """
    Return the wanted rows that count; a weight of 0 passes a wish over.

    Parameters
    ----------
    requirements : sequence of Requirement
        The rows of a recipe.

    Returns
    -------
    tuple of Requirement
        The rows.

    Examples
    --------
    >>> from formulate.recipes.requirement import Requirement
    >>> bound_rows([Requirement("K", (1.0,), 2.0, 2.0, weight=0.0)])
    ()
    """
    rows = own_rows(requirements)
    return tuple(row for row in rows if row.kind == WANTED and row.weight > 0)
