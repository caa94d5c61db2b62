"""What an injector that is off does to the working solution."""

import numpy as np

from formulate.chemistry.conductivity import ec
from formulate.chemistry.precipitation import KEYS
from formulate.chemistry.speciation import speciate
from formulate.mixing.greatest_strength import shares_of

__all__ = ["injected"]

ROOM, PERCENT, DIGITS = 25.0, 100.0, 9


def injected(tanks, error):
    """
    Return what each injector that is off does, and all of them.

    Equation of an injector that is off [definition]::

        c = Σ of the stocks + error/100 × the stock that is off

    Parameters
    ----------
    tanks : StockTanks
        The concentrates.
    error : float
        How far an injector is off. [%]

    Returns
    -------
    tuple of tuple
        What is off; EC at 25 °C in mS/cm; pH; nutrient to its change. [%]

    Examples
    --------
    >>> from formulate.mixing.tanks import split_tanks
    >>> found = injected(split_tanks({"KNO3": 50.0}, volume=100), 5.0)
    >>> found[1][0], found[1][3]["K"]
    ('stock A 5 % too much', 5.0)
    """
    batch, rows, words = tanks.batch, [], []
    shares = [shares_of(batch, tank) for tank in tanks.tanks]
    base = sum(shares)
    rows.append(base)
    words.append("as it should be")
    for tank, share in zip(tanks.tanks, shares, strict=True):
        for sign, word in ((1, "too much"), (-1, "too little")):
            rows.append(base + sign * error / PERCENT * share)
            words.append(f"{tank.label} {error:g} % {word}")
    for sign, word in ((1, "too much"), (-1, "too little")):
        rows.append((1 + sign * error / PERCENT) * base)
        words.append(f"all {error:g} % {word}")
    mixed = batch.mixtures(np.array(rows), batch.water_litres)
    state = speciate(mixed, temperature=ROOM)
    readings = (ec(state), state.ph)
    values = {key: mixed.mg_l(key) for key in KEYS}
    values = {key: v for key, v in values.items() if np.ndim(v) and v[0] > 0}
    return tuple(
        (
            word,
            float(readings[0][n]),
            float(readings[1][n]),
            {
                k: round(PERCENT * float(v[n] / v[0] - 1), DIGITS)
                for k, v in values.items()
            },
        )
        for n, word in enumerate(words)
    )
