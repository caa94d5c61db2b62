"""A notebook of one widget, with what the workbench imports: for tests of servers, not of the bench."""

import json

__all__ = ["button", "write_stand_in"]

STAND_IN = """\
import os
import anywidget, jinja2, numpy, scipy.optimize, traitlets
class Counter(anywidget.AnyWidget):
    _esm = '''export default { render({ model, el }) {
        const button = document.createElement("button")
        const show = () => { button.textContent = `pressed ${model.get("squared")} ${model.get("who")}` }
        button.onclick = () => { model.set("pressed", model.get("pressed") + 1); model.save_changes() }
        model.on("change:squared", show); show(); el.appendChild(button) } }'''
    pressed, squared = traitlets.Int(0).tag(sync=True), traitlets.Int(0).tag(sync=True)
    who = traitlets.Unicode("").tag(sync=True)
    @traitlets.observe("pressed")
    def _square(self, change):
        self.squared = int(scipy.optimize.nnls(numpy.eye(1), [change.new**2])[0][0])
Counter(who=f"in {os.getpid()}, page {os.environ.get('FORMULATE_PAGE', 'no')}")
"""


def write_stand_in(path):
    """Write the notebook; return its path."""
    cell = {"cell_type": "code", "id": "one", "metadata": {}, "source": STAND_IN}
    notebook = {
        "cells": [cell | {"execution_count": None, "outputs": []}],
        "metadata": {
            "kernelspec": {"name": "python3", "display_name": "Python 3"},
            "language_info": {"name": "python"},
        },
        "nbformat": 4,
        "nbformat_minor": 5,
    }
    path.write_text(json.dumps(notebook), encoding="utf-8")
    return path


def button(page):
    """Return the button of the widget, which tells how often it was pressed."""
    return page.get_by_role("button", name="pressed")
