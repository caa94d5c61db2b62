"""Reads what a pupil answers and judges it: right, a known slip, not yet, or not to be read."""

import math
import re
from dataclasses import dataclass
from functools import cache

from formulate.errors import InputError, UnitError, UnknownName, shortened
from formulate.stoichiometry.quantities import read_number
from formulate.stoichiometry.units import convert, unit
from formulate.tables import read_table
from formulate.working import Shown

__all__ = [
    "NEAR",
    "Reply",
    "judged_number",
    "judged_option",
    "read_answer",
    "written_unit",
]

NEAR = 4.0  # times the margin: rounded on the way, most likely
POWERS = (10, 100, 1000, 1e6)
PREFIXES = (
    r"^\s*(?:=|≈|~|about|approximately|approx\.?|circa|ca\.?|roughly|ph\b\s*=?)\s*"
)
SUPERSCRIPTS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻", "0123456789-")
POWER = r"\s*[x×*·]\s*10\s*(?:\^|\*\*)?\s*\(?([-−+]?\d+|[⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+)\)?"
NUMBER = r"([+-]?[\d.,]*\d[\d.,]*(?:[eE][+-]?\d+)?)\s*(.*?)"


@dataclass(frozen=True)
class Reply(Shown):
    """
    What an exercise says to an answer. It counts as true if the answer is right.

    Attributes
    ----------
    verdict : str
        "right", "slip", "not yet" or "cannot read".
    says : str
        The sentence for the pupil; it never tells the answer.

    Examples
    --------
    >>> reply = Reply("slip", "That is P2O5; the question asks for P.")
    >>> reply.right, bool(reply)
    (False, False)
    >>> print(reply)
    That is P2O5; the question asks for P.
    """

    verdict: str
    says: str

    @property
    def right(self):
        """Return whether the answer is right."""
        return self.verdict == "right"

    def __bool__(self):
        return self.right

    def __str__(self):
        return self.says


def written_unit(name):
    """
    Return a unit as it is written for pupils: a millionth is µ, not u.

    Parameters
    ----------
    name : str
        Name of a unit.

    Returns
    -------
    str
        The name.

    Examples
    --------
    >>> written_unit("umol/L"), written_unit("US gal")
    ('µmol/L', 'US gal')
    """
    return re.sub(r"^u(?=(?:mol|eq|g|L|S)\b)", "µ", name)


def read_answer(answer, asked, units=()):
    """
    Return an answer as a number in the unit that is asked for.

    Parameters
    ----------
    answer : str, int or float
        Such as 12.3, "12.3 g" or "12,3 g"; a bare number is in the asked unit. [-]
    asked : str
        The unit asked for; empty for a plain number.
    units : tuple of str
        Other units that are taken.

    Returns
    -------
    float
        The number. [asked]

    Raises
    ------
    InputError
        If there is no number in it, or its comma may mean two things.
    UnitError
        If its unit is none of those taken.

    Examples
    --------
    >>> read_answer("1,25e-2 kg", "g", ("kg",))
    12.5
    """
    text = _plain(answer, asked)
    found = re.fullmatch(NUMBER, text, re.DOTALL)
    if not found:
        raise InputError(
            f"{shortened(answer)} holds no number I can read: write {_example(asked)}"
        )
    number, name = read_number(found[1]), found[2].strip()
    if not name:
        return number
    if re.match(r"[-–+*/×·÷:^]", name):
        raise InputError(
            f"{shortened(answer)} is more than one number: work it out and write {_example(asked)}"
        )
    return _in_unit(number, name, asked, units)


def _plain(answer, asked):
    """Return an answer as text with one spelling of signs and powers of ten."""
    if answer is None or isinstance(answer, bool) or answer is Ellipsis:
        raise InputError(f"there is no answer yet: write {_example(asked)}")
    if not isinstance(answer, str):
        try:
            answer = repr(float(answer))
        except (TypeError, ValueError, OverflowError):
            raise InputError(
                f"{shortened(answer)} is not one number: write {_example(asked)}"
            ) from None
    text = re.sub(r"[\s\u00a0\u202f\u2009]+", " ", answer).strip().replace("−", "-")
    if not text:
        raise InputError(f"the answer is empty: write {_example(asked)}")
    text = re.sub(PREFIXES, "", text, flags=re.IGNORECASE)
    text = re.sub(r"(?<=\w) ?per ?cent$", " %", re.sub(r"(?<=[\w%])[.!]$", "", text))
    return re.sub(POWER, _as_exponent, text)


def _as_exponent(found):
    return "e" + found[1].translate(SUPERSCRIPTS).replace("−", "-")


def _example(asked):
    """Return how an answer is written, with a number that means nothing."""
    return (
        f"a number and its unit, such as 1.23 {written_unit(asked)}"
        if asked
        else "a number, such as 1.23"
    )


def _in_unit(number, name, asked, units):
    """Return a number in the asked unit, from one of those taken."""
    for own in filter(None, (asked, *units)):
        if _is_spelling(name, own):
            return number if own == asked else _converted(number, own, asked)
    if not asked:
        raise UnitError(f"the answer is a plain number, without {shortened(name)}")
    also = f" (also taken: {', '.join(map(written_unit, units))})" if units else ""
    raise UnitError(
        f"{shortened(name)} is no unit of this answer: it is asked in {written_unit(asked)}{also}"
    )


def _is_spelling(name, own):
    """Return whether a word is a spelling of a unit."""
    if name == own:
        return True
    if own in _answer_units():
        words = (own, *_answer_units()[own][2])
        return name in words or name.casefold() in map(str.casefold, words)
    try:
        known = unit(own)
        return unit(name, known.kind).name == known.name
    except (UnitError, UnknownName):
        return False


@cache
def _answer_units():
    """Return the units of answers that no solution is told in: kind, size, spellings."""
    return {
        row["unit"]: (
            row["kind"],
            row.number("number"),
            tuple(filter(None, row["aliases"].split("|"))),
        )
        for row in read_table("answer_units")
    }


def _converted(number, start, asked):
    """Return a number in the asked unit."""
    known = _answer_units()
    if start in known and asked in known:
        return number * known[start][1] / known[asked][1]
    return convert(number, start, asked)


def judged_number(answer, right, margin, asked, units, slips):
    """
    Return the reply to an answer that is a number.

    Parameters
    ----------
    answer : str, int or float
        What the pupil says. [-]
    right : float
        The right number. [asked]
    margin : float
        How far an answer may be off. [asked]
    asked : str
        The unit asked for.
    units : tuple of str
        Other units that are taken.
    slips : tuple of Slip
        Wrong numbers with what led to them.

    Returns
    -------
    Reply
        The verdict and its sentence.

    Examples
    --------
    >>> judged_number("12.3 g", 12.31, 0.1, "g", (), ()).verdict
    'right'
    >>> print(judged_number("12.3 mg", 12.31, 0.1, "g", (), ()))
    'mg' is no unit of this answer: it is asked in g
    """
    try:
        number = read_answer(answer, asked, units)
    except (InputError, UnknownName) as fault:
        return Reply("cannot read", str(fault))
    if abs(number - right) <= margin * (1 + 1e-9):
        return Reply("right", f"Right: {_said(answer, asked)}.")
    says = _slips_met(number, right, margin, slips) or _usual_slip(
        number, right, margin
    )
    if says:
        return Reply("slip", says)
    if abs(number - right) <= NEAR * margin:
        return Reply(
            "not yet",
            "Very near. Was a number rounded on the way? Keep four digits to the end.",
        )
    side = "too small" if number < right else "too large"
    return Reply("not yet", f"Not yet: {side}. A hint may help: .hint()")


def _said(answer, asked):
    """Return an answer as it was given, with its unit."""
    text = answer.strip() if isinstance(answer, str) else f"{float(answer):.6g}"
    bare = re.fullmatch(r"[-+−\d.,eE\s]+", text)
    return f"{text} {written_unit(asked)}".strip() if bare else text


def _slips_met(number, right, margin, slips):
    """Return what the slips say that lead to this number, each once; None if none does."""
    met = {
        slip.says: None
        for slip in slips
        if abs(number - slip.value) <= margin * _scale(slip.value, right)
    }
    return " Or: ".join(met) or None


def _scale(value, right):
    """Return how much wider the margin of a wrong number is, its size against the right one."""
    return min(abs(value / right), 1e9) if right else 1.0


def _usual_slip(number, right, margin):
    """Return what a slip says that any number can meet, or None."""
    if not right or not number or not math.isfinite(number):
        return None
    close = margin / abs(right)
    ratio = number / right
    if abs(ratio + 1) <= close:
        return "The size is right, the sign is not."
    for power in POWERS:
        if any(abs(ratio * p - 1) <= close for p in (power, 1 / power)):
            return (
                "The digits are right, the decimal point is not: look at the prefixes "
                "of the units (m is a thousandth, µ a millionth, k a thousand) and at per cent."
            )
    return None


def judged_option(answer, right, options):
    """
    Return the reply to an answer that is one of several options.

    Parameters
    ----------
    answer : str
        The letter of an option, or its words.
    right : str
        The letter that is right.
    options : mapping of str to Option
        Letter to option.

    Returns
    -------
    Reply
        The verdict and its sentence.

    Examples
    --------
    >>> from formulate.classroom.task import Option
    >>> options = {"A": Option("the sodium"), "B": Option("the EC", "EC follows from the ions.")}
    >>> judged_option("b", "A", options).says
    'EC follows from the ions.'
    """
    letters = ", ".join(options)
    if not isinstance(answer, str) or not answer.strip():
        return Reply("cannot read", f"there is no answer yet: write one of {letters}")
    word = _as_compared(answer)
    bare = re.sub(r"^\(?(\w)[).:]?$", r"\1", word)
    met = [
        letter
        for letter, option in options.items()
        if bare == letter.casefold() or word == _as_compared(option.words)
    ]
    if not met:
        return Reply(
            "cannot read",
            f"{shortened(answer)} is none of the answers: write one of {letters}",
        )
    if met[0] == right:
        return Reply("right", f"Right: {met[0]}, {options[right].words}.")
    says = options[met[0]].says
    return (
        Reply("slip", says)
        if says
        else Reply("not yet", "Not yet. A hint may help: .hint()")
    )


def _as_compared(text):
    """Return words without capitals, needless spaces, quotes and a last stop."""
    return " ".join(text.casefold().split()).strip("\"' ").rstrip(".")
