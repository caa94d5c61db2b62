"""What a person changes on a job: one function each, from a job to the next one.

Everything is text as it was typed. What is typed into a cell for a number must be one;
all else is judged when the job is worked out, so that nothing typed is lost.
"""

from contextlib import suppress
from dataclasses import replace

from formulate.checks import checked_number
from formulate.chemistry.acid_doses import check_wanted_ph
from formulate.errors import InputError, shortened
from formulate.ingredients.water import preset_values
from formulate.job_nouns import CHARGES, target_of
from formulate.jobs import TARGET_KEYS
from formulate.recipes.solve import metered_limit
from formulate.recipes.target import published_values
from formulate.stoichiometry.quantities import read_number

__all__ = [
    "number_or_none",
    "own_target",
    "typed_water",
    "with_entry",
    "with_report",
    "with_share",
    "with_target_entry",
    "with_target_value",
    "with_water",
    "with_water_value",
]


ANY_SHARE = (0.0, 100.0)  # %


def number_or_none(text):
    """
    Return a number as it was typed, or None for an empty cell.

    Parameters
    ----------
    text : str
        What was typed.

    Returns
    -------
    float or None
        The number. [-]

    Raises
    ------
    InputError
        If it is none.

    Examples
    --------
    >>> number_or_none("2,5"), number_or_none(" ")
    (2.5, None)
    """
    return read_number(text) if str(text).strip() else None


def _with_pair(pairs, key, value):
    """Return pairs with one of them set; an empty text takes it out."""
    found = dict(pairs)
    if str(value).strip():
        return tuple((found | {key: str(value).strip()}).items())
    found.pop(key, None)
    return tuple(found.items())


# --- the job ---------------------------------------------------------------------------


def with_entry(job, key, text):
    """
    Return a job with another title, volume, strength or way to choose its recipe.

    Parameters
    ----------
    job : Job
        The job.
    key : str
        "title", "volume", "strength_percent", "ph", "ec", "most_ingredients",
        "within_percent", "whole_steps" or "trace_stocks".
    text : str or bool
        What was typed or ticked.

    Returns
    -------
    Job
        The next job.

    Raises
    ------
    InputError
        If a number is asked for and none was typed.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> with_entry(Job(), "volume", "10 L").volume
    '10 L'
    """
    if key in ("strength_percent", "within_percent"):
        return replace(job, **{key: number_or_none(text.rstrip("% "))})
    if key == "most_ingredients":
        return replace(job, most_ingredients=_whole_or_none(text))
    if key == "ec":
        return replace(job, ec=_ec(text))
    if key == "ph":
        ph = number_or_none(text)
        return replace(job, ph=None if ph is None else check_wanted_ph(ph))
    if key in ("trace_stocks", "whole_steps"):
        return replace(job, **{key: bool(text)})
    if key not in ("title", "volume"):
        raise InputError(f"{shortened(key)} is nothing that a job holds")
    return replace(job, **{key: str(text).strip()})


def _whole_or_none(text):
    """Return a whole number from 1 up as it was typed, or None for an empty cell."""
    number = number_or_none(text)
    if number is None:
        return None
    if number < 1 or number != int(number):
        raise InputError(f"{shortened(text)}: write a whole number from 1 up")
    return int(number)


def _ec(text):
    """Return a wanted EC as typed, its unit added if there is none."""
    plain = str(text).strip()
    if plain:
        metered_limit("EC", plain)
        with suppress(InputError):
            read_number(plain)
            plain = f"{plain} mS/cm"
    return plain


# --- water -----------------------------------------------------------------------------


def with_water(job, preset):
    """
    Return a job with a water that comes with the package.

    Parameters
    ----------
    job : Job
        The job.
    preset : str
        Its key.

    Returns
    -------
    Job
        The next job.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> with_water(Job(), "rain").water
    (('preset', 'rain'),)
    """
    return replace(job, water=(("preset", str(preset)), *_share_of(job)))


def with_report(job, text, name=""):
    """
    Return a job with a water as its report tells it.

    Parameters
    ----------
    job : Job
        The job.
    text : str
        The report, as pasted.
    name : str
        How the water is called.

    Returns
    -------
    Job
        The next job.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> with_report(Job(), "Calcium 80 mg/L").water
    (('report', 'Calcium 80 mg/L'),)
    """
    named = (("name", name),) if name else ()
    return replace(job, water=(*named, ("report", str(text)), *_share_of(job)))


def typed_water(job, made=None):
    """
    Return a job whose water is typed value by value, starting from what it is now.

    Parameters
    ----------
    job : Job
        The job.
    made : Water or None
        The water that the job tells now, not blended with any other, if it tells one.

    Returns
    -------
    Job
        The next job; a water of the package keeps its numbers as printed, one from a
        report is written in mg/L with five digits.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> dict(typed_water(with_water(Job(), "hard")).water)["Ca"]
    '94.4 mg/L'
    """
    entries = dict(job.water)
    if "preset" in entries:
        name, values = preset_values(entries["preset"])
        return replace(job, water=(("name", name), *values.items(), *_share_of(job)))
    if "report" in entries:
        values = () if made is None else _read_values(made)
        named = (("name", entries["name"]),) if "name" in entries else ()
        return replace(job, water=(*named, *values, *_share_of(job)))
    return job


def _read_values(water):
    """Yield what a report told, as it would be typed."""
    if water.ph is not None:
        yield "pH", f"{water.ph:g}"
    if water.ec is not None:
        yield "EC", f"{water.ec:.5g} mS/cm"
    if water.alkalinity is not None:
        yield "alkalinity", f"{water.alkalinity:.5g} meq/L"
    for key, mass, _ in water.solution.rows():
        if key != "C" and mass > 0:
            yield key, f"{mass:.5g} mg/L"


def with_share(job, text):
    """
    Return a job that uses another share of its water, the rest counted as pure.

    Parameters
    ----------
    job : Job
        The job.
    text : str
        The share in percent; empty for all of it.

    Returns
    -------
    Job
        The next job.

    Raises
    ------
    InputError
        If it is no number from 0 to 100.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> with_share(with_water(Job(), "hard"), "42 %").water
    (('preset', 'hard'), ('share_percent', 42.0))
    """
    percent = number_or_none(str(text).rstrip("% "))
    others = tuple(pair for pair in job.water if pair[0] != "share_percent")
    if percent is None:
        return replace(job, water=others)
    percent = checked_number(percent, "share of this water in %", least=0, most=100)
    return replace(job, water=(*others, ("share_percent", percent)))


def _share_of(job):
    """Return the entry of the share of a water, if it has one."""
    return tuple(pair for pair in job.water if pair[0] == "share_percent")


def with_water_value(job, key, text, made=None):
    """
    Return a job with one value of its water changed; from then on the whole water is typed.

    Parameters
    ----------
    job : Job
        The job.
    key : str
        Nutrient key, "pH", "EC", "alkalinity" or "name".
    text : str
        The value, with its unit unless it is mg/L; empty takes it out.
    made : Water or None
        The water that the job tells now, not blended with any other, if it tells one.

    Returns
    -------
    Job
        The next job.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> with_water_value(Job(), "Ca", "80").water
    (('Ca', '80'),)
    >>> water = dict(with_water_value(with_water(Job(), "hard"), "Ca", "80").water)
    >>> water["Ca"], water["Mg"]
    ('80', '18.3 mg/L')
    """
    job = typed_water(job, made)
    return replace(job, water=_with_pair(job.water, key, text))


# --- wishes ----------------------------------------------------------------------------


def own_target(job):
    """
    Return a job whose target is typed value by value, starting from what it is now.

    Parameters
    ----------
    job : Job
        The job.

    Returns
    -------
    Job
        The next job; a published target keeps its numbers as printed, and its name says
        that they are one's own now.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> dict(own_target(read_job(DEMO)).target)["unit"]
    'mg/L'
    """
    entries = dict(job.target)
    if any(key in entries for key in CHARGES):
        return replace(job, target=_in_order(_as_typed(entries)))
    if "wanted" in entries:
        return job
    facts = {"wanted": ()}
    if "published" in entries:
        facts = published_values(entries.pop("published"))
        facts["name"] = f"own values, begun from: {facts['name']}"
    return replace(job, target=_in_order(facts | entries))


def _as_typed(entries):
    """Return a target by charge as the values that it comes to, in mmol/L."""
    made = target_of(entries)
    wanted = tuple((key, f"{value:.6g}") for key, value in made.wanted.items())
    rest = {k: v for k, v in entries.items() if k not in (*CHARGES, "wanted", "unit")}
    return {"wanted": wanted, "unit": "mmol/L", **rest}


def with_target_entry(job, key, value):
    """
    Return a job with another published target, unit, or share of ammonium.

    Parameters
    ----------
    job : Job
        The job.
    key : str
        "published", "unit", "name", "urea_allowed", "ammonium_low" or "ammonium_high".
    value : str or bool
        What was chosen or typed; empty takes it out.

    Returns
    -------
    Job
        The next job.

    Raises
    ------
    InputError
        If a number is asked for and none was typed.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> with_target_entry(Job(), "published", "cornell-lettuce").target
    (('published', 'cornell-lettuce'),)
    """
    entries = dict(job.target)
    if key == "published":
        for own in ("wanted", "unit", "name", "crop", "stage", *CHARGES):
            entries.pop(own, None)
    if key in ("ammonium_low", "ammonium_high"):
        key, value = "ammonium_share_percent", _share(entries, key, value)
    if value in ("", False, None):
        entries.pop(key, None)
    else:
        entries[key] = value
    return replace(job, target=_in_order(entries))


def _share(entries, key, text):
    """Return both ends of the share of ammonium, one of them as it was typed."""
    typed = number_or_none(str(text).rstrip("% "))
    low, high = entries.get("ammonium_share_percent", ANY_SHARE)
    if key.endswith("low"):
        ends = (ANY_SHARE[0] if typed is None else typed, high)
    else:
        ends = (low, ANY_SHARE[1] if typed is None else typed)
    return None if typed is None and ends == ANY_SHARE else ends  # None: as is usual


def with_target_value(job, group, key, text):
    """
    Return a job with one value of its target changed; with a wanted value the target is one's own.

    Parameters
    ----------
    job : Job
        The job.
    group : str
        "wanted" or "limits".
    key : str
        Nutrient key, or what a limit is about.
    text : str
        A value, a range or a limit; empty takes it out.

    Returns
    -------
    Job
        The next job.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> with_target_value(Job(), "wanted", "K", "180 to 220").target
    (('wanted', (('K', '180 to 220'),)),)
    """
    entries = dict((own_target(job) if group == "wanted" else job).target)
    entries[group] = _with_pair(entries.get(group, ()), str(key).strip(), text)
    if not entries[group] and group == "limits":
        del entries[group]
    return replace(job, target=_in_order(entries))


def _in_order(entries):
    """Return entries in the order in which a job file is read, so that it reads back."""
    return tuple((key, entries[key]) for key in TARGET_KEYS if key in entries)
