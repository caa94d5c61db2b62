"""The stored results: how digits are written, read, and written anew where they moved.

A number has six significant digits; a pH or an index, which is a logarithm, five decimals.
Only what is unique is told. A recipe is rounded to steps before its chemistry; a
search ends by its proof, not by the clock; what is as good as another thing (two hydrates of
one salt, two bounds of which either decides) is told without its rank, or no job meets it.
So the oldest and the newest stack, with the BLAS of five kinds of processors, agree far
below the sixth digit.
"""

import csv
import math
from pathlib import Path

__all__ = ["COLUMNS", "STORED", "digit", "merged", "read_stored", "text_of", "written"]

STORED = Path(__file__).parent / "stored.csv"
COLUMNS = ("job", "quantity", "value", "unit")
LOGARITHMS = ("pH", "log10")
WORD = "word"
DIGITS = 6
LAST_OF_A_LOGARITHM = 1e-5
LEAST = 1e-9  # less of anything is what adding up leaves


def digit(value, unit):
    """Return one unit of the last digit that is stored of a number."""
    if unit in LOGARITHMS:
        return LAST_OF_A_LOGARITHM
    if abs(value) <= LEAST:
        return LEAST
    return max(10.0 ** (math.floor(math.log10(abs(value))) - DIGITS + 1), LEAST)


def text_of(value, unit):
    """Return a value as it is stored."""
    if unit == WORD:
        return " ".join(str(value).split())
    if not math.isfinite(value):
        return str(float(value))
    if unit in LOGARITHMS:
        return f"{value:.5f}"
    return f"{value:.{DIGITS}g}" if abs(value) > LEAST else "0"


def read_stored(path=STORED):
    """Return what the file was stored with, and job to quantity to (value, unit)."""
    if not path.exists():
        return {}, {}
    lines = path.read_text(encoding="utf-8").splitlines()
    head = [line[1:].partition(":") for line in lines if line.startswith("#")]
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    found = {}
    for row in rows:
        value = row["value"] if row["unit"] == WORD else float(row["value"])
        found.setdefault(row["job"], {})[row["quantity"]] = (value, row["unit"])
    return {key.strip(): words.strip() for key, _, words in head}, found


def merged(before, now, moved):
    """Return what is to be stored: what moved as it is now, all else as it was."""
    return {
        job: {
            quantity: told if (job, quantity) in moved else before[job][quantity]
            for quantity, told in of.items()
        }
        for job, of in now.items()
    }


def written(path, head, values):
    """Write the stored results: the head as comments, then one value a line."""
    with path.open("w", encoding="utf-8", newline="") as file:
        file.writelines(f"# {key}: {words}\n" for key, words in head.items())
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(COLUMNS)
        for job, of in values.items():
            for quantity, (value, unit) in of.items():
                writer.writerow((job, quantity, text_of(value, unit), unit))
