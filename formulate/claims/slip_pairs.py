"""Claimed and computed numbers read for a search of slips: one unit each, how sure they are."""

import contextlib
import re
from collections.abc import Mapping

from formulate.checks import checked_number
from formulate.claims.misprints import misprints
from formulate.claims.slip_moves import METERS
from formulate.errors import Faults, FormulateError, InputError, shortened
from formulate.stoichiometry.nutrients import nutrient, nutrient_keys
from formulate.stoichiometry.quantities import read_number, read_quantity
from formulate.stoichiometry.slips import slips
from formulate.stoichiometry.units import CONCENTRATIONS, convert
from formulate.tables import read_table

__all__ = ["MOST_SUBJECTS", "read_pairs"]

LARGEST_NOISE = 0.2
MOST_UNSURE = 0.5  # of a number whose uncertainty is told
MOST_SUBJECTS = 40


def read_pairs(pairs, noise, ratio, density, shares, most_slips, printed):
    """
    Return claimed and computed numbers in one unit with their uncertainties.

    Parameters
    ----------
    pairs : mapping of str to tuple
        Subject to claimed and computed, numbers or text with units, and where known their
        relative standard uncertainty. [-]
    noise : float
        Relative standard uncertainty where none is given. [-]
    ratio : float or None
        The n of a dilution 1 : n. [-]
    density : float or None
        Density of a liquid. [kg/L]
    shares : mapping of str to mapping or None
        Slip of a hydrate to subject to the share of it that a salt brings. [-]
    most_slips : int
        1 or 2. [-]
    printed : mapping of str to str or None
        Subject to its claimed number as printed.

    Returns
    -------
    read : dict of str to tuple
        Subject to claimed, computed and relative uncertainty. [-]
    texts : dict of str to str
        Subject to its claimed number as printed.

    Raises
    ------
    InputError
        With every fault.

    Examples
    --------
    >>> given = (0.01, None, None, None, 2, None)
    >>> read, texts = read_pairs({"K": ("39.1 mg/L", "1 mmol/L")}, *given)
    >>> [round(number, 2) for number in read["K"]], texts
    ([39.1, 39.1, 0.01], {'K': '39.1'})
    """
    faults, read = Faults("slips"), {}
    with faults.collecting():
        checked_number(noise, "noise", above=0, most=LARGEST_NOISE)
    with faults.collecting():
        slips(None, ratio=ratio)
    with faults.collecting():
        slips(None, density=density)
    if isinstance(most_slips, bool) or most_slips not in (1, 2):
        faults.add(f"most_slips: {shortened(most_slips)}: give 1 or 2")
    _check_shares(shares, faults)
    if not isinstance(pairs, Mapping) or not 0 < len(pairs) <= MOST_SUBJECTS:
        what = "give a mapping such as {'P': (115, 50)}"
        faults.add(f"pairs: {shortened(pairs)}: {what}")
        pairs = {}
    for subject, numbers in pairs.items():
        with faults.collecting(str(subject)):
            key = _subject(subject)
            if key in read:
                raise InputError(f"{key} is given twice")
            read[key] = _numbers(numbers, noise, key)
    texts = _prints(printed, pairs, faults)
    faults.raise_if_any()
    return read, texts


def _prints(prints, pairs, faults):
    """Return subject to its claimed number as printed: what is told, or the claim's text."""
    found, known = {}, set()
    if not isinstance(prints, Mapping | None):
        faults.add(
            f"printed: {shortened(prints)}: give a mapping such as {{'P': '115'}}"
        )
        prints = None
    for subject, numbers in pairs.items():
        claimed = numbers[0] if isinstance(numbers, list | tuple) and numbers else None
        text = (
            re.match(r"\s*(\d+(?:[.,]\d+)?)", claimed)
            if isinstance(claimed, str)
            else None
        )
        with contextlib.suppress(FormulateError):  # told with the numbers already
            known.add(_subject(subject))
            found |= {_subject(subject): text[1]} if text else {}
    for subject, text in (prints or {}).items():
        with faults.collecting(f"printed: {shortened(subject)}"):
            if _subject(subject) not in known:
                raise InputError("it is none of the pairs")
            misprints(text, 1.0, 1.0)
            found[_subject(subject)] = text.strip()
    return found


def _check_shares(shares, faults):
    """Note what is wrong with the shares that salts have of nutrients."""
    if shares is None:
        return
    known = {row["slip"] for row in read_table("slips") if row["kind"] == "hydrate"}
    if not isinstance(shares, Mapping):
        faults.add(f"shares: {shortened(shares)} is no mapping of slip to shares")
        return
    for slip, parts in shares.items():
        if slip not in known or not isinstance(parts, Mapping):
            names = ", ".join(sorted(known))
            faults.add(f"shares: {shortened(slip)}: give shares of one of {names}")
            continue
        for subject, share in parts.items():
            with faults.collecting(f"shares: {slip}"):
                checked_number(share, f"share of {subject}", least=0, most=1)


def _subject(subject):
    """Return the subject as the table of slips writes it."""
    if isinstance(subject, str) and subject.strip().upper() in METERS:
        return subject.strip().upper()
    words = {w for row in read_table("slips") for w in row["subjects"].split()}
    if isinstance(subject, str) and subject in words:
        return subject
    return nutrient(subject).key


def _numbers(numbers, noise, key):
    """Return claimed, computed and relative uncertainty of one subject."""
    if not isinstance(numbers, list | tuple) or len(numbers) not in (2, 3):
        raise InputError(f"{shortened(numbers)}: give (claimed, computed)")
    faults, made = Faults(), []
    names = (f"{key} claimed", f"{key} computed")
    if all(map(_is_quantity, numbers[:2])):
        numbers = (*_in_one_unit(*numbers[:2], key), *numbers[2:])
    for number, name in zip(numbers, names, strict=False):
        with faults.collecting():
            if _is_quantity(number):
                what = f"{name}: {shortened(number)}: give both as text, or both as numbers"
                raise InputError(what)
            made.append(checked_number(number, name, above=0))
    sure = numbers[2] if len(numbers) == 3 else noise
    with faults.collecting():
        what = f"{key}, relative uncertainty"
        made.append(checked_number(sure, what, above=0, most=MOST_UNSURE))
    faults.raise_if_any()
    return tuple(made)


def _is_quantity(number):
    return isinstance(number, str) and bool(
        re.match(r"\s*[-+\u2212]?[\d.,]*\d", number)
    )


def _in_one_unit(claimed, computed, key):
    """Return two quantities as numbers in the unit of the first, on the basis of the subject."""
    if re.fullmatch(r"[\s\d.,]+", claimed) and re.fullmatch(r"[\s\d.,]+", computed):
        return read_number(claimed), read_number(computed)
    kinds = _kinds(key)
    value, of_unit = read_quantity(claimed, *kinds)
    kinds = CONCENTRATIONS if of_unit.kind in CONCENTRATIONS else (of_unit.kind,)
    other, its_unit = read_quantity(computed, *kinds)
    return value, convert(other, its_unit, of_unit, of=_basis(key))


def _kinds(key):
    """Return the kinds of unit that numbers of a subject may have; none for any."""
    if key == "EC":
        return ("conductivity",)
    if key == "TDS":
        return ("conductivity", "mass_concentration")
    return CONCENTRATIONS if _basis(key) else ()


def _basis(key):
    """Return the nutrient key of a subject, or None for what is none, such as a dose."""
    return nutrient(key).key if key in nutrient_keys() else None
