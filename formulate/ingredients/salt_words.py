"""Other names of salts: spellings, trade names, other languages; each to the name we use."""

import re
import unicodedata
from functools import cache, lru_cache

from formulate.tables import read_table

__all__ = ["other_names", "plain_words", "usual_names", "without_grade"]

JOINED = re.compile(r"\b(mono|di|tri|tetra|penta|hexa|hepta|octa|deca|hemi) (?=[a-z])")
SPELLINGS = (("sulph", "sulf"), ("ß", "ss"))
COUNTS = (
    r"(hemi|semi|mono|bi|di|tri|tetra|penta|hexa|esa|hepta|epta|octa|otta|nona|deca)"
)
HYDRATE = re.compile(  # as French, Spanish, Italian, German and English end the name
    rf"(?P<salt>.+) (?:{COUNTS}(?:hydrat(?:ee?s?|es?)?|h?idratad[oa]s?|idrat[oaie])"
    r"|(?P<dry>anhydre?s?|anhidr[oa]s?|anidr[oaie]|wasserfrei|anhydrous))"
)
ENGLISH = {"semi": "hemi", "bi": "di", "esa": "hexa", "epta": "hepta", "otta": "octa"}
LONG_WORD = 5  # letters from which a final s may be a plural
BETWEEN = re.compile(r"[\s(),'’\-–]+")


def plain_words(text):
    """
    Return a name in small letters, without accents, brackets, hyphens.

    Parameters
    ----------
    text : str
        A name as typed.

    Returns
    -------
    str
        Its words between single blanks, "mono-" and the like joined to what they count.

    Examples
    --------
    >>> plain_words("Mono-Ammonium Phosphate"), plain_words("Borsäure")
    ('monoammonium phosphate', 'borsaure')
    """
    return _plain(str(text))


@lru_cache(maxsize=4096)
def _plain(text):
    parts = unicodedata.normalize("NFKD", text.casefold())
    plain = "".join(char for char in parts if not unicodedata.combining(char))
    for found, meant in SPELLINGS:
        plain = plain.replace(found, meant)
    return JOINED.sub(r"\1", BETWEEN.sub(" ", plain).strip())


@cache
def _rows():
    """Return every other name, made plain, to the names that are used for it."""
    found = {}
    for row in read_table("salt_names"):
        for text in row["words"].split("|"):
            found.setdefault(
                plain_words(text), tuple(filter(None, row["name"].split("|")))
            )
    return found


def usual_names(text):
    """
    Return the names that are used here for what a name of the trade means.

    Parameters
    ----------
    text : str
        A name as typed.

    Returns
    -------
    tuple of str
        One, or several where it is a mix or leaves open which; empty if it is not known.

    Examples
    --------
    >>> usual_names("Kalisalpeter"), usual_names("UAN")
    (('potassium nitrate',), ('urea', 'ammonium nitrate'))
    """
    plain = plain_words(text)
    return _rows().get(plain) or _plurals().get(_singular(plain)) or _hydrate(plain)


def _singular(plain):
    """Return plain words without the s of a plural: "nitrates de calcium"."""
    words = plain.split(" ")
    return " ".join(w[:-1] if len(w) > LONG_WORD and w[-1] == "s" else w for w in words)


@cache
def _plurals():
    """Return other names without a final s to what they mean, where it is one thing."""
    found = {}
    for plain, names in _rows().items():
        if names:
            found.setdefault(_singular(plain), set()).add(names)
    return {plain: min(names) for plain, names in found.items() if len(names) == 1}


def _hydrate(plain):
    """Return the English name of a salt in another language with its crystal water."""
    match = HYDRATE.fullmatch(plain)
    if match is None:
        return ()
    salt = _rows().get(match["salt"]) or _plurals().get(_singular(match["salt"])) or ()
    if len(salt) != 1:
        return ()
    count = ENGLISH.get(match[2], match[2])
    water = "anhydrous" if match["dry"] else f"{count}hydrate"
    return (f"{salt[0]} {water}",)


def other_names(name):
    """
    Return other names of what goes by one of ours alone.

    Parameters
    ----------
    name : str
        A name of the catalogue, or an alias.

    Returns
    -------
    tuple of str
        Plain words.

    Examples
    --------
    >>> "harnstoff" in other_names("urea")
    True
    """
    return tuple(text for text, names in _rows().items() if names == (name,))


def without_grade(text):
    """
    Return a name without words that change nothing, such as "technical grade".

    Parameters
    ----------
    text : str
        A name as typed.

    Returns
    -------
    str
        What is left, made plain; empty if nothing is.

    Examples
    --------
    >>> without_grade("Technical grade potassium nitrate")
    'potassium nitrate'
    """
    plain = f" {plain_words(text)} "
    for words, names in sorted(_rows().items(), key=lambda row: -len(row[0])):
        if not names:
            plain = plain.replace(f" {words} ", " ")
    return plain.strip()
