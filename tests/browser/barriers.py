"""What keeps somebody out of a page: what axe finds, what is too wide, pictures without words."""

from axe_playwright_python.sync_playwright import Axe

__all__ = ["barriers", "cut_off", "out_of_reach", "pictures", "sideways"]

GRAVE = ("serious", "critical")
RULES = {"resultTypes": ["violations"], "iframes": False}
CONTRAST = RULES | {"runOnly": ["color-contrast"]}
SIDEWAYS = "document.documentElement.scrollWidth - window.innerWidth"
CUT_OFF = """() => [...document.querySelectorAll('.fm table, .fm svg, .fm pre, .fm p, .fm li, .fm dd, .fm button, .fm input, .fm select, .fm textarea')]
    .filter(one => one.checkVisibility() && !one.closest('.fm-scroll, .fm-figure'))
    .filter(one => one.getBoundingClientRect().right > one.closest('.fm').getBoundingClientRect().right + 1)
    .map(one => one.outerHTML.slice(0, 160))"""
OUT_OF_REACH = """() => [...document.querySelectorAll('.fm *')]
    .filter(one => one.checkVisibility() && one.scrollWidth > one.clientWidth + 1)
    .filter(one => ['auto', 'scroll', 'hidden'].includes(getComputedStyle(one).overflowX))
    .filter(one => getComputedStyle(one).clipPath === 'none') // said, not shown
    .filter(one => !['TEXTAREA', 'INPUT', 'SELECT'].includes(one.nodeName) && !one.closest('svg'))
    .filter(one => !one.matches('.fm-scroll, .fm-figure') ||
        (one.tabIndex < 0 && ![...one.querySelectorAll('button, input, summary')].some(inside => inside.checkVisibility())))
    .map(one => one.outerHTML.slice(0, 160))"""
PICTURES = """() => [...document.querySelectorAll('.fm [data-slot] svg')].map(svg => {
    const slot = svg.closest('[data-slot]')
    const section = svg.closest('section')
    const words = (svg.getAttribute('aria-labelledby') ?? '').split(' ').map(id => document.getElementById(id)?.textContent ?? '')
    const told = slot.contains(section) ? section : slot
    return { part: slot.closest('.fm').className, slot: slot.dataset.slot, role: svg.getAttribute('role'), words,
        rows: told.querySelectorAll('tbody tr').length }
})"""


def barriers(page, context=None, *, only_contrast=False):
    """
    Return what axe finds that is serious or critical: its rule and where.

    It is not in the frames of a page and so has never looked into them: it only waited for an answer.
    """
    options = CONTRAST if only_contrast else RULES
    told = Axe().run(page, context, options).response["violations"]
    return {
        v["id"]: [node["html"][:160] for node in v["nodes"][:3]]
        for v in told
        if v["impact"] in GRAVE
    }


def sideways(page):
    """Return by how much the page is wider than its window. [px]"""
    return page.evaluate(SIDEWAYS)


def cut_off(page):
    """Return what reaches beyond its part and cannot be scrolled to."""
    return page.evaluate(CUT_OFF)


def out_of_reach(page):
    """Return what is scrolled sideways, but not as wide tables are, or not by keyboard."""
    return page.evaluate(OUT_OF_REACH)


def pictures(page):
    """Return each picture that is drawn: its place, its words, the rows of its table."""
    return page.evaluate(PICTURES)
