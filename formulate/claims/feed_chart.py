"""A feed chart worked out: what every week holds, costs and claims, and where it jumps."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from formulate.chemistry.conductivity import ec
from formulate.chemistry.speciation import speciate
from formulate.chemistry.state import Speciation
from formulate.claims.chart_reading import ChartSheet, read_chart_sheet
from formulate.claims.chart_slips import find_chart_slips
from formulate.claims.chart_targets import (
    changes,
    jump_findings,
    pouring_findings,
    target_findings,
)
from formulate.claims.chart_week import CHART_KEYS, CHART_RATIOS, ChartWeek
from formulate.claims.finding import gravest_finding
from formulate.errors import Faults, MissingData, shortened
from formulate.ingredients.dissolve import dissolve
from formulate.ingredients.water import Water
from formulate.ingredients.water import water as as_water
from formulate.recipes.target import Target
from formulate.stoichiometry.quantities import check_volume
from formulate.stoichiometry.solution import Solution
from formulate.working import Shown, printed

__all__ = ["ChartJump", "FeedChart", "read_chart"]

PERCENT = 100.0


@dataclass(frozen=True)
class ChartJump(Shown):
    """
    A change from one week to the next.

    Attributes
    ----------
    subject : str
        "EC" or a nutrient key.
    before : str
        The week before.
    after : str
        The week after.
    value_before : float
        Its value then, in mS/cm or mg/L. [-]
    value_after : float
        Its value afterwards, likewise. [-]
    percent : float
        The change as a share of the larger of the two, its sign kept. [%]
    """

    subject: str
    before: str
    after: str
    value_before: float
    value_after: float
    percent: float

    def __str__(self):
        is_ec, both = self.subject == "EC", (self.value_before, self.value_after)
        values = " to ".join(f"{v:.2f}" if is_ec else printed(v, 3) for v in both)
        of_unit = "mS/cm" if is_ec else "mg/L"
        weeks = f"from {self.before} to {self.after}"
        return f"{self.subject} {weeks}: {values} {of_unit} ({self.percent:+.0f} %)"


@dataclass(frozen=True, eq=False)
class FeedChart(Shown):
    """
    A feed chart, worked out.

    Attributes
    ----------
    weeks : tuple of ChartWeek
        In the order of the chart.
    state : Speciation
        The ions of all weeks, one stack.
    volume : float or None
        Volume of solution that is used in a week. [L]
    skipped : tuple of str
        What was skipped above and below the weeks, and which weeks are doubtful.
    """

    weeks: tuple
    state: Speciation = field(repr=False)
    volume: float | None = None
    skipped: tuple = ()

    @property
    def assumed(self):
        """Return what was skipped, and how weeks and short units such as tsp/gal were read."""
        units = (one for week in self.weeks for one in week.assumed)
        return (*self.skipped, *dict.fromkeys(units))

    @property
    def notices(self):
        """Return what to know of pH and EC: ranges left, chelates outside their window."""
        return self.state.notices

    @property
    def findings(self):
        """Return one finding for each claim of the chart."""
        return tuple(one for week in self.weeks for one in week.findings)

    @cached_property
    def target_findings(self):
        """Return one finding for each nutrient of each week's target."""
        return target_findings(self.weeks)

    @cached_property
    def jump_findings(self):
        """Return the changes between weeks beyond what is common practice."""
        return jump_findings(self.weeks)

    @cached_property
    def pouring_findings(self):
        """Return which solids are likely to fall out in the chart's order of pouring."""
        return pouring_findings(self.weeks)

    @property
    def warnings(self):
        """Return what no claim tells and nobody may miss: the solids that fall out."""
        return tuple(one for one in self.pouring_findings if one.severity != "note")

    @property
    def all_findings(self):
        """Return every finding: claims, targets, jumps, the order of pouring."""
        more = (self.target_findings, self.jump_findings, self.pouring_findings)
        return (*self.findings, *(one for found in more for one in found))

    @property
    def verdict(self):
        """Return the gravest verdict; "cannot tell" if the chart claims nothing."""
        return gravest_finding(self.findings)

    @cached_property
    def slips(self):
        """Return which slips explain the wrong claims of all weeks at once."""
        return find_chart_slips(self.weeks)

    @property
    def jumps(self):
        """Return the largest change of EC and of each nutrient, the largest first. [%]"""
        found = [self._jump(subject) for subject in ("EC", *CHART_KEYS)]
        return tuple(
            sorted((one for one in found if one), key=lambda one: -abs(one.percent))
        )

    def _jump(self, subject):
        """Return the largest change of one subject, or None if it never changes."""
        found = [ChartJump(subject, *one) for one in changes(self.weeks, subject)]
        return max(found, key=lambda one: abs(one.percent), default=None)

    @property
    def costs(self):
        """Return week to its cost; None without volume or a price. [currency]"""
        return {week.name: self._cost(week) for week in self.weeks}

    @property
    def cost_of_all(self):
        """Return what all weeks cost, each range as often as it has weeks. [currency]"""
        costs = [self._cost(week) for week in self.weeks]
        if None in costs:
            return None
        counts = (week.line.count for week in self.weeks)
        return sum(c * n for c, n in zip(costs, counts, strict=True))

    def _cost(self, week):
        per_litre = week.cost_per_litre
        return None if None in (per_litre, self.volume) else per_litre * self.volume

    @property
    def columns(self):
        """Return the names of the columns of `rows`."""
        ratios = (f"{a}:{b}" for a, b in CHART_RATIOS)
        readings = ("EC mS/cm", "pH", *ratios, "cost per L", "cost")
        return ("week", *(f"{key} mg/L" for key in CHART_KEYS), *readings)

    def rows(self):
        """
        Return one row for each week, as `columns` names them.

        Returns
        -------
        tuple of tuple
            Week, mg/L of each nutrient, EC in mS/cm, pH, ratios by mass, costs. [-]

        Examples
        --------
        >>> chart = read_chart("week,A g/L\\n1,0.5\\n2,1\\n", {"A": "KNO3"})
        >>> [(row[0], round(row[3], 1)) for row in chart.rows()]
        [('1', 193.4), ('2', 386.7)]
        """
        return tuple(
            (
                week.name,
                *(week.mg_l.get(key, 0.0) for key in CHART_KEYS),
                week.ec,
                week.ph,
                *week.ratios.values(),
                week.cost_per_litre,
                self._cost(week),
            )
            for week in self.weeks
        )

    def to_frame(self):
        """
        Return the weeks as a table.

        Returns
        -------
        pandas.DataFrame
            One row for each week, units in the names of the columns. [-]

        Examples
        --------
        >>> chart = read_chart("week,A g/L\\n1,0.5\\n2,1\\n", {"A": "KNO3"})
        >>> chart.to_frame()["K mg/L"].round(1).tolist()
        [193.4, 386.7]
        """
        import pandas as pd

        return pd.DataFrame(self.rows(), columns=list(self.columns)).set_index("week")

    def __str__(self):
        jump = [f"largest change: {self.jumps[0]}"] if self.jumps else []
        told = f", claims: {self.verdict}" if self.findings else ""
        head = f"feed chart of {len(self.weeks)} weeks{told}"
        notices = map(str, self.notices)
        slip = [str(self.slips)] if self.slips.off else []
        cost = self.cost_of_all
        paid = [] if cost is None else [f"cost of all weeks: {printed(cost)}"]
        beyond = [str(one) for one in self.jump_findings if not one.is_right]
        told = [*map(str, self.weeks), *slip, *jump, *beyond, *paid]
        return "\n".join([head, *told, *self.assumed, *notices])


def read_chart(path_or_text, products, *, water=None, targets=None, volume=None):
    """
    Return a feed chart, worked out week by week.

    The first column names the week, the weeks ("1-2") or the stage; each other one is a product with its unit in
    the heading ("A mL/L", "B (tsp/gal)"), a claim ("EC mS/cm", "N ppm", "ppm (500)", "pH"),
    or a note: "stage", "day" and the like, and what holds words only; notes are told.
    What begins with the name of a product is that product. Titles above the headings and
    notes below the weeks are skipped and told. Weeks may stand across the top as well.
    The pH is that of the solution closed to the air.

    Parameters
    ----------
    path_or_text : str or Path
        A CSV file, or its text where that has more than one line.
    products : mapping of str to Ingredient
        Name in the headings to product, salt or formula.
    water : Water, str, mapping or None
        The water; pure if None.
    targets : Target, mapping of str to Target, or None
        What every week, or each week named, is to hold; "2" is held by a line "1-2".
    volume : float, str or None
        Volume of solution used in a week, for the cost. [L]

    Returns
    -------
    FeedChart
        The chart.

    Raises
    ------
    InputError
        With every fault by line and column.

    Examples
    --------
    >>> chart = read_chart("week;A g/L;EC mS/cm\\n1;0,5;0,7\\n2;1;1,3\\n", {"A": "KNO3"})
    >>> chart.verdict, [round(week.ec, 2) for week in chart.weeks]
    ('right', [0.69, 1.35])
    >>> print(chart.jumps[0])
    N from 1 to 2: 69.3 to 139 mg/L (+50 %)
    """
    faults, sheet = Faults(), ChartSheet(())
    with faults.collecting():
        sheet = read_chart_sheet(path_or_text, products)
    lines = sheet.lines
    with faults.collecting("water"):
        water = water if isinstance(water, Water) else as_water(water or {})
    with faults.collecting():
        volume = None if volume is None else check_volume(volume)
    of_week = _targets(targets, lines, faults)
    faults.raise_if_any()
    solutions = _solutions(lines, water, faults)
    faults.raise_if_any()
    state = speciate(_stack(solutions))
    readings = _readings(state, len(solutions))
    weeks = (
        ChartWeek(line, made, ph, of_ec, water, of_week.get(line.week))
        for line, made, (ph, of_ec) in zip(lines, solutions, readings, strict=True)
    )
    return FeedChart(tuple(weeks), state, volume, sheet.assumed)


def _targets(targets, lines, faults):
    """Return week to target."""
    if targets is None or isinstance(targets, Target):
        return {line.week: targets for line in lines}
    if not isinstance(targets, Mapping):
        faults.add(
            f"targets: {shortened(targets)}: give a Target, or one for each week"
        )
        return {}
    found, weeks = {}, [line.week for line in lines]
    for key, wanted in targets.items():
        week = str(key).strip()
        if not isinstance(wanted, Target):
            faults.add(f"targets: week {week}: {shortened(wanted)} is no Target")
        covering = _lines_of(week, lines)
        if weeks and not covering:
            faults.add(
                f"targets: no week {shortened(week)}; there are {', '.join(weeks)}"
            )
        for name in covering:
            if found.setdefault(name, wanted) is not wanted:
                what = "has two targets; give it one"
                faults.add(f"targets: week {week}: the line {name!r} {what}")
    return found


def _lines_of(week, lines):
    """Return the names of the lines that a week belongs to: its own, else those that cover it."""
    own = [line.week for line in lines if line.week == week]
    if own or not week.isdecimal():
        return own
    return [line.week for line in lines if int(week) in line.numbers]


def _solutions(lines, water, faults):
    """Return what the doses of each line make."""
    found = []
    for line in lines:
        with faults.collecting(f"line {line.number}"):
            amounts = {one.ingredient: one.amount for one in line.doses}
            found.append(dissolve(amounts, volume=1.0, water=water))
    return found


def _stack(solutions):
    """Return solutions as one."""
    forms = dict.fromkeys(form for one in solutions for form in one.forms)
    return Solution(
        {
            key: np.array([one.forms.get(key, 0.0) for one in solutions])
            for key in forms
        },
        np.array([one.unassigned_charge for one in solutions]),
        solutions[0].temperature,
    )


def _readings(state, count):
    """Return pH and EC of each week."""
    try:
        of_ec = [float(value) for value in np.broadcast_to(ec(state), count)]
    except MissingData:
        of_ec = [None] * count
    ph = (float(value) for value in np.broadcast_to(state.ph, count))
    return list(zip(ph, of_ec, strict=True))
