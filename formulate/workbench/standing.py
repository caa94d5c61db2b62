"""Where each part of the bench stands, in a few words and a mark."""

from formulate.ingredients.water import balance_notices
from formulate.mixing.nearness import mixing_rule
from formulate.sheets.claims_tables import verdict_counts
from formulate.sheets.tables import printed_cost
from formulate.workbench.findings import PARTS
from formulate.working import printed

__all__ = ["part_label", "standing"]

READY, TO_SETTLE, UNKNOWN = "✓ ", "▸ ", ""  # marks of a part
WRONG = ("wrong", "impossible", "cannot be read")


def part_label(part):
    """
    Return the heading of a part, with its place in the order of the flow.

    Parameters
    ----------
    part : str
        The part.

    Returns
    -------
    str
        Number and name.

    Examples
    --------
    >>> part_label("chemistry")
    '5 Chemistry'
    """
    name = "two jobs" if part == "beside" else part
    return f"{tuple(PARTS).index(part) + 1} {name.capitalize()}"


def standing(state, part):
    """
    Return where a part stands.

    Parameters
    ----------
    state : State
        The work.
    part : str
        The part, such as "water".

    Returns
    -------
    words : str
        What there is to say in a few words.
    mark : str
        A sign: ready, to settle or wrong, nothing if it is not known yet.

    Examples
    --------
    >>> from formulate.workbench.state import State
    >>> standing(State(), "shelf")
    ('12 ingredients', '✓ ')
    """
    missing = len(state.blockers(part))
    if missing:
        return f"{missing} to settle", TO_SETTLE
    told = WORDS[part](state)
    return (told, READY) if isinstance(told, str) else told


def _water(state):
    """Return the name of the water, where it comes from, or that its charges are off."""
    entries, name = dict(state.job.water), state.found.water.name
    if any(balance_notices(state.found.water)):
        more = "cations" if state.found.water.balance_percent > 0 else "anions"
        off = abs(state.found.water.balance_percent)
        return f"{off:.0f} % more {more}: an ion is missing", TO_SETTLE
    if name or not entries:
        return name or "nothing known, counts as pure"
    return "as in the report" if "report" in entries else "as typed"


def _shelf(state):
    return f"{len(state.found.outcome.shelf)} ingredients"


def _wishes(state):
    return state.found.target.name or "own target"


def _recipe(state):
    weighing = state.found.outcome.weighing
    cost = printed_cost(weighing.cost)
    count = len(weighing.amounts)
    words = f"{count} weight{'s' * (count != 1)}"
    return f"{words}, cost {cost}" if cost else words


def _chemistry(state):
    found = state.found.outcome.expected
    return f"pH {found.ph.words}, EC {printed(found.conductivity.ec, 3)} mS/cm"


def _mixing(state):
    """Return whose order it is, and whether stocks keep, once that is worked out."""
    mixing = state.found.outcome.mixing
    if mixing.wants_tanks:
        known = vars(mixing).get("tanks_or_why")
        if known is None:
            return "stocks not looked at yet", UNKNOWN
        if not _keep(known[0]):
            return "the stocks do not keep", TO_SETTLE
    if dict(state.job.mixing).get("order"):
        return "own order"
    count = len(state.found.outcome.weighing.amounts)
    most = mixing_rule("most ingredients")
    return "best order" if count <= most else "the trade's order"


def _keep(tanks):
    """Return whether concentrates stay clear, as far as that is worked out."""
    if tanks is None or any(n.severity == "serious" for n in tanks.notices):
        return False
    greatest = vars(tanks).get("greatest")
    return greatest is None or tanks.strength.times <= greatest.times


def _exchange(state):
    """Return how sure the batch is, once that is worked out in its own part."""
    doubt = vars(state.found.outcome.trade_offs).get("doubt")
    if doubt is None:
        return "not worked out yet", UNKNOWN
    if doubt.probability is not None:
        return f"limits kept in {100 * doubt.probability:.0f} of 100"
    ec = doubt.intervals["EC"]
    return f"EC {ec.low:.2f} to {ec.high:.2f} mS/cm"


def _claims(state):
    """Return how many papers are wrong, as far as they are checked."""
    claims = state.found.claims
    told = ["cannot be read" if a.faults else a.verdict for a in claims.answers if a]
    count, unknown = len(claims.papers), len(claims.papers) - len(told)
    if not count:
        return "nothing claimed"
    words = [verdict_counts(told)] if told else []
    words += [f"{unknown} not checked yet"] if unknown else []
    is_wrong = any(verdict in WRONG for verdict in told)
    is_right = all(verdict == "right" for verdict in told) and not unknown
    papers = f"{count} paper{'s' * (count != 1)}"
    mark = TO_SETTLE if is_wrong else READY if is_right else UNKNOWN
    return f"{papers}: {', '.join(words)}", mark


def _beside(state):
    """Return which job stands beside this one."""
    other = state.beside
    if other is None:
        return "no second job", UNKNOWN
    return other.title or "a job without a title"


def _sheet(state):
    return "ready to print"


WORDS = {
    "water": _water,
    "shelf": _shelf,
    "wishes": _wishes,
    "recipe": _recipe,
    "chemistry": _chemistry,
    "mixing": _mixing,
    "exchange": _exchange,
    "claims": _claims,
    "sheet": _sheet,
    "beside": _beside,
}
