"""What every test in a browser does: wait for the bench, type, go to a part, have it drawn."""

import json

from playwright.sync_api import expect

from formulate.workbench.findings import PARTS

__all__ = [
    "PATIENCE",
    "STARTING",
    "begun",
    "drawn",
    "everything_drawn",
    "folded_as_at_first",
    "go",
    "kept",
    "made_up_to",
    "opened",
    "part",
    "pressed",
    "typed",
    "unfold",
    "weight",
]

PATIENCE, STARTING = 20_000, 60_000  # ms, patience and no bars
IS_LATE = """const isLate = slot => slot.nodeName === 'IFRAME' ? !slot.srcdoc
    : !slot.innerHTML || slot.textContent.includes('working …')
const bring = slot => { if (slot.dataset.seen !== 'true') slot.scrollIntoView({ block: 'center' }) }
"""  # what is drawn above a slot may move it out of view again
ONE = f"""selector => {{ {IS_LATE}
    const slot = document.querySelector(selector)
    if (slot && isLate(slot)) bring(slot)
    return slot && !isLate(slot)
}}"""
ALL = f"""root => {{ {IS_LATE}
    const late = [...document.querySelectorAll(`${{root}} [data-slot]`)].filter(slot =>
        slot.nodeName !== 'SPAN' && slot.checkVisibility() && isLate(slot))
    if (late.length) bring(late[0])
    return late.length === 0
}}"""
OPEN_AROUND = """slot => {
    for (let at = slot; at; at = at.parentElement) if (at.nodeName === 'DETAILS') at.open = true
}"""
AS_AT_FIRST = """() => {
    for (const part of document.querySelectorAll('.fm details')) part.open = Boolean(part.wanted)
    for (const number of document.querySelectorAll('.fm-number[aria-expanded=true]')) number.click()
    window.scrollTo(0, 0)
}"""
OPEN_ALL = "all => all.forEach(details => { details.open = true })"


def opened(page):
    """Wait until the bench shows weights and all its parts are there; return its page."""
    expect(page.locator(".fm-weights tbody tr").first).to_be_visible(timeout=STARTING)
    expect(page.locator("section.fm > header")).to_have_count(1 + len(PARTS))
    return page


def begun(page):
    """Begin anew with the demo, and wait until it is there; return its page."""
    page.get_by_role("button", name="Begin with the demo").click()
    made_up_to(page, "200 L")
    expect(weight(page, "Epsom salt")).to_have_text("46.0")
    expect(part(page, "claims").locator(".fm-paper")).to_have_count(0)
    return page


def folded_as_at_first(page):
    """Open and close what can be folded as the page does at first; return the page."""
    page.evaluate(AS_AT_FIRST)
    return page


def weight(page, name):
    """Return the number to weigh of an ingredient."""
    return page.locator(".fm-weights tbody tr", has_text=name).locator(
        ".fm-number[name^='working weighed ']"
    )


def made_up_to(page, volume):
    """Wait until the weights are those of a volume."""
    caption = page.locator(".fm-weights caption").first
    expect(caption).to_contain_text(f"Weigh for {volume}")


def typed(page, label, text):
    """Type into a field and leave it; return the field."""
    field = page.get_by_label(label, exact=True).first
    field.fill(text)
    field.press("Tab")
    return field


def part(page, name):
    """Return a part of the bench."""
    return page.locator(f".fm-{name}")


def go(page, name):
    """Go to a part by its button in the head; return the part."""
    page.locator(f".fm-parts button[data-go={name}]").click()
    expect(part(page, name).locator("header h2")).to_be_in_viewport()
    return part(page, name)


def unfold(panel):
    """Open all that is folded within a part."""
    panel.locator("details:not([open])").evaluate_all(OPEN_ALL)


def drawn(panel, slot):
    """Open what a slot stands in, have it come into view, and return it once it is there."""
    found = panel.locator(f"[data-slot='{slot}']")
    expect(found).to_be_attached()
    found.evaluate(OPEN_AROUND)
    name = panel.get_attribute("class").split()[-1]  # "fm fm-mixing"
    where = f".{name} [data-slot='{slot}']"
    panel.page.wait_for_function(ONE, arg=where)
    return found


def everything_drawn(page, name=""):
    """Have every slot that is open come into view, until all of them are there."""
    root = f".fm-{name}" if name else ".fm"
    page.wait_for_function(ALL, arg=root, timeout=STARTING)


def pressed(panel, number):
    """Press a number by keyboard if it is not yet, wait for its working; return the number."""
    name = number.get_attribute("name")
    found = panel.locator(f"button[name={json.dumps(name, ensure_ascii=False)}]").first
    found.focus()
    if found.get_attribute("aria-expanded") == "false":
        panel.page.keyboard.press("Enter")
    expect(found).to_have_attribute("aria-expanded", "true")
    return found


def kept(page, press):
    """Press a button that hands over a file; return the download."""
    with page.expect_download() as told:
        press.click()
    return told.value
