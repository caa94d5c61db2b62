"""What is asked of all blends that fit: shares, ions, nutrients, the charge left over."""

from dataclasses import dataclass

import numpy as np

from formulate.claims.blend_ranges import WHOLE
from formulate.stoichiometry.nutrients import form, form_names, nutrient
from formulate.working import Shown, printed

__all__ = ["BlendRange", "BlendSum", "forms_held", "materials_of", "sums_asked"]

ROUND_OFF = 1e-12


@dataclass(frozen=True, eq=False)
class BlendRange(Shown):
    """
    Between what one sum lies over all blends that fit.

    Attributes
    ----------
    what : str
        Nutrient key, name of a source or material, "filler" or "unassigned charge".
    kind : str
        "ion", "nutrient", "source", "material", "filler" or "charge".
    low : float
        Least, in `unit`. [-]
    high : float
        Greatest, in `unit`. [-]
    unit : str
        "%", "g" or "meq", each in 100 g of product.
    told : bool
        Whether the label gives it.
    """

    what: str
    kind: str
    low: float
    high: float
    unit: str
    told: bool = False

    @property
    def row(self):
        """Return what, least, greatest, unit and whether the label tells it."""
        return (self.what, self.low, self.high, self.unit, self.told)

    def __str__(self):
        per = "%" if self.unit == "%" else f"{self.unit} in 100 g"
        ends = (printed(self.low), printed(self.high))
        span = ends[0] if ends[0] == ends[1] else " to ".join(ends)
        return f"{self.what} {span} {per}"


@dataclass(frozen=True, eq=False)
class BlendSum:
    """
    One sum over the materials of a blend.

    Attributes
    ----------
    what : str
        As in `BlendRange`.
    kind : str
        As in `BlendRange`.
    unit : str
        As in `BlendRange`.
    coefficients : array, shape (n,)
        What one gram of each material adds. [-]
    told : bool
        Whether the label gives it.
    constant : float
        What is there without any of them. [-]
    """

    what: str
    kind: str
    unit: str
    coefficients: np.ndarray
    told: bool = False
    constant: float = 0.0

    def over(self, ends):
        """
        Return its range, from the blends where it is least and greatest.

        Parameters
        ----------
        ends : array, shape (2, n)
            The two blends. [g]

        Returns
        -------
        BlendRange
            Least and greatest.

        Examples
        --------
        >>> potash = BlendSum("K2O", "nutrient", "%", np.array([0.5]))
        >>> print(potash.over(np.array([[60.0], [80.0]])))
        K2O 30.00 to 40.00 %
        """
        ends = self.constant + ends @ self.coefficients
        low, high = np.where(np.abs(ends) > ROUND_OFF, ends, 0.0).tolist()
        facts = (low, high, self.unit, self.told)
        return BlendRange(self.what, self.kind, *facts)


def sums_asked(sources, guarantees):
    """
    Return everything whose least and greatest are sought.

    Parameters
    ----------
    sources : sequence of NamedSource
        The sources.
    guarantees : sequence of Guarantee
        What the label tells.

    Returns
    -------
    tuple of BlendSum
        Shares of sources and of the materials they may be, filler, ions, nutrients, charge.

    Examples
    --------
    >>> from formulate.claims.named_sources import named_sources
    >>> from formulate.errors import Faults
    >>> [s.what for s in sums_asked(named_sources("KNO3", Faults()), ())]
    ['KNO3', 'filler', 'NO3', 'K', 'N']
    """
    materials = materials_of(sources)
    charge = np.array([m.unassigned_charge for m in materials])
    left = BlendSum("unassigned charge", "charge", "meq", charge)
    return (
        *_shares(sources, materials),
        *_contents(materials, guarantees),
        *([left] if charge.any() else []),
    )


def _shares(sources, materials):
    """Yield the share of each source, of what it may be, and of the rest."""
    columns, place = np.eye(len(materials)), 0
    for source in sources:
        mine = range(place, place := place + len(source.materials))
        yield BlendSum(source.name, "source", "g", columns[mine].sum(axis=0))
        for each in mine if len(mine) > 1 else ():
            yield BlendSum(materials[each].name, "material", "g", columns[each])
    yield BlendSum("filler", "filler", "g", -columns.sum(axis=0), constant=WHOLE)


def _contents(materials, guarantees):
    """Yield each ion and each guaranteed nutrient that is no single ion."""
    held = forms_held(materials)
    told = {_counted(g.key, held) for g in guarantees}
    symbols = [form(name).symbol for name in held]
    others = dict.fromkeys(["N", *(g.key for g in guarantees)])
    keys = [(key, "ion") for key in symbols]
    keys += [(key, "nutrient") for key in others if key not in symbols]
    for key, kind in keys:
        shares = np.array([m.percent(key) for m in materials]) / WHOLE
        yield BlendSum(key, kind, "%", shares, _counted(key, held) in told)


def _counted(key, held):
    """Return the forms of a nutrient that the materials hold."""
    return tuple(name for name in nutrient(key).weights if name in held)


def materials_of(sources):
    """
    Return every material that a source may be.

    Parameters
    ----------
    sources : sequence of NamedSource
        The sources.

    Returns
    -------
    tuple of Ingredient
        One for each column of the blends.

    Examples
    --------
    >>> from formulate.claims.named_sources import named_sources
    >>> from formulate.errors import Faults
    >>> len(materials_of(named_sources("KNO3, magnesium nitrate", Faults())))
    3
    """
    return tuple(m for source in sources for m in source.materials)


def forms_held(materials):
    """
    Return the forms that materials hold.

    Parameters
    ----------
    materials : sequence of Ingredient
        The materials.

    Returns
    -------
    tuple of str
        Names of forms, in the order of the table.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> forms_held([salt("KNO3")])
    ('nitrate', 'potassium')
    """
    held = {name for m in materials for name, amount in m.forms.items() if amount}
    return tuple(name for name in form_names() if name in held)
