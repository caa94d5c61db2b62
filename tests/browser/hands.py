"""What every test in a browser does: wait for the bench, type, go to a part, have it drawn."""

import json
import re

from playwright.sync_api import expect as expect_patiently

from formulate.workbench.findings import PARTS

__all__ = [
    "PATIENCE",
    "STARTING",
    "begun",
    "checked",
    "drawn",
    "everything_drawn",
    "expect",
    "folded_as_at_first",
    "go",
    "kept",
    "made_up_to",
    "mixed_otherwise",
    "opened",
    "part",
    "pressed",
    "settled",
    "typed",
    "unfold",
    "weight",
]

PATIENCE, STARTING = 20_000, 60_000  # ms, patience and no bars
SHORT, LOOKS = 500, 20  # ms of a short look, in which the library looks every 0.1 s
SLOWLY = 50  # ms between looks at a whole page, which take from its own work
IS_LATE = """const isLate = slot => slot.nodeName === 'IFRAME' ? !slot.srcdoc
    : !slot.innerHTML || slot.textContent.includes('working …')
const bring = slot => { if (slot.dataset.seen !== 'true') slot.scrollIntoView({ block: 'center' }) }
"""  # what is drawn above a slot may move it out of view again
ONE = f"""selector => {{ {IS_LATE}
    const slot = document.querySelector(selector)
    if (slot) bring(slot)
    return slot && slot.dataset.seen === 'true' && !isLate(slot)
}}"""  # in view, so that what a change makes late is drawn anew
ALL = f"""root => {{ {IS_LATE}
    const late = [...document.querySelectorAll(`${{root}} [data-slot]`)].find(slot =>
        slot.nodeName !== 'SPAN' && slot.checkVisibility() && isLate(slot))
    if (late) bring(late)
    return !late
}}"""
OPEN_AROUND = """slot => {
    for (let at = slot; at; at = at.parentElement) if (at.nodeName === 'DETAILS') at.open = true
}"""
ALL_TOLD = """() => [...document.querySelectorAll('.fm [data-slot]')].every(slot => {
    const isOpen = !slot.closest('details:not([open])')
    if ('eager' in slot.dataset) return slot.dataset.seen === String(isOpen)
    const { top, bottom } = slot.getBoundingClientRect()
    return slot.dataset.seen !== 'true' || (isOpen && bottom >= 0 && top <= window.innerHeight)
})"""  # what has left the view has told so
AS_AT_FIRST = """() => {
    for (const part of document.querySelectorAll('.fm details')) part.open = Boolean(part.wanted)
    for (const number of document.querySelectorAll('.fm-number[aria-expanded=true]')) number.click()
    for (const box of [document.documentElement, ...document.querySelectorAll('.fm-body, .fm-body *')])
        if (box.scrollTop || box.scrollLeft) box.scrollTo(0, 0)
    document.querySelector('.fm-head').scrollIntoView()
}"""
OPEN_ALL = "all => all.forEach(details => { details.open = true })"


class Watched:
    """What the library expects of a locator, looked at every 0.1 s; by itself it waits half a second."""

    def __init__(self, locator):
        self.checks = expect_patiently(locator)

    def __getattr__(self, name):
        check = getattr(self.checks, name)

        def look(*words, timeout=PATIENCE, **options):
            for _ in range(min(LOOKS, timeout // SHORT)):
                try:
                    return check(*words, timeout=SHORT, **options)
                except AssertionError:
                    continue
            return check(*words, timeout=timeout, **options)

        return look


def expect(locator):
    """Return the library's checks of a locator, each of which waits until it holds."""
    return Watched(locator)


def opened(page):
    """Wait until the bench shows weights and all its parts are there; return its page."""
    expect(page.locator(".fm-weights tbody tr").first).to_be_visible(timeout=STARTING)
    expect(page.locator("section.fm > header")).to_have_count(1 + len(PARTS))
    return page


def begun(page):
    """Begin with nothing, then with the demo, each waited for; return the page, seen from its top."""
    folded_as_at_first(page)
    page.get_by_role("button", name="Begin with nothing").click()
    expect(page.locator(".fm-weights")).to_have_count(0)
    page.get_by_role("button", name="Begin with the demo").click()
    made_up_to(page, "200 L")
    expect(weight(page, "Epsom salt")).to_have_text("46.0")
    expect(part(page, "claims").locator(".fm-paper")).to_have_count(0)
    expect(part(page, "water").get_by_label("one that comes along")).to_be_checked()
    expect(part(page, "wishes").get_by_label("Target", exact=True)).to_have_value(
        "ufifas-tomato-1"
    )
    return page


def folded_as_at_first(page):
    """Open and close what can be folded as the page does at first, at its top; return the page."""
    page.evaluate(AS_AT_FIRST)
    page.wait_for_function(ALL_TOLD)
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


def checked(claims, text):
    """Paste a paper, check it, and return where its answer stands: on top of the others."""
    papers = claims.locator(".fm-paper")
    before = papers.count()
    claims.get_by_label(re.compile("^Paste a label")).fill(text)
    claims.get_by_role("button", name="Check it").click()
    expect(papers).to_have_count(before + 1)
    expect(papers.first.locator("summary .verdict").first).to_be_visible()
    return papers.first


def mixed_otherwise(page):
    """Mix in an own order, in pure water, and tell what a meter showed."""
    mixing = go(page, "mixing")
    expect(mixing.get_by_text("The best order, proven.")).to_be_visible()
    unfold(mixing)
    mixing.locator(".fm-order li").first.get_by_role("button").last.click()
    expect(mixing.locator(".fm-sum")).to_contain_text("Against")
    typed(page, "EC measured", "1.2")
    expect(mixing.locator("[data-slot=wrong]")).to_be_attached()
    mixing.get_by_label("Water of the stocks").select_option("pure")


def everything_drawn(page, name=""):
    """Have every slot that is open come into view, until all of them are there."""
    root = f".fm-{name}" if name else ".fm"
    page.wait_for_function(ALL, arg=root, timeout=STARTING, polling=SLOWLY)


def pressed(panel, number):
    """Press a number by keyboard if it is not yet, wait for its working; return the number."""
    name = number.get_attribute("name")
    found = panel.locator(f"button[name={json.dumps(name, ensure_ascii=False)}]").first
    found.focus()
    if found.get_attribute("aria-expanded") == "false":
        panel.page.keyboard.press("Enter")
    expect(found).to_have_attribute("aria-expanded", "true")
    return found


def settled(page, name):
    """Wait until a part shows what came of all that was sent: what is asked now is answered after it."""
    explain = part(page, name).locator("button[name=explain]")
    for is_shown in ("true", "false"):
        explain.evaluate("button => button.click()")  # where the page stands
        expect(explain).to_have_attribute("aria-expanded", is_shown)


def kept(page, press):
    """Press a button that hands over a file; return the download."""
    with page.expect_download() as told:
        press.click()
    return told.value
