"""A list of sources in one text, taken apart without breaking the names of chemicals."""

import re

__all__ = ["listed_sources"]

MARKS = re.compile(r"[,;•]")
WORDS = (" and ", " und ", " et ", " y ", " e ", " en ", " & ")
PLACE = r"(?<![^\W_])(?:[NOSno]|\d{1,2})['’′]?"  # "N,N'-bis": where a group sits
KEPT = re.compile(rf"{PLACE}(?:,{PLACE})+(?=[-\s(])|\([^()]*\)")
HOLDER = re.compile("\0(\\d+)\0")


def listed_sources(text):
    """
    Return the sources of a list one by one.

    Commas in brackets, and between the places of a chemical name, do not part it.

    Parameters
    ----------
    text : str
        What stands behind "derived from".

    Returns
    -------
    tuple of str
        The sources, as printed.

    Examples
    --------
    >>> listed_sources("urea, ethylenediamine-N,N'-bis(2-hydroxyphenylacetate) and KNO3.")
    ('urea', "ethylenediamine-N,N'-bis(2-hydroxyphenylacetate)", 'KNO3')
    """
    kept = []

    def keep(match):
        kept.append(match[0])
        return f"\0{len(kept) - 1}\0"

    text = KEPT.sub(keep, text)
    for word in WORDS:
        text = text.replace(word, ", ")
    items = (
        HOLDER.sub(lambda found: kept[int(found[1])], item)
        for item in MARKS.split(text)
    )
    return tuple(item.strip(" .:") for item in items if item.strip(" .:"))
