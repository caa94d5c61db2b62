"""What is said of two ingredients in one stock, and of a shelf of them."""

from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

from formulate.errors import UnknownName, shortened
from formulate.mixing.pair_grounds import WORDS
from formulate.working import Shown

__all__ = ["CompatibilityTable", "PairVerdict"]


@dataclass(frozen=True, eq=False)
class PairVerdict(Shown):
    """
    How two ingredients keep together in one concentrated stock.

    Attributes
    ----------
    first : str
        Name of one ingredient.
    second : str
        Name of the other.
    word : str
        "compatible", "less soluble", "caution", "incompatible" or "dangerous".
    grounds : tuple of Ground
        What it rests on, the gravest first.
    strength : float
        Final volumes that one volume of stock makes. [-]
    temperature : float
        Temperature. [°C]
    grams : tuple of float
        Of each in a litre of working solution; none of what is no ingredient. [g/L]
    ph : float or None
        pH of the stock; None if it was not computed. [-]
    nearest : str
        The solid nearest to falling out of the stock, with its index.
    working : str
        "clear" or "not clear" at working strength; "" if it was not computed.
    working_because : str
        Why, in a sentence.
    notices : tuple of Notice
        What else to know.
    """

    first: str
    second: str
    word: str
    grounds: tuple
    strength: float
    temperature: float
    grams: tuple = ()
    ph: float | None = None
    nearest: str = ""
    working: str = ""
    working_because: str = ""
    notices: tuple = ()

    @property
    def reasons(self):
        """Return a sentence with source for each ground, the gravest first."""
        return tuple(str(ground) for ground in self.grounds)

    @property
    def because(self):
        """Return the reasons in one line."""
        if self.grounds:
            return "; ".join(ground.text for ground in self.grounds)
        return f"nothing speaks against it{f'; {self.nearest}' if self.nearest else ''}"

    @property
    def numbers(self):
        """Return solid, salt, gas or chelate to the number it was judged by. [-]"""
        pairs = ((g.what, g.number) for g in self.grounds if g.number is not None)
        return MappingProxyType(dict(pairs))

    @property
    def may_share(self):
        """Return whether the two may stand in one tank, with the condition told."""
        return WORDS.index(self.word) <= WORDS.index("caution")

    def to_frame(self):
        """
        Return the grounds as a table.

        Returns
        -------
        pandas.DataFrame
            One row for each ground: word, what, number, text, source. [-]

        Examples
        --------
        >>> from formulate.mixing.compatibility import pair_verdict
        >>> pair_verdict("CaCl2·2H2O", "MgSO4·7H2O").to_frame()["what"][0]
        'gypsum'
        """
        import pandas

        columns = ["word", "what", "number", "text", "source_key"]
        rows = [[getattr(ground, c) for c in columns] for ground in self.grounds]
        return pandas.DataFrame(rows, columns=columns)

    def __str__(self):
        head = f"{self.first} with {self.second}: {self.word}"
        lines = [f"{head} at 1:{self.strength:g} and {self.temperature:g} °C"]
        lines += [f"  {ground.text}" for ground in self.grounds] or [
            f"  {self.because}"
        ]
        if self.working:
            lines.append(
                f"  at working strength {self.working}: {self.working_because}"
            )
        return "\n".join([*lines, *(f"  {notice}" for notice in self.notices)])


@dataclass(frozen=True, eq=False)
class CompatibilityTable(Shown):
    """
    How the ingredients of a shelf keep together, each with each.

    Attributes
    ----------
    names : tuple of str
        The ingredients.
    verdicts : tuple of PairVerdict
        One for each pair, in the order of the names.
    strength : float
        Final volumes that one volume of stock makes. [-]
    temperature : float
        Temperature. [°C]
    notices : tuple of Notice
        What to know of the whole.
    """

    names: tuple
    verdicts: tuple
    strength: float
    temperature: float
    notices: tuple = ()

    @cached_property
    def _by_names(self):
        return {frozenset((v.first, v.second)): v for v in self.verdicts}

    def verdict(self, first, second):
        """
        Return the verdict on two ingredients.

        Parameters
        ----------
        first : str
            Name of one ingredient.
        second : str
            Name of the other.

        Returns
        -------
        PairVerdict
            The verdict with its reasons.

        Raises
        ------
        UnknownName
            If the table has no such pair.

        Examples
        --------
        >>> from formulate.mixing.compatibility import compatibility_table
        >>> shelf = compatibility_table(["CaCl2·2H2O", "MgSO4·7H2O", "KNO3"])
        >>> shelf.verdict("KNO3", "CaCl2·2H2O").word
        'compatible'
        """
        names = [getattr(thing, "name", thing) for thing in (first, second)]
        found = self._by_names.get(frozenset(map(str, names)))
        if found is None:
            what = (
                f"{shortened(names[0])} with {shortened(names[1])} is not in the table"
            )
            raise UnknownName(f"{what}; it has {', '.join(self.names)}")
        return found

    def rows(self):
        """
        Return the words as a square: a row for each ingredient, in the order of the names.

        Returns
        -------
        tuple of tuple of str
            Words; nothing where an ingredient meets itself.

        Examples
        --------
        >>> from formulate.mixing.compatibility import compatibility_table
        >>> compatibility_table(["CaCl2·2H2O", "MgSO4·7H2O"]).rows()
        (('', 'incompatible'), ('incompatible', ''))
        """
        return tuple(
            tuple("" if a == b else self.verdict(a, b).word for b in self.names)
            for a in self.names
        )

    def reasons(self):
        """
        Return why, for each pair that is not simply compatible, the gravest first.

        Returns
        -------
        tuple of (str, str, str, str)
            The two names, the word, the reasons.

        Examples
        --------
        >>> from formulate.mixing.compatibility import compatibility_table
        >>> compatibility_table(["CaCl2·2H2O", "MgSO4·7H2O"]).reasons()[0][2]
        'incompatible'
        """
        found = [v for v in self.verdicts if v.grounds]
        found.sort(key=lambda verdict: -WORDS.index(verdict.word))
        return tuple((v.first, v.second, v.word, v.because) for v in found)

    def to_frame(self):
        """
        Return the words as a table with the names on both sides.

        Returns
        -------
        pandas.DataFrame
            Words; nothing where an ingredient meets itself.

        Examples
        --------
        >>> from formulate.mixing.compatibility import compatibility_table
        >>> table = compatibility_table(["CaCl2·2H2O", "MgSO4·7H2O"]).to_frame()
        >>> table.loc["CaCl2·2H2O", "MgSO4·7H2O"]
        'incompatible'
        """
        import pandas

        names = list(self.names)
        return pandas.DataFrame(list(self.rows()), index=names, columns=names)

    def __str__(self):
        head = (
            f"together in one stock at 1:{self.strength:g} and {self.temperature:g} °C"
        )
        width = max(len(name) for name in self.names)
        words = max(len(word) for word in WORDS)
        lines = [head]
        for place, (name, row) in enumerate(zip(self.names, self.rows(), strict=True)):
            cells = "  ".join(f"{word:{words}}" for word in row[:place])
            lines.append(f"{place + 1:>3} {name:{width}}  {cells}".rstrip())
        numbers = "  ".join(f"{n:<{words}}" for n in range(1, len(self.names)))
        lines.append(f"    {'':{width}}  {numbers}".rstrip())
        return "\n".join([*lines, *map(str, self.notices)])
