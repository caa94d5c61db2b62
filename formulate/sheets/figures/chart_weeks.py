"""A feed chart week by week: its EC beside the EC it claims, and each main nutrient."""

import math
from dataclasses import dataclass

from formulate.claims.allowances import share_as
from formulate.claims.claim_reading import READINGS
from formulate.claims.dose_margins import DERIVED
from formulate.claims.feed_chart import ChartJump, FeedChart
from formulate.claims.finding import VERDICTS
from formulate.errors import InputError, shortened
from formulate.sheets.figures.claim_marks import note_lines, verdict_key, verdict_mark
from formulate.sheets.figures.foot_lines import LINE, write_foot
from formulate.sheets.figures.picture import Picture, made_by
from formulate.sheets.figures.style import (
    INK,
    LARGE,
    QUIET,
    SMALL,
    WANTED,
    WITHIN,
    colour,
    drawing,
    fitted,
    new_figure,
    panel,
    text_width,
    write,
)
from formulate.sheets.tables import Table
from formulate.stoichiometry.nutrients import nutrient
from formulate.stoichiometry.units import unit
from formulate.tables import rule_of
from formulate.working import printed

__all__ = ["chart_weeks"]

NAME, LEFT, SPAN, SAID, EDGE, LONG = 0.08, 0.78, 5.0, 5.92, 7.1, 7.0  # in
HEAD, BETWEEN, FOOT = 0.56, 0.27, 0.6  # in
KEY_LINE, HALF, ROOM = 0.25, 0.19, 0.1  # in
RISE = {"EC": 1.3, "": 0.66}  # in: height of a panel
KEYS = ("N", "P", "K", "Ca", "Mg", "S")
SALT = ("Na", "Cl")
ABOVE, FAR, SLOT = 1.12, 2.0, 0.42  # of the axis; half of a week's room
LONGEST = 0.9  # in: of the name of a week that is written whole
DIGITS, MOST_TOLD, MANY = 3, 5, 20
DASHED = {"color": INK, "linewidth": 1.2, "linestyle": (0, (2, 1))}
TITLE = "The feed chart week by week"
NO_EC = "the EC cannot be worked out: an ion of it has no known conductivity"


@dataclass(frozen=True)
class _Strip:
    """One panel: what the weeks hold of one thing, what is wanted, what is claimed."""

    key: str
    values: tuple
    wanted: tuple
    claims: tuple = ()

    @property
    def unit(self):
        return "mS/cm" if self.key == "EC" else "mg/L"

    @property
    def rise(self):
        return RISE.get(self.key, RISE[""])

    @property
    def top(self):
        """Return where the axis ends: a little above what there is and what is wanted."""
        known = [value for value in self.values if value is not None]
        ends = [end for pair in self.wanted if pair for end in pair]
        most = max((v for v in known + ends if math.isfinite(v)), default=0.0)
        claimed = max((claim.mean for claim in self.claims), default=0.0)
        return ABOVE * (max(most, min(claimed, FAR * (most or claimed))) or 1.0)

    @property
    def range(self):
        """Return the least and greatest value in words."""
        known = [value for value in self.values if value is not None]
        if not known:
            return "not known"
        told = (lambda v: f"{v:.2f}") if self.key == "EC" else _mass
        ends = map(told, (min(known), max(known)))
        return " to ".join(dict.fromkeys(ends))


def _mass(value):
    return printed(value, DIGITS)


@dataclass(frozen=True)
class _Claim:
    """A claimed EC, in mS/cm whatever its unit."""

    place: int
    mean: float
    verdict: str
    text: str


def chart_weeks(feed_chart):
    """
    Return a picture of a feed chart, its weeks across.

    Parameters
    ----------
    feed_chart : FeedChart
        The chart, as `read_chart` returns it.

    Returns
    -------
    Picture
        EC with the claimed EC as marks, filled where right; beneath it N, P, K, Ca, Mg
        and S, what is wanted of each week behind; the largest change is marked.

    Raises
    ------
    InputError
        If it is something else, or holds no week.

    Examples
    --------
    >>> from formulate.claims.feed_chart import read_chart
    >>> text = "week,A g/L,EC mS/cm\\n1,0.5,0.7\\n2,1,1.9\\n"
    >>> print(chart_weeks(read_chart(text, {"A": "KNO3"})).alt)
    2 weeks, 1 to 2. EC 0.69 to 1.35 mS/cm; N 69.3 to 139 mg/L; K 193 to 387 mg/L. EC \
claimed: 1 right, 1 wrong (week 2: 1.900 mS/cm). Largest change: N from 1 to 2: 69.3 to \
139 mg/L (+50 %). No P, Ca, Mg, S in any week.
    """
    if not isinstance(feed_chart, FeedChart):
        what = "give what read_chart returns"
        raise InputError(
            f"chart_weeks: {shortened(feed_chart)} is no FeedChart; {what}"
        )
    if not feed_chart.weeks:
        raise InputError("chart_weeks: there is no week; nothing to draw")
    strips = _strips(feed_chart)
    jump = _jump(feed_chart, strips)
    with drawing():
        figure = _drawn(feed_chart, strips, jump)
    products = [one.ingredient for w in feed_chart.weeks for one in w.line.doses]
    wanted = [week.target for week in feed_chart.weeks]
    return Picture(
        key="chart-weeks",
        title=TITLE,
        alt=_alt(feed_chart, strips, jump),
        table=_table(feed_chart, strips),
        source=made_by(feed_chart.weeks[0].water, *products, *wanted),
        figure=figure,
    )


# --- what is shown ----------------------------------------------------------------------


def _strips(chart):
    """Return EC, and each main nutrient that any week holds or is to hold."""
    claims = tuple(one for n, w in enumerate(chart.weeks) for one in _claims(n, w))
    wanted = tuple(_wanted_ec(week.target) for week in chart.weeks)
    strips = [_Strip("EC", tuple(week.ec for week in chart.weeks), wanted, claims)]
    for key in KEYS:
        values = tuple(week.mg_l.get(key, 0.0) for week in chart.weeks)
        wanted = tuple(_wanted(week.target, key) for week in chart.weeks)
        if any(values) or any(wanted):
            strips.append(_Strip(key, values, wanted))
    return strips


def _claims(place, week):
    """Return the EC, or TDS, that is claimed of a week."""
    for claim in week.claims:
        if claim.subject in READINGS:
            factor = unit(claim.unit).factor
            text = f"{printed(claim.claimed)} {claim.unit}"
            claimed = factor * claim.claimed
            yield _Claim(place, claimed, claim.finding.verdict, text)


def _wanted_ec(target):
    """Return the least and greatest EC that a target allows, or None. [mS/cm]"""
    ends = (
        [(x.low, x.high) for x in target.limits if x.subject == "EC"] if target else []
    )
    return ends[0] if ends else None


def _wanted(target, key):
    """Return the least and greatest that a target wants of a nutrient, or None. [mg/L]"""
    if target is None:
        return None
    forms = set(nutrient(key).weights)
    for own in target.wanted:
        if set(nutrient(own).weights) == forms:
            return tuple(share_as(end, own, key) for end in _ends(target, own))
    if key == "N" and {"NO3-N", "NH4-N"} <= set(target.wanted):
        pairs = (_ends(target, own) for own in ("NO3-N", "NH4-N"))
        return tuple(map(sum, zip(*pairs, strict=True)))
    return None


def _ends(target, key):
    ends = target.ranges.get(key, (target.wanted[key],) * 2)
    return tuple(end * nutrient(key).molar_mass for end in ends)


def _jump(chart, strips):
    """Return the largest change of anything that is drawn, or None."""
    drawn = {strip.key for strip in strips}
    return next((jump for jump in chart.jumps if jump.subject in drawn), None)


def _outside(strip):
    """Return the places of the weeks that are not within the range that is wanted."""
    pairs = zip(strip.values, _ranges(strip), strict=True)
    return [
        place
        for place, (value, ends) in enumerate(pairs)
        if ends and value is not None and not _is_within(value, *ends)
    ]


def _ranges(strip):
    """Return the wanted ranges; None for a point, which nothing meets exactly."""
    return [ends if ends and ends[1] > ends[0] else None for ends in strip.wanted]


def _is_within(value, low, high):
    near = 1e-9 * high if math.isfinite(high) else 0.0
    return low - near <= value <= high + near


# --- drawing ----------------------------------------------------------------------------


def _drawn(chart, strips, jump):
    """Draw the panels one below the other, the weeks beneath."""
    keys = _key_parts(strips)
    notes = note_lines(_notes(chart, strips, jump))
    top = HEAD + KEY_LINE * len(keys)
    high = sum(strip.rise + BETWEEN for strip in strips)
    figure = new_figure(top + high + FOOT + LINE * len(notes) + 0.08 * bool(notes))
    write(figure, NAME, 0.18, TITLE, fontsize=LARGE, weight="bold")
    for place, draw in enumerate(keys):
        draw(figure, 0.45 + KEY_LINE * place)
    for strip in strips:
        axes = _panel(figure, strip, len(chart.weeks), top)
        if jump and jump.subject == strip.key:
            _mark_jump(figure, axes, chart, strip, jump, top)
        _label(figure, strip, top)
        top += strip.rise + BETWEEN
    _week_names(figure, axes, chart, top - BETWEEN)
    write_foot(figure, top - BETWEEN + FOOT, notes)
    return figure


def _key_parts(strips):
    """Return what explains the marks, a line each, only of what is there."""
    parts = []
    wanted = [ends for strip in strips for ends in strip.wanted if ends]
    shapes = {ends[1] > ends[0] for ends in wanted}
    if shapes:
        parts.append(lambda figure, top: _wanted_key(figure, top, shapes))
    verdicts = {claim.verdict for claim in strips[0].claims}
    if verdicts:
        parts.append(lambda figure, top: _claims_key(figure, top, verdicts))
    return parts


def _wanted_key(figure, top, shapes):
    axes = panel(figure, NAME, top - 0.11, LONG, 0.22)
    axes.set(xlim=(0, LONG), ylim=(1, 0), xticks=[], yticks=[])
    left = 0.0
    if True in shapes:
        axes.barh([0.5], [0.4], 0.8, facecolor=WITHIN)
        write(figure, NAME + 0.5, top, "range that is wanted", fontsize=SMALL)
        left = 2.3
    if False in shapes:
        axes.plot([left, left + 0.4], [0.5] * 2, **DASHED)
        write(figure, NAME + left + 0.5, top, "wanted", fontsize=SMALL)


def _claims_key(figure, top, verdicts):
    words = "the EC that is claimed is"
    write(figure, NAME, top, words, fontsize=SMALL)
    verdict_key(figure, NAME + text_width(words, SMALL) + 0.16, top, verdicts)


def _panel(figure, strip, count, top):
    """Draw one panel: what is wanted behind, the line, the claims."""
    axes = panel(figure, LEFT, top, SPAN, strip.rise)
    axes.set(xlim=(-0.5, count - 0.5), ylim=(0, strip.top), xticks=[])
    axes.set_ylabel(strip.unit, fontsize=SMALL)
    axes.yaxis.set_label_coords(-0.115, 0.5)
    axes.locator_params(axis="y", nbins=4 if strip.key == "EC" else 2)
    axes.ticklabel_format(axis="y", style="plain", useOffset=False)
    axes.spines[["left", "bottom"]].set_visible(True)
    axes.grid(axis="y", color="#E4E4E4", linewidth=0.6, zorder=0)
    axes.set_axisbelow(True)
    for place, ends in enumerate(strip.wanted):
        _behind(axes, place, ends, strip.top)
    _line(axes, strip, count)
    for claim in strip.claims:
        _claim(axes, claim, strip.top, count)
    return axes


def _behind(axes, place, ends, top):
    """Draw what is wanted of a week: a range as a band, a point as a dashed line."""
    if not ends:
        return
    low, high = max(ends[0], 0.0), min(ends[1], top)
    if ends[1] > ends[0]:
        band = {"bottom": low, "facecolor": WITHIN, "zorder": 1}
        axes.bar([place], [high - low], 2 * SLOT, **band)
        return
    axes.plot([place - SLOT, place + SLOT], [low] * 2, zorder=2, **DASHED)


def _line(axes, strip, count):
    """Draw the line of the weeks, with an edge of ink to be seen in grey."""
    if None in strip.values:
        return
    weeks, shade = range(count), INK if strip.key == "EC" else colour(strip.key)
    many = {"ms": 5.5 if count <= MANY else 3.5, "mec": INK, "mew": 0.8}
    axes.plot(weeks, strip.values, color=INK, linewidth=3.2, zorder=3, clip_on=False)
    look = {"color": shade, "linewidth": 1.8, "zorder": 4, "clip_on": False}
    axes.plot(weeks, strip.values, "-o", **look, **many)


def _claim(axes, claim, top, count):
    """Draw a claimed EC; an arrow where it is beyond the axis."""
    size = 7.5 if count <= MANY else 5.5
    look = verdict_mark(claim.verdict) | {"ms": size, "mew": 1.4}
    if claim.mean > top:
        look |= {"marker": "^"}
    axes.plot([claim.place], [min(claim.mean, top)], zorder=5, **look)


def _mark_jump(figure, axes, chart, strip, jump, top):
    """Shade the step of the largest change, and tell it above the panel."""
    names = [week.name for week in chart.weeks]
    place = names.index(jump.before)
    axes.axvspan(place, place + 1, facecolor=WANTED, zorder=0)
    words = f"largest change: {jump.percent:+.0f} %".replace("-", "−")
    half = text_width(words, SMALL) / 2
    at = SPAN * (place + 1.0) / len(names)
    at = min(max(at, half), SPAN - half)
    write(figure, LEFT + at, top - 0.1, words, ha="center", fontsize=SMALL)


def _label(figure, strip, top):
    """Write at the end of a line what it is, and its least and greatest value."""
    last, middle = strip.values[-1], top + strip.rise / 2
    if last is not None:
        middle = top + strip.rise * (1 - last / strip.top)
    middle = min(max(middle, top + HALF), top + strip.rise - HALF)
    write(figure, SAID, middle - 0.095, strip.key, fontsize=SMALL, weight="bold")
    words = fitted(strip.range, EDGE - SAID, SMALL)
    write(figure, SAID, middle + 0.095, words, fontsize=SMALL)
    if last is None:
        words = fitted(NO_EC, SPAN - 0.2, SMALL)
        about = {"ha": "center", "fontsize": SMALL, "color": QUIET}
        write(figure, LEFT + SPAN / 2, top + strip.rise / 2, words, **about)


def _week_names(figure, axes, chart, bottom):
    """Write the names of the weeks, every second or third where there is little room."""
    names = [week.name for week in chart.weeks]
    slot = SPAN / len(names)
    need = min(
        max(text_width(fitted(n, LONGEST, SMALL), SMALL) for n in names), LONGEST
    )
    step = math.ceil((need + ROOM) / slot)
    axes.set_xticks(range(0, len(names), step), [""] * len(range(0, len(names), step)))
    for place in range(0, len(names), step):
        room = step * slot - ROOM
        name, at = fitted(names[place], room, SMALL), LEFT + slot * (place + 0.5)
        at = max(at, NAME + text_width(name, SMALL) / 2)
        write(figure, at, bottom + 0.17, name, ha="center", fontsize=SMALL)
    words = "week" if step == 1 else f"week, every {_ordinal(step)} named"
    write(figure, LEFT + SPAN / 2, bottom + 0.42, words, ha="center", fontsize=SMALL)


def _ordinal(number):
    return {2: "second", 3: "third"}.get(number, f"{number}th")


def _notes(chart, strips, jump):
    """Return what stands beneath: what is not drawn, claims beyond the axis."""
    notes = []
    far = [claim for claim in strips[0].claims if claim.mean > strips[0].top]
    if far:
        told = "; ".join(f"{_week(chart.weeks[c.place].name)}: {c.text}" for c in far)
        notes.append(f"Claimed beyond the axis: {told}.")
    if beyond := _beyond(chart, jump):
        notes.append(f"Largest change of all: {beyond}.")
    missing = [key for key in KEYS if key not in {strip.key for strip in strips}]
    if missing and _is_untold(chart):
        notes.append(f"{', '.join(missing)}: no label tells any, so none is counted.")
    elif missing:
        notes.append(f"No {', '.join(missing)} in any week.")
    return notes


def _beyond(chart, jump):
    """Return the largest change if it is of what is not drawn, and no trace of salt."""
    trace = rule_of("chart_rules", "trace of salt").number("value")
    for one in chart.jumps:
        if one == jump:
            return None
        largest = max(one.value_before, one.value_after)
        if one.subject not in SALT or largest >= trace:
            return one
    return None


def _is_untold(chart):
    """Return whether a product is counted from its label alone, which need not tell all."""
    products = (one.ingredient for week in chart.weeks for one in week.line.doses)
    return any(one.reading and one.how_known != DERIVED for one in products)


# --- words ------------------------------------------------------------------------------


def _week(name):
    """Return the name of a week, with that word before it unless it begins so."""
    return name if name.casefold().startswith("week") else f"week {name}"


def _table(chart, strips):
    """Return the weeks as rows, with what is wanted and what is claimed."""
    columns, numeric, blocks = ["week"], [], []
    for strip in strips:
        numeric.append(len(columns))
        columns += [f"{strip.key} {strip.unit}", f"{strip.key} wanted"]
        blocks.append([_value(v) for v in strip.values])
        blocks.append([_pair(ends) for ends in strip.wanted])
    columns += ["EC claimed", "verdict"]
    claims = strips[0].claims
    for words in ("text", "verdict"):
        told = [
            "; ".join(getattr(c, words) for c in claims if c.place == place)
            for place in range(len(chart.weeks))
        ]
        blocks.append(told)
    names = [week.name for week in chart.weeks]
    rows = tuple(zip(names, *blocks, strict=True))
    table = Table("chart-weeks", TITLE, tuple(columns), rows, tuple(numeric))
    return table.without_empty(*(name for name in columns[1:] if name[-4:] != "g/L"))


def _value(value):
    return "not known" if value is None else printed(value)


def _pair(ends):
    """Return a wanted range in words."""
    if not ends:
        return ""
    if math.isinf(ends[1]):
        return f"at least {printed(ends[0])}"
    return " to ".join(dict.fromkeys(printed(max(end, 0.0)) for end in ends))


def _alt(chart, strips, jump):
    names = [week.name for week in chart.weeks]
    weeks = f"{len(names)} weeks, {names[0]} to {names[-1]}"
    head = weeks if len(names) > 1 else f"1 week, {names[0]}"
    told = "; ".join(f"{strip.key} {strip.range} {strip.unit}" for strip in strips)
    parts = [f"{head}. {told}.", _claimed(strips[0].claims, names)]
    off = [
        f"{strip.key} in {len(_outside(strip))} of {sum(map(bool, _ranges(strip)))} weeks"
        for strip in strips
        if _outside(strip)
    ]
    parts.append(
        f"Not within the range that is wanted: {', '.join(off)}." if off else ""
    )
    parts.append(f"Largest change: {jump}." if isinstance(jump, ChartJump) else "")
    return " ".join(filter(None, [*parts, *_notes(chart, strips, jump)]))


def _claimed(claims, names):
    """Return how many claims of EC are right, and those that are not."""
    if not claims:
        return ""
    words = [claim.verdict for claim in claims]
    counts = [f"{words.count(word)} {word}" for word in VERDICTS if word in words]
    off = [
        f"{_week(names[claim.place])}: {claim.text}"
        for claim in claims
        if claim.verdict != "right"
    ]
    more = f" and {len(off) - MOST_TOLD} more" if len(off) > MOST_TOLD else ""
    told = f" ({'; '.join(off[:MOST_TOLD])}{more})" if off else ""
    return f"EC claimed: {', '.join(counts)}{told}."
