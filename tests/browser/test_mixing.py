"""The mixing in a browser: moved by keyboard, its plan followed, what is refused kept."""

import pytest

from .hands import drawn, expect, go, made_up_to, typed


@pytest.fixture
def mixing(demo):
    """Return the mixing of the demo, in view and worked out."""
    mixing = go(demo, "mixing")
    expect_best(mixing)
    return mixing


def expect_best(mixing):
    """Expect the mixing to be in its best order."""
    best = mixing.get_by_text("The best order, proven.")
    expect(best).to_be_visible()


def test_an_ingredient_is_moved_by_keyboard_and_keeps_the_focus(mixing):
    page = mixing.page
    mixing.get_by_text("What if another order").click()
    order = mixing.locator(".fm-order li")
    label = order.first.locator("button").last.get_attribute("aria-label")
    count = order.count()
    later = mixing.get_by_role("button", name=label, exact=True)
    later.focus()
    for place in range(2, count + 2):  # once more than there are places
        page.keyboard.press("Enter")
        moved = order.nth(min(place, count) - 1).locator("button").last
        expect(moved).to_have_attribute("aria-label", label)
        expect(later).to_be_focused()
    expect(mixing.locator(".fm-sum")).to_contain_text("Against the best: its")
    page.keyboard.press("Shift+Tab")
    back = label.replace(" later", " earlier")
    earlier = mixing.get_by_role("button", name=back, exact=True)
    expect(earlier).to_be_focused()
    page.keyboard.press("Enter")
    moved = order.nth(count - 2).locator("button").first
    expect(moved).to_have_attribute("aria-label", back)
    expect(earlier).to_be_focused()
    best = mixing.get_by_role("button", name="Take the best order")
    best.press("Enter")
    expect_best(mixing)
    expect(best).to_be_focused()


def test_the_plan_follows_and_what_was_closed_stays_closed(mixing):
    page = mixing.page
    plan = drawn(mixing, "plan")
    expect(plan).to_contain_text("fill in 150 L of the water")
    expect(plan).to_contain_text("Never mix concentrates with one another")
    typed(page, "Batch, made up to", "100 L")
    made_up_to(page, "100 L")
    expect(drawn(mixing, "plan")).to_contain_text("fill in 75 L of the water")
    heading = mixing.get_by_text("The plan, step by step")
    heading.click()
    expect(plan).not_to_be_visible()
    typed(page, "Batch, made up to", "120 L")
    made_up_to(page, "120 L")
    expect(plan).not_to_be_visible()
    heading.click()
    expect(plan).to_be_visible()
    expect(drawn(mixing, "plan")).to_contain_text("fill in 90 L of the water")


def test_what_is_refused_stays_in_its_field(mixing):
    mixing.get_by_text("Stocks (concentrates)").click()
    coldest = typed(mixing, "Coldest they are kept", "warm")
    fault = mixing.get_by_role("alert").filter(has_text="not taken: 'warm'")
    expect(fault).to_be_visible()
    expect(coldest).to_have_value("warm")
    expect(coldest).to_have_attribute("aria-invalid", "true")
    typed(mixing, "Coldest they are kept", "")
    expect(fault).to_have_count(0)
