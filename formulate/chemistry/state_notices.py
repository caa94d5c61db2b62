"""What to know of a state: ranges left, chelates outside their window, what is not counted."""

import numpy as np

from formulate.chemistry.activity import range_of
from formulate.chemistry.chelates import chelate_notices
from formulate.notices import Notice, gravest_first
from formulate.working import printed

__all__ = ["state_notices"]

UNNAMED_SHARE, LEAST_UNNAMED = 0.05, 0.01  # of the ionic strength; meq/L
LEFT_OUT = {
    "fluoride": "fluoride is counted as the free ion: its pairs with Mg, Ca, Fe and B are not",
    "nickel": "nickel is counted as the free ion, without pairs",
    "cobalt": "cobalt is counted as the free ion, without pairs",
}


def state_notices(state):
    """
    Return what to know of a state.

    Parameters
    ----------
    state : Speciation
        One solution or a stack; of a stack the strongest is judged.

    Returns
    -------
    tuple of Notice
        The gravest first.

    Examples
    --------
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> tap = solution({"Ca": 1.0, "F": 0.05, "NO3": 1.95})
    >>> [notice.what[:28] for notice in state_notices(speciate(tap))]
    ['fluoride is counted as the f']
    """
    found = [*_ranges(state), *_uncounted(state)]
    if not state.shape:
        found += chelate_notices(state.chelates, state.ph)
    return gravest_first(found)


def _ranges(state):
    """Yield an ionic strength beyond what the activity model was tried on."""
    strongest, limit = float(np.max(state.strength)), range_of(state.activity_model)
    if strongest > limit:
        what = (
            f"ionic strength {printed(1000 * strongest, 3)} mmol/kg is beyond "
            f"{1000 * limit:g}, to which the {state.activity_model} model was tried"
        )
        yield Notice(what, "caution", 1000 * strongest, 1000 * limit, "pq386-sit")


def _uncounted(state):
    """Yield what is there and not fully counted."""
    for key, why in LEFT_OUT.items():
        if np.max(state.solution.forms.get(key, 0.0)) > 0:
            yield Notice(why)
    strongest = 1000 * float(np.max(state.strength))
    unnamed = float(np.max(np.abs(state.solution.unassigned_charge)))
    if unnamed > UNNAMED_SHARE * strongest and unnamed > LEAST_UNNAMED:
        what = (
            f"unnamed ions carry {printed(unnamed, 3)} meq/L; they are counted as "
            "singly charged"
        )
        yield Notice(what, "note", unnamed)
