"""What is told of a batch: weights, contents, cost, what meters show, solids, correction."""

import formulate as fm
from formulate.chemistry.oxygen import oxygen_mg_l, oxygen_saturation, salinity_from_ec
from formulate.chemistry.speciation import speciate
from formulate.chemistry.titration import titration_curve
from formulate.sheets.weighed_tables import weights

__all__ = ["batch_values", "oxygen_values", "titration_values", "warmth_values"]

SOLIDS = (  # those that gardens meet; an index is told where all parts are there
    "brushite",
    "calcite",
    "calcium molybdate",
    "ferric hydroxide",
    "gypsum",
    "hydroxyapatite",
    "manganese hydrogen phosphate",
    "newberyite",
    "rhodochrosite",
    "silica",
    "struvite",
)
WARMTHS = (5.0, 15.0, 35.0)  # °C


def batch_values(outcome):
    """Yield (quantity, value, unit) of recipe, weights and chemistry of a batch."""
    yield from _water(outcome.water)
    yield from _recipe(outcome.recipe)
    yield from _weighed(outcome)
    yield from _meters(outcome.expected)
    yield from _solids(outcome)
    yield from _correction(outcome.correction)
    for source in outcome.iron:
        of = f"iron from {source.ingredient.name}"
        yield f"{of}: word", source.holds, "word"
        yield f"{of}: share held", source.share_held, "-"
        yield f"{of}: holds by all to", source.low, "pH"
        yield f"{of}: holds by some to", source.high, "pH"
        yield f"{of}: needed", source.grams, source.ingredient.measured_in
    yield "way of choosing", outcome.recipe.status, "word"


def _water(water):
    yield "water: alkalinity", water.alkalinity or 0.0, "meq/L"
    for form, amount in water.solution.forms.items():
        yield f"water: {form}", amount, "mmol/L"


def _recipe(recipe):
    for ingredient, amount in recipe.amounts:
        yield f"{ingredient.name}: exact", amount, ingredient.measured_in
    for key, wanted, has, _, _ in recipe.rows():
        if wanted is not None:
            yield f"{key}: wanted", wanted, "mg/L"
        yield f"{key}: exact", has, "mg/L"
    if recipe.cost is not None:
        yield "cost: exact", recipe.cost, "EUR"
    yield "at their bound", "; ".join(recipe.binding) or "nothing", "word"


def _weighed(outcome):
    weighing = outcome.weighing
    for ingredient, amount in weighing.amounts:
        yield f"{ingredient.name}: weighed", amount, ingredient.measured_in
    for made in weighing.stocks:
        of = made.ingredient.name
        yield f"{of}: batches", made.batches, "-"
        for part, grams in made.parts:
            yield f"{of}: {part.name}", grams, "g"
    for key, *_ in outcome.recipe.rows():
        yield f"{key}: weighed", weighing.solution.mg_l(key), "mg/L"
    if weighing.cost is not None:
        yield "cost: weighed", weighing.cost, "EUR"
    if outcome.job.units == "us":
        for cells in weights(weighing, "us").rows:
            yield f"{cells[0]}: on the sheet", "; ".join(map(str, cells[1:])), "word"


def _meters(found):
    for when, one in (("mixed", found.ph), ("aerated", found.ph_aerated)):
        yield f"pH {when}", one.ph, "pH"
        yield f"pH {when}: low end", one.low, "pH"
        yield f"pH {when}: high end", one.high, "pH"
    yield "buffer capacity", found.ph.buffer_capacity, "meq/L"
    yield "EC", found.conductivity.ec, "mS/cm"
    yield "EC: error", found.conductivity.error_percent, "%"
    for ion, _, share in found.shares()[:3]:
        yield f"EC: carried by {ion}", share, "%"
    yield "ionic strength", found.state.ionic_strength, "mmol/L"
    yield "charge open", found.solution.unassigned_charge, "meq/L"


def _solids(outcome):
    for when, state in (
        ("mixed", outcome.expected.state),
        ("aerated", outcome.expected.aerated),
    ):
        for name in SOLIDS:
            index = float(state.saturation_index(name))
            if index > -30:  # below, a part of it is there only as a remainder
                yield f"{name} {when}", index, "log10"
    for when, risks in (
        ("mixed", outcome.solids),
        ("as corrected, aerated", outcome.solids_in_air),
    ):
        near = "; ".join(f"{risk.name} {risk.word}" for risk in risks.telling)
        yield f"may fall out {when}", near or "nothing", "word"


def _correction(found):
    yield "correction: pH wanted", found.ph, "pH"
    yield "correction: acid at once", found.needed, "meq/L"
    yield "correction: acid in the air", found.needed_in_air, "meq/L"
    yield "correction: waits for the air", "yes" if found.waits else "no", "word"
    for dose in found.doses:
        of = f"correction: {dose.ingredient.name}"
        yield of, dose.grams * found.volume, "g"
        yield f"{of}: low end", dose.interval[0] * found.volume, "g"
        yield f"{of}: high end", dose.interval[1] * found.volume, "g"
        yield f"{of}: pH aerated", dose.tomorrow.ph, "pH"
        for key, value in dose.brings.items():
            yield f"{of}: brings {key}", value, "mg/L"


def warmth_values(outcome):
    """Yield pH, EC and what a meter shows of a batch in the cold and in the warmth."""
    for celsius in WARMTHS:
        state = speciate(outcome.weighing.solution, temperature=celsius)
        yield f"{celsius:g} °C: pH", state.ph, "pH"
        shown = fm.meter_reading(state, temperature=celsius)
        yield f"{celsius:g} °C: shown", float(shown), "mS/cm"
        for name in ("calcite", "gypsum", "brushite"):
            index = float(state.saturation_index(name))
            yield f"{celsius:g} °C: {name}", index, "log10"
    yield "shown on the 640 scale", fm.meter_reading(state, scale=640), "ppm"


def oxygen_values(outcome):
    """Yield how much oxygen a batch holds on the plain and at 800 m."""
    salinity = salinity_from_ec(outcome.expected.conductivity.ec)
    for celsius in (10.0, 22.0):
        full = oxygen_saturation(celsius, salinity=salinity)
        high = oxygen_saturation(celsius, altitude=800.0, salinity=salinity)
        yield f"{celsius:g} °C: oxygen", float(full), "mg/L"
        yield f"{celsius:g} °C: oxygen at 800 m", float(high), "mg/L"
    yield "22 °C: 80 % of oxygen", float(oxygen_mg_l(80, 22.0)), "mg/L"


def titration_values(outcome):
    """Yield the pH of a batch as the first acid or alkali of the shelf goes in."""
    acid = next(one for one in outcome.shelf if one.role)
    curve = titration_curve(outcome.weighing.solution, acid, most=0.4)
    last = len(curve.grams) - 1
    for place in (0, last // 4, last // 2, last):
        of = f"titration: {curve.grams[place]:.3g} g/L of {acid.name}"
        yield f"{of}: pH", float(curve.ph[place]), "pH"
        yield f"{of}: pH aerated", float(curve.ph_aerated[place]), "pH"
