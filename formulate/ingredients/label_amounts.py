"""What a label gives, counted form by form, and how far rounding may move it."""

from dataclasses import dataclass, field

from formulate.notices import Notice
from formulate.stoichiometry.nutrients import nutrient

__all__ = [
    "LEGAL_FACTORS",
    "SAME",
    "UNCLEAR_CARBON",
    "WHOLE",
    "Shares",
    "form_amount",
    "form_of",
    "rounding",
]

LEGAL_FACTORS = 0.004  # printed oxides follow rounded legal factors: 0.4 for S from SO3
WHOLE = ("total", "available", "part", "combined")
MILLI = 1000.0
UNCLEAR_CARBON = "C"  # on a label it is organic carbon as a rule, which no form counts
SAME = 1e-9


@dataclass
class Shares:
    """
    What a label gives, counted form by form.

    Attributes
    ----------
    percents : dict of str to float
        Nutrient key to share; one form a key. [%]
    entries : dict of str to LabelEntry
        Nutrient key to the entry it comes from.
    wholes : dict of str to LabelEntry
        Element to the entry that counts for it.
    assumed : list of str
        What was assumed.
    notices : list of Notice
        What to know.
    open_nitrogen : float
        Nitrogen whose form is not known. [%]
    """

    percents: dict = field(default_factory=dict)
    entries: dict = field(default_factory=dict)
    wholes: dict = field(default_factory=dict)
    assumed: list = field(default_factory=list)
    notices: list = field(default_factory=list)
    open_nitrogen: float = 0.0

    def count(self, key, percent, entry):
        """
        Add a share of one form.

        Parameters
        ----------
        key : str
            Nutrient key of one form.
        percent : float
            Its share. [%]
        entry : LabelEntry
            Where it stands.

        Examples
        --------
        >>> shares = Shares()
        >>> shares.count("K2O", 20.0, None)
        >>> shares.percents
        {'K2O': 20.0}
        """
        if percent > SAME:
            self.percents[key] = self.percents.get(key, 0.0) + percent
            self.entries.setdefault(key, entry)

    def note(self, what, severity="note", number=None, limit=None):
        """
        Add a notice.

        Parameters
        ----------
        what : str
            What is the case.
        severity : str
            "note", "caution" or "serious".
        number : float or None
            The value it is about. [-]
        limit : float or None
            What it was held against. [-]

        Examples
        --------
        >>> shares = Shares()
        >>> shares.note("look at it", "caution")
        >>> shares.notices[0].severity
        'caution'
        """
        self.notices.append(Notice(what, severity, number, limit))


def form_amount(entry, percent=None):
    """
    Return the amount of the form that an entry counts.

    Parameters
    ----------
    entry : LabelEntry
        A share of one nutrient.
    percent : float or None
        Another share of the same; its own if None. [%]

    Returns
    -------
    float
        Amount in 100 g. [mmol]

    Examples
    --------
    >>> from formulate.ingredients.label_text import LabelEntry
    >>> round(form_amount(LabelEntry(1, "potash", "K2O", 9.42)), 1)
    200.0
    """
    return form_of(entry.key, entry.percent if percent is None else percent)[1]


def form_of(key, percent):
    """
    Return the form that a share counts, and how much of it.

    Parameters
    ----------
    key : str
        Nutrient key of one form.
    percent : float
        Its share. [%]

    Returns
    -------
    form : str
        Name of the form.
    amount : float
        Amount in 100 g. [mmol]

    Examples
    --------
    >>> name, amount = form_of("K2O", 9.42)
    >>> name, round(amount, 1)
    ('potassium', 200.0)
    """
    known = nutrient(key)
    name, weight = next(iter(known.weights.items()))
    return name, percent / known.molar_mass / weight * MILLI


def rounding(*entries):
    """
    Return how far rounding may move the amounts of entries apart.

    Parameters
    ----------
    *entries : LabelEntry
        Shares that are held against each other.

    Returns
    -------
    float
        Amount in 100 g. [mmol]

    Examples
    --------
    >>> from formulate.ingredients.label_text import LabelEntry
    >>> round(rounding(LabelEntry(1, "potash", "K2O", 9.4, half_digit=0.05)), 2)
    1.06
    """
    spread = sum(form_amount(entry, entry.half_digit) for entry in entries)
    return spread * (1 + SAME) + SAME
