"""What moved between stored results and results now, in percent, and how it is told."""

import math
from dataclasses import dataclass

from drift.stored import LOGARITHMS, WORD, digit, text_of

__all__ = [
    "Difference",
    "differences_of",
    "effect_words",
    "line_of_changes",
    "sorted_by_effect",
    "summary_lines",
    "table_lines",
]

FAULT = "cannot be done"
BLANK = "WHAT CHANGED AND WHY"
SLACK = 1e-6  # of the last digit: 0.1 + 0.2 is 0.3
HEAD = ("job", "quantity", "stored", "now", "unit", "effect")


@dataclass(frozen=True)
class Difference:
    """One value that moved, vanished (now is None) or is new (stored is None)."""

    job: str
    quantity: str
    stored: object
    now: object
    unit: str

    @property
    def percent(self):
        """Return the effect in percent; None of a text, or of what vanished or is new.

        Of a pH or an index it is the percent of ten to its power, the activity that it is
        the logarithm of: +0.01 is +2.3 %. From nothing it is infinite.
        """
        if self.unit == WORD or self.stored is None or self.now is None:
            return None
        if self.unit in LOGARITHMS:
            return 100 * math.expm1(math.log(10) * (self.now - self.stored))
        if self.stored == 0:
            return math.copysign(math.inf, self.now)
        return 100 * (self.now - self.stored) / abs(self.stored)

    @property
    def words(self):
        """Return the effect in words."""
        if self.stored is None:
            return "new"
        if self.now is None:
            return "gone"
        if self.percent is None:
            return "other words"
        return f"{self.percent:+.3g} %" if math.isfinite(self.percent) else "from 0"

    @property
    def ends(self):
        """Return stored and now as they are printed."""
        values = (self.stored, self.now)
        return tuple("-" if v is None else text_of(v, self.unit) for v in values)


def differences_of(job, stored, now):
    """Return what moved of one job: quantity to (value, unit) before and now."""
    if FAULT in now:
        return [Difference(job, FAULT, "it was done", now[FAULT][0], WORD)]
    found = []
    for quantity in dict.fromkeys((*stored, *now)):
        before, after = stored.get(quantity), now.get(quantity)
        if before and after and _are_same(before, after):
            continue
        if before and after and before[1] != after[1]:  # told in another unit
            found.append(Difference(job, quantity, before[0], None, before[1]))
            before = None
        unit = (after or before)[1]
        values = (told and told[0] for told in (before, after))
        found.append(Difference(job, quantity, *values, unit))
    return found


def _are_same(before, after):
    """Return whether two values are the same to one unit of the last digit stored."""
    (old, unit), (new, unit_now) = before, after
    if unit != unit_now:
        return False
    if unit == WORD:
        return text_of(old, unit) == text_of(new, unit)
    if not (math.isfinite(old) and math.isfinite(new)):
        return str(old) == str(new)
    return abs(new - old) <= digit(old, unit) * (1 + SLACK)


def sorted_by_effect(found):
    """Return differences: words, new and gone ones first, then the largest effect.

    Effects that print alike keep their order: their last digits are only rounding.
    """
    numbers = [one for one in found if one.percent is not None]
    words = [one for one in found if one.percent is None]
    return words + sorted(numbers, key=lambda one: -float(f"{abs(one.percent):.3g}"))


def table_lines(found, most=None):
    """Return the table of what moved; only the first so many rows if told."""
    rows = [
        (one.job, one.quantity, *one.ends, one.unit.replace(WORD, ""), one.words)
        for one in sorted_by_effect(found)
    ]
    shown = rows if most is None else rows[:most]
    texts = [one for one in shown if one[-1] == "other words"]
    columns = zip(HEAD, *(row for row in shown if row not in texts), strict=True)
    widths = [max(map(len, column)) for column in columns]
    lines = [_laid(HEAD, widths)]
    for row in shown:
        if row in texts:
            lines += [f"{row[0]}  {row[1]}", f"    {row[2]}", f"    -> {row[3]}"]
        else:
            lines.append(_laid(row, widths))
    left = len(rows) - len(shown)
    return lines + ([f"... and {left} more; --all shows them"] if left else [])


def _laid(cells, widths):
    pairs = zip(cells, widths, strict=True)
    return "  ".join(cell.ljust(width) for cell, width in pairs).rstrip()


def summary_lines(counts, found):
    """Return a line for each job, of so many values each, and one for all of them."""
    lines = []
    for job, count in counts.items():
        of_job = [one for one in found if one.job == job]
        lines.append(f"{job}: {_told(count, of_job)}".replace(f" ({job}, ", " ("))
    jobs = len({one.job for one in found})
    total = f"{_told(sum(counts.values()), found)}; {jobs} of {len(counts)} jobs"
    return [*lines, f"in all: {total}"]


def _told(count, found):
    if not found:
        return f"{count} values as stored"
    return f"{count} values, {_parts(found)}{_largest(found)}"


def _parts(found):
    words = [one.words for one in found]
    counts = {word: words.count(word) for word in ("gone", "new", "other words")}
    counts = {"moved": len(words) - sum(counts.values()), **counts}
    named = {"other words": "in other words"}
    return ", ".join(f"{n} {named.get(k, k)}" for k, n in counts.items() if n)


def _largest(found):
    """Return the largest effect in words: of numbers, and of what logarithms stand for."""
    logarithms = [one for one in found if one.unit in LOGARITHMS]
    numbers = [one for one in found if one not in logarithms]
    kinds = ((numbers, "numbers"), (logarithms, "activities"))
    return "".join(_at_most(some, kind) for some, kind in kinds)


def _at_most(found, kind):
    moved = [one for one in sorted_by_effect(found) if one.percent is not None]
    finite = [one for one in moved if math.isfinite(one.percent)] or moved
    if not finite:
        return ""
    one = finite[0]
    (old, new), unit = one.ends, one.unit.strip("-")
    told = f"{one.job}, {one.quantity} {old} to {new} {unit}".rstrip()
    return f"; {kind} by at most {one.words} ({told})"


def effect_words(found):
    """Return what moved in all, as the line in the changes has to tell it."""
    jobs = len({one.job for one in found})
    of = f"in {jobs} drift {'job' if jobs == 1 else 'jobs'}"
    return f"{_parts(found)} {of}{_largest(found)}".replace("|", "/")


def line_of_changes(found, reason=BLANK):
    """Return the line that a change asks for, as it stands in the table of changes."""
    return f"| {reason} | {effect_words(found)} | `WHERE` |"
