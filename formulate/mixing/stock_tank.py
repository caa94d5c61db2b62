"""One concentrate: what it holds, what it shows on a meter, how near it is to clouding."""

from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

import numpy as np

from formulate.chemistry.conductivity import ec
from formulate.chemistry.precipitation import precipitate
from formulate.chemistry.risks import risk_level, solid_risks
from formulate.chemistry.solids import mineral
from formulate.chemistry.speciation import speciate, speciate_again
from formulate.chemistry.state import Speciation
from formulate.ingredients.hazards import hazard_text
from formulate.mixing.batch import Batch
from formulate.mixing.nearness import Nearness, mixing_rule
from formulate.mixing.strength import Strength
from formulate.mixing.tank_contents import CHALK, PERCENT, company, density_of
from formulate.notices import Notice
from formulate.stoichiometry.mixtures import dilute
from formulate.working import Shown, printed

__all__ = ["MAIN", "StockTank"]

MAIN = "ABC"  # names of the main tanks
ROOM = 25.0  # °C: check values are read at room temperature
SALTS = "soluble salts"


@dataclass(frozen=True, eq=False)
class StockTank(Shown):
    """
    One concentrate.

    Attributes
    ----------
    name : str
        "A", "B", "C", "acid", "alkaline" or "alkaline 2".
    parts : tuple of (Ingredient, float)
        What a full tank holds. [g]
    batch : Batch
        The same with its water and volume.
    state : Speciation
        Its ions at the coldest temperature.
    uses : mapping of str to float
        Salt to the share that is used of its solubility in the cold, the largest first. [%]
    strength : Strength
        How strong it is.
    reasons : mapping of str to str
        Ingredient to why it is in this tank.
    """

    name: str
    parts: tuple
    batch: Batch
    state: Speciation
    uses: MappingProxyType
    strength: Strength
    reasons: MappingProxyType

    @property
    def label(self):
        """Return what stands on it, such as "stock A"."""
        if self.name in MAIN:
            return f"stock {self.name}"
        kind, _, number = self.name.partition(" ")
        return f"{kind} stock {number}".rstrip()

    @property
    def volume(self):
        """Return its volume. [L]"""
        return self.batch.volume

    @cached_property
    def room(self):
        """Return its ions at 25 °C."""
        return speciate_again(self.state, temperature=ROOM)

    @cached_property
    def thinned(self):
        """Return its ions at 25 °C once it alone is diluted as it will be, in pure water."""
        thin = dilute(self.state.solution, self.strength.times)
        return speciate(thin, temperature=ROOM)

    @property
    def ph(self):
        """Return the pH of the stock at 25 °C. [-]"""
        return self.room.ph

    @property
    def ec(self):
        """Return the EC of the stock, a rough guide only. [mS/cm]"""
        return ec(self.room)

    @property
    def thinned_ec(self):
        """Return the EC once diluted alone in pure water, a check value. [mS/cm]"""
        return ec(self.thinned)

    @property
    def density(self):
        """Return the density at 25 °C. [kg/L]"""
        return density_of(self.room)

    @property
    def grams_per_litre(self):
        """Return ingredient to what a litre of the stock holds of it. [g]"""
        return {i.name: grams / self.volume for i, grams in self.parts}

    @property
    def limiting(self):
        """Return the salt nearest to its solubility, and the share used of it. [%]"""
        return next(iter(self.uses.items()), ("", 0.0))

    @property
    def margin_percent(self):
        """Return how much of the limiting solubility is left. [%]"""
        return PERCENT - self.limiting[1]

    @cached_property
    def risks(self):
        """Return what may fall out of it in the cold."""
        return solid_risks(self.state)

    @cached_property
    def warm_risks(self):
        """Return what may fall out of it at 25 °C."""
        return solid_risks(self.room)

    def near(self, state):
        """
        Return the solids near saturation of which there could be enough to see.

        Parameters
        ----------
        state : Speciation
            The tank in the cold or at 25 °C.

        Returns
        -------
        list of SolidRisk
            Those that matter, the most likely first; no silica where it is not judged.

        Examples
        --------
        >>> from formulate.mixing.tanks import split_tanks
        >>> tank = split_tanks({"CaCl2": 50.0, "K2SO4": 0.5}, tanks=1, volume=100)["A"]
        >>> [risk.name for risk in tank.near(tank.state)]
        ['gypsum']
        """
        risks = self.risks if state is self.state else self.warm_risks
        counting = Nearness(state).counting
        return [r for r in risks.solids if np.isfinite(counting.get(r.name, -np.inf))]

    @property
    def hazards(self):
        """Return the GHS statements of what it is made of, in words."""
        codes = sorted({c for i, _ in self.parts for c in i.hazards} - {"none"})
        unknown = [i.name for i, _ in self.parts if not i.hazards]
        text = hazard_text(codes or ("none",))
        return text + "".join(f"; no data for {name}" for name in unknown)

    def rows(self):
        """
        Return what goes into a full tank.

        Returns
        -------
        tuple of tuple of str
            Ingredient, grams (mL of a stock), g per litre of stock, why it is here.

        Examples
        --------
        >>> from formulate.mixing.tanks import split_tanks
        >>> feed = {"KNO3": 50.0, "MgSO4·7H2O": 50.0, "Ca(NO3)2·4H2O": 90.0}
        >>> tanks = split_tanks(feed, strength=100, volume=100)
        >>> [row[:2] for row in tanks["B"].rows()]
        [('KNO3', '22.50'), ('MgSO4·7H2O', '50.00')]
        """
        return tuple(
            (
                i.name,
                printed(grams),
                printed(grams / self.volume),
                self.reasons.get(i.name, ""),
            )
            for i, grams in self.parts
        )

    def __str__(self):
        salt, used = self.limiting
        full = f"; {salt} uses {used:.0f} % of its solubility" if salt else ""
        head = (
            f"{self.label}, {printed(self.volume)} L: pH {self.ph:.1f}, {self.density:.3f} kg/L, "
            f"EC {printed(self.ec, 2)} mS/cm, thinned alone {printed(self.thinned_ec, 3)}{full}"
        )
        units = [i.measured_in for i, _ in self.parts]
        lines = [
            f"  {grams:>8} {unit} {name}  {why}".rstrip()
            for (name, grams, _, why), unit in zip(self.rows(), units, strict=True)
        ]
        return "\n".join([head, *lines])


def row_of(tank):
    """Return what is shown of one tank."""
    salt, used = tank.limiting
    near = [f"{r.name} {r.number}: {r.words}" for r in tank.near(tank.state)]
    return (
        tank.label,
        printed(tank.volume),
        f"{tank.ph:.1f}",
        f"{tank.density:.3f}",
        printed(tank.ec, 2),
        printed(tank.thinned_ec, 3),
        salt,
        f"{used:.0f} %" if salt else "",
        near[0] if near else "nothing near",
    )


def told_of(tank, coldest):
    """Yield what to know of one tank."""
    seen = set()
    for state, when in (
        (tank.state, f"at {coldest:g} °C"),
        (tank.room, "at 25 °C"),
    ):
        for risk in tank.near(state):
            if risk.level and risk.name not in seen:
                seen.add(risk.name)
                yield _cloud(tank, risk, when)
    if tank.state.solution.forms.get("silicate") and tank.ph > mixing_rule(
        "silica is not judged above"
    ):
        what = (
            f"{tank.label}: silicate this alkaline is beyond the model; a clear bottle keeps. "
            "Dose it by itself, first and well thinned"
        )
        yield Notice(what, "note", tank.ph, source_key="ext-mixing")
    salt, used = tank.limiting
    if risk_level(SALTS, used):
        what = (
            f"{tank.label}: {salt} uses {used:.0f} % of its solubility at {coldest:g} °C; "
            "on a colder night it crystallises. Warm it and stir, or make the stock weaker"
        )
        yield Notice(what, "caution", used, PERCENT, "crc-solubility")
    for first, second, _, text in company([i for i, _ in tank.parts]):
        names = [tank.parts[place][0].name for place in (first, second)]
        what = (
            f"{tank.label}: {names[0]} beside {names[1]}: {text}; use it within weeks"
        )
        yield Notice(what, "note", source_key="compat-chart")
    if tank.name.startswith("acid"):
        what = (
            "acid stock: acid into water, never the reverse; eye protection and gloves; never "
            "two strong acids into each other; it stays away from every other concentrate"
        )
        yield Notice(what, "caution", source_key="ext-safety")


def _cloud(tank, risk, when):
    """Return the notice of a solid that may form in a tank."""
    what = (
        f"{tank.label}: {risk.name} {risk.words} {when} ({risk.number}); {risk.reason}"
    )
    severity = ("note", "note", "caution", "serious")[risk.level]
    if risk.name == CHALK:
        alkalinity = tank.batch.water.solution.alkalinity()
        fallen = precipitate(tank.room, [CHALK]).amounts.get(CHALK, 0.0)
        grams = mineral(CHALK).molar_mass * fallen / 1000
        what += (
            f". Up to {printed(grams, 2)} g in a litre of stock. Soft water makes it clear, or acid in "
            f"its water first: {printed(alkalinity, 2)} meq/L of it, by the meter, acid into "
            "water, before the calcium"
        )
    return Notice(what, severity, risk.index, 0.0, risk.source_key)
