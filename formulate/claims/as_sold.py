"""What materials hold as they are sold: trade grades, which differ from the pure compound."""

from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from formulate.ingredients.label_words import family
from formulate.ingredients.salts import catalogue
from formulate.tables import read_table

__all__ = ["SoldGrade", "grades_as_sold"]


@dataclass(frozen=True)
class SoldGrade:
    """
    One grade of a material, as bags tell it.

    Attributes
    ----------
    material : str
        Name in the catalogue.
    grade : str
        What tells it from other grades of the material.
    ranges : mapping of str to tuple
        Nutrient key to the least and the greatest share. [%]
    source_key : str
        Where the ranges come from.
    """

    material: str
    grade: str
    ranges: MappingProxyType
    source_key: str

    def range_of(self, key):
        """
        Return between which shares a nutrient lies, on whichever basis it is asked.

        Parameters
        ----------
        key : str
            Nutrient key.

        Returns
        -------
        tuple of float or None
            The least and the greatest share; None if the grade does not tell. [%]

        Examples
        --------
        >>> bag = grades_as_sold()[0]
        >>> [round(share, 1) for share in bag.range_of("CaO")], bag.range_of("K2O")
        ([25.9, 26.6], None)
        """
        if key in self.ranges:
            return self.ranges[key]
        for known, ends in self.ranges.items():
            if family(known) == family(key) != "N":
                made = catalogue()[self.material]
                factor = made.percent(key) / made.percent(known)
                return tuple(end * factor for end in ends)
        return None

    def __str__(self):
        told = (
            f"{key} {least:g} to {most:g} %"
            for key, (least, most) in self.ranges.items()
        )
        return f"as sold ({', '.join(told)})"


@cache
def grades_as_sold():
    """
    Return every grade that the table as_sold knows.

    Returns
    -------
    tuple of SoldGrade
        In the order of the table.

    Examples
    --------
    >>> str(next(g for g in grades_as_sold() if g.material == "potassium chloride"))
    'as sold (K2O 60 to 62.5 %, Cl 45 to 47.5 %)'
    """
    ranges, keys = {}, {}
    for row in read_table("as_sold"):
        name = (row["material"], row["grade"])
        ends = (row.number("least"), row.number("most"))
        ranges.setdefault(name, {})[row["key"]] = ends
        keys.setdefault(name, row["source_key"])
    return tuple(
        SoldGrade(*name, MappingProxyType(found), keys[name])
        for name, found in ranges.items()
    )
