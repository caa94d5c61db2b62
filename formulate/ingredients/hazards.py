"""Hazards of what is handled: GHS statements by CAS number, and cautions where work is done.

No entry is not harmless: a substance without one is shown as "no data".
"""

from dataclasses import dataclass
from functools import cache

from formulate.tables import read_table

__all__ = ["Caution", "cautions", "hazard_codes", "hazard_text"]


@dataclass(frozen=True)
class Caution:
    """
    One sentence of care, to stand where the work is done.

    Attributes
    ----------
    text : str
        What to do or not to do.
    source_key : str
        Where it comes from.
    """

    text: str
    source_key: str

    def __str__(self):
        return self.text


def hazard_codes(cas):
    """
    Return the GHS codes listed for a substance.

    Where the table lists several strengths, all their codes are returned: in doubt the
    stricter.

    Parameters
    ----------
    cas : str
        CAS number.

    Returns
    -------
    tuple of str
        Codes; ("none",) if it is listed as not classified, () if there is no data.

    Examples
    --------
    >>> hazard_codes("7757-79-1"), hazard_codes("57-13-6"), hazard_codes("0-0-0")
    (('H272', 'H319'), ('none',), ())
    """
    rows = [row for row in read_table("hazards") if row["cas"] == cas]
    return tuple(sorted({code for row in rows for code in row["codes"].split()}))


@cache
def _texts():
    return {row["code"]: row["text"] for row in read_table("hazard_statements")}


def hazard_text(codes):
    """
    Return GHS codes as words.

    Parameters
    ----------
    codes : iterable of str
        Codes as `hazard_codes` returns them.

    Returns
    -------
    str
        The standard statements, or "no data", or "not classified as hazardous".

    Examples
    --------
    >>> hazard_text(("H319",))
    'Causes serious eye irritation (H319)'
    >>> hazard_text(())
    'no data: treat as hazardous'
    """
    codes = tuple(codes)
    if not codes:
        return "no data: treat as hazardous"
    if codes == ("none",):
        return "not classified as hazardous"
    return "; ".join(
        f"{_texts().get(code, 'statement not listed')} ({code})" for code in codes
    )


def cautions(ingredients):
    """
    Return the cautions for handling some ingredients.

    Parameters
    ----------
    ingredients : iterable of Ingredient
        What is weighed or poured.

    Returns
    -------
    tuple of Caution
        The cautions that always hold, then those for acids, alkalis, oxidisers and toxic
        traces among the ingredients.

    Examples
    --------
    >>> any("eye protection" in caution.text for caution in cautions([]))
    True
    """
    ingredients = tuple(ingredients)
    codes = {code for ingredient in ingredients for code in ingredient.hazards}
    uses = {ingredient.role for ingredient in ingredients}
    holds = {
        "always": True,
        "acid": "acid" in uses,
        "alkali": "alkali" in uses,
        "oxidiser": bool(codes & {"H271", "H272"}),
        "toxic trace": bool(codes & {"H360", "H360FD", "H360D", "H360F"}),
    }
    rows = [row for row in read_table("cautions") if holds[row["applies_when"]]]
    return tuple(Caution(row["text"], row["source_key"]) for row in rows)
