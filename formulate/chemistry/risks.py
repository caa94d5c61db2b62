"""What may fall out of a solution, in words: none, watch, likely, certain.

A saturation index above 0 says that a solid can form, not that it will: below a certain
supersaturation, another for each solid, nothing happens for days. The table solid_risks
has these limits with their sources. Soluble salts are judged by a share of their handbook
solubility; it is 1 in the saturated solution of the salt alone and counts what others add.

Equation of the share of a handbook solubility [definition]::

    share = (Π (m / m saturated)^ν)^(1/Σν)        m: of the ions, per kg of water
"""

from dataclasses import dataclass
from functools import cache, cached_property
from types import MappingProxyType

import numpy as np

from formulate.checks import checked_number, checked_values
from formulate.chemistry.activity import BLEND
from formulate.chemistry.constants import constants
from formulate.chemistry.precipitation import precipitate
from formulate.chemistry.protons import mean_protons
from formulate.chemistry.solids import mineral, mineral_names
from formulate.chemistry.speciation import index_spread
from formulate.chemistry.state import Speciation
from formulate.errors import InputError, MissingData, shortened
from formulate.ingredients.solubility import solubility, solubility_formulas
from formulate.notices import Notice, gravest_first
from formulate.stoichiometry.formula import molar_mass, parse_formula
from formulate.tables import read_table
from formulate.working import Shown, printed

__all__ = [
    "RISKS",
    "SolidRisk",
    "SolidRisks",
    "likely_from",
    "risk_level",
    "risk_rule",
    "salt_shares",
    "solid_risks",
]

RISKS = ("none", "watch", "likely", "certain")
SEVERITY, LIKELY = (None, "note", "caution", "serious"), 2
SALTS = "soluble salts"  # their line in the table
LEAST_SOLUBLE = 2.0  # g in 100 g of water: less soluble ones have an index
SHOWN_FROM = -1.5  # index from which a solid that matters is named; others from 0
SALT_SHOWN_FROM = 30.0  # %
PROTONATED, NEAREST = ("phosphate", "carbonate", "borate", "silicate"), 0.5


@dataclass(frozen=True, eq=False)
class SolidRisk:
    """
    How near one solid is to falling out.

    Attributes
    ----------
    name : str
        Name of the solid, or formula of a soluble salt.
    role : str
        "matters", "trace", "harmless" or "soluble".
    index : float
        Saturation index; of a soluble salt the share of its handbook solubility. [-]
    low : float
        The same by the activity model that gives least. [-]
    high : float
        The same by the model that gives most. [-]
    word : str
        "none", "watch", "likely" or "certain".
    when : str
        How soon, where it may form.
    reason : str
        Where it matters, or why it does not.
    source_key : str
        Where the limits of the words come from.
    """

    name: str
    role: str
    index: float
    low: float
    high: float
    word: str
    when: str
    reason: str
    source_key: str

    @property
    def level(self):
        """Return 0 for none, 1 for watch, 2 for likely, 3 for certain."""
        return RISKS.index(self.word)

    @property
    def words_by_model(self):
        """Return the words that the models give, from the least to the most."""
        return tuple(RISKS[risk_level(self.name, end)] for end in (self.low, self.high))

    @property
    def words(self):
        """Return the word, with those of the models where they differ."""
        low, high = self.words_by_model
        return self.word if low == high else f"{self.word} ({low} to {high} by model)"

    @property
    def number(self):
        """Return the index or the share as it is printed."""
        if self.role == "soluble":
            return f"{self.index:.0f} % of its solubility"
        span = f" ({self.low:+.2f} to {self.high:+.2f})" if self.high > self.low else ""
        return f"{self.index:+.2f}{span}"


@dataclass(frozen=True, eq=False)
class SolidRisks(Shown):
    """
    What may fall out of one solution.

    Attributes
    ----------
    state : Speciation
        The state.
    solids : tuple of SolidRisk
        Solids near saturation or beyond, the most likely first.
    """

    state: Speciation
    solids: tuple

    @property
    def word(self):
        """Return the gravest word of all."""
        return RISKS[max((risk.level for risk in self.solids), default=0)]

    @cached_property
    def precipitation(self):
        """Return what would fall out in the end of what matters in practice."""
        return precipitate(self.state)

    @property
    def may_fall(self):
        """Return whether anything that matters is above saturation."""
        return any(r.role == "matters" and r.index > 0 for r in self.solids)

    @property
    def telling(self):
        """Return the solids that may form: watch, likely or certain."""
        return tuple(risk for risk in self.solids if risk.level)

    @cached_property
    def notices(self):
        """Return a notice for each solid that may form."""
        return gravest_first(self._notice(risk) for risk in self.telling)

    def notices_beyond(self, other, when):
        """
        Return a notice for each solid that is likely or certain here and less so in another.

        Parameters
        ----------
        other : SolidRisks
            What may fall out of the solution in another state.
        when : str
            When this state is there, in words.

        Returns
        -------
        tuple of Notice
            The gravest first.

        Examples
        --------
        >>> from formulate.chemistry.speciation import speciate
        >>> from formulate.stoichiometry.solution import solution
        >>> hard = solution({"Ca": 3.0, "HCO3": 6.0})
        >>> closed, aired = (speciate(hard, air_co2_ppm=air) for air in (1e5, 420))
        >>> found = solid_risks(aired).notices_beyond(solid_risks(closed), "in the air")
        >>> found[0].what[:26]
        'in the air: calcite likely'
        """
        before = {risk.name: risk.level for risk in other.solids}
        found = [
            self._notice(risk, f"{when}: ")
            for risk in self.telling
            if risk.level >= LIKELY and risk.level > before.get(risk.name, 0)
        ]
        return gravest_first(found)

    def _notice(self, risk, when=""):
        what = f"{when}{risk.name} {risk.words}: "
        if risk.role == "soluble":
            what += f"{risk.number}; it crystallises, most of all in the cold"
        else:
            what += f"index {risk.number}, {risk.when}; {risk.reason}"
        severity = SEVERITY[risk.level]
        return Notice(what, severity, risk.index, None, risk.source_key)

    def rows(self, *, in_the_end=True):
        """
        Return what is shown: solid, word, number, what is lost in the end, why.

        Parameters
        ----------
        in_the_end : bool
            Whether what falls out in the end is worked out, which takes longest.

        Returns
        -------
        tuple of tuple of str
            One row per solid.

        Examples
        --------
        >>> from formulate.chemistry.speciation import speciate
        >>> from formulate.stoichiometry.solution import solution
        >>> solid_risks(speciate(solution({"Ca": 60.0, "SO4": 60.0}))).rows()[0][:2]
        ('gypsum', 'certain')
        """
        return tuple(
            (
                risk.name,
                risk.words,
                risk.number,
                self._in_the_end(risk) if in_the_end else "",
                risk.reason,
            )
            for risk in self.solids
        )

    def _in_the_end(self, risk):
        """Return how much of a solid there would be in the end, as it is printed."""
        if risk.role != "matters" or risk.index <= 0:
            return ""
        amount = self.precipitation.amounts.get(risk.name, 0.0)
        mass = mineral(risk.name).molar_mass * amount
        return f"{printed(mass, 3)} mg/L" if amount else "another solid takes it"

    def __str__(self):
        if not self.solids:
            return "nothing is near saturation"
        rows = [
            f"{name}: {words}; {number}" + (f"; {lost}" if lost else "")
            for name, words, number, lost, _ in self.rows()
        ]
        return "\n".join(rows)


@cache
def _rules():
    return {row["solid"]: row for row in read_table("solid_risks")}


def risk_rule(name):
    """
    Return from which index a solid is told as watch, likely and certain.

    Parameters
    ----------
    name : str
        Name of the solid, or formula of a soluble salt.

    Returns
    -------
    Row
        Its line of the table of risks, or that of its role.

    Examples
    --------
    >>> risk_rule("gypsum").number("likely")
    0.3
    """
    if name in _rules():
        return _rules()[name]
    if name in _salts():
        return _rules()[SALTS]
    role = mineral(name).role
    return _rules().get(role, _rules()[SALTS])


def risk_level(name, index):
    """
    Return how likely a solid is to form at an index: 0 none, 1 watch, 2 likely, 3 certain.

    Parameters
    ----------
    name : str
        Name of the solid, or formula of a soluble salt.
    index : float or array
        Saturation index; of a soluble salt its share of the handbook solubility in %. [-]

    Returns
    -------
    int or array
        The level, a place in `RISKS`. [-]

    Examples
    --------
    >>> [RISKS[risk_level("gypsum", index)] for index in (-0.5, 0.1, 2.0)]
    ['none', 'watch', 'certain']
    """
    if not isinstance(name, str):
        raise InputError(f"risk_level: {shortened(name)} is no name of a solid")
    rule, index = risk_rule(name), checked_values(index, "index")
    edges = [rule.number(word) for word in RISKS[1:]]
    edges = [edge for edge in edges if edge is not None]
    level = np.searchsorted(edges, index, side="right")
    return level if np.ndim(level) else int(level)


def likely_from(name):
    """
    Return the index from which a solid is likely to form.

    Parameters
    ----------
    name : str
        Name of the solid.

    Returns
    -------
    float
        Saturation index; infinity for one that is never told as likely. [-]

    Examples
    --------
    >>> likely_from("gypsum"), likely_from("calcite")
    (0.3, 1.0)
    """
    found = risk_rule(name).number("likely")
    return np.inf if found is None else found


def solid_risks(state, *, least=None):
    """
    Return what may fall out of a solution, the most likely first.

    In a concentrate each index comes with the spread of the activity models.

    Parameters
    ----------
    state : Speciation
        The state of one solution.
    least : float or None
        Index from which a solid is named, harmless ones from 0 at least; None means -1.5
        for those that matter and 0 for the others. [-]

    Returns
    -------
    SolidRisks
        The solids with words, and what would be lost.

    Raises
    ------
    InputError
        If it is no state, or a stack.

    Examples
    --------
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> print(solid_risks(speciate(solution({"Ca": 20.0, "SO4": 20.0}))))
    gypsum: watch; +0.16; 854 mg/L
    """
    if not isinstance(state, Speciation) or state.shape:
        what = "give the state of one solution, as speciate returns it"
        raise InputError(f"solid_risks: {shortened(state)}; {what}")
    if least is not None:
        least = checked_number(least, "least index")
    found = []
    for name in mineral_names("matters", "trace", "harmless"):
        index = state.saturation_index(name)
        if index >= _least(mineral(name).role, least):
            found.append(_of_mineral(state, name, index))
    for salt, share in salt_shares(state).items():
        if share >= SALT_SHOWN_FROM:
            found.append(_of_salt(salt, share))
    found.sort(key=lambda risk: (-risk.level, risk.role == "harmless", -risk.index))
    return SolidRisks(state, tuple(found))


def _least(role, least):
    """Return the index from which solids of a role are named."""
    if least is None:
        return SHOWN_FROM if role == "matters" else 0.0
    return max(least, 0.0) if role == "harmless" else least


def _of_mineral(state, name, index):
    """Return the risk of a mineral."""
    low, high = index, index
    if state.strength > BLEND.start:
        low, high = index_spread(state, name)
        low, high = min(low, index), max(high, index)
    solid, rule = mineral(name), risk_rule(name)
    word = RISKS[risk_level(name, index)]
    given = (word, rule["when"], solid.reason, rule["source_key"])
    return SolidRisk(name, solid.role, index, low, high, *given)


def _of_salt(salt, share):
    """Return the risk of a soluble salt."""
    rule = risk_rule(SALTS)
    word = RISKS[risk_level(SALTS, share)]
    reason = "by handbook solubility, counted by its ions; a cold night lowers it"
    given = (word, rule["when"], reason, rule["source_key"])
    return SolidRisk(salt, "soluble", share, share, share, *given)


@cache
def _salts():
    """Return formula to its forms, of every salt in the tables that dissolves well."""
    found = {}
    for formula in solubility_formulas():
        forms = dict(parse_formula(formula).forms)
        alone = len(forms) == 1 and not constants().master(*forms).charge
        if len(forms) == 2 or alone:  # such as boric acid
            found[formula] = forms
    return found


@cache
def _saturated(formula, temperature):
    """Return form to its molality in the saturated solution; nothing if it is not known."""
    try:
        known = solubility(formula, temperature)
    except MissingData:
        return {}
    if known.per_100g_water < LEAST_SOLUBLE:
        return {}
    read = parse_formula(formula)
    waterless = read.molar_mass - read.water * molar_mass("H2O")
    per_kg = 1000.0 * known.mass_percent / (100.0 - known.mass_percent) / waterless
    return {form: count * per_kg for form, count in read.forms.items()}


def salt_shares(state):
    """
    Return how much of its handbook solubility each soluble salt takes up.

    Parameters
    ----------
    state : Speciation
        The state of one solution or of a stack.

    Returns
    -------
    mapping of str to float or array
        Formula to share; salts of which an ion is missing are left out. [%]

    Examples
    --------
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> shares = salt_shares(speciate(solution({"K": 1000.0, "NO3": 1000.0}), temperature=20))
    >>> {salt: round(share) for salt, share in shares.items()}
    {'KNO3': 33}
    """
    forms, found = state.solution.forms, {}
    temperature = round(state.temperature, 2)
    for formula, counts in _salts().items():
        if not all(form in forms and np.any(forms[form]) for form in counts):
            continue
        saturated = _saturated(formula, temperature)
        if not saturated:
            continue
        whole, product = sum(counts.values()), 1.0
        for form, count in counts.items():
            held = 1e-3 * forms[form] / state.water_kg_l
            product = product * (held / saturated[form]) ** (count / whole)
        found[formula] = 100.0 * product * _fits(state, formula)
    return MappingProxyType(found)


def _fits(state, formula):
    """Return whether the acid of a salt holds as many protons as it does in the solution."""
    counts, fits = _salts()[formula], True
    bare = {form: state.constants.master(form).charge for form in counts}
    missing = -sum(bare[form] * count for form, count in counts.items())
    for form, count in counts.items():
        if bare[form] < 0 and (missing or form in PROTONATED):
            apart = mean_protons(state, form) - missing / count
            fits = fits & (np.abs(apart) < NEAREST)
    return fits
