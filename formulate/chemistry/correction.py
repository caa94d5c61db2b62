"""From the pH that a batch has to the one that is wanted: what to pour, now and in all.

Closed, the dose is what brings the pH there at once. Then carbon dioxide leaves or comes,
and the pH moves; the dose for the open air is what brings it there to stay. So most is
poured, the batch aerated, and the meter finishes.
"""

from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cache

from formulate.checks import checked_number
from formulate.chemistry.acid_doses import acid_rule, check_wanted_ph, with_dose
from formulate.chemistry.acidity import ph_rule
from formulate.chemistry.dosing import NEAR_PH, compare_acids
from formulate.chemistry.oxygen import air_times
from formulate.chemistry.pouring import CAUTIONS, poured, times_water
from formulate.chemistry.speciation import speciate_again
from formulate.chemistry.state import Speciation
from formulate.errors import Faults, InputError, NoConvergence, shortened
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.salts import as_ingredient
from formulate.notices import gravest_first
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
    aired : Speciation
        The state in balance with the air, if nothing is poured.
    ph : float
        The pH that is wanted. [-]
    volume : float
        Volume of the batch. [L]
    needed : float
        Acid that brings it there at once; below nothing, alkali. [meq/L]
    needed_in_air : float
        Acid that brings it there to stay, in balance with the air. [meq/L]
    waits : bool
        Whether nothing is poured at once, because the air drives the pH past the wish.
    doses : tuple of AcidDose
        What of each acid or alkali at hand does it, the cheapest first: at once, or in
        balance with the air if it waits.
    in_all : mapping of str to AcidDose
        Name to what does it in balance with the air; left out where that needs the other
        way, or nothing.
    at_hand : bool
        Whether the doses are of what is at hand; else of examples from the catalogue.
    """

    before: Speciation
    aired: Speciation
    ph: float
    volume: float
    needed: float
    needed_in_air: float
    waits: bool
    doses: tuple
    in_all: Mapping
    at_hand: bool = True

    @property
    def is_there(self):
        """Return whether the pH is there already, and stays within 0.3 in the air."""
        near = abs(self.before.ph - self.ph) <= NEAR_PH
        return (near and not self.waits) or self.arrives

    @property
    def arrives(self):
        """Return whether the air alone brings the pH there, within 0.3."""
        return _arrives(self.before, self.aired, self.ph)

    @property
    def kind(self):
        """Return what is needed: "acid" or "alkali"."""
        need = self.needed_in_air if self.waits else self.needed
        return "acid" if need > 0 else "alkali"

    @property
    def handled(self):
        """Return the acids or alkalis that are named, for their cautions."""
        return tuple(dose.ingredient for dose in self.doses)

    @property
    def after(self):
        """Return the state in balance with the air after the first dose at hand."""
        return self.doses[0].tomorrow if self.poured else self.aired

    @property
    def poured(self):
        """Return whether there is a dose, and at hand."""
        return bool(self.doses) and self.at_hand

    @property
    def tomorrow(self):
        """Return the pH in balance with the air after the first dose at hand. [-]"""
        return self.after.ph

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
        return poured(dose.ingredient, grams * self.volume)

    def working(self, dose=None):
        """
        Return the arithmetic of a dose, for the whole batch.

        Parameters
        ----------
        dose : AcidDose or None
            One of the doses; None for the first.

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
        dose = self.doses[0] if dose is None else dose
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
        later = dose if self.waits else self.in_all.get(dose.ingredient.name)
        brings = ", ".join(f"{key} {printed(v, 3)}" for key, v in dose.brings.items())
        cost = dose.cost(self.volume)
        name = dose.ingredient.name
        return (
            name if self.at_hand else f"{name}, not on the shelf",
            "nothing yet" if self.waits else self._text(dose),
            f"{low} to {high}",
            self._text(later) if later and _lasts(dose, later) else "",
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
        to = f"to pH {self.ph:g}"
        if self.arrives:
            drift = f"the air brings pH {self.before.ph:.1f} to {self.aired.ph:.1f}"
            return f"pH {self.ph:g}: {drift}; nothing to add, aerate, then measure"
        if self.is_there:
            return f"pH {self.ph:g}: it is there already, nothing to add"
        need = self.needed_in_air if self.waits else self.needed
        need = f"{printed(abs(need), 2)} meq/L of {self.kind}"
        if self.waits:
            drift = f"the air brings pH {self.before.ph:.1f} to {self.aired.ph:.1f}"
            to += f": {drift}; pour nothing yet, aerate first; then"
        else:
            to += ":"
        if not self.doses:
            return f"{to} {need}; nothing at hand does it"
        dose = self.doses[0]
        low, high = (self._text(dose, end) for end in dose.interval)
        if not self.at_hand:
            for_example = f"{self._text(dose)} of {dose.ingredient.name}"
            none = f"no {self.kind} is on the shelf"
            return f"{to} {need}; {none}; for example {for_example}"
        text = f"{to} {self._text(dose)} of {dose.ingredient.name} ({low} to {high})"
        later = self.in_all.get(dose.ingredient.name)
        if later and _lasts(dose, later):
            text += f", {self._text(later)} in all once aerated"
        if self.waits:
            return text
        if later and not _lasts(dose, later):
            text += "; the air takes most of it back: this pH does not last"
        return f"{text}; pH {self.tomorrow:.1f} in balance with the air if no more is added"

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
        'Pour 17.5 mL of nitric acid (67 %) (80 % of the'
        """
        if self.is_there or not self.doses or not self.at_hand:
            return ()
        dose, share = self.doses[0], acid_rule("first portion") / PERCENT
        pour = self._pouring(dose, share)
        aerate = f"erate ({AIRED}: carbon dioxide takes {_carbon()})"
        later = self.in_all.get(dose.ingredient.name)
        goal = later if later and _lasts(dose, later) else dose
        low, high = (self._text(goal, end) for end in goal.interval)
        finish = (
            f"Finish by the meter, a little at a time: {self._text(goal)} in all is "
            f"expected, {low} to {high} for the errors of water and weights."
        )
        if self.waits:
            first = f"Pour nothing yet. A{aerate}, then measure: about pH {self.aired.ph:.1f}."
            return (first, pour, finish)
        there = self._aired_after(dose, share).ph
        return (pour, f"A{aerate}, then measure: about pH {there:.1f}.", finish)

    def _aired_after(self, dose, share):
        """Return the state in balance with the air after a part of a dose."""
        made = with_dose(dose.before.solution, dose.ingredient, share * dose.grams)
        air = ph_rule("air carbon dioxide")
        loose = replace(made, ph=None)
        return speciate_again(self.aired, solution=loose, air_co2_ppm=air)

    def _pouring(self, dose, share):
        """Return the sentence of the first portion: how much, into how much water."""
        ingredient, grams = dose.ingredient, share * dose.grams * self.volume
        amount = self._text(dose, share * dose.grams)
        part = f"{PERCENT * share:.0f} % of the dose"
        verb = (
            "stir" if ingredient.role != "acid" and dose.millilitres is None else "pour"
        )
        times = times_water(ingredient)
        if grams < acid_rule("least poured"):
            how = (
                f"{amount} of {ingredient.name} ({part}) are too little to measure: dilute "
                "some of it a hundredfold, and take a hundred times as much of that"
            )
        elif times < 1.0:
            how = f"{verb.capitalize()} {amount} of {ingredient.name} ({part}) into the batch"
        else:
            portions = (
                " in portions, each"
                if times * grams > acid_rule("most in a jug")
                else ""
            )
            how = (
                f"{verb.capitalize()} {amount} of {ingredient.name} ({part}) slowly"
                f"{portions} into at least {times:.0f} times as much cold water, then that "
                "into the batch"
            )
        caution = CAUTIONS.get(ingredient.role, "dissolve it fully before more goes in")
        return f"{how}, stirring. Eye protection and gloves; {caution}."

    @property
    def notices(self):
        """Return what to know of what is poured."""
        first = self.doses[:1] if self.at_hand else ()
        return gravest_first(n for dose in first for n in dose.notices)

    def __str__(self):
        return "\n".join([self.line, *self.steps()])


def _arrives(before, aired, ph):
    """Return whether a pH that is not there comes by itself in the air."""
    near = abs(before.ph - ph) <= NEAR_PH
    return not near and abs(aired.ph - ph) <= acid_rule("drift")


def _lasts(dose, later):
    """Return whether a pH can be kept in the air with a sensible amount of the same."""
    return (
        later.grams <= acid_rule("lasting") * dose.grams
        or later.ingredient.role == "acid"
    )


def _carbon():
    """Return how long carbon dioxide takes with an air stone, in words."""
    return {how: carbon for how, carbon, _ in air_times()}[AIRED]


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
    before, some, ph, volume = _checked(before, at_hand, ph, volume)
    air = ph_rule("air carbon dioxide")
    loose = replace(before.solution, ph=None)
    aired = speciate_again(before, solution=loose, air_co2_ppm=air)
    needed = speciate_again(before, ph=ph).charge_left()
    in_air = needed
    with suppress(NoConvergence):  # so alkaline that no dose keeps it in the air
        in_air = speciate_again(aired, ph=ph, air_co2_ppm=air).charge_left()
    near = abs(before.ph - ph) <= NEAR_PH
    past = near or (before.ph - ph) * (aired.ph - ph) < 0
    waits = past and abs(aired.ph - ph) > acid_rule("drift")
    wanted = "acid" if (in_air if waits else needed) > 0 else "alkali"
    tried = [i for i in some if i.role == wanted or _may_be(i, wanted)]
    given = {"temperature": before.temperature, "alkalinity_error": alkalinity_error}
    doses, in_all = (), {}
    if waits or (not near and not _arrives(before, aired, ph)):
        opened = {"air_co2_ppm": air} if waits else {}
        doses = compare_acids(
            before.solution, tried or _examples(wanted), ph=ph, **opened, **given
        )
    if tried and doses and not waits:
        first = [dose.ingredient for dose in doses]
        opened = {"air_co2_ppm": air, **given}
        with suppress(NoConvergence):
            aerated = compare_acids(before.solution, first, ph=ph, **opened)
            in_all = {dose.ingredient.name: dose for dose in aerated}
    return Correction(
        before, aired, ph, volume, needed, in_air, waits, doses, in_all, bool(tried)
    )


def _checked(before, at_hand, ph, volume):
    """Return what was given, checked, with every fault at once."""
    faults, found = Faults("correction"), []
    if not isinstance(before, Speciation) or before.shape:
        faults.add(f"{shortened(before)}; give the state of one solution")
    with faults.collecting():
        ph = check_wanted_ph(acid_rule("wanted pH") if ph is None else ph)
    with faults.collecting():
        volume = checked_number(volume, "volume in L", above=0)
    with faults.collecting():
        named = isinstance(at_hand, str | Ingredient)
        if not named and not isinstance(at_hand, Iterable):
            raise InputError(f"at_hand: {shortened(at_hand)} is no list of ingredients")
        found = [as_ingredient(one) for one in ([at_hand] if named else at_hand)]
    faults.raise_if_any()
    return before, found, ph, volume


def _may_be(ingredient, wanted):
    """Return whether a salt that is neither acid nor alkali by name works as one."""
    return wanted == "alkali" and "carbonate" in ingredient.forms


@cache
def _examples(role):
    """Return acids or alkalis to compute with where none is at hand."""
    rows = [row for row in read_table("acid_examples") if row["role"] == role]
    return tuple(as_ingredient(row["ingredient"]) for row in rows)
