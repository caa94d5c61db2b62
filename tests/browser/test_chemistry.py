"""The chemistry and the exchange in a browser: filled in as they are seen, followed, by keyboard."""

from .hands import drawn, expect, go, made_up_to, part, typed


def test_what_falls_out_is_filled_in_once_it_is_seen(demo):
    chemistry = go(demo, "chemistry")
    row = chemistry.locator(".fm-solids tr", has_text="brushite").first
    row.scroll_into_view_if_needed()
    expect(row).to_contain_text("mg/L")


def test_what_falls_out_is_filled_in_where_another_part_worked_it_out(demo):
    sheet = go(demo, "sheet")
    drawn(sheet, "preview")
    row = go(demo, "chemistry").locator(".fm-solids tr", has_text="brushite").first
    row.scroll_into_view_if_needed()
    expect(row).to_contain_text("mg/L")


def test_a_dotted_word_is_opened_by_keyboard_and_stays_open(demo):
    page = demo
    chemistry = go(page, "chemistry")
    named = page.get_by_text("EC", exact=True)
    word = chemistry.locator(".fm-term").filter(has=named).first
    meaning = word.get_by_text("electrical conductivity of a solution")
    expect(meaning).not_to_be_visible()
    word.locator("summary").focus()
    page.keyboard.press("Enter")
    expect(meaning).to_be_visible()
    typed(page, "Batch, made up to", "90 L")
    made_up_to(page, "90 L")
    expect(meaning).to_be_visible()


def test_the_exchange_is_worked_out_as_it_is_opened_and_the_head_tells(demo):
    page = demo
    exchange = go(page, "exchange")
    head = page.locator(".fm-parts [data-go=exchange]")
    expect(head).to_contain_text("not worked out yet")
    exchange.get_by_text("how sure the weighed batch is").click()
    doubt = drawn(exchange, "doubt")
    expect(doubt.locator("svg")).to_have_count(1)
    expect(head).to_contain_text("limits kept in 100 of 100")
    told = exchange.get_by_role("status")
    expect(told).to_contain_text("1 opened part")
    cost = part(page, "recipe").locator(".fm-sum .fm-number")
    paid = cost.inner_text()
    typed(page, "price of potassium nitrate for a kg or L", "4")
    expect(cost).not_to_have_text(paid)
    drawn(exchange, "doubt")
    expect(told).to_contain_text("all worked out")
    expect(doubt.locator("svg")).to_have_count(1)
