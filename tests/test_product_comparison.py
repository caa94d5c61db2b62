"""Products beside each other: contents and money by hand, doses for a target, single salts."""

import math

import pytest

from formulate.claims.feed_from_salts import feed_from_salts
from formulate.claims.product_comparison import compare_products
from formulate.claims.product_feed import nearest_feed
from formulate.claims.product_shares import product_shares
from formulate.errors import FormulateError, InputError
from formulate.ingredients.ingredient import analysed
from formulate.ingredients.labels import label
from formulate.ingredients.salts import acid, as_ingredient, salt
from formulate.ingredients.shelf import nutrient_costs
from formulate.ingredients.stock import stock
from formulate.ingredients.water import water
from formulate.recipes.solve import solve
from formulate.recipes.target import published_target, target

# Standard atomic weights, abridged, IUPAC 2021 (Prohaska et al. 2022), g/mol
H, C, N, OX, P, S, K = 1.008, 12.011, 14.007, 15.999, 30.974, 32.06, 39.098
KNO3, K2SO4 = K + N + 3 * OX, 2 * K + S + 4 * OX
KH2PO4, UREA = K + 2 * H + P + 4 * OX, C + OX + 2 * (N + 2 * H)
CLOSE = 1e-4  # share: five printed digits of the atomic weights
PURE = water({})
BAGS = {"saltpetre": "KNO3", "sulfate of potash": "K2SO4"}
PRICES = {"saltpetre": 2.0, "sulfate of potash": 1.5}


def bag(name="bag", potash=30, price=None, magnesium=2):
    return label(
        name,
        basis="us",
        grade=f"15-5-{potash}",
        guarantees={"nitrate nitrogen": 11, "ammoniacal nitrogen": 4, "Mg": magnesium},
        price_per_kg=price,
    )


def subjects(found):
    return {finding.subject: finding for finding in found.findings}


# --- contents, by hand ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("formula", "key", "by_hand"),
    [
        ("KNO3", "K", 1000 * K / KNO3),  # 386.7
        ("KNO3", "N", 1000 * N / KNO3),  # 138.5
        ("urea", "N", 2000 * N / UREA),  # 466.5
        ("urea", "urea-N", 2000 * N / UREA),
        ("KH2PO4", "P", 1000 * P / KH2PO4),  # 227.6
        ("K2SO4", "S", 1000 * S / K2SO4),  # 184.0
    ],
)
def test_mg_in_a_gram_follow_from_atomic_weights(formula, key, by_hand):
    found = compare_products({"one": formula, "other": "NaCl"})
    assert found.share(key, "one").mg_per_gram == pytest.approx(by_hand, rel=CLOSE)
    assert found.share(key, "other").mg_per_gram == 0.0


def test_money_is_price_over_share():
    share = compare_products(BAGS, prices=PRICES).share("K", "saltpetre")
    content = K / KNO3  # g/g
    assert share.gram_cost == pytest.approx(2.0 / 1000 / content, rel=CLOSE)
    # a unit of money buys 500 g at 2.0 a kilogram
    assert share.mg_for_money == pytest.approx(500 * 1000 * content, rel=CLOSE)


def test_gram_costs_agree_with_those_of_the_shelf():
    bags = [salt("KNO3", price_per_kg=2.0), bag(price=3.1)]
    costs = {(s.key, s.name): s.gram_cost for s in product_shares(bags)}
    listed = nutrient_costs(bags)
    assert len(listed) >= 6
    for key, name, cost in listed:
        assert costs[key, name] == pytest.approx(cost, rel=1e-12)


def test_which_gives_most_for_the_money_is_told_by_how_much():
    found = subjects(compare_products(BAGS, prices=PRICES))["K for the money"]
    by_hand = 100 * ((2.0 / (K / KNO3)) / (1.5 / (2 * K / K2SO4)) - 1)  # 54.7 %
    assert found.is_right
    answer = (
        f"cheaper: sulfate of potash, which gives {by_hand:.1f} % more for the money;"
    )
    assert found.what.startswith(answer)


def test_a_comparison_is_told_without_words_of_truth():
    # a product that misses a target makes no false claim
    told = str(compare_products(BAGS, prices=PRICES, target={"K": 200, "Ca": 100}))
    assert "wrong" not in told
    assert ": right" not in told
    assert "- K for the money: cheaper: sulfate of potash" in told
    assert "- N for the money: only saltpetre with a price brings N" in told


def test_other_nutrients_may_be_credited():
    found = compare_products(BAGS, prices=PRICES).usable(["N", "K"])
    # all of the potassium at the sulfate's price leaves the rest of the bag for nitrogen
    credit = 1.5 / (2 * K / K2SO4) * (K / KNO3)
    costs = {(c.key, c.name): c.credited for c in found}
    by_hand = (2.0 - credit) / 1000 / (N / KNO3)
    assert costs["N", "saltpetre"] == pytest.approx(by_hand, rel=2 * CLOSE)


# --- liquids ---------------------------------------------------------------------------------


def test_a_liquid_of_known_density_is_told_by_gram_and_by_millilitre():
    made = acid("HNO3", percent=60, density=1.37, price_per_kg=0.8)
    share = compare_products({"acid": made, "salt": "KNO3"}).share("N", "acid")
    by_hand = 600 * N / (H + N + 3 * OX)
    assert share.mg_per_gram == pytest.approx(by_hand, rel=CLOSE)
    assert share.mg_per_ml == pytest.approx(1.37 * by_hand, rel=CLOSE)


def test_what_is_measured_by_volume_without_a_density_is_refused_by_mass():
    made = stock("stock", {"KNO3": "100 g"}, volume=1)
    found = compare_products({"stock": made, "salt": "KNO3"})
    share = found.share("K", "stock")
    assert share.mg_per_gram is None
    assert share.mg_per_ml == pytest.approx(100 * K / KNO3, rel=CLOSE)
    assert subjects(found)["K in a gram"].verdict == "cannot tell"
    assert any("unknown density" in notice.what for notice in found.notices)
    assert "38.67/mL" in str(found)


def test_two_stocks_are_compared_by_volume():
    weak, strong = (stock(n, {"KNO3": g}, volume=1) for n, g in (("a", 50), ("b", 100)))
    found = subjects(compare_products({"weak": weak, "strong": strong}))["K in a mL"]
    assert found.is_right
    assert "strong holds 100 % more than weak" in found.what


def test_price_of_a_stock_is_that_of_a_litre():
    made = stock("stock", {"KNO3": 100}, volume=1)
    prices = {"stock": 0.5, "salt": 2.0}
    found = compare_products({"stock": made, "salt": "KNO3"}, prices=prices)
    by_hand = 0.5 / (100 * K / KNO3)  # 100 g of the salt in the litre
    assert found.share("K", "stock").gram_cost == pytest.approx(by_hand, rel=CLOSE)


# --- no difference, no price, nothing told -------------------------------------------------------


def test_the_same_twice_is_no_difference():
    found = compare_products({"A": "KNO3", "B": "KNO3"}, prices={"A": 2.0, "B": 2.0})
    assert found.verdict == "right"
    contents = subjects(found)["contents"]
    assert contents.what == "no difference beyond rounding, in none of N, K"
    assert "no difference beyond rounding" in subjects(found)["K for the money"].what


def test_a_difference_within_the_rounding_of_labels_is_none():
    # 30 and 31 % K2O are each known to half a percent: 30.5 may be both
    found = compare_products({"A": bag("a", 30), "B": bag("b", 31)})
    assert subjects(found)["contents"].is_right
    wider = compare_products({"A": bag("a", 30), "B": bag("b", 32)})
    assert "B holds 6.67 % more than A" in subjects(wider)["K in a gram"].what


def test_printed_digits_decide_what_is_a_difference():
    a, b = (
        label(n, basis="us", guarantees={"nitrate nitrogen": "13.0", "potash": k})
        for n, k in (("a", "45.0"), ("b", "46.0"))
    )
    found = subjects(compare_products({"A": a, "B": b}))
    assert "no difference" in found["N in a gram"].what
    assert "B holds 2.22 % more than A" in found["K in a gram"].what


def test_without_any_price_nothing_is_told_of_money():
    found = compare_products(BAGS)
    assert not any("money" in finding.subject for finding in found.findings)
    assert {row[3] for row in found.rows()} == {None}
    assert any("no price" in notice.what for notice in found.notices)


def test_one_price_missing_leaves_the_question_open():
    found = compare_products(BAGS, prices={"saltpetre": 2.0})
    assert found.share("K", "sulfate of potash").mg_for_money is None
    money = subjects(found)["K for the money"]
    assert money.verdict == "cannot tell"
    assert "no price: sulfate of potash" in money.what


def test_what_is_free_gives_endlessly():
    found = compare_products(BAGS, prices={**PRICES, "saltpetre": 0.0})
    assert math.isinf(found.share("K", "saltpetre").mg_for_money)
    assert "saltpetre is free" in subjects(found)["K for the money"].what


def test_what_a_label_does_not_tell_is_not_none():
    found = compare_products({"bag": bag(), "lime": "Ca(NO3)2·4H2O"})
    assert not found.share("Ca", "bag").told
    assert found.share("NH4-N", "bag").told
    assert subjects(found)["Ca in a gram"].verdict == "cannot tell"
    told = [notice.what for notice in found.notices]
    assert "guarantees of bag are minima: more may be in, and is not counted" in told
    assert any("does not tell Ca" in what for what in told)


def test_what_the_named_sources_do_not_hold_is_told_to_be_none():
    # Ca(NO3)2 and KNO3 hold no P, Mg or S; sulfates hold sulfur, which the label leaves out
    cal = (
        "Total Nitrogen (N) 12%\n  12% Nitrate Nitrogen\nCalcium (Ca) 14%\n"
        "Derived from: calcium nitrate, potassium nitrate"
    )
    bloom = (
        "Total Nitrogen (N) 5%\n  5% Nitrate Nitrogen\nSoluble Potash (K2O) 30%\n"
        "Derived from: potassium nitrate, potassium sulfate"
    )
    found = compare_products(
        {"cal": cal, "bloom": bloom, "MKP": "KH2PO4", "E": "MgSO4"}
    )
    assert found.share("P", "cal").told
    assert not found.share("K", "cal").told  # saltpetre brings some
    assert found.share("Ca", "bloom").told
    assert not found.share("S", "bloom").told
    told = [notice.what for notice in found.notices if "does not tell" in notice.what]
    assert told == [
        "cal does not tell K: counted as none",
        "bloom does not tell S: counted as none",
    ]


def test_an_analysis_may_leave_something_out_too():
    made = analysed("analysis", {"NO3-N": 14.4, "Ca": 19})
    found = compare_products({"A": made, "B": "KNO3"})
    assert not found.share("K", "A").told
    assert found.share("Ca", "B").told


def test_label_text_and_formula_stand_beside_each_other():
    text = "Total Nitrogen (N) ... 13.7 %\n 13.7 % Nitrate Nitrogen\nSoluble Potash (K2O) ... 46 %"
    found = compare_products({"bag": text, "salt": "KNO3"}, prices={"bag": 2.5})
    assert found.products[0].price == 2.5
    assert found.share("N", "bag").mg_per_gram == pytest.approx(137.0, rel=1e-9)


# --- a target ----------------------------------------------------------------------------------


def test_the_dose_of_one_salt_for_one_nutrient_is_by_hand():
    found = compare_products(BAGS, target={"K": 200})
    doses = {feed.name: feed.parts[0][1] for feed in found.feeds}
    assert doses["saltpetre"] == pytest.approx(0.2 / (K / KNO3), rel=CLOSE)
    assert doses["sulfate of potash"] == pytest.approx(0.2 / (2 * K / K2SO4), rel=CLOSE)
    assert all(subjects(found)[f"{name} for the target"].is_right for name in BAGS)


def test_the_nearest_dose_is_that_of_least_squares():
    # K 200, N 70: x = (a + b) / (a² + b²) with a, b the content over the wanted value
    a, b = 1000 * K / KNO3 / 200, 1000 * N / KNO3 / 70
    found = compare_products(BAGS, target={"K": 200, "N": 70})
    ((_, amount),) = found.feeds[0].parts
    assert amount == pytest.approx((a + b) / (a * a + b * b), rel=CLOSE)


def test_what_is_lacking_and_too_much_is_told_in_mg_and_percent():
    found = compare_products(BAGS, target={"K": 200, "Ca": 150}, dose="1 g/L")
    feed = found.feeds[0]
    assert feed.to_add == {"Ca": pytest.approx(150.0)}
    ((key, there, wanted, off, percent),) = feed.too_much
    assert (key, round(wanted)) == ("K", 200)
    assert there == pytest.approx(1000 * K / KNO3, rel=CLOSE)
    assert off == pytest.approx(1000 * K / KNO3 - 200, rel=2 * CLOSE)
    assert percent == pytest.approx(100 * (1000 * K / KNO3 / 200 - 1), rel=2 * CLOSE)
    finding = subjects(found)["saltpetre for the target"]
    assert (finding.verdict, finding.severity) == (
        "cannot tell",
        "note",
    )  # no false claim
    assert "lacks Ca 150.0 mg/L (-100.0 %)" in finding.what


def test_a_range_that_is_met_is_not_off():
    found = compare_products(BAGS, target={"K": "150-250"}, dose={"saltpetre": 0.5})
    assert [row[4] for row in found.feeds[0].against] == [0.0]


def test_nothing_of_the_target_gives_no_dose():
    found = compare_products({"A": "KNO3", "B": "NaCl"}, target={"K": 200})
    assert found.feeds[1].parts[0][1] == 0.0
    finding = subjects(found)["B for the target"]
    assert finding.verdict == "cannot tell"
    assert "brings nothing that is wanted" in finding.what
    assert [made.name for made in found.salt_feeds] == ["A"]


def test_ammonium_and_urea_are_dosed_and_told():
    found = compare_products({"A": "(NH4)2SO4", "B": "urea"}, target={"N": 100})
    assert all(feed.parts[0][1] > 0 for feed in found.feeds)
    told = subjects(found)
    assert "ammonium is 100 % of the nitrogen" in told["A for the target"].what
    assert "bars urea" in told["B for the target"].what
    assert told["A for the target"].verdict == "cannot tell"


def test_a_limit_that_cannot_be_kept_is_told():
    wish = target(
        {"K": 200}, limits={"N": "at least 500 mg/L", "K": "at most 210 mg/L"}
    )
    feed = nearest_feed([as_ingredient("KNO3")], PURE, wish)
    assert feed.refused
    assert feed.solution.mg_l("K") == pytest.approx(200.0, rel=1e-6)


def test_two_parts_together_do_what_neither_does_alone():
    wish = {"NO3-N": 100, "K": 200, "P": 30}
    parts = {"A": "KNO3", "B": "KH2PO4"}
    together = compare_products(parts, target=wish, dose="together")
    (feed,) = together.feeds
    recipe = solve(target(wish), ["KNO3", "KH2PO4"], volume=1)
    amounts = [amount for _, amount in feed.parts]
    assert amounts == pytest.approx(list(recipe.masses.values()), rel=1e-9)
    apart = compare_products(parts, target=wish)
    worst = {
        name: subjects(found)[f"{name} for the target"].number
        for found, names in ((together, ["A + B"]), (apart, ["A", "B"]))
        for name in names
    }
    assert worst["A + B"] < min(worst["A"], worst["B"])


def test_the_dose_has_ec_and_ph_as_sure_as_the_label():
    found = compare_products({"bag": bag(), "salt": "KH2PO4"}, dose="1 g/L")
    label_feed, salt_feed = found.feeds
    # a dihydrogen phosphate: pH near half of pK1 + pK2, 2.15 and 7.20 (handbook, from memory)
    assert salt_feed.ph.ph == pytest.approx((2.15 + 7.20) / 2, abs=0.15)
    assert not label_feed.ph.is_single
    assert label_feed.ec_margin / label_feed.ec > salt_feed.ec_margin / salt_feed.ec


def test_water_counts_for_the_target_not_for_the_salts():
    tap = water({"Ca": "80 mg/L", "HCO3": "243 mg/L"})
    wish = {"K": 200, "Ca": 80}
    found = compare_products(BAGS, target=wish, water=tap)
    assert subjects(found)["saltpetre for the target"].is_right
    rows = {row[0]: row for row in found.salt_feeds[0].rows()}
    assert "Ca" not in rows


def test_single_salts_may_be_added_to_a_dose():
    found = compare_products(
        BAGS, target={"NO3-N": 100, "K": 200, "P": 31}, salts=["KH2PO4"]
    )
    recipe = found.completed()["saltpetre"]
    assert recipe.solution.mg_l("P") > 20
    ((_, dosed),) = found.feeds[0].parts
    assert recipe.masses["saltpetre"] == pytest.approx(dosed, rel=1e-9)


def test_a_salt_may_bear_the_name_of_a_product():
    found = compare_products(
        {"KNO3": "KNO3", "KCl": "KCl"}, target={"K": 200}, salts=["KNO3"]
    )
    recipe = found.completed()["KCl"]
    assert {one.name for one in recipe.ingredients} == {"KCl", "KNO3"}


# --- tables and faults ---------------------------------------------------------------------------


def test_table_rows_and_words_tell_the_same():
    found = compare_products(
        BAGS, prices=PRICES, target=published_target("steiner-1984")
    )
    frame = found.to_frame()
    assert list(frame.columns) == list(found.columns[1:])
    share = found.share("K", "saltpetre")
    assert frame.loc["K", "saltpetre mg/g"] == share.mg_per_gram
    told = [f"- {finding.subject}: {finding.what}" for finding in found.findings]
    assert all(words in str(found) for words in told)
    assert len(found.against_rows()) == 2 * len(found.target.wanted)


def test_eight_products_are_compared():
    names = ("KNO3", "K2SO4", "KCl", "KH2PO4", "urea", "MgSO4·7H2O", "NH4Cl", "H3BO3")
    found = compare_products({name: name for name in names}, target="steiner-1984")
    assert len(found.feeds) == len(names)
    assert len(found.columns) == 1 + 4 * len(names)


def test_every_fault_is_told_at_once():
    with pytest.raises(InputError) as caught:
        compare_products(
            {"A": "KNO3", "B": "no such thing", "a ": "KCl", "C": 5},
            prices={"A": -1, "Z": 2},
            target={"K": -5},
            volume=-1,
            dose={"A": "1 parsec", "Y": "1 g/L"},
            salts=["KNO3", "KNO3"],
        )
    told = "\n".join(caught.value.faults)
    for part in (
        "no such thing",
        "stands there twice",
        "product C",
        "price of 'A'",
        "price of 'Z'",
        "target",
        "volume",
        "parsec",
        "dose of 'Y'",
        "on the shelf twice",
    ):
        assert part in told, part


@pytest.mark.parametrize("products", [{}, {"A": "KNO3"}, "KNO3", None, 5])
def test_fewer_than_two_are_no_comparison(products):
    with pytest.raises(InputError, match="give 2 to"):
        compare_products(products)


def test_a_list_takes_the_names_of_its_ingredients():
    found = compare_products([salt("KNO3"), salt("KCl")])
    assert [one.name for one in found.products] == ["KNO3", "KCl"]
    with pytest.raises(InputError, match="stands there twice"):
        compare_products([salt("KNO3"), salt("KNO3")])


def test_together_needs_a_target():
    with pytest.raises(InputError, match="give a target"):
        compare_products(BAGS, dose="together")


@pytest.mark.parametrize("amounts", [{"KNO3": 0.0}, {}, {"NaHCO3": "1 g/L"}, 5])
def test_salts_for_nothing_are_refused(amounts):
    with pytest.raises(FormulateError):
        feed_from_salts(
            {**amounts} if isinstance(amounts, dict) else amounts, salts=["KNO3"]
        )


def test_without_target_and_dose_there_is_no_feed():
    found = compare_products(BAGS)
    assert found.feeds == found.salt_feeds == ()
    assert found.completed() == {}
    with pytest.raises(InputError, match="there are N"):
        found.share("Xx", "saltpetre")
