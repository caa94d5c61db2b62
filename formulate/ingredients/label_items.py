"""What the words of a label line name: a nutrient, its form, who holds it, how much of it."""

from dataclasses import dataclass, field, replace

from formulate.ingredients.label_words import BASES, METALS, family

__all__ = ["IONS_OF_NITROGEN", "Item", "Segment", "segment"]

NAMING = ("nutrient", "symbol", "form", "ion")
METAL_IONS = ("NH4-N",)
LINKS = ("de", "d", "di", "del", "of", "van")
KINDS = (  # what a share is, the most telling first
    "uncounted",
    "slow",
    "free",
    "isomer",
    "chelated",
    "complexed",
    "total",
    "combined",
    "available",
    "part",
)
IONS_OF_NITROGEN = {"NO3": "NO3-N", "NH4": "NH4-N", "NH3": "NH4-N", "urea": "urea-N"}


@dataclass(frozen=True)
class Item:
    """
    What one name on a label is about.

    Attributes
    ----------
    text : str
        The words that name it.
    keys : tuple of str
        Nutrient key on the basis "us", "eu" and "element"; empty if it only says more
        about what was named before.
    kind : str
        "total", "form", "part", "available", "chelated" and the like; "" if not told.
    agent : str
        Chelating agent, "other" if no form counts it, or "".
    is_ion : bool
        Whether it names an ion ("nitrate") and not its nitrogen.
    sulfate : bool
        Whether it is said to come from a sulfate.
    marks : tuple of str
        "min", "max", "below", "trace".
    """

    text: str
    keys: tuple = ()
    kind: str = ""
    agent: str = ""
    is_ion: bool = False
    sulfate: bool = False
    marks: tuple = ()

    @property
    def family(self):
        """Return the element it is about."""
        return family(self.keys[0]) if self.keys else ""

    @property
    def is_open(self):
        """Return whether the basis decides which key it is."""
        return len(set(self.keys)) > 1

    def key(self, basis):
        """
        Return its nutrient key on a basis.

        Parameters
        ----------
        basis : str
            "us", "eu" or "element".

        Returns
        -------
        str
            The key.

        Examples
        --------
        >>> Item("calcium", ("Ca", "CaO", "Ca")).key("eu")
        'CaO'
        """
        return self.keys[BASES.index(basis)]

    def about(self, other):
        """
        Return this item with the nutrient of another, if it names none itself.

        Parameters
        ----------
        other : Item
            The item before it.

        Returns
        -------
        Item
            The item.

        Examples
        --------
        >>> Item("water soluble", kind="part").about(Item("Mg", ("Mg",) * 3)).keys[0]
        'Mg'
        """
        if self.keys:
            return self
        text = f"{other.text} {self.text}"
        return replace(self, text=text, keys=other.keys, kind=self.kind or other.kind)

    def also(self, other):
        """
        Return this item with what another one adds to it.

        Parameters
        ----------
        other : Item
            Words that say more about the same nutrient.

        Returns
        -------
        Item
            The item.

        Examples
        --------
        >>> Item("Fe", ("Fe",) * 3).also(Item("EDTA", kind="chelated", agent="EDTA")).agent
        'EDTA'
        """
        kinds = [k for k in KINDS if k in (self.kind, other.kind)]
        return replace(
            self,
            keys=other.keys if self.is_open and other.keys else self.keys,
            kind=kinds[0] if kinds else self.kind or other.kind,
            agent=self.agent or other.agent,
            sulfate=self.sulfate or other.sulfate,
            marks=(*self.marks, *other.marks),
        )


@dataclass(frozen=True)
class Segment:
    """
    What stands between two numbers of a line.

    Attributes
    ----------
    items : tuple of Item
        What it names.
    extra : Item or None
        Words that say more about a nutrient named elsewhere.
    unknown : tuple of str
        Words that no table knows.
    other : bool
        Whether it names something that is known to be no nutrient.
    compound : bool
        Whether it names a compound, such as "zinc sulfate".
    prose : bool
        Whether it speaks of use, packing and the like.
    """

    items: tuple = ()
    extra: Item | None = None
    unknown: tuple = ()
    other: bool = False
    compound: bool = False
    prose: bool = False

    @property
    def is_empty(self):
        """Return whether no word in it can name a number."""
        named = self.items or self.extra or self.unknown
        return not (named or self.other or self.compound)


@dataclass
class _Draft:
    """An item that is being put together."""

    words: list = field(default_factory=list)
    keys: tuple = ()
    sign: str = ""
    form: str = ""
    has_nitrogen: bool = False
    kinds: list = field(default_factory=list)
    agents: list = field(default_factory=list)
    marks: list = field(default_factory=list)
    after: list = field(
        default_factory=list
    )  # said after the name, of this or the next
    closed: bool = False
    in_source: bool = False
    sulfate: bool = False

    @property
    def named(self):
        return bool(self.keys or self.form or self.sign)

    @property
    def family(self):
        return family(self.sign or self.form or self.keys[0])

    def say(self, token):
        """Take a word that says more: a kind, an agent, a mark."""
        role, kind = token.word.role, token.word.kind
        if role == "agent":
            self.agents.append((token.word.keys["us"], kind))
        elif role == "mark":
            self.marks.append(kind)
        elif kind in KINDS:
            self.kinds.append(kind)

    def name(self, token):
        """Take a word that names a nutrient or a form of nitrogen."""
        keys, role = tuple(token.word.keys.values()), token.word.role
        ion = IONS_OF_NITROGEN.get(keys[0]) if role == "symbol" else None
        self.words.append(token.text)
        if ion or keys[0] in IONS_OF_NITROGEN.values():
            self.form = ion or keys[0]
            self.sign = keys[0] if ion else self.sign
            self.has_nitrogen |= role in ("form", "symbol") and not ion
        elif keys[0] == "N":
            self.has_nitrogen = True
        if not (ion or self.form) and role == "symbol":
            self.sign = keys[0]
        elif role == "nutrient":
            self.keys = self.keys or keys
        if token.word.kind in KINDS:
            self.kinds.append(token.word.kind)
        self.closed |= role == "symbol" and token.closed

    def item(self):
        """Return the finished item."""
        for token in self.after:
            self.say(token)
        agents = [agent for agent, _ in self.agents]
        kinds = [*self.kinds, *(kind for _, kind in self.agents if kind)]
        if agents and not {"chelated", "complexed", "isomer"} & set(kinds):
            kinds.append("chelated")
        kind = next((k for k in KINDS if k in kinds), "form" if self.form else "")
        if self.form and kind in ("total", "part", "available"):
            kind = "form"
        known = [agent for agent in agents if agent != "other"]
        agent = (known or agents or [""])[0]
        text = " ".join(self.words)
        marks = tuple(self.marks)
        is_ion = bool(self.form) and not (self.has_nitrogen or self.sign)
        return Item(text, self._keys(), kind, agent, is_ion, self.sulfate, marks)

    def _keys(self):
        if self.form:
            ion = self.sign in IONS_OF_NITROGEN and not self.has_nitrogen
            return (self.sign if ion else self.form,) * len(BASES)
        return (self.sign,) * len(BASES) if self.sign else self.keys


def segment(pieces):
    """
    Return what the words between two numbers name.

    Parameters
    ----------
    pieces : sequence of Token
        The words.

    Returns
    -------
    Segment
        What they name.

    Examples
    --------
    >>> from formulate.ingredients.label_tokens import tokens
    >>> segment(tokens("Total nitrogen (N) / Azote total (N)")).items[0].keys[0]
    'N'
    """
    drafts, pieces = [_Draft()], _compounds(pieces)
    for token in pieces:
        _take(drafts, token)
    found = []
    for draft in drafts:
        item = draft.item()
        if item.keys:
            found.append(item)
        elif found and (item.kind or item.agent or item.marks):
            found[-1] = found[-1].also(item)
        elif item.kind or item.agent:
            found.append(item)
    extra = next((item for item in found if not item.keys), None)
    items = _merged([item for item in found if item.keys])
    if extra and items:
        items, extra = (items[0].also(extra), *items[1:]), None
    roles = [token.word.role for token in pieces if token.word]
    return Segment(
        items,
        extra,
        tuple(token.text for token in pieces if token.sort == "unknown"),
        "not nutrient" in roles,
        any(token.sort == "compound" for token in pieces),
        "prose" in roles,
    )


def _take(drafts, token):
    """Take one word into the last draft, or begin a new one."""
    draft = drafts[-1]
    if (token.sort == "cut" or " - " in token.gap) and draft.named:
        drafts.append(_Draft())
        draft = drafts[-1]
    word = token.word
    if word is None:
        return
    if word.role == "source":
        draft.in_source = draft.named
    elif word.role in NAMING and draft.in_source:
        _refine(draft, token)
    elif word.role in NAMING:
        if draft.named and _begins_another(draft, token):
            drafts.append(_Draft(after=draft.after))
            draft.after = []
            draft = drafts[-1]
            for said in draft.after:
                draft.say(said)
            draft.after = []
        draft.name(token)
    elif word.role in ("kind", "agent", "mark"):
        if draft.named:
            draft.after.append(token)
        else:
            draft.say(token)


def _refine(draft, token):
    """Take a nutrient word after "as" or "from": a basis, a form, or just a source."""
    key = token.word.keys["us"]
    if key == "SO4":
        draft.sulfate = True
    elif family(key) == draft.family:
        if token.word.role == "symbol":
            draft.sign = ""
        draft.name(token)


def _begins_another(draft, token):
    """Return whether a word begins a new name and does not belong to the last one."""
    key, role = token.word.keys["us"], token.word.role
    if family(key) != draft.family:
        return True
    if draft.family == "N" and (role in ("form", "ion") or key in IONS_OF_NITROGEN):
        form = IONS_OF_NITROGEN.get(key, key)
        if draft.form:
            return draft.form != form
        said = [*draft.kinds, *(t.word.kind for t in draft.after)]
        return draft.closed and "total" in said
    if draft.form and not draft.has_nitrogen and key == "N":
        return False
    return draft.closed


def _compounds(pieces):
    """Return the tokens with the names of compounds, such as "zinc sulfate", as one."""
    found, pieces = [], list(pieces)
    while pieces:
        token = pieces.pop(0)
        if token.word and token.word.role == "compound":
            token = replace(token, sort="compound", word=None)
        elif _is_metal(token) and pieces and _is_salt(pieces[0]) and not token.closed:
            token = replace(pieces.pop(0), sort="compound", word=None)
        elif _is_salt(token) and _metal_follows(pieces):
            token = replace(pieces[1], sort="compound", word=None)
            del pieces[:2]
        found.append(token)
    return found


def _metal_follows(pieces):
    return len(pieces) > 1 and pieces[0].text in LINKS and _is_metal(pieces[1])


def _is_metal(token):
    word = token.word
    if word is None or word.role not in ("nutrient", "ion"):
        return False
    key = word.keys["us"]
    return key in METAL_IONS or (word.role == "nutrient" and family(key) in METALS)


def _is_salt(token):
    return (
        bool(token.word) and token.word.kind == "salt" and token.gap in ("", " ", "-")
    )


def _merged(items):
    """Return the items without those that say the same in another language."""
    found = []
    for item in items:
        for place, other in enumerate(found):
            if _same(item, other):
                found[place] = other.also(item)
                break
        else:
            found.append(item)
    return tuple(found)


def _same(one, other):
    """Return whether two names mean the same share."""
    if one.family != other.family or one.is_ion != other.is_ion:
        return False
    keys = set(one.keys) & set(other.keys)
    kinds = {one.kind or "total", other.kind or "total"}
    return bool(keys) and len(kinds) == 1 and one.agent == other.agent
