"""The arithmetic behind laboratory values, and behind what the sources of a label leave open."""

from functools import partial

import numpy as np

from formulate.chemistry.conductivity import REFERENCE
from formulate.chemistry.speciation import speciate
from formulate.claims.assay_findings import worst_value
from formulate.sheets.mixture_workings import titled
from formulate.sheets.table import Followed
from formulate.stoichiometry.solution import Solution
from formulate.working import Quantity, Step, Working

__all__ = [
    "assay_workings",
    "beyond_working",
    "dilution_workings",
    "range_workings",
    "short_working",
]

PERCENT = 100.0
NOTHING, DECIMALS = 1e-9, 6  # g, and of grams that are added up


def assay_workings(result):
    """
    Yield what is behind the numbers of an assay, as its table shows them.

    Parameters
    ----------
    result : AssayReport
        The assay.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.claims.assay import check_assay
    >>> report = check_assay({"N": 10}, [{"N": 9.4}, {"N": 9.6}])
    >>> print(dict(assay_workings(report))[0, 2].worked().lines[-1])
    mean of 2 values: 19 % ÷ 2 = 9.5000 %
    """
    for row, (line, allowed) in enumerate(
        zip(result.lines, result.allowances, strict=True)
    ):
        if line.values:
            yield (row, 2), Followed(partial(_mean, line))
            yield (row, 3), Followed(partial(_worst, line, allowed))
            yield (row, 4), Followed(partial(_spread, line))
        if allowed:
            yield (row, 6), Followed(partial(_allowed, allowed, "below"))
            if np.isfinite(allowed.above):
                yield (row, 7), Followed(partial(_allowed, allowed, "above"))
        if line.values and allowed:
            yield (row, 8), Followed(partial(beyond_working, line, allowed))


def _mean_steps(line):
    """Return the lines of the mean of what was found."""
    count, steps = len(line.values), []
    if count == 1 and line.lows == line.values:
        return [Step("the one value that was found", (Quantity(line.mean, "%"),), "%")]
    for values, word in _ways(line):
        terms = [t for v in values for t in ("+", Quantity(v, "%"))]
        steps.append(Step(f"all values added{word}", tuple(terms[1:]), "%"))
        terms = (Quantity(steps[-1].value, "%"), "÷", Quantity(float(count)))
        steps.append(Step(f"mean of {count} values{word}", terms, "%"))
    return steps


def _ways(line):
    """Return the values, or the least and the greatest that they may be."""
    if line.lows == line.values:
        return [(line.values, "")]
    return [
        (line.lows, ", what is below detection as none"),
        (line.values, ", what is below detection as the limit"),
    ]


def _mean(line):
    """Return the working of the mean; of an open one the middle."""
    steps = _mean_steps(line)
    if len(steps) > 2:
        least, most = (Quantity(step.value, "%") for step in steps[1::2])
        both = Step("both added", (least, "+", most), "%")
        half = (Quantity(both.value, "%"), "÷", Quantity(2.0))
        steps += [both, Step("in the middle", half, "%")]
    return Working(f"Mean of {line.name}", tuple(steps))


def _worst(line, allowed):
    """Return the working of the value that is worst off."""
    value, place = worst_value(line, allowed)
    words = f"of {len(line.values)} found, that of sample {line.samples[place]}"
    step = Step(words, (Quantity(value, "%"),), "%")
    return Working(f"The value of {line.name} that is worst off", (step,))


def _spread(line):
    """Return the working of a spread."""
    most, least = (Quantity(v, "%") for v in (max(line.values), min(line.values)))
    step = Step("the greatest value less the least", (most, "−", least), "%")
    return Working(f"Spread of {line.name}", (step,))


def _allowed(allowed, side):
    """Return the working of how far a value may be off: its limit and the way there."""
    off, guarantee = getattr(allowed, side), Quantity(allowed.guarantee, "%")
    sign = "−" if side == "below" else "+"
    end = Step(
        "the limit", (guarantee, sign, Quantity(off, "%")), "%", allowed.source_key
    )
    pair = guarantee, Quantity(end.value, "%")
    more, less = pair if side == "below" else pair[::-1]
    back = Step("from the guarantee to it", (more, "−", less), "%")
    title = f"Allowed {side} for {allowed.key}: {allowed.rule}, {allowed.edition}"
    return Working(title, (end, back))


def beyond_working(line, allowed):
    """
    Return the working of how far the mean lies beyond the limit.

    Parameters
    ----------
    line : Assayed
        Guarantee and values.
    allowed : Allowance
        What is allowed.

    Returns
    -------
    Working
        The mean, the limit, and how far one is beyond the other.

    Examples
    --------
    >>> from formulate.claims.assay import check_assay
    >>> report = check_assay({"N": 10}, {"N": 9.3})
    >>> round(beyond_working(report.lines[0], report.allowances[0]).value, 2)
    0.12
    """
    value, sides = line.nearest, {"below": allowed.low, "above": allowed.high}
    offs = {"below": allowed.low - value, "above": value - allowed.high}
    side = max(offs, key=offs.get)
    sign = "−" if side == "below" else "+"
    points = Quantity(getattr(allowed, side), "%")
    terms = (Quantity(allowed.guarantee, "%"), sign, points)
    end = Step("the limit", terms, "%", allowed.source_key)
    pair = Quantity(sides[side], "%"), Quantity(value, "%")
    more, less = pair if side == "below" else pair[::-1]
    off = Step("the mean beyond it", (more, "−", less), "%")
    steps = [*_mean_steps(line)[-2:], end, off]
    if off.value <= 0:
        steps.append(Step("within it: nothing beyond", (Quantity(0.0, "%"),), "%"))
    return Working(f"How far {line.name} lies beyond what is allowed", tuple(steps))


def short_working(line):
    """
    Return the working of how far the mean stays below the guarantee.

    Parameters
    ----------
    line : Assayed
        Guarantee and values.

    Returns
    -------
    Working
        The mean, and what it lacks.

    Examples
    --------
    >>> from formulate.claims.assay_values import Assayed
    >>> round(short_working(Assayed("N", 10.0, (9.3,), 0.0, (1,))).value, 2)
    0.7
    """
    value = Quantity(line.nearest, "%")
    terms = (Quantity(line.guarantee, "%"), "−", value)
    off = Step("guaranteed, less what was found", terms, "%")
    return Working(f"How far {line.name} is short", (*_mean_steps(line)[-2:], off))


# --- labels ----------------------------------------------------------------------------


def range_workings(made):
    """
    Yield what is behind the least and the most that a label leaves open.

    Parameters
    ----------
    made : Derivation
        The blends that a label allows.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.claims.derivation import derive
    >>> made = derive({"N": "13.0", "K2O": "45.0"}, ["potassium nitrate", "KCl"])
    >>> found = dict(range_workings(made))
    >>> round(found[0, 2].worked().value, 2) == round(made.ranges[0].low, 2)
    True
    """
    for row, asked in enumerate(made.sums):
        for column, end in ((2, 0), (3, 1)):
            yield (row, column), Followed(partial(_extreme, made, row, asked, end))


def _extreme(made, row, asked, end):
    """Return the working of an end of a range: the blend there, counted."""
    blend, names = made.vertices[end, row], [m.name for m in made.materials]
    constant, terms, told = float(asked.constant), [], []
    if constant:
        terms = ["+", Quantity(constant, asked.unit)]
    for name, grams, each in zip(names, blend, asked.coefficients, strict=True):
        if grams > NOTHING and each:
            sign = "−" if each < 0 else "+"
            terms += [sign, Quantity(round(float(grams), DECIMALS), "g")]
            terms += ["×", Quantity(abs(float(each)), f"{asked.unit}/g")]
            told.append(name)
    word = ("least", "most")[end]
    words = f"in the blend where it is {word}: {', '.join(told) or 'none of it'}"
    if not terms:
        terms = ["+", Quantity(0.0, asked.unit)]
    if terms[0] == "−":
        terms = ["+", Quantity(0.0, asked.unit), *terms]
    step = Step(words, tuple(terms[1:]), asked.unit, "stoichiometry")
    title = f"{asked.what} in 100 g, the {word} that the label allows"
    return Working(title, (step,))


def dilution_workings(made, found):
    """
    Yield what is behind EC and pH of a dilution at the blends that a label allows.

    Parameters
    ----------
    made : Derivation
        The blends that a label allows.
    found : Dilution
        What a dilution of each shows.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.claims.derivation import derive
    >>> made = derive({"N": "13.0", "K2O": "45.0"}, ["potassium nitrate", "KCl"])
    >>> dict(dilution_workings(made, made.diluted()))[0, 1].worked().unit
    'mS/cm'
    """
    for row, (what, values) in enumerate((("EC", found.ec), ("pH", found.ph))):
        for column, place in ((1, values.argmin()), (2, values.argmax())):
            yield (row, column), Followed(partial(_diluted, made, found, what, place))


def _diluted(made, found, what, place):
    """Return the working of EC or pH of one blend in pure water."""
    factor, blend = found.grams_per_litre / PERCENT, found.blends[place]
    forms, charge, told = {}, 0.0, []
    for material, grams in zip(made.materials, blend, strict=True):
        for key, amount in material.forms.items():
            forms[key] = forms.get(key, 0.0) + float(amount * grams * factor)
        charge += float(material.unassigned_charge * grams * factor)
        if grams > NOTHING:
            told.append(f"{material.name} {grams:.4g} g")
    state = speciate(Solution(forms, charge, REFERENCE))
    title = f"{what} of the blend {', '.join(told)} in 100 g"
    return titled(state, what, title)
