"""What is told of mixing: orders, steps, concentrates, where they meet, what went wrong."""

import formulate as fm
from formulate.chemistry.solids import mineral_names

__all__ = ["mixing_values", "order_values", "pair_values"]

SUSPECTS = 6  # of a diagnosis, the best fit first


def mixing_values(outcome):
    """Yield (quantity, value, unit) of what the job says of its mixing."""
    mixing = outcome.mixing
    if mixing.wants_tanks:
        yield from _tanks(mixing.tanks)
        yield from _meetings(mixing.meetings)
    if mixing.was_measured:
        yield from _diagnosis(mixing.diagnosis)


def order_values(outcome):
    """Yield the order of a job, its steps, and the best order beside it."""
    mixing = outcome.mixing
    yield "order", " > ".join(mixing.order), "word"
    if mixing.best:
        yield "best order", " > ".join(mixing.best.order), "word"
    log = mixing.log
    yield "order: word", log.word, "word"
    for step in log.steps:
        of = f"step {step.number}"
        yield f"{of}: volume", step.volume, "L"
        yield f"{of}: pH", step.ph, "pH"
        yield f"{of}: EC", step.ec, "mS/cm"
        yield f"{of}: nearest", f"{step.nearest} {step.word}", "word"
        yield f"{of}: index", step.index, "log10"
        yield f"{of}: pH in the end", step.settled_ph, "pH"
    for name, amount in log.fallen.items():
        yield f"order: {name} in the end", amount, "mg/L"


def _tanks(tanks):
    yield "tanks: greatest strength", tanks.greatest.times, "times"
    yield "tanks: limited by", "; ".join(tanks.limiting), "word"
    yield "tanks: dose", tanks.dose, "L"
    for tank in tanks.tanks:
        of = tank.label
        yield f"{of}: volume", tank.volume, "L"
        yield f"{of}: pH", float(tank.ph), "pH"
        yield f"{of}: EC", float(tank.ec), "mS/cm"
        yield f"{of}: EC thinned", float(tank.thinned_ec), "mS/cm"
        yield f"{of}: density", float(tank.density), "kg/L"
        for ingredient, grams in tank.parts:
            yield f"{of}: {ingredient.name}", grams, "g"
        for name, share in tank.uses.items():
            yield f"{of}: solubility used of {name}", share, "%"
        near = "; ".join(f"{r.name} {r.word}" for r in tank.risks.telling)
        yield f"{of}: may fall out", near or "nothing", "word"
    for off, ec, ph, _ in tanks.injector():
        yield f"{off}: EC", float(ec), "mS/cm"
        yield f"{off}: pH", float(ph), "pH"


def _meetings(found):
    for line in found.lines:
        yield f"{line.what}: word", f"{line.solid} {line.word}".strip(), "word"
        yield f"{line.what}: index", line.index, "log10"
        yield f"{line.what}: lowest pH", float(line.ph.min()), "pH"


def _diagnosis(found):
    yield "diagnosis: verdict", found.verdict, "word"
    yield "diagnosis: possible", float(len(found.candidates)), "-"
    for place, suspect in enumerate(found.suspects[:SUSPECTS], 1):
        of = f"suspect {place}"
        yield of, _called(suspect.hypothesis), "word"
        yield f"{of}: misfit", suspect.misfit, "-"
        yield f"{of}: EC", suspect.ec, "mS/cm"
        yield f"{of}: pH", suspect.ph, "pH"


def _called(hypothesis):
    """Return what may have happened without its wording: kind and ingredients."""
    named = (hypothesis.first, hypothesis.second)
    return "; ".join([hypothesis.kind, *(one.name for one in named if one)])


def pair_values(outcome):
    """Yield how the ingredients of a shelf keep together, two by two, at 1:100."""
    solid = [one for one in outcome.shelf if one.measured_in == "g"][:6]
    table = fm.compatibility_table(solid, strength=100, temperature=10)
    for pair in table.verdicts:
        of = f"{pair.first} with {pair.second}"
        yield of, pair.word, "word"
        for what, number in pair.numbers.items():
            unit = "log10" if what in mineral_names() else "-"
            yield f"{of}: {what}", float(number), unit
