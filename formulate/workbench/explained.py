"""What the words of a part mean, and where its numbers come from."""

import html
import re
from functools import cache

from formulate.tables import read_table, source

__all__ = ["sources_in", "words_in"]

TAG = re.compile(r"<(script|style|svg)\b.*?</\1>|<[^>]*>", re.DOTALL)
SHORT = 4  # signs: up to these a word is taken as it is written, pH and not ph
CITED = re.compile(r"\[([a-z][a-z0-9]*(?:-[a-z0-9]+)*(?:; ?[a-z0-9-]+)*)\]")


@cache
def _terms():
    """Return each term with its meaning and the pattern of how it is written."""
    return tuple(
        (row["term"], row["meaning"], _pattern(row["written"].split(";")))
        for row in read_table("terms")
    )


def _pattern(spellings):
    """Return what finds one of some words in a text, one or many of them."""
    short = [s for s in spellings if len(s) <= SHORT]
    long = [s for s in spellings if len(s) > SHORT]
    parts = [re.escape(s) for s in short]
    parts += [f"(?i:{re.escape(s)}(?:s|es)?)" for s in long]
    return re.compile(rf"(?<![\w-])(?:{'|'.join(parts)})(?![\w-])")


def _plain(markup):
    """Return what is read of HTML."""
    return " ".join(html.unescape(TAG.sub(" ", markup)).split())


def words_in(markup):
    """
    Return what the words of the glossary mean that stand in a part.

    Parameters
    ----------
    markup : str
        HTML.

    Returns
    -------
    tuple of (str, str)
        Word and meaning, by the alphabet.

    Examples
    --------
    >>> [word for word, _ in words_in("<p>EC and <b>saturation index</b></p>")]
    ['EC', 'saturation index']
    """
    text = _plain(markup)
    return tuple((term, told) for term, told, found in _terms() if found.search(text))


def sources_in(markup, keys=()):
    """
    Return the sources that are cited in a part, as [key], with those of other keys.

    Parameters
    ----------
    markup : str
        HTML.
    keys : iterable of str
        Further keys; one text may hold several, with ; between them.

    Returns
    -------
    tuple of (str, str)
        Key and what it stands for, by the alphabet; what is no key is left out.

    Examples
    --------
    >>> [key for key, _ in sources_in("<li>2 g [nist-hb44]</li>", ["definition"])]
    ['definition', 'nist-hb44']
    """
    known = {row["key"] for row in read_table("sources")}
    texts = [*CITED.findall(_plain(markup)), *keys]
    found = {key.strip() for text in texts for key in text.split(";")}
    return tuple((key, str(source(key))) for key in sorted(found & known))
