"""The chemistry: pH and EC, ions and pairs, what may fall out, the correction, air, iron."""

from formulate.sheets.chemistry_tables import chemistry_tables, species_table
from formulate.workbench.drawn_panel import DrawnPanel
from formulate.working import printed

__all__ = ["ChemistryPanel"]

PH, EC, AIRED, LATER = (
    "the pH",
    "the EC",
    "the pH once aerated",
    "the pH once corrected",
)
DOSE, SOLID, SOLID_IN_AIR = "the dose", "the index of ", "the index in air of "
TOMORROW = " tomorrow"  # the same number, told among what the air does
FALLEN = "fallen"


def _carriers(outcome):
    from formulate.sheets.figures.carriers import carriers

    return carriers(outcome.expected.conductivity), False


def _ions(outcome):
    from formulate.sheets.figures.ions import ions

    return ions(outcome.expected.state), True


def _solids(outcome):
    from formulate.sheets.figures.index_bars import index_bars

    return index_bars(outcome.solids), False


def _titration(outcome):
    from formulate.chemistry.titration import titration_curve
    from formulate.sheets.figures.titration import titration

    if not outcome.correction.doses:
        return None, False
    dose = outcome.correction.doses[0]
    curve = titration_curve(outcome.expected.solution, dose.ingredient)
    return titration(curve, dose=dose), True


def _phosphate(outcome):
    from formulate.sheets.figures.species_ph import species_ph

    held = outcome.expected.solution
    return (
        (species_ph(held, "phosphate"), True)
        if "phosphate" in held.forms
        else (None, False)
    )


def _interval(ph):
    """Return between what a pH lies, where its words do not tell it."""
    low, high = f"{ph.low:.1f}", f"{ph.high:.1f}"
    return f"{low} to {high}" if ph.is_single and low != high else ""


PICTURES = {  # slot to its picture, and whether no table beside it tells its numbers
    "picture of carriers": _carriers,
    "picture of ions": _ions,
    "picture of solids": _solids,
    "picture of titration": _titration,
    "picture of phosphate": _phosphate,
}


class ChemistryPanel(DrawnPanel):
    """
    What happens in the water; pictures and what falls out follow once they are seen.

    Parameters
    ----------
    state : State
        The work.
    """

    PART, LABEL = "chemistry", "5 Chemistry"
    SLOTS = tuple(PICTURES)
    RESTS_ON = "expected"  # its mixing and its units change nothing here

    def _made(self, slot):
        """Return a picture, with its numbers where they stand nowhere else."""
        picture, is_alone = PICTURES[slot](self.state.found.outcome)
        if picture is None:
            return self._macro("unmade", ("nothing of it in this batch",))
        return self._macro("picture", picture.svg, picture.table if is_alone else None)

    # --- what falls out in the end, which takes longest -----------------------------------

    @property
    def _has_fallen(self):
        """Return whether what falls out in the end is worked out, or nothing would."""
        risks = self.state.found.outcome.solids
        return "precipitation" in vars(risks) or not risks.may_fall

    def _steps_of(self, late):
        """Return the steps: what falls out first, then the pictures."""
        falls = FALLEN in self.seen and not self._has_fallen
        return [*([self._let_fall] if falls else []), *super()._steps_of(late)]

    def _let_fall(self):
        """Work out what falls out in the end."""
        if self.state.found.has_recipe:
            self.state.found.outcome.solids.rows()  # kept there
            self._show()

    # --- what is shown ---------------------------------------------------------------------

    def _facts(self):
        """Return what the template shows beside the state."""
        if not self.state.found.has_recipe:
            return {}
        outcome = self.state.found.outcome
        quick = not self._has_fallen
        tables = {t.key: t for t in chemistry_tables(outcome, quick=quick)}
        return {
            **{key: tables[key] for key in ("meters", "carriers", "solids")},
            **{key: tables[key] for key in ("correction", "correcting", "iron")},
            "air": tables["air"],
            "species": species_table(outcome),
            "expected": outcome.expected,
            "interval": _interval(outcome.expected.ph),
            "ec": printed(outcome.expected.conductivity.ec, 3),
            "keys": {"pH when mixed": PH, "pH once aerated": AIRED, "EC at 25 °C": EC},
            "air_keys": (AIRED, LATER),
            "doses": [dose.ingredient.name for dose in outcome.correction.doses],
        }

    def _worked(self, key):
        """Return the working of a pH, the EC, a dose or an index."""
        outcome, key = self.state.found.outcome, key.removesuffix(TOMORROW)
        if key in (PH, EC):
            return outcome.working(key.removeprefix("the "))
        if key == AIRED:
            return outcome.expected.aerated.working("pH")
        if key == LATER:
            return outcome.correction.after.working("pH")
        if key.startswith(DOSE):
            return self._dose_working(key.removeprefix(DOSE).strip())
        if key.startswith(SOLID_IN_AIR):
            return outcome.correction.after.working(key.removeprefix(SOLID_IN_AIR))
        return outcome.working(key.removeprefix(SOLID))

    def _dose_working(self, name):
        """Return the working of a dose, the first if no name is given."""
        found = self.state.found.outcome.correction
        doses = [d for d in found.doses if name in ("", d.ingredient.name)]
        return found.working(doses[0]) if doses else None
