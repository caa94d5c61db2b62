"""What meters will show of a batch: its pH, how sure that is, its EC and what carries it."""

from dataclasses import dataclass
from functools import cached_property

from formulate.chemistry.acidity import ph_range, ph_rule
from formulate.chemistry.conductivity import REFERENCE, conductivity, meter_reading
from formulate.chemistry.speciation import speciate
from formulate.notices import Notice, gravest_first
from formulate.stoichiometry.charge import nominal_charge
from formulate.stoichiometry.notation import printed_ion
from formulate.stoichiometry.solution import Solution
from formulate.working import Shown, printed

__all__ = ["COLD", "Expected", "expected"]

COLD = 20.0  # °C, for a meter that is read in a cool reservoir
TOP = 0.02  # share of the EC from which an ion is shown


@dataclass(frozen=True, eq=False)
class Expected(Shown):
    """
    What meters will show of one solution, at 25 °C.

    Attributes
    ----------
    solution : Solution
        The solution.
    alkalinity_error : float
        How far the alkalinity may be off: of the water and by weighing. [meq/L]
    open_charge : float
        Charge of ingredients whose counter-ions are not known. [meq/L]
    """

    solution: Solution
    alkalinity_error: float
    open_charge: float

    @cached_property
    def state(self):
        """Return ions and pairs of the solution, closed to the air."""
        return speciate(self.solution, temperature=REFERENCE)

    @cached_property
    def aerated(self):
        """Return ions and pairs once it is in balance with the air, at 420 ppm."""
        given = {"temperature": REFERENCE, "near": self.state}
        given["air_co2_ppm"] = ph_rule("air carbon dioxide")
        loose = Solution(self.solution.forms, self.solution.unassigned_charge)
        return speciate(loose, **given)

    @cached_property
    def ph(self):
        """Return the pH when mixed, with its interval."""
        return self._range(self.state)

    @cached_property
    def ph_aerated(self):
        """Return the pH in balance with the air, with its interval."""
        return self._range(self.aerated)

    @cached_property
    def conductivity(self):
        """Return the conductivity at 25 °C and which ion carries how much."""
        return conductivity(self.state)

    def _range(self, state):
        return ph_range(
            state,
            alkalinity_error=self.alkalinity_error,
            weight_error_percent=0.0,
            open_charge=self.open_charge,
        )

    @cached_property
    def notices(self):
        """Return what to know of pH and EC."""
        found = [*self.state.notices, *self.conductivity.notices]
        if not self.ph.is_single:
            why = (
                f"{printed(self.open_charge, 2)} meq/L of an ingredient's charge is not known"
                if self.open_charge > self.alkalinity_error
                else f"little buffers it: {printed(self.ph.buffer_capacity, 2)} meq/L for one unit"
            )
            what = f"no single pH: {self.ph.words}; {why}. Mix, measure, then correct"
            found.append(Notice(what, "caution", self.ph.high, None, "definition"))
        return gravest_first(found)

    @property
    def line(self):
        """Return pH, EC and the three ions that carry most of it, in one line."""
        most = self.shares()[:3]
        three = ", ".join(f"{printed_ion(ion)} {share:.0f} %" for ion, _, share in most)
        found = self.conductivity
        return (
            f"expected: pH {self.ph.words}, {self.ph_aerated.words} once aerated; "
            f"EC {printed(found.ec, 3)} mS/cm at 25 °C ± {found.error_percent:g} %, "
            f"carried by {three} ..."
        )

    def rows(self):
        """
        Return what is shown: what it is, and its value with unit.

        Returns
        -------
        tuple of (str, str)
            Rows. [-]

        Examples
        --------
        >>> from formulate.stoichiometry.solution import solution
        >>> feed = solution({"K": 5.0, "Ca": 4.0, "NO3": 12.0, "P": 1.0})
        >>> [name for name, _ in expected(feed).rows()][:2]
        ['pH when mixed', 'pH once aerated']
        """
        found = self.conductivity
        reading = meter_reading(self.state, temperature=COLD, reference=REFERENCE)
        return (
            ("pH when mixed", self.ph.words),
            ("pH once aerated", self.ph_aerated.words),
            (
                "acid or alkali for one pH unit",
                f"{printed(self.ph.buffer_capacity, 2)} meq/L",
            ),
            ("EC at 25 °C", f"{printed(found.ec, 3)} mS/cm"),
            ("EC may be off by", f"{found.error_percent:g} %"),
            (
                f"meter at {COLD:g} °C, 2 % per °C to 25",
                f"{printed(reading, 3)} mS/cm",
            ),
            ("ionic strength", f"{printed(self.state.ionic_strength, 3)} mmol/L"),
        )

    def shares(self):
        """
        Return the ions that carry most of the EC, the rest in one row.

        Returns
        -------
        tuple of (str, float, float)
            Ion, what it carries, its share of the EC. [mS/cm]

        Examples
        --------
        >>> from formulate.stoichiometry.solution import solution
        >>> found = expected(solution({"K": 5.0, "NO3": 5.0})).shares()
        >>> [ion for ion, _, _ in found]
        ['K+', 'NO3-']
        """
        whole, parts = self.conductivity.ec, self.conductivity.by_ion
        shown = [
            (ion, v, 100 * v / whole) for ion, v in parts.items() if v >= TOP * whole
        ]
        rest = whole - sum(v for _, v, _ in shown)
        if rest > 1e-3 * whole:
            shown.append(("others", rest, 100 * rest / whole))
        return tuple(shown)

    def __str__(self):
        rows = [f"{name}: {value}" for name, value in self.rows()]
        ions = [
            f"{ion:>8} {v:.3f} mS/cm {share:5.1f} %" for ion, v, share in self.shares()
        ]
        return "\n".join([*rows, *ions, *map(str, self.notices)])


def expected(solution, *, amounts=(), volume=1.0, water=None):
    """
    Return what meters will show of a solution.

    Parameters
    ----------
    solution : Solution
        The solution.
    amounts : iterable of (Ingredient, float)
        What was weighed for the batch, for how far weights may be off. [g]
    volume : float
        Volume of the batch. [L]
    water : Water or None
        The water, for how far its alkalinity may be off.

    Returns
    -------
    Expected
        The pH and the EC with how sure they are.

    Examples
    --------
    >>> from formulate.stoichiometry.solution import solution
    >>> found = expected(solution({"K": 5.0, "Ca": 4.0, "NO3": 12.0, "P": 1.0}))
    >>> round(found.conductivity.ec, 2)
    1.55
    """
    tap = abs(water.solution.alkalinity()) if water is not None else 0.0
    error = ph_rule("alkalinity error") / 100 * tap
    error, unknown = max(error, ph_rule("least alkalinity error")), 0.0
    for ingredient, amount in amounts:
        alkaline = nominal_charge(
            {k: v for k, v in ingredient.forms.items() if k != "carbonate"}
        )
        per_unit = abs(alkaline + ingredient.unassigned_charge)
        error += per_unit * (ingredient.weighing_step or 0.0) / 2 / volume
        unknown += abs(ingredient.unassigned_charge) * amount / volume
    return Expected(solution, error, unknown)
