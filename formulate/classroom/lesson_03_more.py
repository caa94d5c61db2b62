"""The exercise of lesson 03 about a label whose data cannot be."""

from formulate.classroom.lines import line, share_line
from formulate.classroom.task import Option, Task
from formulate.stoichiometry.formula import molar_mass
from formulate.working import Working

__all__ = ["MORE"]

LEAN = {  # per cent of a label with room for all of it: low, high, step
    "nitric": (2.0, 6.0, 0.1),
    "ammoniacal": (1.0, 3.0, 0.1),
    "ureic": (1.0, 5.0, 0.1),
    "phosphate": (5.0, 15.0, 0.5),
    "potash": (8.0, 30.0, 0.5),
}
RICH = {  # of one without, though its three numbers stay below 100
    "nitric": (9.0, 12.0, 0.1),
    "ammoniacal": (1.0, 3.0, 0.1),
    "ureic": (2.0, 6.0, 0.1),
    "phosphate": (24.0, 30.0, 0.5),
    "potash": (38.0, 48.0, 0.5),
}
CARRIERS = {  # line of the label: what weighs in the bag, and for how much of the line
    "nitric": ("nitrate", "NO3", "N", 1),
    "ammoniacal": ("ammonium", "NH4", "N", 1),
    "ureic": ("urea", "CO(NH2)2", "N", 0.5),
    "phosphate": ("phosphate as H₂PO₄", "H2PO4", "P2O5", 2),
    "potash": ("potassium", "K", "K2O", 2),
}
A, B, C, D = "ABCD"
INDENT = 2 * "\N{NO-BREAK SPACE}"  # a page of HTML keeps it


def _carrier_line(key, percent):
    """Return what the carrier of a line of the label weighs in 100 g."""
    word, carrier, counted, count = CARRIERS[key]
    masses = (molar_mass(carrier), "g/mol"), "÷", (molar_mass(counted), "g/mol")
    return line(word, "g", (percent, "g"), "×", count, "×", *masses)


def _impossible_label(lot):
    """Which line of a label cannot be?"""
    right = lot.one_of((A, B, C, D))
    ranges = RICH if right == D else LEAN
    shares = {key: lot.between(*ranges[key]) for key in ranges}
    phosphate, potash = shares["phosphate"], shares["potash"]
    terms = [t for key in ("nitric", "ammoniacal", "ureic") for t in ("+", shares[key])]
    total = line("N in all", "%", *terms[1:])
    element = share_line("P of this P₂O₅", "%", phosphate, "P2O5", "P")
    metal = share_line("K of this K₂O", "%", potash, "K2O", "K")
    carriers = [_carrier_line(key, share) for key, share in shares.items()]
    terms = [t for one in carriers for t in ("+", (one.value, "g"))]
    room = line("all of them in 100 g", "g", *terms[1:])
    off = lot.between(0.8, 1.6, 0.1) * lot.one_of((-1, 1))
    turned = lot.one_of((0.5, potash / metal.value * potash / metal.value))
    given = {
        **shares,
        "total": round(total.value + (off if right == A else 0), 1),
        "phosphorus": round(element.value / (2 if right == B else 1), 1),
        "potassium": round(metal.value * (turned if right == C else 1), 1),
    }
    return Task(
        given=given,
        question=f"The label of a bag sold as {given['total']:.1f}-{phosphate:.1f}-{potash:.1f} cannot be: one thing on it "
        "is against arithmetic. Which? "
        "(For room, count phosphate as H₂PO₄, nitrate as NO₃, ammonium as NH₄, urea as CO(NH₂)₂, potassium as K.)",
        solution=Working(
            "what holds and what does not", (total, element, metal, *carriers, room)
        ),
        options={
            A: Option(
                "the three forms of nitrogen do not add up to the total",
                f"They do: the three lines add up to {given['total']:.1f} %, as printed.",
            ),
            B: Option(
                "the phosphorus, P, is not that of the phosphate, P₂O₅",
                f"It is: {phosphate:.1f} % of P₂O₅ hold {element.value:.1f} % of P, as printed.",
            ),
            C: Option(
                "the potassium, K, is not that of the potash, K₂O",
                f"It is: {potash:.1f} % of K₂O hold {metal.value:.1f} % of K, as printed.",
            ),
            D: Option(
                "there is no room: what carries all this weighs more than the bag",
                f"There is: the carriers of these lines weigh {room.value:.0f} g in 100 g.",
            ),
        },
        right=right,
        hints=(
            "Look at one line after the other; each can be worked out from another one, or weighed.",
            "Add up the nitrogen; turn the oxides into elements; only then ask for room.",
            "For room: N → NO₃, NH₄ or urea, P₂O₅ → 2 H₂PO₄, K₂O → 2 K, each by molar masses. Is that below 100 g?",
        ),
        table=_label_table(given),
        remark=f"N, P₂O₅ and K₂O add up to {given['total'] + phosphate + potash:.0f}: that sum tells nothing about room.",
    )


def _label_table(given):
    """Return the label as its lines are printed."""
    words = {
        "total": "total nitrogen (N)",
        "nitric": f"{INDENT}nitric",
        "ammoniacal": f"{INDENT}ammoniacal",
        "ureic": f"{INDENT}ureic",
        "phosphate": "phosphate (P₂O₅)",
        "phosphorus": f"{INDENT}that is phosphorus (P)",
        "potash": "potash (K₂O)",
        "potassium": f"{INDENT}that is potassium (K)",
    }
    return (("label", "%"), *((w, f"{given[key]:.1f}") for key, w in words.items()))


MORE = (("A label that cannot be", _impossible_label),)
