"""What the figures of claims are tried with: doses, assays, feed charts; odd names and cases."""

from matplotlib.colors import to_hex

from formulate.claims.assay import check_assay
from formulate.claims.dose_claims import check_dose
from formulate.claims.feed_chart import read_chart
from formulate.claims.product_comparison import compare_products
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.labels import label
from formulate.recipes.target import target
from formulate.sheets.figures import style
from formulate.sheets.figures.assay_bars import assay_bars
from formulate.sheets.figures.chart_weeks import chart_weeks
from formulate.sheets.figures.claim_marks import claim_marks
from formulate.sheets.figures.product_bars import product_bars

NASTY = "$\\frac{a}$ <b>x</b>\n & ]]> a very long name of a feed " * 3
KEYS = "N NO3-N NO3 NH4-N P P2O5 PO4 K K2O Ca CaO Mg MgO S SO4 SO3 Cl Na Si SiO2 Fe Mn"
PLAIN = {"K": 387, "K2O": 387, "N": 150, "EC": "1.3 mS/cm", "P": 31}
FAR = {"N": 343, "K": 1660, "Ca": 5, "Mg": 6000000, "P": 0, "EC": "900 µS/cm"}
FAR |= {"TDS": "2000 ppm (700)", "S": 10}


def bag(name):
    shares = {"nitrate nitrogen": "15", "potash": "20", "calcium": "5"}
    return label(name, basis="us", guarantees=shares | {"magnesium": "1"})


CHECKS = {
    "claims": lambda: check_dose("KNO3", "1 g/L", PLAIN),
    "claims, one": lambda: check_dose("KNO3", "1 g/L", {"K": 387}),
    "claims, far": lambda: check_dose(bag(NASTY), "1 g/L", FAR),
    "claims, little": lambda: check_dose("KNO3", "1 g/L", {"TDS": "0.1 ppm (500)"}),
    "claims, many": lambda: check_dose(
        "KNO3", "1 g/L", {k: 100 + n for n, k in enumerate(KEYS.split())}
    ),
}
G = {
    "N": 10,
    "P2O5": 5,
    "K2O": 20,
    "Mg": 1,
    "S": 2,
    "Fe": 0.1,
    "Zn": 0.05,
    "Mo": 0.0005,
}
FIRST = {"N": 9.3, "P2O5": 5.1, "K2O": 19.8, "Fe": 0.09, "Zn": 0.041}
SECOND = {"N": 9.5, "P2O5": 4.9, "K2O": 20.4, "Mg": 0.94, "Mo": 0.004, "Fe": 0.04}
UNSURE = {"K2O": 0.3, "N": 0.1, "Mg": 0.1}
EU = ({"N": 12.1, "P2O5": 4.9, "MgO": 3.7}, {"N": 12.4, "P2O5": 5.0, "MgO": 9})
LISTED = {
    key: 2 + n / 2 for n, key in enumerate(("Ni", "Co", "CaO", *KEYS.split()[:16]))
}
LISTED = {k: v for k, v in LISTED.items() if k not in ("NO3", "PO4", "SO4")}
REPORTS = {
    "assay": lambda: check_assay(G, [FIRST, SECOND], uncertainty=UNSURE),
    "assay, eu": lambda: check_assay(
        {"N": 10, "P2O5": 5, "MgO": 3, "Fe": 0.1}, EU, rule="eu", uncertainty=0.2
    ),
    "assay, one": lambda: check_assay({"N": 10}, {"N": 9.9}),
    "assay, beyond": lambda: check_assay(
        {"B": 0.0005, "Fe": 0.02}, {"B": [0.0076, 0.009], "Fe": 21}, uncertainty=0.1
    ),
    "assay, none known": lambda: check_assay({"Si": 2, "N": 0}, {"Si": 1, "N": 1}),
    "assay, many": lambda: check_assay(LISTED, {"N": 3.5, "K2O": 0.5, "P2O5": 60}),
}
SALTS = {"CaN": "Ca(NO3)2·4H2O", "Nitre": "KNO3", "Epsom": "MgSO4·7H2O"}
SALTS |= {"MKP": "KH2PO4", "Iron": "FeSO4·7H2O"}
EARLY = {"N": "90-130", "P": 31, "K": "120-180", "Ca": 100, "Mg": "30-40"}
LATE = {"NO3-N": "120-160", "NH4-N": 0, "P2O5": 60, "K": "150-300", "Ca": 160}
SLOW = "1.0 to 1.4 mS/cm"
TWO = "week,A g/L,EC mS/cm\n1,0.5,0.7\n2,1,1.9\n"


def feed(count, name="week {}", claimed=lambda n: 1.2 + 0.04 * n, **more):
    """Return a chart whose doses grow, with potassium half as much again at the middle."""
    lines = ["stage,CaN g/L,Nitre g/L,Epsom g/L,MKP g/L,Iron g/L,EC mS/cm"]
    for n in range(count):
        part, nitre = 0.5 + min(n, 8) / 16, 0.3 if n < count // 2 else 0.5
        doses = (0.9 * part, nitre * part, 0.5 * part, 0.2 if n < 3 else 0.13, 0.01)
        cells = ",".join(f"{dose:.3f}" for dose in doses)
        lines.append(f"{name.replace('{}', str(n + 1))},{cells},{claimed(n):.2f}")
    return read_chart("\n".join(lines) + "\n", SALTS, **more)


def stages():
    """Return targets of eight weeks, the last of which has none."""
    early, late = target(EARLY, limits={"EC": SLOW}), target(LATE)
    return {f"week {n}": early if n < 4 else late for n in range(1, 8)}


CHARTS = {
    "weeks": lambda: feed(8, targets=stages()),
    "weeks, two": lambda: read_chart(TWO, {"A": "KNO3"}),
    "weeks, one": lambda: feed(1, targets=target(EARLY)),
    "weeks, thirty": lambda: feed(30, "{}", claimed=lambda n: 9 if n == 4 else 1.1),
    "weeks, thirty named": lambda: feed(30),
    "weeks, far": lambda: feed(9, "{} " + " ".join(NASTY.split())),
    "weeks, alike": lambda: read_chart("week,A g/L\n1,0.5\n2,0.5\n", {"A": "KNO3"}),
    "weeks, tds": lambda: read_chart(
        "week,A g/L,TDS ppm (500)\n1,1,676\n2,1,1200\n", {"A": "KNO3"}
    ),
    "weeks, iron": lambda: read_chart(
        "week,A g/L,F g/L\n1,0.9,0.001\n2,1,0.01\n", {"A": "KNO3", "F": "FeSO4·7H2O"}
    ),
    "weeks, water": lambda: read_chart("week,A g/L\n1,0\n2,0\n3,0.1\n", {"A": "NaCl"}),
}
PAIR = {"saltpetre": "KNO3", "sulfate of potash": "K2SO4"}
PRICES = {"saltpetre": 2.0, "sulfate of potash": 1.5}
FULL = (
    "KNO3 K2SO4 MgSO4·7H2O KH2PO4 Ca(NO3)2·4H2O CaCl2 FeSO4·7H2O MnSO4·H2O H3BO3 NaCl"
)
BAGS = {f"bag {n}, {name}": name for n, name in enumerate(FULL.split())}
ODD = {NASTY: bag("a"), "B": "K2SO4", "C": "MgSO4·7H2O"}
BOTTLES = {
    name: Ingredient(name, {"nitrate": amount, "potassium": 1.0}, measured_in="mL")
    for name, amount in (("one", 2.0), ("two", 1.0))
}
COMPARED = {
    "products": lambda: compare_products(PAIR, prices=PRICES),
    "products, no price": lambda: compare_products(PAIR),
    "products, many": lambda: compare_products(
        BAGS | {f"saltpetre {n}": "KNO3" for n in range(10)},
        prices={name: 1 + n / 2 for n, name in enumerate(BAGS)},
    ),
    "products, liquid": lambda: compare_products(BOTTLES),
    "products, far": lambda: compare_products(ODD, prices={NASTY: 1e-3, "B": 900}),
    "products, free": lambda: compare_products(PAIR, prices={"saltpetre": 0}),
    "products, one key": lambda: compare_products({"A": "urea", "B": "NH4NO3"}),
}
DRAWN = {kind: lambda c=made: claim_marks(c()) for kind, made in CHECKS.items()}
DRAWN |= {kind: lambda c=made: assay_bars(c()) for kind, made in REPORTS.items()}
DRAWN |= {kind: lambda c=made: chart_weeks(c()) for kind, made in CHARTS.items()}
DRAWN |= {kind: lambda c=made: product_bars(c()) for kind, made in COMPARED.items()}
KINDS = tuple(DRAWN)


def marks_of(axes):
    """Return row to its mark: marker, place, and whether it is filled with ink."""
    return {
        round(float(x.get_ydata()[0])): (
            x.get_marker(),
            float(x.get_xdata()[0]),
            to_hex(x.get_markerfacecolor()).upper() == style.INK,
        )
        for x in axes.lines
        if x.get_zorder() == 5
    }
