"""What is behind each reading that meters will show, as `Expected.rows` tells them."""

from formulate.chemistry.expected import COLD
from formulate.chemistry.meter_working import (
    buffer_working,
    error_working,
    interval_working,
    meter_working,
)
from formulate.chemistry.species_working import strength_working

__all__ = ["meter_workings"]


def meter_workings(found):
    """
    Return what is behind each reading of a batch.

    Parameters
    ----------
    found : Expected
        What meters will show.

    Returns
    -------
    tuple of callable
        Each returns the working of one of the rows of `found`, in their order; nothing is
        worked out before it is called.

    Examples
    --------
    >>> from formulate.chemistry.expected import expected
    >>> from formulate.stoichiometry.solution import solution
    >>> found = expected(solution({"K": 5.0, "Ca": 4.0, "NO3": 12.0, "P": 1.0}))
    >>> names = [name for name, _ in found.rows()]
    >>> ec = meter_workings(found)[names.index("EC at 25 °C")]()
    >>> round(ec.value, 2), ec.unit
    (1.55, 'mS/cm')
    """
    return (
        lambda: interval_working(found.ph),
        lambda: interval_working(found.ph_aerated),
        lambda: buffer_working(found.state),
        lambda: found.state.working("EC"),
        lambda: error_working(found.conductivity),
        lambda: meter_working(found.state, COLD),
        lambda: strength_working(found.state),
    )
