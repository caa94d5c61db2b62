"""What went wrong with a batch: its measured EC and pH held against what may have happened."""

import re
from dataclasses import dataclass

import numpy as np

from formulate.checks import checked_number
from formulate.chemistry.acidity import ph_rule
from formulate.chemistry.conductivity import REFERENCE, conductivity
from formulate.chemistry.conductivity import ec as ec_at_25
from formulate.chemistry.speciation import speciate
from formulate.chemistry.water_properties import check_temperature
from formulate.errors import Faults, InputError, shortened
from formulate.ingredients.salts import as_ingredient
from formulate.ingredients.water import Water
from formulate.ingredients.water import water as as_water
from formulate.mixing.batch import Batch, batch_of, check_share
from formulate.mixing.diagnosis import Diagnosis, Suspect
from formulate.mixing.hypotheses import (
    hypotheses,
    meter_hypotheses,
    mistake_rule,
    mixed,
)
from formulate.mixing.judging import first_of, fit, predictions
from formulate.notices import Notice, gravest_first
from formulate.stoichiometry.quantities import read_quantity
from formulate.tables import read_table

__all__ = ["read_ec", "what_went_wrong"]

SCALE = re.compile(r"\((\d+)\)")  # ppm (500) is the 500 scale
METERS = (("ec_error_percent", "EC error"), ("ph_error", "pH error"))
OWN = ("own_ec_error_percent", "own_ph_error")


def what_went_wrong(
    thing,
    *,
    ec=None,
    ph=None,
    volume=None,
    water=None,
    temperature=None,
    others=(),
    waters=(),
    ec_error_percent=None,
    ph_error=None,
    own_ec_error_percent=None,
    own_ph_error=None,
    known_right=None,
    aired=None,
    start_fraction=None,
):
    """
    Return what may have gone wrong with a batch by the EC and pH that were measured.

    Each hypothesis is worked out at 25 °C as if nothing fell out, closed to the air and in
    balance with it, for in water with carbonate the pH rises as carbon dioxide leaves. The
    best fit comes first by the errors of the meters, closed to the air; which are possible
    is judged with the errors of the model as well, and with any EC and pH from closed to
    aerated. As long as nothing may be wrong, nothing is to be added.

    Parameters
    ----------
    thing : Recipe, Weighing, Batch or mapping
        The batch as it was meant, see `batch_of`. [g]
    ec : float or str or None
        EC as measured, at 25 °C; text may say "1200 ppm (500)". [mS/cm]
    ph : float or None
        The pH as measured. [-]
    volume : float or str or None
        Final volume of a mapping. [L]
    water : Water, str or None
        The water of a mapping; pure water if None.
    temperature : float or None
        Temperature of the solution when it was read, if known: then a meter without
        compensation is looked at, too. [°C]
    others : iterable of Ingredient or str
        What else stands on the shelf and may have been taken for another.
    waters : iterable of Water or str
        Other waters at hand that may have been taken.
    ec_error_percent : float or None
        Error of the EC meter; None means 2. [%]
    ph_error : float or None
        Error of the pH meter; None means 0.05. [-]
    own_ec_error_percent : float or None
        Error of the computed EC; None means what the model states for this batch. [%]
    own_ph_error : float or None
        Error of the computed pH; None means 0.02 and what the alkalinity of the water
        and the steps of weighing leave open. [-]
    known_right : tuple of (float, float) or None
        EC and pH of a batch mixed the same way that was right: then all is compared with
        these, and the model's own errors count as 0. [mS/cm]
    aired : bool or None
        How the batch stood: False, read at once or in a closed can; True, read after long
        aeration; None, not known: anything between these is allowed. With a pH that is known
        to be right, None means that both stood alike.
    start_fraction : float or None
        Share of the water that was in before anything else, if topping up may have been
        forgotten from there; three quarters and a quarter are always looked at. [-]

    Returns
    -------
    Diagnosis
        All hypotheses ranked, what is possible, what to do.

    Raises
    ------
    InputError
        With every fault of what was given.

    Examples
    --------
    >>> meant = {"Ca(NO3)2·4H2O": 80.0, "KNO3": 50.0, "KH2PO4": 14.0, "MgSO4·7H2O": 50.0}
    >>> found = what_went_wrong(meant, volume=100, water="soft", ec=1.88, ph=7.62)
    >>> found.candidates[0].words, found.verdict
    ('KH2PO4 was forgotten', 'cannot tell')
    """
    given = _Given.checked(locals())
    batch = given.batch
    found = hypotheses(batch, **given.at_hand)
    made = mixed(batch, found)
    seen = predictions(batch, made, **given.own)
    if given.ec is not None:
        found += _meters(given, first_of(made))
    meters = len(found) - len(seen.ec)
    places = np.array([*range(len(seen.ec)), *([0] * meters)])
    seen = seen.at(places, np.array([h.shown for h in found]))
    fitted = fit((given.ec, given.ph), seen, given.errors)
    return _diagnosis(given, found, made, places, fitted, seen)


def _meters(given, meant):
    """Return what a meter may show; without compensation if the temperature is known."""
    if given.temperature is None:
        return meter_hypotheses(given.display)
    at = conductivity(meant, temperature=given.temperature).ec
    told = {"temperature": given.temperature, "uncompensated": at / ec_at_25(meant)}
    return meter_hypotheses(given.display, **told)


@dataclass(frozen=True)
class _Given:
    """What was given, checked and in house units."""

    batch: Batch
    ec: float | None
    display: float
    ph: float | None
    temperature: float | None
    at_hand: dict
    errors: tuple
    own: dict

    @classmethod
    def checked(cls, told):
        """Return what was given, or raise with every fault."""
        faults, found = Faults("what_went_wrong"), {}
        with faults.collecting():
            where = {key: told[key] for key in ("volume", "water")}
            found["batch"] = batch_of(told["thing"], **where)
        if told["ec"] is None and told["ph"] is None:
            faults.add("no reading; give the measured ec=, ph= or both")
        found |= {"ec": None, "display": 1.0, "ph": None, "temperature": None}
        with faults.collecting():
            if told["ec"] is not None:
                found["ec"], found["display"] = read_ec(told["ec"], "ec")
        with faults.collecting():
            if told["ph"] is not None:
                found["ph"] = checked_number(told["ph"], "ph", least=0, most=14)
        with faults.collecting():
            if told["temperature"] is not None:
                found["temperature"] = check_temperature(told["temperature"])
        found["at_hand"] = {
            "others": _each(told["others"], "others", as_ingredient, faults),
            "waters": _each(told["waters"], "waters", _as_water, faults),
            "start_fraction": told["start_fraction"],
        }
        with faults.collecting():
            if told["start_fraction"] is not None:
                check_share(told["start_fraction"])
        found["errors"] = tuple(_error(told, *way, faults) for way in METERS)
        found["own"] = {name: _error(told, name, None, faults) for name in OWN}
        with faults.collecting("known_right"):
            found["own"]["known_right"] = _right(told["known_right"])
        found["own"]["aired"] = told["aired"]
        if told["aired"] is not None and not isinstance(told["aired"], bool):
            faults.add(f"aired {shortened(told['aired'])}: write True, False or None")
        faults.raise_if_any()
        return cls(**found)


def _as_water(thing):
    """Return a water, as it is or by its name."""
    return thing if isinstance(thing, Water) else as_water(thing)


def _each(things, where, reading, faults):
    """Return things read one by one, with every fault noted."""
    found = []
    for thing in (things,) if isinstance(things, str) else things:
        with faults.collecting(where):
            found.append(reading(thing))
    return tuple(found)


def _error(told, name, rule, faults):
    """Return one error, checked; that of the table where none was given."""
    value = told[name]
    if value is None:
        return mistake_rule(rule) if rule else None
    limit = {"above": 0} if rule else {"least": 0}
    with faults.collecting():
        return checked_number(value, name, **limit)
    return None


def read_ec(value, what="EC"):
    """
    Return a reading in mS/cm, and what its meter shows for 1 mS/cm.

    Parameters
    ----------
    value : float or str
        A reading; text may say "1.8 mS/cm" or "1200 ppm (500)". [mS/cm]
    what : str
        What to call it in messages.

    Returns
    -------
    ec : float
        Conductivity. [mS/cm]
    display : float
        What the meter shows for 1 mS/cm. [-]

    Raises
    ------
    InputError
        If it is none.

    Examples
    --------
    >>> read_ec("1000 ppm (500)")
    (2.0, 500.0)
    """
    if isinstance(value, str):
        value = SCALE.sub(r"(\1 scale)", value)
    number, of_unit = read_quantity(value, "conductivity", default="mS/cm")
    number = checked_number(number, what, least=0)
    return number * of_unit.factor, round(1.0 / of_unit.factor, 9)


def _right(told):
    """Return EC and pH of a batch known to be right, None for what was not read."""
    if told is None:
        return (None, None)
    if not isinstance(told, tuple | list) or len(told) != 2:
        raise InputError(f"{shortened(told)} is no pair of EC and pH")
    right_ec, right_ph = told
    if right_ec is not None:
        right_ec = checked_number(read_ec(right_ec, "ec")[0], "ec", above=0)
    if right_ph is not None:
        right_ph = checked_number(right_ph, "ph", least=0, most=14)
    return right_ec, right_ph


def _diagnosis(given, found, made, places, fitted, seen):
    """Return the suspects ranked, with what to know about them."""
    possible = fitted.possible
    suspects = tuple(
        Suspect(
            found[n],
            float(fitted.ec[n]),
            float(fitted.ph[n]),
            float(fitted.misfit[n]),
            bool(possible[n]),
            int(places[n]),
            float(seen.ph[n] - seen.below[n]),
            float(seen.ph[n] + seen.above[n]),
            float(seen.in_air.ph[n]) if seen.in_air else None,
        )
        for n in fitted.order
    )
    return Diagnosis(
        given.batch,
        given.ec,
        given.ph,
        suspects,
        made,
        *given.errors,
        _notices(given, suspects, seen, first_of(made)),
    )


def _notices(given, suspects, seen, meant):
    """Return what to know about the answer."""
    found = []
    soft = [s for s in suspects if s.possible and s.is_soft]
    if given.ph is not None and seen.is_single and soft:
        what = (
            f"little would buffer the batch if {soft[0].words}: its pH would tell little then; "
            "the EC ranks these better than the pH"
        )
        found.append(Notice(what, "caution", given.ph, None, "definition"))
    if given.ph is not None and not seen.is_single:
        what = (
            "little buffers this batch: its pH may be anything within "
            f"{seen.ph[0] - seen.below[0]:.1f} to {seen.ph[0] + seen.above[0]:.1f} "
            "and tells little; trust the EC"
        )
        limit = ph_rule("widest single pH")
        found.append(Notice(what, "caution", given.ph, limit, "definition"))
    if seen.unsettled:
        what = (
            f"{seen.unsettled} of the hypotheses did not come to rest in balance with the air: "
            "these count as closed to it"
        )
        found.append(Notice(what, "caution", None, None, "definition"))
    may_be_right = any(s.possible and s.kind == "nothing" for s in suspects)
    if not (may_be_right and seen.in_air):  # else the answer tells it
        found += _carbon_dioxide(given, seen, meant)
    told = [s.hypothesis for s in suspects if s.possible][:1]
    for h in [] if may_be_right else told:  # nothing is added to what may be right
        there = (h.first, h.second, *h.sour)
        poured = [i for i in there if i is not None and i.role]
        for role in dict.fromkeys(i.role for i in poured):
            row = next(r for r in read_table("cautions") if r["key"] == role)
            found.append(Notice(row["text"], "caution", None, None, row["source_key"]))
    return gravest_first(found)


def _carbon_dioxide(given, seen, meant):
    """Yield that carbon dioxide which leaves may explain a pH above the one when mixed."""
    if given.ph is None or given.own["aired"] or not meant.forms.get("carbonate"):
        return
    far = mistake_rule("told apart from") * given.errors[1]
    if given.ph < seen.ph[0] + far:
        return
    air = ph_rule("air carbon dioxide")
    open_to_it = speciate(meant, temperature=REFERENCE, air_co2_ppm=air).ph
    if given.ph <= open_to_it + far:
        what = (
            "the best fit is worked out as freshly mixed; as carbon dioxide leaves, the pH of the "
            f"batch as meant rises from {seen.ph[0]:.2f} to {open_to_it:.2f}: if it stood "
            "open or bubbled, that may be why, so trust the EC"
        )
        yield Notice(what, "caution", given.ph, open_to_it, "definition")
