"""How a laboratory's words name a nutrient, or a part of it such as "chelated Fe"."""

from formulate.errors import InputError, UnknownName, shortened
from formulate.ingredients.label_items import segment
from formulate.ingredients.label_tokens import plain_line, tokens
from formulate.stoichiometry.nutrients import nutrient, nutrient_keys

__all__ = ["BEARING", "named_part", "nutrient_part", "part_of"]

BEARING = {  # kinds of label entries that a laboratory can analyse by themselves
    "chelated": "chelated by {}",
    "complexed": "complexed by {}",
    "part": "water-soluble",
    "available": "available",
}
SPEAKING = {"us": "us", "oxide": "us", "eu": "eu", "eu!": "eu"}


def named_part(key, part):
    """
    Return a nutrient with its part, as a laboratory may name it.

    Parameters
    ----------
    key : str
        Nutrient key.
    part : str
        Such as "water-soluble" or "chelated by EDTA"; "" for all of it.

    Returns
    -------
    str
        Both.

    Examples
    --------
    >>> named_part("Fe", "chelated by EDTA"), named_part("Mg", "water-soluble")
    ('Fe chelated by EDTA', 'water-soluble Mg')
    """
    if not part:
        return key
    return f"{key} {part}" if " by " in part else f"{part} {key}"


def part_of(word):
    """
    Return which part of a nutrient a word names.

    Parameters
    ----------
    word : str
        As a laboratory writes it.

    Returns
    -------
    str
        Such as "chelated by EDTA"; "" for all of it.

    Examples
    --------
    >>> part_of("Fe EDTA"), part_of("iron, water soluble"), part_of("total nitrogen")
    ('chelated by EDTA', 'water-soluble', '')
    """
    return _part(_item(word))


def nutrient_part(word, basis=None):
    """
    Return what a laboratory's word names.

    Parameters
    ----------
    word : str
        A nutrient key, or words such as "chelated iron".
    basis : str or None
        What a bare word means: "us", "eu" or "element"; a symbol means itself.

    Returns
    -------
    key : str
        Nutrient key.
    part : str
        Which part of it; "" for all of it.
    sort : str
        "total" where the word says so, else "".

    Raises
    ------
    InputError
        If a word of a part reads two ways and no basis is told.
    UnknownName
        If it names no nutrient.

    Examples
    --------
    >>> nutrient_part("chelated iron"), nutrient_part("phosphorus", "us")
    (('Fe', 'chelated', ''), ('P2O5', '', ''))
    """
    item = _item(word)
    part = _part(item)
    sort = "total" if item and item.kind == "total" else ""
    if not part and (basis is None or word in nutrient_keys() or item is None):
        return _plain(word, item), part, sort
    return item.key(basis) if basis else _spoken(word, item), part, sort


def _plain(word, item):
    """Return the nutrient key of a word whose basis is not told."""
    try:
        return nutrient(word).key
    except UnknownName:
        if item is None:
            raise
    return _spoken(word, item)


def _spoken(word, item):
    """Return the key of words that speak for a basis, such as "available phosphate"."""
    if not item.is_open:
        return item.keys[0]
    for token in tokens(plain_line(word)):
        basis = SPEAKING.get(token.word.evidence) if token.word else None
        if basis:
            return item.key(basis)
    keys = " or ".join(dict.fromkeys(item.keys))
    raise InputError(f"{shortened(word)} may be {keys}: write one of them")


def _item(word):
    """Return what a label would mean by a word; None if it names not just one nutrient."""
    if not isinstance(word, str):
        return None
    items = segment(tokens(plain_line(word))).items
    return items[0] if len(items) == 1 and not items[0].is_ion else None


def _part(item):
    """Return which part of a nutrient an item is."""
    if item is None or item.kind not in BEARING:
        return ""
    agent = "" if item.agent == "other" else item.agent
    return BEARING[item.kind].format(agent).removesuffix(" by ")
