"""What of the bench is open: all of it, what a door leads to, a step of the tour.

A view is never part of a job: it says what is looked at, not what is worked out.
"""

from dataclasses import dataclass, replace
from functools import cache

from formulate.errors import InputError, shortened
from formulate.tables import read_table
from formulate.workbench.findings import PARTS

__all__ = ["ALL", "Door", "View", "doors", "tour"]

ALL = "all"  # the door to every part


@dataclass(frozen=True)
class Door:
    """
    What somebody comes for.

    Attributes
    ----------
    title : str
        What they say of themselves.
    words : str
        What they find.
    parts : tuple of str
        Parts that are opened.
    first : str
        The part they begin at.
    """

    title: str
    words: str
    parts: tuple
    first: str


@cache
def doors():
    """
    Return the doors.

    Returns
    -------
    mapping of str to Door
        The doors, as they stand in their table.

    Examples
    --------
    >>> list(doors())
    ['grower', 'checker', 'teacher']
    >>> doors()["checker"].parts
    ('claims', 'shelf')
    """
    return {
        row["door"]: Door(
            row["title"], row["words"], tuple(row["parts"].split("|")), row["first"]
        )
        for row in read_table("doors")
    }


@cache
def tour():
    """
    Return the steps of the tour.

    Returns
    -------
    tuple of (str, str)
        Part and words of each step.

    Examples
    --------
    >>> tour()[0][0]
    'water'
    """
    return tuple((row["part"], row["words"]) for row in read_table("tour"))


@dataclass(frozen=True)
class View:
    """
    What of the bench is open.

    Attributes
    ----------
    opened : frozenset of str
        Parts that are open; what is folded is neither worked out nor drawn.
    door : str
        The door that was taken, "all" for every part; empty before one is.
    step : int
        Step of the tour, from 1; 0 where there is none. [-]

    Examples
    --------
    >>> sorted(View().through("checker").opened)
    ['claims', 'shelf']
    """

    opened: frozenset = frozenset(PARTS)
    door: str = ""
    step: int = 0

    def through(self, door):
        """
        Return the view through a door.

        Parameters
        ----------
        door : str
            "grower", "checker", "teacher", or "all" for every part.

        Returns
        -------
        View
            The view; a tour goes on.

        Raises
        ------
        InputError
            If there is no such door.

        Examples
        --------
        >>> View().through("all").opened == View().opened
        True
        """
        if door != ALL and door not in doors():
            known = ", ".join((*doors(), ALL))
            raise InputError(f"{shortened(door)}: no such door; there are {known}")
        parts = PARTS if door == ALL else doors()[door].parts
        return replace(self, opened=frozenset(parts), door=door)

    def with_part(self, part):
        """
        Return the view with one part open.

        Parameters
        ----------
        part : str
            The part.

        Returns
        -------
        View
            The view.

        Raises
        ------
        InputError
            If there is no such part.

        Examples
        --------
        >>> "mixing" in View().through("checker").with_part("mixing").opened
        True
        """
        if part not in PARTS:
            known = ", ".join(PARTS)
            raise InputError(f"{shortened(part)}: no such part; there are {known}")
        return replace(self, opened=self.opened | {part})

    def without_part(self, part):
        """
        Return the view with one part folded.

        Parameters
        ----------
        part : str
            The part.

        Returns
        -------
        View
            The view.

        Examples
        --------
        >>> "mixing" in View().without_part("mixing").opened
        False
        """
        return replace(self, opened=self.opened - {part})

    def at_step(self, step):
        """
        Return the view at a step of the tour, its part open; beyond the last none.

        Parameters
        ----------
        step : int
            The step, from 1; 0 leaves the tour. [-]

        Returns
        -------
        View
            The view.

        Examples
        --------
        >>> View().without_part("water").at_step(1).part
        'water'
        >>> View().at_step(99).step
        0
        """
        if not 1 <= step <= len(tour()):
            return replace(self, step=0)
        return replace(self.with_part(tour()[step - 1][0]), step=step)

    @property
    def part(self):
        """Return the part that the tour is at, or an empty text."""
        return tour()[self.step - 1][0] if self.step else ""
