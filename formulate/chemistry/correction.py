"""From the pH that a batch has to the one that is wanted: what to pour, now and in all.

Closed, the dose is what brings the pH there at once. Then carbon dioxide leaves or comes,
and the pH moves; the dose for the open air is what brings it there to stay. So most is
poured, the batch aerated, and the meter finishes.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache, cached_property

from formulate.checks import checked_number
from formulate.chemistry.acid_doses import acid_rule
from formulate.chemistry.acidity import ph_rule
from formulate.chemistry.dosing import NEAR_PH, compare_acids
from formulate.chemistry.oxygen import air_times
from formulate.chemistry.speciation import speciate_again
from formulate.chemistry.state import Speciation
from formulate.errors import InputError
from formulate.ingredients.salts import as_ingredient
from formulate.notices import gravest_first
from formulate.stoichiometry.charge import check_ph
from formulate.tables import read_table
from formulate.working import Quantity, Shown, Step, Working, printed

__all__ = ["Correction", "correction"]

PERCENT = 100.0
AIRED = "vigorous air stone"


@dataclass(frozen=True, eq=False)
class Correction(Shown):
    """
    How one batch is brought to a pH.

    Attributes
    ----------
    before : Speciation
        The state before.
    ph : float
        The pH that is wanted. [-]
    volume : float
        Volume of the batch. [L]
    needed : float
        Acid that brings it there at once; below nothing, alkali. [meq/L]
    doses : tuple of AcidDose
        What of each acid or alkali at hand does it at once, the cheapest first.
    in_all : mapping of str to AcidDose
        Name to what does it in balance with the air; left out where that needs the other
        way, or nothing.
    at_hand : bool
        Whether the doses are of what is at hand; else of examples from the catalogue.
    """

    before: Speciation
    ph: float
    volume: float
    needed: float
    doses: tuple
    in_all: Mapping
    at_hand: bool = True

    @property
    def is_there(self):
        """Return whether the pH is there already."""
        return abs(self.before.ph - self.ph) <= NEAR_PH

    @property
    def kind(self):
        """Return what is needed: "acid" or "alkali"."""
        return "acid" if self.needed > 0 else "alkali"

    @property
    def handled(self):
        """Return the acids or alkalis at hand that may be poured."""
        return tuple(d.ingredient for d in self.doses) if self.at_hand else ()

    @cached_property
    def tomorrow(self):
        """Return the pH in balance with the air after the first dose at hand; else as it is."""
        if self.doses and self.at_hand:
            return self.doses[0].tomorrow.ph
        air = ph_rule("air carbon dioxide")
        loose = replace(self.before.solution, ph=None)
        return speciate_again(self.before, solution=loose, air_co2_ppm=air).ph

    def amount(self, dose, grams=None):
        """
        Return a dose for the batch as it is poured: in mL if it is a liquid, else in g.

        Parameters
        ----------
        dose : AcidDose
            The dose.
        grams : float or None
            Another amount of the same, in a litre; None for the dose itself. [g]

        Returns
        -------
        value : float
            How much for the batch. [-]
        unit : str
            "mL" or "g".

        Examples
        --------
        >>> from formulate.chemistry.speciation import speciate
        >>> from formulate.ingredients.salts import as_ingredient
        >>> from formulate.stoichiometry.solution import solution
        >>> tap = speciate(solution({"Ca": 2.35, "HCO3": 4.7}, ph=7.4))
        >>> found = correction(tap, [as_ingredient("nitric acid (67 %)")], ph=5.8, volume=100)
        >>> value, unit = found.amount(found.doses[0])
        >>> round(value, 1), unit
        (21.9, 'mL')
        """
        grams = dose.grams if grams is None else grams
        return _poured(dose.ingredient, grams * self.volume)

    def working(self):
        """
        Return the arithmetic of the first dose, for the whole batch.

        Returns
        -------
        Working
            Charge to close over what a gram brings, times the batch; over the density of a
            liquid.

        Raises
        ------
        InputError
            If nothing is poured.

        Examples
        --------
        >>> from formulate.chemistry.speciation import speciate
        >>> from formulate.ingredients.salts import as_ingredient
        >>> from formulate.stoichiometry.solution import solution
        >>> tap = speciate(solution({"Ca": 2.35, "HCO3": 4.7}, ph=7.4))
        >>> found = correction(tap, [as_ingredient("nitric acid (67 %)")], ph=5.8, volume=100)
        >>> found.working().lines[-1]
        'millilitres: over the density: 30.592 g ÷ 1.4 g/mL = 21.851 mL  [acid-choices-table]'
        """
        if not self.doses:
            raise InputError(f"working: {self.line}")
        dose = self.doses[0]
        single = dose.working()
        grams = Step(
            "for the batch",
            (Quantity(single.value, "g/L"), "×", Quantity(self.volume, "L")),
            "g",
        )
        steps, density = (*single.steps, grams), dose.ingredient.density
        if density is not None and dose.ingredient.measured_in == "g":
            terms = (Quantity(grams.value, "g"), "÷", Quantity(density, "g/mL"))
            key = dose.ingredient.source_key
            steps += (Step("millilitres: over the density", terms, "mL", key),)
        return Working(single.title, steps)

    def rows(self):
        """
        Return what is shown of each acid or alkali at hand.

        Returns
        -------
        tuple of tuple of str
            Name, dose at once, its interval, dose in all once aerated, what it brings in
            mg/L, pH in balance with the air, cost.

        Examples
        --------
        >>> from formulate.chemistry.speciation import speciate
        >>> from formulate.ingredients.salts import as_ingredient
        >>> from formulate.stoichiometry.solution import solution
        >>> tap = speciate(solution({"Ca": 2.35, "HCO3": 4.7}, ph=7.4))
        >>> found = correction(tap, [as_ingredient("nitric acid (67 %)")], ph=5.8, volume=100)
        >>> found.rows()[0][:2]
        ('nitric acid (67 %)', '21.9 mL')
        """
        return tuple(self._row(dose) for dose in self.doses)

    def _row(self, dose):
        low, high = (self._text(dose, end) for end in dose.interval)
        later = self.in_all.get(dose.ingredient.name)
        brings = ", ".join(f"{key} {printed(v, 3)}" for key, v in dose.brings.items())
        cost = dose.cost(self.volume)
        name = dose.ingredient.name
        return (
            name if self.at_hand else f"{name}, not on the shelf",
            self._text(dose),
            f"{low} to {high}",
            self._text(later) if later else "",
            brings or "nothing counted",
            f"{dose.tomorrow.ph:.1f}",
            "" if cost is None else f"{cost:.2f}",
        )

    def _text(self, dose, grams=None):
        value, unit = self.amount(dose, grams)
        return f"{printed(value, 3)} {unit}"

    @property
    def line(self):
        """Return the correction in one line."""
        if self.is_there:
            return f"pH {self.ph:g}: it is there already, nothing to add"
        need = f"{printed(abs(self.needed), 2)} meq/L of {self.kind}"
        if not self.doses:
            return f"to pH {self.ph:g}: {need}; nothing at hand does it"
        dose = self.doses[0]
        low, high = (self._text(dose, end) for end in dose.interval)
        if not self.at_hand:
            for_example = f"{self._text(dose)} of {dose.ingredient.name}"
            none = f"no {self.kind} is on the shelf"
            return f"to pH {self.ph:g}: {need}; {none}; for example {for_example}"
        text = f"to pH {self.ph:g}: {self._text(dose)} of {dose.ingredient.name} ({low} to {high})"
        later = self.in_all.get(dose.ingredient.name)
        if later:
            text += f", {self._text(later)} in all once aerated"
        return f"{text}; pH {self.tomorrow:.1f} in balance with the air"

    def steps(self):
        """
        Return how it is done with the first of what is at hand, step by step.

        Returns
        -------
        tuple of str
            Sentences; none if there is nothing to pour. [-]

        Examples
        --------
        >>> from formulate.chemistry.speciation import speciate
        >>> from formulate.ingredients.salts import as_ingredient
        >>> from formulate.stoichiometry.solution import solution
        >>> tap = speciate(solution({"Ca": 2.35, "HCO3": 4.7}, ph=7.4))
        >>> found = correction(tap, [as_ingredient("nitric acid (67 %)")], ph=5.8, volume=100)
        >>> found.steps()[0][:47]
        'Put 303 mL of water into a jug; pour 17.5 mL of'
        """
        if self.is_there or not self.doses or not self.at_hand:
            return ()
        dose, share = self.doses[0], acid_rule("first portion") / PERCENT
        first = self._text(dose, share * dose.grams)
        low, high = (self._text(dose, end) for end in dose.interval)
        water = self._water_first(dose, share)
        name = dose.ingredient.name
        verb = "pour" if dose.millilitres is not None else "stir"
        carbon = {how: carbon for how, carbon, _ in air_times()}[AIRED]
        return (
            f"Put {printed(water, 2)} mL of water into a jug; {verb} {first} of {name} "
            f"({PERCENT * share:.0f} % of the dose) slowly into it, then that into the "
            "batch, stirring. Eye protection and gloves; acid into water, never the reverse.",
            f"Aerate ({AIRED}: carbon dioxide takes {carbon}), then measure the pH.",
            f"Finish by the meter, a little at a time: {self._text(dose)} in all is "
            f"expected, {low} to {high} for the errors of water and weights.",
        )

    def _water_first(self, dose, share):
        """Return the water that brings a portion down to the strength to pour. [mL]"""
        ingredient, grams = dose.ingredient, share * dose.grams * self.volume
        percent = ingredient.purity_percent if dose.millilitres is not None else PERCENT
        return max(0.0, grams * (percent / acid_rule("strength to pour") - 1.0))

    @property
    def notices(self):
        """Return what to know of what is poured."""
        first = self.doses[:1] if self.at_hand else ()
        return gravest_first(n for dose in first for n in dose.notices)

    def __str__(self):
        return "\n".join([self.line, *self.steps()])


def _poured(ingredient, grams):
    """Return an amount as it is measured: in mL if it is a liquid, else in g."""
    if ingredient.measured_in == "mL":
        return grams, "mL"
    if ingredient.density is None:
        return grams, "g"
    return grams / ingredient.density, "mL"


def correction(before, at_hand, *, ph=None, volume=1.0, alkalinity_error=None):
    """
    Return how a batch is brought to a pH with what is at hand.

    Parameters
    ----------
    before : Speciation
        The state of the batch.
    at_hand : iterable of Ingredient
        What there is; only acids and alkalis among it are tried. If there are none,
        examples of the catalogue show what it would take.
    ph : float or None
        The pH that is wanted; None means that of the table acid_rules. [-]
    volume : float
        Volume of the batch. [L]
    alkalinity_error : float or None
        How far the alkalinity may be off; None as in `acid_dose`. [meq/L]

    Returns
    -------
    Correction
        Doses at once and in all, and how it is done.

    Raises
    ------
    InputError
        If the pH or the volume is none.

    Examples
    --------
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> print(correction(speciate(solution({"Ca": 2.0, "HCO3": 4.0})), [], ph=6.0).line)
    to pH 6: 2.7 meq/L of acid; no acid is on the shelf; for example 0.240 mL of nitric acid (53 %)
    """
    ph = check_ph(acid_rule("wanted pH") if ph is None else ph)
    volume = checked_number(volume, "volume in L", above=0)
    there = speciate_again(before, ph=ph)
    needed = there.charge_left()
    given = {"temperature": before.temperature, "alkalinity_error": alkalinity_error}
    wanted = "acid" if needed > 0 else "alkali"
    tried = [i for i in at_hand if i.role == wanted]
    is_there, doses, in_all = abs(before.ph - ph) <= NEAR_PH, (), {}
    if not is_there:
        some = tried or _examples(wanted)
        doses = compare_acids(before.solution, some, ph=ph, **given)
    if tried and doses:
        air = ph_rule("air carbon dioxide")
        first = [dose.ingredient for dose in doses]
        aired = compare_acids(before.solution, first, ph=ph, air_co2_ppm=air, **given)
        in_all = {dose.ingredient.name: dose for dose in aired}
    return Correction(before, ph, volume, needed, doses, in_all, bool(tried))


@cache
def _examples(role):
    """Return acids or alkalis to compute with where none is at hand."""
    rows = [row for row in read_table("acid_examples") if row["role"] == role]
    return tuple(as_ingredient(row["ingredient"]) for row in rows)
