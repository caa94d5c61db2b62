"""What a comparison of products comes to, in words: contents, money, a target, and doubts."""

from itertools import combinations

from formulate.claims.dose_margins import vouches_minima
from formulate.claims.finding import Finding
from formulate.claims.product_shares import MAIN_KEYS, NITROGEN
from formulate.notices import Notice, gravest_first
from formulate.stoichiometry.nutrients import nutrient
from formulate.tables import recipe_rule
from formulate.working import printed, printed_mg_l, printed_percent

__all__ = [
    "content_findings",
    "money_findings",
    "product_notices",
    "target_finding",
]

PERCENT = 100.0
EXACT = 1e-9  # share: nearer than this is the arithmetic itself
LEAST = 2  # products that can be compared
MISSED = 9  # wanted values listed on each side
LABEL_RULE = "guarantees with half their last printed digit"
MONEY_RULE = "price over content, the whole price on each nutrient in turn"
TARGET_RULE = "nearest dose by least squares of relative deviations"


def _of_key(shares):
    """Return nutrient key to its shares, in order."""
    found = {}
    for share in shares:
        found.setdefault(share.key, []).append(share)
    return found


def _forms_differ(by_key):
    """Return whether forms of nitrogen tell more than all nitrogen does."""
    held = [key for key in NITROGEN if key in by_key]
    return len(held) > 1


def _told_keys(shares):
    """Return the keys that findings are made of."""
    by_key = _of_key(shares)
    if _forms_differ(by_key):
        return by_key
    return {key: own for key, own in by_key.items() if key not in NITROGEN}


def _same(a, b, first, second):
    """Return whether two values differ by no more than the rounding of their labels."""
    give = first.rounding * a + second.rounding * b
    return abs(a - b) <= give + EXACT * max(a, b)


# --- contents ----------------------------------------------------------------------------------


def content_findings(shares):
    """
    Return whether the products hold the same, nutrient by nutrient.

    Parameters
    ----------
    shares : sequence of NutrientShare
        What each product holds.

    Returns
    -------
    tuple of Finding
        One for each nutrient; one alone if there is no difference in any.

    Examples
    --------
    >>> from formulate.claims.product_shares import product_shares
    >>> from formulate.ingredients.salts import salt
    >>> bags = [salt("KNO3", name="A"), salt("KNO3", name="B")]
    >>> print(*content_findings(product_shares(bags)))
    contents: right; no difference beyond rounding, in none of N, K
    """
    found = {key: _content(key, own) for key, own in _told_keys(shares).items()}
    if found and all(is_same for is_same, _ in found.values()):
        what = f"no difference beyond rounding, in none of {', '.join(found)}"
        return (_finding("contents", "right", what, LABEL_RULE),)
    return tuple(finding for _, finding in found.values())


def _content(key, shares):
    """Return whether a nutrient is the same in all products, and the finding on it."""
    pairs, basis, left = _on_one_basis(shares)
    subject = f"{key} in a {'gram' if basis == 'mg/g' else 'mL'}"
    apart = "".join(
        f"; {s.name} {printed(s.mg_per_ml)} mg/mL, and its density is not known"
        for s in left
    )
    if all(_same(a, b, s, t) for (a, s), (b, t) in combinations(pairs, 2)):
        what = f"no difference beyond rounding: {_listed(pairs)} {basis}"
        is_same = not left
    else:
        what, is_same = f"{_listed(pairs)} {basis}{_most_words(pairs)}", False
    untold = (
        [] if is_same else [s.name for value, s in pairs if not value and not s.told]
    )
    if untold:
        what += f"; not told is not none: {', '.join(untold)}"
    if len(pairs) < LEAST:
        what = f"{_listed(pairs)} {basis}"
    verdict = "cannot tell" if untold or left else "right"
    return is_same, _finding(subject, verdict, what + apart, LABEL_RULE)


def _on_one_basis(shares):
    """Return (content, share) by mass, or by volume if only so all are known, and the rest."""
    left = [s for s in shares if s.mg_per_gram is None]
    if left and all(s.mg_per_ml is not None for s in shares):
        return [(s.mg_per_ml, s) for s in shares], "mg/mL", []
    return [(s.mg_per_gram, s) for s in shares if s not in left], "mg/g", left


def _listed(pairs):
    return ", ".join(
        f"{s.name} {printed(value) if value or s.told else 'not told'}"
        for value, s in pairs
    )


def _most_words(pairs):
    """Return which product holds most, by how much more than the next, in words."""
    (most, first), *rest = sorted(pairs, key=lambda pair: -pair[0])
    others = [s.name for value, s in rest if _same(most, value, first, s)]
    behind = [(value, s) for value, s in rest if s.name not in others]
    if others or not behind:
        return f"; most in {', '.join([first.name, *others])}, rounding apart"
    value, second = behind[0]
    if not value:
        return f"; only {first.name} is known to bring it"
    more = PERCENT * (most / value - 1.0)
    return f"; {first.name} holds {printed(more, 3)} % more than {second.name}"


# --- money -------------------------------------------------------------------------------------


def money_findings(shares):
    """
    Return which product gives most of each nutrient for the money.

    Parameters
    ----------
    shares : sequence of NutrientShare
        What each product holds.

    Returns
    -------
    tuple of Finding
        One for each nutrient that a product with a price brings; none without prices.

    Examples
    --------
    >>> from formulate.claims.product_shares import product_shares
    >>> from formulate.ingredients.salts import salt
    >>> bags = [salt("KNO3", price_per_kg=2.0), salt("K2SO4", price_per_kg=1.5)]
    >>> found = {one.subject: one for one in money_findings(product_shares(bags))}
    >>> print(found["K for the money"])
    K for the money: right; cheaper: K2SO4, which gives 54.7 % more for the money; a \
kilogram of K costs 3.343 from K2SO4, 5.172 from KNO3
    """
    if all(share.mg_for_money is None for share in shares):
        return ()
    by_key = _told_keys(shares)
    return tuple(filter(None, (_money(key, own) for key, own in by_key.items())))


def _money(key, shares):
    """Return which product gives most of one nutrient for the money."""
    bearing = [share for share in shares if share.is_there]
    priced = [share for share in bearing if share.gram_cost is not None]
    unpriced = [share.name for share in bearing if share.gram_cost is None]
    if not priced:
        return None
    ranked = sorted(priced, key=lambda share: share.gram_cost)
    costs = ", ".join(f"{share.kilogram_words} from {share.name}" for share in ranked)
    what = f"{_money_words(ranked, key)}; a kilogram of {key} costs {costs}"
    if unpriced:
        what += f"; no price: {', '.join(unpriced)}"
    verdict = "cannot tell" if unpriced else "right"
    return _finding(f"{key} for the money", verdict, what, MONEY_RULE)


def _money_words(ranked, key):
    """Return which is cheaper, by how much more it gives than the next, in words."""
    best, *rest = ranked
    if not rest:
        return f"only {best.name} with a price brings {key}"
    if not best.gram_cost:
        return f"cheaper: {best.name} is free"
    most = best.mg_for_money
    alike = [s.name for s in rest if _same(most, s.mg_for_money, best, s)]
    if alike:
        names = " and ".join([best.name, *alike])
        return f"as cheap: no difference beyond rounding between {names}"
    more = PERCENT * (rest[0].gram_cost / best.gram_cost - 1.0)
    return f"cheaper: {best.name}, which gives {printed(more, 3)} % more for the money"


# --- a target ----------------------------------------------------------------------------------


def target_finding(feed):
    """
    Return what a product lacks for a target at its dose, and what is too much.

    Parameters
    ----------
    feed : ProductFeed
        The product at a dose, with a target.

    Returns
    -------
    Finding
        "right" if nothing is off by more than 5 % beyond rounding, else "cannot tell": a
        product that misses a target makes no false claim.

    Examples
    --------
    >>> from formulate.claims.product_feed import nearest_feed
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.ingredients.water import water
    >>> from formulate.recipes.target import target
    >>> wish = target({"K": 193.36, "Ca": 100})
    >>> print(target_finding(nearest_feed([salt("KNO3")], water({}), wish)))
    KNO3 for the target: cannot tell; nearest at 0.5000 g/L; lacks Ca 100.0 mg/L (-100.0 %)
    """
    most = recipe_rule("miss").number("high")
    off = [*feed.lacking, *feed.too_much]
    worst = max(
        (abs(row[4]) if row[4] is not None else PERCENT for row in off), default=0
    )
    is_met = worst <= most and not feed.refused
    parts = [f"{'nearest at' if feed.solved else 'at'} {feed.dose_words}"]
    if not any(amount for _, amount in feed.parts):
        parts = ["it brings nothing that is wanted more than it is in the way"]
    parts += _missed("lacks", feed.lacking) + _missed("too much", feed.too_much)
    parts += [] if off else ["every wanted value is met"]
    what = "; ".join([*parts, *feed.refused])
    return _finding(
        f"{feed.name} for the target",
        "right" if is_met else "cannot tell",
        what,
        TARGET_RULE,
        number=worst,
        limit=most,
        severity="note",
    )


def _missed(word, rows):
    """Return what is off on one side in a list of none or one text, trace elements last."""
    if not rows:
        return []
    ranked = sorted(rows, key=lambda row: nutrient(row[0]).group == "micro")
    shown = [
        f"{key} {printed_mg_l(abs(off))} mg/L"
        f"{'' if percent is None else f' ({printed_percent(percent)})'}"
        for key, _, _, off, percent in ranked[:MISSED]
    ]
    left = len(ranked) - MISSED
    more = f" and {left} more" if left > 0 else ""
    return [f"{word} {', '.join(shown)}{more}"]


def _finding(subject, verdict, what, rule, **numbers):
    facts = {"severity": "note" if verdict == "right" else "caution", "rule": rule}
    facts |= {"source_key": "definition", **numbers}
    return Finding(subject, verdict, what, **facts)


# --- doubts ------------------------------------------------------------------------------------


def product_notices(products, shares):
    """
    Return what to know before products are compared.

    Parameters
    ----------
    products : sequence of Ingredient
        The products.
    shares : sequence of NutrientShare
        What each holds.

    Returns
    -------
    tuple of Notice
        Minima, what labels leave out, prices and densities that are not known.

    Examples
    --------
    >>> from formulate.claims.product_shares import product_shares
    >>> from formulate.ingredients.salts import salt
    >>> bags = [salt("KNO3", name="A", price_per_kg=2.0), salt("KCl", name="B")]
    >>> print(*product_notices(bags, product_shares(bags)))
    note: no price, so nothing for the money is told: B
    """
    found = []
    minima = [one.name for one in products if vouches_minima(one)]
    if minima:
        what = (
            f"guarantees of {', '.join(minima)} are minima: more may be in, and is not "
            "counted"
        )
        found.append(Notice(what, "caution"))
    for one in products:
        untold = [s.key for s in shares if s.name == one.name and not s.told]
        main = [key for key in untold if key in MAIN_KEYS]
        if main:
            what = f"{one.name} does not tell {', '.join(main)}: counted as none"
            found.append(Notice(what))
    unpriced = [one.name for one in products if one.price is None]
    if unpriced:
        names = ", ".join(unpriced)
        found.append(Notice(f"no price, so nothing for the money is told: {names}"))
    found += _liquid_notices(products)
    found += [Notice(f"{one.name}: {text}") for one in products for text in one.assumed]
    return gravest_first(found)


def _liquid_notices(products):
    """Yield what cannot be told by mass, or by volume, without a density."""
    for one in products:
        if one.is_liquid and one.density is None:
            lacking = "gram" if one.measured_in == "mL" else "millilitre"
            what = f"{one.name} is a liquid of unknown density: nothing is told for a {lacking} of it"
            yield Notice(f"{what}; give its density in kg/L")
