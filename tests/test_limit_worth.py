"""What one more unit of a limit is worth: against solving again with that unit."""

import numpy as np
import pytest

from formulate.errors import InputError
from formulate.recipes.limit_worth import limit_worths
from formulate.recipes.solve import solve
from formulate.recipes.target import target

FEED = {"N": 150, "P": 40, "K": 200, "Ca": 150, "Mg": 40, "S": 60}
SALTS = (
    "KNO3",
    "Ca(NO3)2·4H2O",
    "KH2PO4",
    "MgSO4·7H2O",
    "K2SO4",
    "NH4NO3",
    "Mg(NO3)2·6H2O",
)


def squares(recipe):
    """Return the weighted sum of squared deviations, from the rows alone."""
    total = 0.0
    for row in recipe.requirements:
        if row.kind == "wanted":
            value = row.constant + np.dot(row.coefficients, recipe.optimum.amounts)
            off = max(row.low - value, value - row.high, 0.0) / row.scale
            total += row.weight * off * off
    return total


@pytest.mark.parametrize(
    ("subject", "text", "bound", "more"),
    [
        ("EC", "at most {} mS/cm", 1.5, 1e-3),
        ("Ca", "at most {} mg/L", 120, 0.1),
        ("Ca", "at least {} mg/L", 170, -0.1),
        ("K:Ca", "at most {}", 1, 1e-3),
        ("salts", "at most {} g/L", 1, 1e-3),
    ],
)
def test_the_worth_is_what_solving_again_gains(subject, text, bound, more):
    tight, loose = (
        solve(target(FEED, limits={subject: text.format(end)}), SALTS, volume=100)
        for end in (bound, bound + more)
    )
    (one,) = limit_worths(tight)
    gained = (squares(tight) - squares(loose)) / abs(more)
    assert one.nearer == pytest.approx(gained, rel=0.01)
    assert one.name.startswith(subject)


def test_an_amount_is_worth_so_much_a_gram():
    wish = target({"K": 200, "Cl": 181})
    tight, loose = (
        solve(wish, ["KCl"], volume=100, amounts={"KCl": f"at most {grams} g"})
        for grams in (20, 20.01)
    )
    (one,) = limit_worths(tight)
    assert one.unit == "g"
    assert one.nearer == pytest.approx(
        (squares(tight) - squares(loose)) / 0.01, rel=0.01
    )


def test_nothing_binds_and_nothing_is_worth_anything():
    assert limit_worths(solve(target(FEED), SALTS, volume=100)) == ()
    with pytest.raises(InputError, match="is no recipe"):
        limit_worths("recipe")
