"""A dose of acid or alkali: grams and millilitres, what it brings, what follows.

A gram of it carries the charge Σ a (z + n) into the solution: z that of each bare ion, n
the protons that it holds there in the mean. So nitric acid gives one proton, phosphoric
about one near pH 5, and a carbonate takes nearly two.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from formulate.checks import checked_number
from formulate.chemistry.acidity import ph_rule
from formulate.chemistry.protons import mean_protons
from formulate.chemistry.speciation import speciate
from formulate.chemistry.state import Speciation
from formulate.errors import InputError
from formulate.ingredients.hazards import cautions
from formulate.ingredients.ingredient import Ingredient
from formulate.notices import Notice, gravest_first
from formulate.stoichiometry.charge import nominal_charge
from formulate.stoichiometry.formula import molar_mass
from formulate.stoichiometry.solution import Solution
from formulate.tables import rule_of
from formulate.working import Quantity, Shown, Step, Working, printed

__all__ = [
    "AcidDose",
    "acid_rule",
    "charge_brought",
    "check_wanted_ph",
    "fitted",
    "litres_taken",
    "nominal_per_gram",
    "with_dose",
]

NEUTRAL = 1e-9  # meq/g
MOST_STEPS, CLOSE = 20, 1e-11  # meq/L
BROUGHT = ("NO3-N", "NH4-N", "urea-N", "P", "S", "K", "Ca", "Mg", "Si", "Na", "Cl")
LEAST_BROUGHT = 0.01  # mg/L


@dataclass(frozen=True, eq=False)
class AcidDose(Shown):
    """
    What of an acid or alkali brings a solution to a pH, per litre of it before.

    Attributes
    ----------
    ingredient : Ingredient
        The acid or alkali.
    ph : float or array
        The pH that is wanted. [-]
    before : Speciation
        The solution before, closed.
    after : Speciation
        The solution after, at that pH; open to the air where the dose was asked for so.
    grams : float or array
        How much of it, in a litre. [g]
    gap : float or array
        Charge that the dose closes: acid it gives, below nothing for an alkali. [meq/L]
    error : float or array
        How far that charge may be off. [meq/L]
    """

    ingredient: Ingredient
    ph: object
    before: Speciation
    after: Speciation
    grams: object
    gap: object
    error: object

    @property
    def millilitres(self):
        """Return how many millilitres that are; None of what is weighed. [mL]"""
        if self.ingredient.measured_in == "mL":
            return self.grams
        density = self.ingredient.density
        return None if density is None else self.grams / density

    @property
    def solution(self):
        """Return the solution with the dose in it. [mmol/L]"""
        return self.after.solution

    @property
    def interval(self):
        """Return the least and the most that may be needed, for the errors stated. [g]"""
        spread = self.error / np.abs(charge_brought(self.after, self.ingredient))
        low, high = np.maximum(self.grams - spread, 0.0)[()], self.grams + spread
        return (low, high) if np.ndim(self.grams) else (float(low), float(high))

    @property
    def protons(self):
        """Return how many protons a unit of the acid gives, below 0 if it takes them. [-]"""
        return -charge_brought(self.after, self.ingredient) / _units(self.ingredient)

    @property
    def brings(self):
        """Return nutrient to what the dose brings; what is next to nothing left out. [mg/L]"""
        per_gram = Solution(dict(self.ingredient.forms), 0.0)
        found = {key: per_gram.mg_l(key) * self.grams for key in BROUGHT}
        return {k: v for k, v in found.items() if np.any(v > LEAST_BROUGHT)}

    @cached_property
    def tomorrow(self):
        """Return the state once it is in balance with the air."""
        made = replace(self.after.solution, ph=None)
        return speciate(
            made,
            temperature=self.after.temperature,
            air_co2_ppm=ph_rule("air carbon dioxide"),
            activity=self.after.activity_model,
            constants=self.after.constants,
            near=self.after,
        )

    def cost(self, volume=1.0):
        """
        Return what the dose costs.

        Parameters
        ----------
        volume : float
            Volume of the solution. [L]

        Returns
        -------
        float or None
            Cost, in the currency of the price; None if it has none. [currency]

        Examples
        --------
        >>> from formulate.stoichiometry.solution import solution
        >>> from formulate.chemistry.dosing import acid_dose
        >>> tap = solution({"Ca": 2.0, "HCO3": 4.0}, ph=7.5)
        >>> acid_dose(tap, "nitric acid (53 %)", ph=6.0).cost() is None
        True
        """
        price = self.ingredient.price
        return None if price is None else price * self.grams * volume / 1000.0

    @property
    def notices(self):
        """Return what to know: cautions of handling come from `hazards.cautions`."""
        found = list(self.after.notices)
        phosphorus = self.brings.get("P", 0.0)
        limit = acid_rule("harmful phosphoric dose")
        if np.any(phosphorus > limit):
            what = (
                f"{self.ingredient.name} brings {printed(float(np.max(phosphorus)), 3)} mg/L "
                f"P, more than the {limit:g} that is advised at most: take another acid for "
                "a part of it"
            )
            found.append(Notice(what, "caution", None, limit, "umass-acids"))
        if "citrate" in self.ingredient.forms:
            what = (
                "citric acid holds for days only: microbes eat it and the pH comes back"
            )
            found.append(Notice(what, "note", source_key="ext-general"))
        return gravest_first(found)

    def working(self):
        """
        Return the arithmetic of the dose.

        Returns
        -------
        Working
            Charge to close over what a gram gives.

        Raises
        ------
        InputError
            If it is a stack.

        Examples
        --------
        >>> from formulate.stoichiometry.solution import solution
        >>> from formulate.chemistry.dosing import acid_dose
        >>> tap = solution({"Ca": 2.0, "HCO3": 4.0}, ph=7.5)
        >>> len(acid_dose(tap, "nitric acid (53 %)", ph=6.0).working().steps)
        2
        """
        if np.ndim(self.grams):
            raise InputError("working: the doses are a stack; take one solution of it")
        units, gap = _units(self.ingredient), abs(self.gap)
        way = "gives" if self.gap > 0 else "takes"
        name = self.ingredient.name
        each = Step(
            f"one gram of {name} {way}, at pH {self.ph:g}",
            (Quantity(units, "mmol/g"), "×", Quantity(abs(self.protons))),
            "meq/g",
            self.ingredient.source_key,
        )
        dose = Step(
            "grams in a litre: charge to close over what a gram brings",
            (Quantity(gap, "meq/L"), "÷", Quantity(each.value, "meq/g")),
            "g/L",
        )
        return Working(f"Dose of {name} for pH {self.ph:g}", (each, dose))

    def __str__(self):
        if np.ndim(self.grams):
            return f"{np.size(self.grams)} doses of {self.ingredient.name}"
        low, high = self.interval
        liquid = self.millilitres
        of = f"{printed(self.grams, 3)} g"
        if liquid is not None:
            of = f"{printed(liquid, 3)} mL ({of})"
        brought = ", ".join(f"{k} {printed(v, 3)}" for k, v in self.brings.items())
        found = [
            f"{self.ingredient.name}: {of} in a litre brings pH {self.before.ph:.2f} to "
            f"{self.ph:.2f}; {printed(low, 3)} to {printed(high, 3)} g for the errors stated",
            f"it {'takes up' if self.gap > 0 else 'adds'} {printed(abs(self.gap), 3)} meq/L of "
            f"alkalinity and brings {brought or 'nothing that counts'} mg/L",
            f"once in balance with the air: pH {self.tomorrow.ph:.2f}",
        ]
        found += [str(notice) for notice in self.notices]
        return "\n".join([*found, *(c.text for c in cautions([self.ingredient]))])


def acid_rule(name):
    """
    Return one rule of the table of acid rules.

    Parameters
    ----------
    name : str
        Name of the rule, such as "first portion".

    Returns
    -------
    float
        Its value, in the unit of the table. [-]

    Examples
    --------
    >>> acid_rule("first portion")
    80.0
    """
    return rule_of("acid_rules", name).number("value")


def _units(ingredient):
    """Return how many mmol of its acid or base are in one gram; of a form, if no formula."""
    if ingredient.formula:
        return 10.0 * ingredient.purity_percent / molar_mass(ingredient.formula)
    return max(ingredient.forms.values(), default=0.0)


def with_dose(solution, ingredient, grams):
    """
    Return a solution with something poured or stirred into it.

    Parameters
    ----------
    solution : Solution
        The solution.
    ingredient : Ingredient
        What goes in.
    grams : float or array
        How much, in a litre of the solution before; millilitres of a stock. [g]

    Returns
    -------
    Solution
        A litre of what there is then; a liquid takes room, a solid none. [mmol/L]

    Examples
    --------
    >>> from formulate.ingredients.salts import as_ingredient
    >>> from formulate.stoichiometry.solution import solution
    >>> made = with_dose(solution({"K": 1.0, "Cl": 1.0}), as_ingredient("KCl"), 0.074551)
    >>> round(made.forms["potassium"], 3)
    2.0
    """
    grown = 1.0 + litres_taken(ingredient) * grams
    forms = {key: value / grown for key, value in solution.forms.items()}
    for key, value in ingredient.forms.items():
        forms[key] = forms.get(key, 0.0) + value * grams / grown
    charge = solution.unassigned_charge + ingredient.unassigned_charge * grams
    return Solution(forms, charge / grown, solution.temperature)


def litres_taken(ingredient):
    """
    Return the litres that one gram, or one millilitre, takes in a solution.

    Parameters
    ----------
    ingredient : Ingredient
        What goes in.

    Returns
    -------
    float
        Volume; a solid takes none. [L]

    Examples
    --------
    >>> from formulate.ingredients.salts import as_ingredient
    >>> litres_taken(as_ingredient("KNO3"))
    0.0
    """
    if ingredient.measured_in == "mL":
        return 1e-3
    return 1e-3 / ingredient.density if ingredient.density else 0.0


def nominal_per_gram(ingredient):
    """
    Return the charge of what a gram brings near pH 5, as H2PO4-, HCO3- and NH4+.

    Parameters
    ----------
    ingredient : Ingredient
        What goes in.

    Returns
    -------
    float
        Charge: below nothing for an acid, above for an alkali, nothing for a neutral salt.
        [meq/g]

    Examples
    --------
    >>> from formulate.ingredients.salts import as_ingredient
    >>> nominal_per_gram(as_ingredient("KNO3"))
    0.0
    """
    charge = nominal_charge(ingredient.forms) + ingredient.unassigned_charge
    return 0.0 if abs(charge) < NEUTRAL else charge


def fitted(solution, **given):
    """
    Return the state of a solution; unnamed ions carry what a measured pH leaves open.

    Parameters
    ----------
    solution : Solution
        One solution or a stack.
    **given : object
        What `speciate` takes.

    Returns
    -------
    Speciation
        The state, of a solution whose charges balance at its pH.

    Examples
    --------
    >>> from formulate.stoichiometry.solution import solution
    >>> tap = solution({"Ca": 2.0, "HCO3": 4.0}, ph=7.5)
    >>> abs(fitted(tap).charge_left()) < 1e-10
    True
    """
    state = speciate(solution, **given)
    for _ in range(MOST_STEPS):
        left = state.charge_left()
        if not state.ph_imposed or np.all(np.abs(left) <= CLOSE):
            break
        charge = state.solution.unassigned_charge - left
        state = speciate(replace(state.solution, unassigned_charge=charge), **given)
    return state


def charge_brought(state, ingredient):
    """
    Return the charge that a gram of something carries in a solution, its protons included.

    Equation [definition]::

        charge = Σ a (z + n)        z of the bare ion, n protons it holds there in the mean

    Parameters
    ----------
    state : Speciation
        The solution with it.
    ingredient : Ingredient
        What goes in.

    Returns
    -------
    float or array
        Charge; below nothing for an acid. [meq/g]

    Examples
    --------
    >>> from formulate.ingredients.salts import as_ingredient
    >>> from formulate.stoichiometry.solution import solution
    >>> feed = speciate(solution({"K": 1.0, "P": 1.0, "Cl": 1.0}), ph=5.0)
    >>> round(charge_brought(feed, as_ingredient("H3PO4")) * 97.994 / 1000, 2)
    -1.01
    """
    found = ingredient.unassigned_charge
    for form, amount in ingredient.forms.items():
        bare = state.constants.master(form).charge
        found = found + amount * (bare + mean_protons(state, form))
    return found


def check_wanted_ph(ph):
    """
    Return a pH if it is one that a nutrient solution can be brought to and kept at.

    Parameters
    ----------
    ph : float
        The pH. [-]

    Returns
    -------
    float
        The same. [-]

    Raises
    ------
    InputError
        If it is no number from 3 to 10.

    Examples
    --------
    >>> check_wanted_ph(5.8)
    5.8
    """
    ends = acid_rule("lowest wanted pH"), acid_rule("highest wanted pH")
    return checked_number(ph, "wanted pH", least=ends[0], most=ends[1])
