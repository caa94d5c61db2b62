"""Every error and warning that formulate raises on purpose, with what to do about it."""

from contextlib import contextmanager

__all__ = [
    "AmbiguousName",
    "Faults",
    "FormulaError",
    "FormulateError",
    "Infeasible",
    "InputError",
    "MissingData",
    "NoConvergence",
    "OutOfReach",
    "RangeWarning",
    "UnitError",
    "UnknownName",
    "shortened",
]


LONGEST_PLACE = 80


class FormulateError(Exception):
    """
    Anything formulate raises on purpose.

    Parameters
    ----------
    *faults : str
        What was found, what was expected, what to do; one text per fault.

    Attributes
    ----------
    faults : tuple of str
        The same texts, for a program that lists them.

    Examples
    --------
    >>> print(FormulateError("no water given", "no shelf given"))
    2 faults:
    - no water given
    - no shelf given
    """

    def __init__(self, *faults):
        self.faults = tuple(str(fault) for fault in faults)
        super().__init__(*self.faults)

    def __str__(self):
        if len(self.faults) == 1:
            return self.faults[0]
        lines = [
            f"{len(self.faults)} faults:",
            *(f"- {fault}" for fault in self.faults),
        ]
        return "\n".join(lines)


class InputError(FormulateError, ValueError):
    """What was given cannot be used; nothing was lost or guessed."""


class FormulaError(InputError):
    """
    A chemical formula that cannot be read, or not in one way only.

    Parameters
    ----------
    *faults : str
        What is wrong with the formula and what to write instead.
    text : str
        The formula as it was given.
    position : int or None
        Place of the fault, counted from 0. [-]
    suggestion : str or None
        The likely spelling, if one was found.
    """

    def __init__(self, *faults, text="", position=None, suggestion=None):
        super().__init__(*faults)
        self.text = text
        self.position = position
        self.suggestion = suggestion


class UnitError(InputError):
    """A unit that is not known, or not of the kind that is needed."""


class UnknownName(FormulateError, LookupError):
    """A name that stands in no table; the message lists the nearest ones."""


class AmbiguousName(UnknownName):
    """
    A name that means several things; the message lists them.

    Parameters
    ----------
    *faults : str
        What the name could mean.
    readings : tuple of str
        The names to choose from.
    """

    def __init__(self, *faults, readings=()):
        super().__init__(*faults)
        self.readings = tuple(readings)


class MissingData(FormulateError, LookupError):
    """A constant that no table holds; it is never silently replaced."""


class Infeasible(FormulateError, ValueError):
    """
    Requirements that cannot all hold.

    Parameters
    ----------
    *faults : str
        Which requirements, and why.
    requirements : tuple of str
        Their names.
    conflicts : tuple
        Each conflict with what would end it: rows and relaxations, see
        `recipes/relaxing.py`.
    ways : tuple of (str, mapping of str to float)
        Each way out in words, and the batch's amounts of the recipe then nearest. [g]
    """

    def __init__(self, *faults, requirements=(), conflicts=(), ways=()):
        super().__init__(*faults)
        self.requirements = tuple(requirements)
        self.conflicts = tuple(conflicts)
        self.ways = tuple(ways)


class OutOfReach(Infeasible):
    """A wanted pH that nothing at hand brings; the recipe without it stands."""


class NoConvergence(FormulateError, ArithmeticError):
    """
    A calculation whose result did not pass its own check.

    Parameters
    ----------
    *faults : str
        Which check failed and by how much.
    state : object
        The last state, for whoever looks into it.
    """

    def __init__(self, *faults, state=None):
        super().__init__(*faults)
        self.state = state


class RangeWarning(UserWarning):
    """A number from outside the range in which a formula was tested."""


class Faults:
    """
    Collect every fault of one input, then raise them together.

    Parameters
    ----------
    where : str
        What is being read; stands before each fault.

    Examples
    --------
    >>> faults = Faults("water")
    >>> faults.add("Ca: -3 mg/L is negative")
    >>> with faults.collecting("Mg"):
    ...     raise UnitError("unit 'mgl' is not known")
    >>> faults.raise_if_any()
    Traceback (most recent call last):
        ...
    formulate.errors.InputError: 2 faults:
    - water: Ca: -3 mg/L is negative
    - water: Mg: unit 'mgl' is not known
    """

    def __init__(self, where=""):
        self.where = where
        self.found = []
        self.errors = []

    def add(self, fault):
        """
        Note one fault.

        Parameters
        ----------
        fault : str
            What was found, what was expected, what to do.
        """
        self.found.append(f"{self.where}: {fault}" if self.where else str(fault))

    @contextmanager
    def collecting(self, where=""):
        """
        Note the faults of any formulate error raised inside, and go on.

        Parameters
        ----------
        where : str
            Which part of the input the block reads; a fault that begins with it is not told it twice.

        Yields
        ------
        Faults
            This collection.
        """
        try:
            yield self
        except FormulateError as error:
            self.errors.append(error)
            where = shortened(where, LONGEST_PLACE)[1:-1] if where else ""
            for fault in error.faults:
                told = not where or fault.startswith(where)
                self.add(fault if told else f"{where}: {fault}")

    def raise_if_any(self):
        """
        Raise all that was noted, if anything was.

        Raises
        ------
        InputError
            With every fault, in the order found; a lone error that needs no words around
            it keeps its own kind.
        """
        if len(self.errors) == 1 and list(self.errors[0].faults) == self.found:
            raise self.errors[0]
        if self.found:
            raise InputError(*self.found)


def shortened(text, longest=60):
    """
    Return a text cut to a length that fits an error message.

    Parameters
    ----------
    text : object
        Anything a user gave.
    longest : int
        Characters to keep. [-]

    Returns
    -------
    str
        The text in quotes, its middle replaced by dots where it was longer.

    Examples
    --------
    >>> shortened("x" * 100, longest=9)
    "'xxx...xxx'"
    """
    try:
        text = str(text)
    except ValueError:  # Python does not print whole numbers of thousands of digits
        text = "a number of thousands of digits"
    if len(text) > longest:
        half = max(longest - 3, 0) // 2
        text = (text[:half] + "..." + text[len(text) - half :])[: max(longest, 0)]
    return repr(text)
