"""Labels written at random from materials and blends, right ones and ones with a slip."""

import math

from formulate.ingredients.salts import catalogue

WORDS = {
    "N": "Total Nitrogen (N)",
    "NH4-N": "Ammoniacal Nitrogen",
    "NO3-N": "Nitrate Nitrogen",
    "urea-N": "Urea Nitrogen",
    "P2O5": "Available Phosphate (P2O5)",
    "K2O": "Soluble Potash (K2O)",
    "Ca": "Calcium (Ca)",
    "Mg": "Magnesium (Mg)",
    "S": "Sulfur (S)",
    "B": "Boron (B)",
    "Cl": "Chlorine (Cl)",
    "Co": "Cobalt (Co)",
    "Cu": "Copper (Cu)",
    "Fe": "Iron (Fe)",
    "Mn": "Manganese (Mn)",
    "Mo": "Molybdenum (Mo)",
    "Na": "Sodium (Na)",
    "Ni": "Nickel (Ni)",
    "Si": "Silicon (Si)",
    "Zn": "Zinc (Zn)",
}
EU_WORDS = {
    "N": "Total nitrogen (N)",
    "NH4-N": "Ammoniacal nitrogen",
    "NO3-N": "Nitric nitrogen",
    "urea-N": "Ureic nitrogen",
    "P2O5": "Phosphorus pentoxide (P2O5) soluble in water",
    "K2O": "Potassium oxide (K2O) soluble in water",
    "CaO": "Calcium oxide (CaO) soluble in water",
    "MgO": "Magnesium oxide (MgO) soluble in water",
    "SO3": "Sulphur trioxide (SO3) soluble in water",
    "Na2O": "Sodium oxide (Na2O)",
    **{
        key: f"{word} ({key})"
        for key, word in (
            ("B", "Boron"),
            ("Cu", "Copper"),
            ("Fe", "Iron"),
            ("Mn", "Manganese"),
            ("Mo", "Molybdenum"),
            ("Zn", "Zinc"),
        )
    },
}
FORMS = ("NH4-N", "NO3-N", "urea-N")
# oxide over element, 1/0.4364 and so on: conversion_factors.csv, printed legal factors
OXIDES = {"P2O5": 2.291, "K2O": 1.205, "Ca": 1.399, "Mg": 1.658, "S": 2.497}
SLIPS = ("oxide", "hydrate", "ten", "by volume", "exchanged")


def rounded_down(share, digits):
    """Return a share as a law prescribes it: rounded down."""
    return math.floor(share * 10**digits + 1e-9) / 10**digits


def shares_of(parts, digits):
    """Return key to share of a blend, rounded down; total nitrogen is the sum of its forms."""
    shares = {
        key: rounded_down(sum(made.percent(key) * w for made, w in parts), digits)
        for key in WORDS
        if key != "N"
    }
    nitrogen = sum(shares[key] for key in FORMS)
    made = {"N": nitrogen, **shares}
    return {key: share for key, share in made.items() if share > 0}


def label_text(shares, digits, sources, density=None):
    """Return the text of a label, its forms of nitrogen below their total."""
    lines = ["Guaranteed Analysis"]
    for key, word in WORDS.items():
        if key in shares:
            lines.append(f"{'  ' * (key in FORMS)}{word} {shares[key]:.{digits}f} %")
    if density:
        lines.append(f"Density {density:g} kg/L")
    if sources:
        lines.append(f"Derived from: {', '.join(sources)}")
    return "\n".join(lines)


def materials(*, liquid=False):
    """Return the materials that one name without a comma means."""
    return [
        made
        for made in catalogue().values()
        if made.is_liquid is liquid and "," not in made.name
    ]


def right_label(rng):
    """Return text, shares, parts, digits of a right label of one to four solids."""
    solids = materials()
    while True:
        count = int(rng.choice([1, 1, 2, 3, 4]))
        picked = [solids[i] for i in rng.choice(len(solids), count, replace=False)]
        weights = rng.dirichlet([1.0] * count)
        digits = int(rng.choice([0, 1, 2]))
        parts = list(zip(picked, weights, strict=True))
        shares = shares_of(parts, digits)
        if shares and any(key not in FORMS for key in shares):
            break
    sources = [made.name for made in picked] if rng.random() < 0.7 else []
    return label_text(shares, digits, sources), shares, parts, digits


def right_eu_label(rng):
    """Return the text of a right label in EU wording, rounded to the nearest digit."""
    solids, shares = materials(), {}
    while not shares:
        count, digits = int(rng.choice([1, 1, 2, 3, 4])), int(rng.choice([1, 2]))
        picked = [solids[i] for i in rng.choice(len(solids), count, replace=False)]
        weights = rng.dirichlet([1.0] * count)
        for key in EU_WORDS:
            share = sum(
                m.percent(key) * w for m, w in zip(picked, weights, strict=True)
            )
            if round(share, digits) > 0:
                shares[key] = round(share, digits)
    if "N" in shares:
        shares["N"] = sum(shares.get(key, 0.0) for key in FORMS)
    lines = [
        f"{EU_WORDS[key]} {share:.{digits}f} %"
        for key, share in shares.items()
        if share
    ]
    return "\n".join(["EC fertiliser", *lines])


def slipped_label(rng, kind):
    """Return text and right shares of a label with one slip, its sources named."""
    while True:
        made = _liquid(rng) if kind == "by volume" else _solids(rng, kind)
        if made:
            shares, digits, sources, density = made
            changed = _slipped(rng, kind, dict(shares), density)
            if changed and (kind == "hydrate" or _differ(changed, shares, digits)):
                return label_text(changed, digits, sources, density)


def _differ(changed, shares, digits):
    """Return whether a slip moves some number by more than two printed digits."""
    return any(
        abs(changed.get(k, 0) - shares.get(k, 0)) > 2 * 10.0**-digits
        for k in {*changed, *shares}
    )


def _liquid(rng):
    liquids = [made for made in materials(liquid=True) if made.density]
    made = liquids[int(rng.integers(len(liquids)))]
    shares = shares_of([(made, 1.0)], 1)
    return (shares, 1, [made.name], made.density) if shares else None


def _solids(rng, kind):
    """Return what a slip is made on: one salt or a blend of two."""
    _, shares, parts, digits = right_label(rng)
    parts = parts[:2]
    whole = sum(w for _, w in parts)
    parts = [(made, w / whole) for made, w in parts]
    names = [made.name for made, _ in parts]
    if kind == "hydrate":
        solids, made = materials(), parts[0][0]
        base = (made.formula or "").split("·")[0]
        alike = [m for m in solids if m is not made and _is_alike(m, base)]
        if not alike:
            return None
        parts = [(alike[0], parts[0][1]), *parts[1:]]
    shares = shares_of(parts, digits)
    return (shares, digits, names, None) if shares else None


def _is_alike(made, base):
    """Return whether a material is a salt with some water or none."""
    return bool(base) and (made.formula or "").split("·")[0] == base


def _slipped(rng, kind, shares, density):
    """Return the shares with a slip; an empty mapping where it cannot befall them."""
    keys = [key for key in shares if key != "N" and key not in FORMS] or ["N"]
    if kind == "hydrate":
        return shares  # the numbers are of another hydrate already
    if kind == "by volume":
        return {key: share * density for key, share in shares.items()}
    if kind == "oxide":
        keys = [key for key in keys if key in OXIDES]
        if not keys:
            return {}
        key = str(rng.choice(keys))
        as_oxide = key not in ("P2O5", "K2O")
        factor = OXIDES[key] if as_oxide or rng.random() < 0.5 else 1 / OXIDES[key]
        return {**shares, key: shares[key] * factor}
    if kind == "ten":
        key = str(rng.choice(keys))
        factor = 10.0 if rng.random() < 0.5 else 0.1
        return _times(shares, key, factor)
    if len(keys) < 2:
        return {}
    one, other = (str(key) for key in rng.choice(keys, 2, replace=False))
    return {**shares, one: shares[other], other: shares[one]}


def _times(shares, key, factor):
    """Return shares with one number times ten or a tenth, all nitrogen alike."""
    touched = {"N", *FORMS} if key == "N" else {key}
    changed = {k: v * factor if k in touched else v for k, v in shares.items()}
    return changed if max(changed.values()) <= 100 else {}
