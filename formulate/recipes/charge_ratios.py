"""How the ions of a solution or a target share its charge: percent of cations and of anions."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from formulate.errors import InputError, shortened
from formulate.notices import Notice
from formulate.recipes.target import Target
from formulate.stoichiometry.charge import nominal_charge
from formulate.stoichiometry.nutrients import form, form_names, nutrient
from formulate.stoichiometry.solution import Solution
from formulate.working import Shown, printed

__all__ = ["ChargeRatios", "is_trace", "ratios_of"]

TRACES = ("micro", "chelate")
NITROGEN = ("nitrate", "nitrite", "ammonium", "urea")
TOLD = 0.005  # meq/L: less is nothing that two decimals show


@dataclass(frozen=True, eq=False)
class ChargeRatios(Shown):
    """
    The ions of a solution, each as a percentage of its side's charge.

    Attributes
    ----------
    name : str
        Of what.
    cations : mapping of str to float
        Cation to equivalents. [meq/L]
    anions : mapping of str to float
        Anion to equivalents, without sign; phosphate counts as H2PO4. [meq/L]
    unassigned_charge : float
        Equivalents of unnamed ions, with their sign; 0 of a target. [meq/L]
    notices : tuple of Notice
        What was left out.
    """

    name: str
    cations: Mapping
    anions: Mapping
    unassigned_charge: float = 0.0
    notices: tuple = ()

    def __post_init__(self):
        object.__setattr__(self, "cations", MappingProxyType(dict(self.cations)))
        object.__setattr__(self, "anions", MappingProxyType(dict(self.anions)))

    @property
    def cation_sum(self):
        """Return the sum of the cations. [meq/L]"""
        return sum(self.cations.values())

    @property
    def anion_sum(self):
        """Return the sum of the anions, without sign. [meq/L]"""
        return sum(self.anions.values())

    @property
    def apart(self):
        """Return how far the cations exceed the anions. [meq/L]"""
        return self.cation_sum - self.anion_sum

    @property
    def apart_percent(self):
        """Return how far they are apart, of both together. [%]"""
        both = self.cation_sum + self.anion_sum
        return 100 * self.apart / both if both else 0.0

    @property
    def ion_sum(self):
        """Return the sum of all ions named here, as osmotic totals count them. [mmol/L]"""
        return sum(row[4] for row in self.rows())

    def percent(self, ion):
        """
        Return the share of one ion in the charge of its side.

        Equation [definition]::

            percent = 100 z c / Σ z c of its side

        Parameters
        ----------
        ion : str
            Any key of it, such as "K" or "nitrate".

        Returns
        -------
        float
            Percent of the meq of the cations, or of the anions; 0 if it is not there. [%]

        Examples
        --------
        >>> from formulate.stoichiometry.solution import solution
        >>> ratios_of(solution({"K": 1.0, "Ca": 2.0, "NO3": 5.0})).percent("K")
        20.0
        """
        key = _ion_key(next(iter(nutrient(ion).weights)))
        return next((row[3] for row in self.rows() if row[1] == key), 0.0)

    def rows(self):
        """
        Return what is shown of each ion: its side, key, meq/L, percent and mmol/L.

        Returns
        -------
        tuple of tuple
            ("cations" or "anions", ion, meq/L, percent of its side, mmol/L). [meq/L]

        Examples
        --------
        >>> from formulate.stoichiometry.solution import solution
        >>> ratios_of(solution({"Ca": 2.0, "NO3": 4.0})).rows()[0]
        ('cations', 'Ca', 4.0, 100.0, 2.0)
        """
        rows = []
        for side, ions in (("cations", self.cations), ("anions", self.anions)):
            total = sum(ions.values())
            for key, meq in ions.items():
                charge = abs(form(next(iter(nutrient(key).weights))).nominal_charge)
                share = 100 * meq / total if total else 0.0
                rows.append((side, key, meq, share, meq / charge))
        return tuple(rows)

    def to_frame(self):
        """
        Return the ions as a table.

        Returns
        -------
        pandas.DataFrame
            One row per ion; columns "side", "meq/L", "% of side", "mmol/L". [meq/L]

        Examples
        --------
        >>> from formulate.stoichiometry.solution import solution
        >>> ratios_of(solution({"K": 1.0, "NO3": 1.0})).to_frame()["% of side"].to_dict()
        {'K': 100.0, 'NO3': 100.0}
        """
        import pandas

        return pandas.DataFrame(
            [(row[0], *row[2:]) for row in self.rows()],
            index=[row[1] for row in self.rows()],
            columns=["side", "meq/L", "% of side", "mmol/L"],
        )

    def __str__(self):
        lines = [f"{self.name}: percent of meq" if self.name else "percent of meq"]
        for side, total in (("cations", self.cation_sum), ("anions", self.anion_sum)):
            ions = [row for row in self.rows() if row[0] == side]
            keys = ":".join(row[1] for row in ions) or "none"
            shares = " : ".join(f"{row[3]:.1f}" for row in ions)
            told = f"{keys} = {shares} %" if ions else "none"
            lines.append(f"  {side:<8}{printed(total):>6} meq/L   {told}")
        apart, share = round(self.apart, 2) + 0.0, round(self.apart_percent, 1) + 0.0
        lines.append(
            f"  all ions {printed(self.ion_sum)} mmol/L; cations minus anions "
            f"{apart:+.2f} meq/L, {share:+.1f} % of both"
        )
        return "\n".join([*lines, *map(str, self.notices)])


def ratios_of(solution_or_target):
    """
    Return how the ions of a solution or a target share its charge.

    Every form counts as its nominal ion: phosphate as H2PO4-. Of the inorganic carbon of a
    solution counts as HCO3- what the other ions leave of charge; the rest is carbon dioxide.
    Trace elements and chelating agents are left out, and told where they carry charge.

    Parameters
    ----------
    solution_or_target : Solution or Target
        One solution, or a target; of a range the middle counts.

    Returns
    -------
    ChargeRatios
        Percent of the cations and of the anions, and how far their sums are apart.

    Raises
    ------
    InputError
        If it is something else, a stack, or nitrogen whose nitrate is not told.

    Examples
    --------
    >>> from formulate.recipes.target import published_target
    >>> print(ratios_of(published_target("hoagland1-mmol")))
    Hoagland solution No. 1, in mmol/L (macronutrients): percent of meq
      cations  20.00 meq/L   K:Ca:Mg = 30.0 : 50.0 : 20.0 %
      anions   20.00 meq/L   NO3:H2PO4:SO4 = 75.0 : 5.0 : 20.0 %
      all ions 31.00 mmol/L; cations minus anions +0.00 meq/L, +0.0 % of both
    """
    if isinstance(solution_or_target, Solution):
        forms, charge = (
            dict(solution_or_target.forms),
            solution_or_target.unassigned_charge,
        )
        if not all(isinstance(value, float) for value in (charge, *forms.values())):
            raise InputError("ratios: the solution is a stack; take one solution of it")
        name, forms = "", _with_bicarbonate(forms, charge)
    elif isinstance(solution_or_target, Target):
        name, charge = solution_or_target.name, 0.0
        forms = _forms_of(solution_or_target.wanted)
    else:
        what = f"{shortened(solution_or_target)} is neither a solution nor a target"
        raise InputError(f"ratios: {what}")
    named = {key: value for key, value in forms.items() if not is_trace(key) and value}
    cations, anions = (_side(named, sign) for sign in (1, -1))
    told = (*_left_out(forms), *_unnamed(charge))
    return ChargeRatios(name, cations, anions, charge, told)


def _with_bicarbonate(forms, charge):
    """Return forms whose inorganic carbon is the bicarbonate that balances the rest."""
    if "carbonate" not in forms:
        return forms
    others = {key: v for key, v in forms.items() if key != "carbonate"}
    left = nominal_charge(others) + charge
    return forms | {"carbonate": min(max(left, 0.0), forms["carbonate"])}


def is_trace(key):
    """
    Return whether a form is a trace element or a chelating agent.

    Parameters
    ----------
    key : str
        Key of a form.

    Returns
    -------
    bool
        Whether the balance of the main ions leaves it out.

    Examples
    --------
    >>> is_trace("iron_iii"), is_trace("calcium")
    (True, False)
    """
    return nutrient(form(key).symbol).group in TRACES


def _ion_key(key):
    """Return the nutrient key of the nominal ion of a form."""
    return nutrient(form(key).nominal_ion).key


def _side(forms, sign):
    """Return ion to meq/L of the forms whose charge has one sign."""
    charges = {key: sign * form(key).nominal_charge for key in forms}
    return {
        _ion_key(key): charges[key] * v for key, v in forms.items() if charges[key] > 0
    }


def _forms_of(wanted):
    """Return form to mmol/L of wanted values; of N what is left goes to what is not told."""
    forms, sums = {}, {}
    for key, value in wanted.items():
        weights = nutrient(key).weights
        if len(weights) == 1:
            ((name, weight),) = weights.items()
            forms[name] = value / weight
        else:
            sums[key] = value
    if "Fe" in sums:
        forms["iron_iii"] = sums.pop("Fe")  # as `solution` counts it
    total = sums.pop("N", None)
    if total is not None:
        forms |= _rest_of_nitrogen(total, forms)
    if "hardness" in sums:
        raise InputError("ratios: hardness counts two ions; give Ca and Mg apart")
    return {key: forms[key] for key in form_names() if key in forms}


def _rest_of_nitrogen(total, forms):
    """Return the form of nitrogen that is not told, by what the others leave."""
    weights = nutrient("N").weights
    rest = total - sum(weights[key] * forms[key] for key in NITROGEN if key in forms)
    untold = [key for key in ("nitrate", "ammonium") if key not in forms]
    if len(untold) == 2:
        raise InputError(
            "ratios: N is told as a sum only, and nitrate and ammonium differ in charge; "
            "give NO3-N or NH4-N as well"
        )
    return {untold[0]: max(rest, 0.0)} if untold else {}


def _left_out(forms):
    """Yield what trace elements and chelating agents would add to the charge."""
    traces = {key: v for key, v in forms.items() if is_trace(key) and v}
    charge = {key: form(key).nominal_charge * v for key, v in traces.items()}
    names = [form(key).symbol for key, value in charge.items() if value]
    if names:
        total = sum(charge.values())
        what = f"left out: {', '.join(names)}, together {total:+.2f} meq/L as bare ions"
        yield Notice(what, "note", total)


def _unnamed(charge):
    """Yield what there is to say about charge of unnamed ions."""
    if abs(charge) > TOLD:
        what = f"{charge:+.2f} meq/L are of unnamed ions, in neither sum"
        yield Notice(what, "note", charge)
