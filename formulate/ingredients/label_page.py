"""A printed label line by line: which numbers it gives for which names, and what was left out.

Every digit of the text ends in one place: a named share, the density, the sources, a part
of a chemical symbol, or a line that is listed as left out with its reason.
"""

import re
from dataclasses import dataclass, field, replace

from formulate.errors import InputError, shortened
from formulate.ingredients.label_grade import find_grade
from formulate.ingredients.label_items import Item
from formulate.ingredients.label_pairs import pairs, split_line
from formulate.ingredients.label_title import numbered_title
from formulate.ingredients.label_tokens import Printed, plain_line, tokens
from formulate.ingredients.label_words import (
    has_stuck_digits,
    nearest_words,
    unit_named,
)
from formulate.notices import LeftOut, Notice

__all__ = ["Found", "Page", "read_page"]

MOST_CHARACTERS = 20_000
MOST_LINES = 500
LONGEST_LINE = 1_000
WHOLE = "100"
HEAD = 4  # lines among which the name stands
FEW_WORDS = 4  # unknown words that still may be the name of a share
BARE_POINT = re.compile(r"[ (]\.\d")
HIDDEN_POINT = re.compile(r"\.{2,}(\d+)(?![\d.,])")
REGISTRATION = re.compile(r"[A-Z]{1,3}\d{2,}")


@dataclass(frozen=True)
class Found:
    """
    A number of the label with its name.

    Attributes
    ----------
    line : int
        Line of the number, counted from 1. [-]
    text : str
        The line as printed.
    item : Item
        What names it.
    number : Printed or None
        The number; None for "traces".
    """

    line: int
    text: str
    item: Item
    number: Printed | None


@dataclass
class Page:
    """
    What has been read of a label so far.

    Attributes
    ----------
    faults : Faults
        Where faults go.
    found : list of Found
        Numbers with their names.
    left_out : list of LeftOut
        Lines that were left out.
    assumed : list of str
        What was assumed.
    notices : list of Notice
        What to know.
    sources : list of str
        The lines of "derived from".
    densities : list of tuple
        (line, printed number) of each density.
    evidence : list of tuple
        (basis, wording) of words that speak for a basis.
    agents : set of str
        Chelating agents of the whole label.
    units : list of tuple
        Units in headings.
    title : str
        First line, if it gives a name.
    is_liquid : bool
        Whether a word or a unit tells that it is poured.
    ratios : list of tuple
        Shares told by volume and by mass: (Found, share, half digit, share, half digit).
    """

    faults: object
    found: list = field(default_factory=list)
    left_out: list = field(default_factory=list)
    assumed: list = field(default_factory=list)
    notices: list = field(default_factory=list)
    sources: list = field(default_factory=list)
    densities: list = field(default_factory=list)
    evidence: list = field(default_factory=list)
    agents: set = field(default_factory=set)
    units: list = field(default_factory=list)
    title: str = ""
    is_liquid: bool = False
    ratios: list = field(default_factory=list)
    _names: list = field(default_factory=list)  # (line, text, plain, item)
    _figures: list = field(default_factory=list)  # (line, text, number)
    _without_number: list = field(default_factory=list)  # (line, item)
    _last: Item | None = None
    _in_sources: bool = False
    _in_additives: bool = False

    def leave(self, line, text, reason, severity=""):
        """
        List a line as left out.

        Parameters
        ----------
        line : int
            Line of the label. [-]
        text : str
            The line as printed.
        reason : str
            Why it was left out.
        severity : str
            Of the notice about it; none if empty.

        Examples
        --------
        >>> page = Page(None)
        >>> page.leave(3, "Net weight 25 kg", "a mass, no share")
        >>> page.left_out[0].line
        3
        """
        self.left_out.append(LeftOut(line, text.strip(), reason))
        if severity:
            what = f"line {line} was left out: {shortened(text.strip())}: {reason}"
            self.notices.append(Notice(what, severity))

    def add(self, line, text, item, number):
        """
        List a number with its name.

        Parameters
        ----------
        line : int
            Line of the label. [-]
        text : str
            The line as printed.
        item : Item
            What names it.
        number : Printed or None
            The number.

        Examples
        --------
        >>> page = Page(None)
        >>> page.add(1, "K2O 20 %", Item("K2O", ("K2O",) * 3), Printed("20", "share", "%"))
        >>> page.found[0].item.text
        'K2O'
        """
        if not item.keys and self._last is None:
            what = "more is said of a nutrient, but none is named before"
            self.faults.add(f"line {line}: {shortened(text.strip())}: {what}")
            return
        self._last = item.about(self._last) if self._last else item
        self.found.append(Found(line, text.strip(), self._last, number))


def read_page(text, faults):
    """
    Read a label line by line.

    Parameters
    ----------
    text : str
        The label as printed.
    faults : Faults
        Where faults go.

    Returns
    -------
    Page
        What was found.

    Examples
    --------
    >>> from formulate.errors import Faults
    >>> page = read_page("Total Nitrogen (N) ..... 15 %", Faults())
    >>> page.found[0].item.kind, page.found[0].number.text
    ('total', '15')
    """
    page = Page(faults)
    lines = str(text).replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if len(text) > MOST_CHARACTERS or len(lines) > MOST_LINES:
        faults.add(
            f"{len(lines)} lines, {len(text)} characters: a label has at most "
            f"{MOST_LINES} lines and {MOST_CHARACTERS} characters"
        )
        return page
    title, bare_points = numbered_title(lines), BARE_POINT.search(text)
    for number, line in enumerate(lines, 1):
        if len(line) > LONGEST_LINE:
            faults.add(f"line {number}: longer than {LONGEST_LINE} characters")
            continue
        if bare_points and (hidden := HIDDEN_POINT.search(line)):
            what = f"{shortened(hidden[0])} may be {hidden[1]} or .{hidden[1]}"
            faults.add(f"line {number}: {what}; write 0 before the decimal point")
        if title and number == title.line:
            _keep_title(page, line, title)
        else:
            _read_line(page, number, line)
    _settle(page)
    told = {found.item.family for found in page.found}
    for line, item in page._without_number:
        if item.family not in told:
            what = f"line {line} names {item.text} and gives no number for it"
            page.notices.append(Notice(what, "caution"))
    return page


def _read_line(page, line, text):
    """Read one line: grade, sources, then names and numbers."""
    plain = plain_line(text)
    if not plain.strip():
        page._in_sources = page._in_sources and page.sources[-1].endswith(",")
        return
    _note_evidence(page, plain)
    plain = _without_grade(page, line, text, plain)
    plain = _without_sources(page, line, text, plain)
    pieces = _in_columns(page, tokens(plain))
    page.is_liquid |= any(t.number and t.number.how == "w/v" for t in pieces)
    split = split_line(pieces)
    _note_units(page, split, pieces)
    _note_measures(page, line, text, split)
    _note_stuck_digits(page, line, text, split)
    if split.numbers:
        _read_numbers(page, line, text, plain, split)
    else:
        _read_names(page, line, text, plain, split)
    _note_title(page, line, text, split)


def _keep_title(page, text, title):
    """Keep a title that names a material and its numbers, which are no guarantee."""
    _note_evidence(page, plain_line(text))
    page.title = " ".join(text.split())
    page.leave(title.line, text, title.why)
    if title.missing:
        what = f"line {title.line}: no guarantee says the {', '.join(title.missing)} of the title"
        page.notices.append(Notice(what, "caution"))


def _note_evidence(page, plain):
    """Keep the words of a line that speak for a basis."""
    words = [(token.word, token.text) for token in tokens(plain) if token.word]
    page.evidence += [(word.evidence, text) for word, text in words if word.evidence]


def _note_title(page, line, text, split):
    """Keep a line of the first ones that gives a name and no share."""
    is_head = split.numbers or split.roles & {"header", "derived", "agents", "prose"}
    is_name = split.unknown or any(s.compound or s.items for s in split.segments)
    if not page.title and is_name and not is_head and line < HEAD:
        page.title = " ".join(text.split())


# --- grade and sources ---------------------------------------------------------------------


def _without_grade(page, line, text, plain):
    """Take the grade from a line, and return what is left of it."""
    grade = find_grade(plain)
    if grade is None:
        return plain
    for name, keys, digits in grade.shares:
        item = Item(f"{name} of the grade", keys, "grade")
        number = Printed(digits, "share", "%")
        page.found.append(Found(line, text.strip(), item, number))
    for digits in grade.unnamed:
        page.leave(line, text, f"{digits} in the grade has no name", "note")
    page.title = page.title or " ".join(text.split())
    has_numbers = any(map(str.isdigit, grade.before))
    return f"{grade.before if has_numbers else ''} ; {grade.behind}"


def _without_sources(page, line, text, plain):
    """Take the list of sources from a line, and return what is left of it."""
    for token in tokens(plain):
        if token.word and token.word.role == "derived":
            before, _, after = plain.partition(token.text)
            if token.word.evidence == "us" or after.strip().startswith(":"):
                page._in_sources = True
                return before + _take_sources(page, line, text, after)
    if page._in_sources and not _ends_sources(plain):
        return _take_sources(page, line, text, plain)
    page._in_sources = False
    return plain


def _ends_sources(plain):
    """Return whether a line after "derived from" is about something else."""
    split = split_line(tokens(plain))
    shares = any(number.sort == "share" for number in split.numbers)
    return shares or bool(split.roles & {"prose", "header", "density", "ph", "agents"})


def _take_sources(page, line, text, plain):
    """Keep sources up to the end of their sentence; return what stands behind it."""
    listed, end, behind = plain.strip(" :").partition(". ")
    if plain.rstrip().endswith(".") or end:
        page._in_sources = False
    page.sources.append(listed.strip(" .;"))
    if re.search(r"(?<![^\W_])\d", listed):
        page.leave(line, text, "a list of sources")
    return f" ; {behind}" if behind else ""


def _in_columns(page, pieces):
    """Return a line's two bare numbers with the two units of the heading, if it has two."""
    units = page.units[-1] if page.units else ()
    numbers = [token for token in pieces if token.number]
    if len(units) != 2 or len(numbers) != 2:
        return pieces
    if any(token.number.sort != "bare" for token in numbers):
        return pieces
    for token, (name, how) in zip(numbers, units, strict=True):
        number = replace(token.number, sort="share", unit=name, how=how)
        pieces = [replace(t, number=number) if t is token else t for t in pieces]
    return tuple(pieces)


# --- what is no share -------------------------------------------------------------------------


def _note_units(page, split, pieces):
    """Keep the units of a heading, the agents of the label, signs of a liquid."""
    if split.units and not split.numbers and not split.items:
        page.units.append(tuple(unit_named(text)[1:] for text in split.units))
    if "agents" in split.roles:
        words = [token.word for token in pieces if token.word]
        agents = {word.keys["us"] for word in words if word.role == "agent"}
        page.agents |= agents - {"other"}


def _note_measures(page, line, text, split):
    """List masses, volumes, temperatures and pH; keep densities."""
    is_told = "density" in split.roles or any("°" in n.unit for n in split.measures)
    alone = not (split.numbers or split.items or split.unknown)
    for number in split.densities:
        if is_told or alone:
            page.densities.append((line, number, "gal" in text.casefold()))
            page.is_liquid = True
    if split.densities or split.measures:
        kept = split.densities and (is_told or alone)
        reason = "read as the density" if kept else "a measure, no share"
        lost = bool(split.items) and not (split.numbers or split.densities)
        page.leave(line, text, reason, "caution" * lost)
        units = {number.unit for number in split.measures if number.unit}
        if lost and units and not (split.unknown or "prose" in split.roles):
            what = f"{shortened(text.strip())}: {', '.join(units)} is no share"
            page.faults.add(f"line {line}: {what}; give it in %, g/L or mg/kg")
    holds = any(n.how == "volume" for n in split.measures) and "net" in split.kinds
    is_said = "liquid" in split.kinds and "prose" not in split.roles
    page.is_liquid |= holds or is_said


def _note_stuck_digits(page, line, text, split):
    """List a line whose digits are stuck to letters; refuse it if it names a share."""
    stuck = [word for word in split.unknown if has_stuck_digits(word)]
    if not stuck:
        return
    reason = f"digits stuck to letters: {shortened(stuck[0])}"
    is_code = all(REGISTRATION.fullmatch(word) for word in stuck)
    if (split.items or split.units) and not is_code:
        page.faults.add(f"line {line}: {reason}; put a blank between them")
    page.leave(line, text, reason)


# --- names and numbers ------------------------------------------------------------------------


def _read_names(page, line, text, plain, split):
    """Read a line without shares: names that wait for their numbers, or words."""
    items = split.items
    if len(items) == 1 and "trace" in items[0].marks:
        page.add(line, text, items[0], None)
        return
    others = any(s.other or s.compound or s.prose or s.unknown for s in split.segments)
    if items and not others and not split.measures:
        if page._figures and page._names and page._names[0][0] < page._figures[0][0]:
            _settle(page)
        page._names += [(line, text, plain, item) for item in items]
    if "header" in split.roles or "prose" in split.roles:
        page._in_additives = False


def _read_numbers(page, line, text, plain, split):
    """Read a line with numbers that may be shares."""
    if _is_bare(split):
        _keep_figures(page, line, text, split)
        return
    if not split.items and page._names and page._names[-1][0] == line - 1:
        *page._names, (_, _, before, _) = page._names
        split = split_line(tokens(f"{before} {plain}"))
    _settle(page)
    try:
        if any(number.negative for number in split.numbers) and split.items:
            raise InputError("a negative share; write it without the minus")
        if split.items and split.strange:
            what = f"{shortened(split.strange[0])} behind a number is no unit"
            raise InputError(f"{what} that is known")
        found = pairs(split.segments, split.numbers)
    except InputError as error:
        _refuse(page, line, text, split, error)
        return
    if any(len(segment.items) > 1 for segment in split.segments):
        page.assumed.append(
            f"line {line}: names side by side: paired with the numbers in order"
        )
    if not split.items and not any(isinstance(name, Item) for name, _ in found):
        _leave_unknown(page, line, text, split, found)
        return
    for name, number in found:
        if isinstance(name, Item) and not name.keys and number.text == WHOLE:
            page.leave(line, text, "all of the product, no share of a nutrient")
        elif isinstance(name, Item):
            page.add(line, text, name, number)
        else:
            _leave_unknown(page, line, text, split, [(name, number)])


def _is_bare(split):
    """Return whether a line holds numbers and no word that names anything."""
    return all(found.is_empty and not found.prose for found in split.segments)


def _keep_figures(page, line, text, split):
    """Keep numbers that stand alone for the names before or behind them."""
    if not page._names and all(number.sort == "bare" for number in split.numbers):
        page.leave(line, text, "a number without a name or a unit", "caution")
        return
    if page._names and page._figures and page._figures[0][0] < page._names[0][0]:
        _settle(page)
    page._figures += [(line, text, number) for number in split.numbers]


def _settle(page):
    """Pair the names and numbers that waited for each other, if their counts match."""
    names, figures = page._names, page._figures
    page._names, page._figures = [], []
    if not figures:
        page._without_number += [(line, item) for line, _, _, item in names]
        return
    if len(names) != len(figures):
        first, last = figures[0][0], figures[-1][0]
        where = f"line {first}" if first == last else f"lines {first} to {last}"
        page.faults.add(
            f"{where}: {len(figures)} numbers stand alone, {len(names)} names wait for "
            "one; write each number beside its name"
        )
        for line, text, _ in figures:
            page.leave(line, text, "a number whose name is not clear")
        return
    lines = sorted({line for line, *_ in (*names, *figures)})
    page.assumed.append(
        f"lines {lines[0]} to {lines[-1]}: names and numbers on lines of their own: "
        "paired in order"
    )
    for (_, _, _, item), (line, text, number) in zip(names, figures, strict=True):
        page.add(line, text, item, number)


def _refuse(page, line, text, split, error):
    """Refuse a line that names nutrients and cannot be read; leave out any other."""
    shares = [n for n in split.numbers if n.sort == "share"]
    if split.items and (shares or "prose" not in split.roles):
        page.faults.add(f"line {line}: {shortened(text.strip())}: {error}")
        page.leave(line, text, "not clear")
        return
    page.leave(line, text, "no nutrient is named", "caution" if shares else "")


def _leave_unknown(page, line, text, split, found):
    """Leave out numbers that no nutrient names; refuse what may be one misspelt."""
    unknown = [word for name, _ in found for word in name.unknown]
    known = any(name.other or name.prose for name, _ in found)
    percents = [n for _, n in found if n.sort == "share" and n.how != "w/v"]
    near = [word for text in unknown for word in nearest_words(text)]
    asked = 0 < len(unknown) <= FEW_WORDS and not known and "prose" not in split.roles
    if percents and asked and (near or not page._in_additives):
        hint = f"; did you mean {near[0]}?" if near else ""
        page.faults.add(
            f"line {line}: {shortened(text.strip())}: {shortened(' '.join(unknown))} is "
            f"no nutrient that is known{hint or '; take the line out if it is none'}"
        )
    page._in_additives |= known
    reason = "no nutrient that is counted" if known else "no nutrient is named"
    page.leave(line, text, reason, "note" if known else "caution" * bool(percents))
