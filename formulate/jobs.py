"""A job on disk: what a person typed, as they typed it; read and checked."""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError

from formulate.errors import Faults, InputError, shortened
from formulate.files import read_text
from formulate.papers import read_papers
from formulate.stoichiometry.quantities import read_number
from formulate.tables import DATA

__all__ = [
    "DEMO",
    "UNITS",
    "Job",
    "ShelfLine",
    "job_from_text",
    "read_job",
]

FORMAT = 1
DEMO = DATA / "demo.toml"
LARGEST_NUMBER = 10**300
UNITS = ("metric", "us")


@dataclass(frozen=True)
class ShelfLine:
    """
    One ingredient on the shelf of a job, as it was typed.

    Attributes
    ----------
    ingredient : str
        Catalogue name or formula; empty for a label, a stock or a blend.
    label : str
        Text of a label, as it was pasted.
    name : str
        How it is called on the sheet.
    purity_percent : float or None
        Mass share of the salt in what is weighed. [%]
    acid_percent : float or None
        Strength, if it is an acid or lye. [%]
    density : float or None
        Density of a liquid. [kg/L]
    price_per_kg : float or None
        Price. [currency/kg]
    step : str
        Weighing step with its unit, such as "0.1 g".
    stock : tuple of (str, str)
        Parts of a stock solution with their amounts.
    stock_volume : str
        Volume that the stock is made up to.
    blend : tuple of (str, str)
        Parts of a dry blend with their amounts.
    on_hand : str
        What is there, such as "2 kg"; empty for as much as is needed.
    use : str
        How much of it the batch may take, such as "at most 300 g", "exactly 40 g" or
        "none"; empty for what the solver finds.
    by_sources : bool
        Whether a label is counted by the middle of the blends that its named sources
        allow, not by its shares alone.
    """

    ingredient: str = ""
    label: str = ""
    name: str = ""
    purity_percent: float | None = None
    acid_percent: float | None = None
    density: float | None = None
    price_per_kg: float | None = None
    step: str = ""
    stock: tuple = ()
    stock_volume: str = ""
    blend: tuple = ()
    on_hand: str = ""
    use: str = ""
    by_sources: bool = False

    @property
    def given(self):
        """Return what was typed: names of fields to their values."""
        pairs = {field.name: getattr(self, field.name) for field in fields(self)}
        empty = ("", None, ())
        return {k: v for k, v in pairs.items() if v is not False and v not in empty}


@dataclass(frozen=True)
class Job:
    """
    All that is needed to do it again.

    Attributes
    ----------
    title : str
        What it is for.
    volume : str
        Final volume with its unit.
    target : tuple of (str, object)
        Either ("published", key), or ("wanted", pairs) with ("unit", text) and the like;
        ("limits", pairs), ("weights", pairs) and ("priorities", groups) with either.
    water : tuple of (str, str)
        Either (("preset", name),), or ("report", text) with ("name", text) and ("unit",
        text), or what the analysis says; ("share_percent", number) with any of them: how
        much of the water that is used is this one, the rest counted as pure.
    shelf : tuple of ShelfLine
        What is at hand, in the order of preference.
    shelf_file : str
        A shelf in a file (CSV) instead, its place told from the folder of the job.
    units : str
        "metric" or "us": how the sheet shows weights and volumes.
    trace_stocks : bool
        Whether stocks are proposed for what weighs under 20 steps of its balance.
    strength_percent : float or None
        Share of the target that is wanted; all of it if None. [%]
    ph : float or None
        The pH that is wanted in balance with the air; that of the table acid_rules, after
        correction, if None. Where an acid or alkali of the shelf may be used, the recipe
        itself has it, and what that brings counts; else a correction does. [-]
    ec : str
        The EC that is wanted as mixed, with its unit: the target is taken at the strength
        that has it. Empty for the strength that is told.
    most_ingredients : int or None
        How many ingredients the recipe may have; any number if None. [-]
    within_percent : float or None
        The cheapest recipe with every wanted value within so much of what is wanted; the
        nearest one, whatever it costs, if None. [%]
    whole_steps : bool
        Whether the best whole steps of each ingredient's own balance or scoop are sought,
        not only the nearest ones.
    mixing : tuple of (str, object)
        How it is mixed: ("order", names), ("water_first_percent", number), ("strength",
        text), ("tanks", number), ("coldest", number), ("tank_volume", text),
        ("stock_water", text), and what was measured after: ("measured_ec", text),
        ("measured_ph", number), ("measured_at", number), ("measured_aired", whether it had
        been aerated); each may be left out.
    papers : tuple of Paper
        Labels, charts, assays and tables whose claims are checked.
    compared : tuple of str
        Names of products that are held against each other.
    folder : str
        Folder that the job was read from; it is not saved.
    """

    title: str = ""
    volume: str = ""
    target: tuple = ()
    water: tuple = ()
    shelf: tuple = ()
    shelf_file: str = ""
    units: str = "metric"
    trace_stocks: bool = True
    strength_percent: float | None = None
    ph: float | None = None
    ec: str = ""
    most_ingredients: int | None = None
    within_percent: float | None = None
    whole_steps: bool = False
    mixing: tuple = ()
    papers: tuple = ()
    compared: tuple = ()
    folder: str = field(default="", compare=False)


# --- reading ---------------------------------------------------------------------------

OPTIONS = (
    "units",
    "trace_stocks",
    "strength_percent",
    "ph",
    "ec",
    "most_ingredients",
    "within_percent",
    "whole_steps",
    "shelf_file",
    "compared",
)
TABLES = ("target", "water", "mixing", "shelf", "paper")
TOP_KEYS = ("formulate", "title", "volume", *OPTIONS, *TABLES)
MIXING_NUMBERS = (
    "water_first_percent",
    "tanks",
    "coldest",
    "measured_ph",
    "measured_at",
)
MIXING_KEYS = (
    "order",
    "strength",
    "tank_volume",
    "stock_water",
    "measured_ec",
    "measured_aired",
    *MIXING_NUMBERS,
)
TARGET_KEYS = (
    "published",
    "wanted",
    "closing",
    "cations",
    "anions",
    "total",
    "traces",
    "unit",
    "name",
    "crop",
    "stage",
    "ammonium_share_percent",
    "urea_allowed",
    "limits",
    "weights",
    "priorities",
)
WATER_NUMBERS = ("share_percent",)
PAIRED = ("wanted", "limits", "weights", "cations", "anions", "traces")  # in [target]


def read_job(path):
    """
    Return the job in a file.

    Parameters
    ----------
    path : str or Path
        A job file (TOML).

    Returns
    -------
    Job
        The job, as it was typed.

    Raises
    ------
    InputError
        If the file cannot be read, with every unknown key and every wrong value.

    Examples
    --------
    >>> read_job(DEMO).volume
    '200 L'
    """
    text = read_text(path, utf8_only=True)
    job = job_from_text(text, name=Path(path).name)
    return replace(job, folder=str(Path(path).parent))


def job_from_text(text, *, name="job"):
    """
    Return the job that a text describes.

    Parameters
    ----------
    text : str
        Text of a job file.
    name : str
        What to call it in messages.

    Returns
    -------
    Job
        The job, as it was typed.

    Raises
    ------
    InputError
        With every fault of the text.

    Examples
    --------
    >>> job_from_text('formulate = 1\\nvolume = "10 L"').volume
    '10 L'
    """
    try:
        document = tomlkit.parse(text).unwrap()
    except RecursionError:
        raise InputError(f"{name}: not a job file: nested too deep") from None
    except (TOMLKitError, ValueError) as error:
        raise InputError(f"{name}: not a job file: {error}") from None
    faults = Faults(name)
    _refuse_unknown(document, TOP_KEYS, "", faults)
    version = document.get("formulate")
    if version is None:
        faults.add(f"formulate = {FORMAT} is missing; write it at the top")
    elif version != FORMAT or isinstance(version, bool):
        found = shortened(version)
        faults.add(f"formulate = {found}: this version reads formulate = {FORMAT}")
    read = {}
    with faults.collecting("target"):
        read["target"] = _read_target(document.get("target", {}), faults)
    with faults.collecting("water"):
        value = document.get("water", {})
        read["water"] = _read_pairs(value, "water", numbers=WATER_NUMBERS)
    with faults.collecting("mixing"):
        read["mixing"] = _read_mixing(document.get("mixing", {}), faults)
    with faults.collecting("shelf"):
        read["shelf"] = _read_shelf(document.get("shelf", []), faults)
    with faults.collecting("paper"):
        read["papers"] = read_papers(document.get("paper", []), faults)
    for key in ("title", "volume"):
        with faults.collecting(key):
            _typed_entry(document.get(key, ""))
    for key in (key for key in OPTIONS if key in document):
        with faults.collecting(key):
            read[key] = _option(key, document[key])
    faults.raise_if_any()
    title, volume = document.get("title", ""), document.get("volume", "")
    volume = volume if isinstance(volume, str) else f"{volume!r} L"
    return Job(str(title), volume, **read)


NUMBERS = ("strength_percent", "ph", "most_ingredients", "within_percent")


def _option(key, entry):
    """Return one of the single values at the top, if it is of the kind its key asks for."""
    if key == "units" and entry not in UNITS:
        raise InputError(f"{shortened(entry)}; write one of {', '.join(UNITS)}")
    if key in ("trace_stocks", "whole_steps") and not isinstance(entry, bool):
        raise InputError(f"{shortened(entry)}; write true or false")
    if key == "shelf_file" and not isinstance(entry, str):
        raise InputError(f'{shortened(entry)}; write a name such as "shelf.csv"')
    if key == "compared":
        return _names(entry, '["bag", "KNO3"]')
    if key == "ec":
        entry = _typed_entry(entry)
        return entry if isinstance(entry, str) else f"{entry!r} mS/cm"
    return _number(entry) if key in NUMBERS else entry


def _names(entry, example):
    """Return a list of names as a tuple."""
    if not isinstance(entry, list) or not all(isinstance(n, str) for n in entry):
        raise InputError(
            f"{shortened(entry)}; write a list of names, such as {example}"
        )
    return tuple(entry)


def _number(entry):
    """Return a number as it was typed; text is refused."""
    if isinstance(entry, str):
        raise InputError(f"{shortened(entry)}; write a number without quotation marks")
    read_number(entry)
    return entry


def _typed_entry(entry):
    """Return text, or a number of ordinary size, as it was typed."""
    if isinstance(entry, bool) or not isinstance(entry, str | int | float):
        raise InputError(f"{shortened(entry)} is neither text nor a number")
    if isinstance(entry, int) and abs(entry) > LARGEST_NUMBER:
        raise InputError(f"{shortened(entry)} is too large a number")
    return entry


def _refuse_unknown(mapping, known, where, faults):
    for key in mapping:
        if key not in known:
            faults.add(f"{where}{key}: unknown key; known: {', '.join(known)}")


def _limit_text(entry):
    """Return a limit as it was typed."""
    if not isinstance(entry, str):
        raise InputError(f'{shortened(entry)}; write text, such as "at most 50 mg/L"')
    return entry


PAIR_VALUES = {"limits": _limit_text, "weights": _number}


def _read_pairs(value, where, entry_of=_typed_entry, numbers=()):
    """Return a mapping as pairs of typed text or numbers, some of them numbers only."""
    if not isinstance(value, Mapping):
        raise InputError(f"{shortened(value)} is no table; write [{where}]")
    faults, pairs = Faults(), []
    for key, entry in value.items():
        with faults.collecting(str(key)):
            read = _number if key in numbers else entry_of
            pairs.append((str(key), read(entry)))
    faults.raise_if_any()
    return tuple(pairs)


def _priorities(entry):
    """Return lists of nutrient keys as tuples."""
    groups = entry if isinstance(entry, list) else [entry]
    is_list = isinstance(entry, list) and all(isinstance(g, list) for g in groups)
    if not is_list or not all(isinstance(key, str) for g in groups for key in g):
        what = 'write a list of lists of keys, such as [["N", "K"], ["Ca"]]'
        raise InputError(f"{shortened(entry)}; {what}")
    return tuple(tuple(group) for group in groups)


def _read_target(value, faults):
    if not isinstance(value, Mapping):
        raise InputError(f"{shortened(value)} is no table; write [target]")
    _refuse_unknown(value, TARGET_KEYS, "target.", faults)
    entries = []
    for key in (key for key in TARGET_KEYS if key in value):
        with faults.collecting(f"target: {key}"):
            entries.append((key, _target_entry(key, value[key])))
    return tuple(entries)


def _read_mixing(value, faults):
    """Return how a batch is mixed, as it was typed."""
    if not isinstance(value, Mapping):
        raise InputError(f"{shortened(value)} is no table; write [mixing]")
    _refuse_unknown(value, MIXING_KEYS, "mixing.", faults)
    entries = []
    for key in (key for key in MIXING_KEYS if key in value):
        with faults.collecting(f"mixing: {key}"):
            entries.append((key, _mixing_entry(key, value[key])))
    return tuple(entries)


def _mixing_entry(key, entry):
    """Return one entry of the mixing, if it is of the kind that its key asks for."""
    if key == "order":
        return _names(entry, '["potassium nitrate", "Epsom salt"]')
    if key == "measured_aired":
        if not isinstance(entry, bool):
            raise InputError(f"{shortened(entry)}; write true or false")
        return entry
    return _number(entry) if key in MIXING_NUMBERS else _typed_entry(entry)


def _target_entry(key, entry):
    """Return one entry of a target, if it is of the kind that its key asks for."""
    if key in PAIRED:
        return _read_pairs(entry, f"target.{key}", PAIR_VALUES.get(key, _typed_entry))
    if key == "priorities":
        return _priorities(entry)
    if key == "ammonium_share_percent":
        if not isinstance(entry, list) or len(entry) != 2:
            raise InputError(f"{shortened(entry)}; write two numbers, such as [0, 15]")
        return tuple(read_number(part) for part in entry)
    kind, words = (bool, "true or false") if key == "urea_allowed" else (str, "text")
    if not isinstance(entry, kind):
        raise InputError(f"{shortened(entry)}; write {words}")
    return entry


def _read_shelf(value, faults):
    if not isinstance(value, list):
        raise InputError(
            f"{shortened(value)} is no list; write [[shelf]] before each ingredient"
        )
    kinds = {field.name: field.type for field in fields(ShelfLine)}
    lines = []
    for place, entry in enumerate(value, 1):
        where = f"shelf {place}"
        if not isinstance(entry, Mapping):
            faults.add(f"{where}: {shortened(entry)} is no table; write [[shelf]]")
            continue
        _refuse_unknown(entry, kinds, f"{where}: ", faults)
        typed = {}
        for key, kind in kinds.items():
            if key in entry:
                with faults.collecting(f"{where}: {key}"):
                    typed[key] = _typed(key, entry[key], kind)
        lines.append(ShelfLine(**typed))
    return tuple(lines)


def _typed(key, entry, kind):
    """Return one value of a shelf line, if it is of the kind that its field asks for."""
    if kind is tuple:
        return _read_pairs(entry, key)
    if kind is str:
        return str(_typed_entry(entry))
    if kind is bool and not isinstance(entry, bool):
        raise InputError(f"{shortened(entry)}; write true or false")
    return entry if kind is bool else read_number(entry)
