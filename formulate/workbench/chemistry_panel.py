"""The chemistry: pH and EC, ions and pairs, what may fall out, the correction, air, iron."""

from formulate.chemistry.meter_working import carried_working, share_working
from formulate.chemistry.species_working import share_steps, species_working
from formulate.jobs import ShelfLine
from formulate.sheets.chemistry_tables import (
    OTHERS,
    chemistry_tables,
    others_working,
    species_named,
    species_table,
)
from formulate.sheets.dose_workings import (
    DOSE_COLUMNS,
    IRON_COLUMNS,
    dose_working,
    fallen_working,
    index_with_limits,
    iron_working,
    oxygen_workings,
    portion_text,
    portion_working,
    salt_working,
)
from formulate.sheets.meter_workings import meter_workings
from formulate.sheets.part_sources import chemistry_sources
from formulate.stoichiometry.notation import printed_ion
from formulate.workbench.drawn_panel import DrawnPanel
from formulate.workbench.numbers import Numbers
from formulate.workbench.shelf_edits import with_line
from formulate.working import Working, printed

__all__ = ["ChemistryPanel"]

PH, EC, AIRED, LATER = (
    "the pH",
    "the EC",
    "the pH once aerated",
    "the pH once corrected",
)
DOSE, SOLID, SOLID_IN_AIR = "the dose", "the index of ", "the index in air of "
AIR = (AIRED, LATER)
TOMORROW = " tomorrow"  # the same number, told among what the air does
FALLEN, PORTION = "fallen", "the first portion"
BUFFER, ERROR, METER, STRENGTH = "the buffer", "the error", "the meter", "the strength"
METERS = (PH, AIRED, BUFFER, EC, ERROR, METER, STRENGTH)  # as their table has them


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
    is_told = not ph.is_single or low == high or "(" in ph.words
    return "" if is_told else f"{low} to {high}"


PICTURES = {  # slot to its picture, and whether no table beside it tells its numbers
    "picture of carriers": _carriers,
    "picture of ions": _ions,
    "picture of solids": _solids,
    "picture of titration": _titration,
    "picture of phosphate": _phosphate,
}


class ChemistryPanel(Numbers, DrawnPanel):
    """
    What happens in the water; pictures and what falls out follow once they are seen.

    Parameters
    ----------
    state : State
        The work.
    """

    PART = "chemistry"
    SLOTS = tuple(PICTURES)
    is_quick = True  # whether what falls out in the end is not shown yet
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
        falls = FALLEN in self.seen and self.is_quick
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
        self.is_quick = quick = not self._has_fallen
        tables = {t.key: t for t in chemistry_tables(outcome, quick=quick)}
        return {
            **{key: tables[key] for key in ("meters", "carriers", "solids")},
            **{key: tables[key] for key in ("correction", "correcting", "iron")},
            "air": tables["air"],
            "species": species_table(outcome),
            "expected": outcome.expected,
            "interval": _interval(outcome.expected.ph),
            "ec": printed(outcome.expected.conductivity.ec, 3),
            "keys": dict(
                zip((name for name, _ in tables["meters"].rows), METERS, strict=True)
            ),
            "there": (*species_named(outcome.expected.state), OTHERS),
            "carrying": [ion for ion, _, _ in outcome.expected.shares()],
            "dose_columns": DOSE_COLUMNS[1:],
            "iron_columns": IRON_COLUMNS,
            "portion": portion_text(outcome.correction),
            "air_keys": {
                row[0]: key for row, key in zip(tables["air"].rows, AIR, strict=False)
            }
            if outcome.correction.poured
            else {tables["air"].rows[0][0]: AIRED},
            "may_buy": not outcome.correction.at_hand and not self.state.job.shelf_file,
            "doses": [dose.ingredient.name for dose in outcome.correction.doses],
        }

    def _followed(self, key, subject, column):
        """Return the working of a number of the chemistry."""
        outcome = self.state.found.outcome
        if column:
            which, _, name = subject.partition(" ")
            of = {"dose": self._of_dose, "solid": self._of_solid, "iron": self._of_iron}
            of |= {"carried": self._of_ion, "species": self._of_species}
            if which in of:
                return of[which](name, column)
            return oxygen_workings(outcome.expected.conductivity.ec)
        if key in METERS:
            return self._of_meters(key)
        if key == PORTION:
            return portion_working(outcome.correction)
        key = key.removesuffix(TOMORROW)
        if key == AIRED:
            return self._of_meters(key)
        if key == LATER:
            return outcome.correction.after.working("pH")
        if key.startswith(DOSE):
            return self._dose_working(key.removeprefix(DOSE).strip())
        if key.startswith(SOLID_IN_AIR):
            name, state = key.removeprefix(SOLID_IN_AIR), outcome.correction.after
        else:
            name, state = key.removeprefix(SOLID), outcome.expected.state
        return index_with_limits(state, name)

    def _of_meters(self, key):
        """Return the working of what a meter shows."""
        behind = meter_workings(self.state.found.outcome.expected)
        return dict(zip(METERS, behind, strict=True))[key]()

    def _of_ion(self, ion, column):
        """Return the working of what an ion carries of the EC."""
        found = self.state.found.outcome.expected.conductivity
        is_share = column.startswith("%")
        return (share_working if is_share else carried_working)(found, ion)

    def _of_species(self, name, column):
        """Return the working of how much there is of an ion or pair, and what it holds."""
        state = self.state.found.outcome.expected.state
        if name == OTHERS:
            return others_working(state)
        if column == "holds":
            title = f"What {printed_ion(name)} holds"
            return Working(title, tuple(share_steps(state, name)))
        return species_working(state, name)

    def _of_dose(self, name, column):
        """Return the working of a number of a dose."""
        found = self.state.found.outcome.correction
        doses = {dose.ingredient.name: dose for dose in found.doses}
        return dose_working(found, doses[name], column) if name in doses else None

    def _of_iron(self, name, column):
        """Return the working of a number of a source of iron."""
        sources = {s.ingredient.name: s for s in self.state.found.outcome.iron}
        return iron_working(sources[name], column) if name in sources else None

    def _of_solid(self, name, column):
        """Return the working of how much of a solid falls, or of its share of solubility."""
        risks = self.state.found.outcome.solids
        if column == "share":
            return salt_working(risks, name)
        return fallen_working(risks, name) if self._has_fallen else None

    def _source_keys(self):
        """Return the keys of the sources of the constants of what is in the batch."""
        found = self.state.found
        own = chemistry_sources(found.outcome) if found.has_recipe else ()
        return [*super()._source_keys(), *own]

    def _dose_working(self, name):
        """Return the working of a dose, the first if no name is given."""
        found = self.state.found.outcome.correction
        doses = [d for d in found.doses if name in ("", d.ingredient.name)]
        return found.working(doses[0]) if doses else None

    # --- handlers --------------------------------------------------------------------------

    def _press_buy(self, name):
        """Put the acid or alkali on the shelf that brings the pH there."""
        line = ShelfLine(ingredient=name)
        self.state.alter(with_line, line, said=f"{name} is on the shelf")
