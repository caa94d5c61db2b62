"""A panel: it shows a part of the state as HTML, and hands on what was typed or pressed.

The HTML is made here from templates that escape whatever people typed; the script beside
this file shows it and sends messages. A handler is one call on the state. A fault of a
handler is shown in the panel, for a notebook hides it in a log.
"""

import html
import traceback
from functools import cache
from pathlib import Path

import anywidget
import jinja2
import traitlets

from formulate.errors import FormulateError, InputError, shortened
from formulate.files import LARGEST, text_of_bytes
from formulate.sheets.tables import stamp
from formulate.tables import read_table
from formulate.workbench.explained import sources_in, words_in
from formulate.workbench.standing import part_label, standing
from formulate.working import printed, printed_mg_l

__all__ = ["Panel"]

HERE = Path(__file__).parent
KINDS = ("change", "press", "search", "hello")


def _cited(working):
    """Return the sources of a working, in full."""
    return sources_in("", [step.source_key for step in working.steps])


def _typed(value):
    """Return what was typed as it is typed: 7 for 7.0, a text as it is, nothing for none."""
    text = "" if value is None else str(value)
    return text.removesuffix(".0") if isinstance(value, float) else text


@cache
def _environment():
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {"printed": printed, "mg_l": printed_mg_l, "typed": _typed}
    environment.globals["cited"] = _cited
    environment.globals["meanings"] = {
        r["term"]: r["meaning"] for r in read_table("terms")
    }
    return environment


def _rendered(name, **facts):
    """Return what a template makes of facts."""
    return _environment().get_template(f"{name}.html").render(**facts)


class Panel(anywidget.AnyWidget):
    """
    One part of the bench on the screen.

    Parameters
    ----------
    state : State
        The work that it shows.

    Attributes
    ----------
    html : str
        What is shown.
    slots : dict of str to str
        What is drawn apart from the rest: a figure, a sheet.
    done : int
        The last message from the browser that was dealt with. [-]
    fault : str
        What went wrong last, in words; empty if nothing did.
    is_closed : bool
        Whether it has left the screen.
    """

    _esm = HERE / "panel.js"
    _css = HERE / "panel.css"
    part = traitlets.Unicode("").tag(sync=True)
    label = traitlets.Unicode("").tag(sync=True)
    html = traitlets.Unicode("").tag(sync=True)
    slots = traitlets.Dict().tag(sync=True)
    done = traitlets.Int(0).tag(sync=True)

    PART, LABEL = "", ""

    def __init__(self, state):
        self.state, self.fault, self.seen, self.clicked = state, "", set(), ""
        self.is_closed = self.is_explained = False
        label = self.LABEL or part_label(self.PART)
        super().__init__(part=self.PART, label=label)
        state.watch(self)
        self.on_msg(self._on_message)
        self.refresh()

    def close(self):
        """
        Leave the screen and watch no more.

        Examples
        --------
        >>> from formulate.workbench.state import State
        >>> from formulate.workbench.wishes_panel import WishesPanel
        >>> panel = WishesPanel(State())
        >>> panel.close()
        >>> panel.state.change(panel.state.job) is None
        True
        """
        self.is_closed = True
        self._drop()
        self.layout.close()
        super().close()

    def refresh(self):
        """
        Show the state as it is.

        Examples
        --------
        >>> from formulate.workbench.state import State
        >>> from formulate.workbench.wishes_panel import WishesPanel
        >>> panel = WishesPanel(State())
        >>> panel.refresh()
        >>> "Tomato" in panel.html
        True
        """
        self._show()
        if self.is_open:
            self._follow()
        else:
            self._drop()
            self.seen = set()  # nothing of it is on the screen

    @property
    def is_open(self):
        """Return whether it is more than folded to a line: then nothing is worked out."""
        return self.PART in self.state.view.opened

    def _show(self):
        """Show the state, without what is drawn apart."""
        self.html = self._framed(self._render()) if self.is_open else self._folded()

    def _follow(self):
        """Do what comes after the state is shown."""

    def _drop(self):
        """Drop what was planned for later."""

    def _render(self):
        """Return the HTML of this part."""
        return _rendered(
            self.PART,
            state=self.state,
            panel=self,
            found=self.state.found,
            **self._facts(),
        )

    def _framed(self, body):
        """Return the part under its heading, with what its words mean if that is asked."""
        words = sources = ()
        if self.is_explained:
            seen = " ".join([body, *self.slots.values()])
            words, sources = words_in(seen), sources_in(seen, self._source_keys())
        return _rendered("frame", panel=self, body=body, words=words, sources=sources)

    def _folded(self):
        """Return the heading and where the part stands."""
        told, mark = standing(self.state, self.PART)
        return _rendered("folded", panel=self, told=mark + told)

    def _source_keys(self):
        """Return the keys of the sources that a part rests on and does not print."""
        return [notice.source_key for notice in self.state.notices(self.PART)]

    def _facts(self):
        """Return what the template shows beside the state."""
        return {}

    def _macro(self, name, *given):
        """Return the HTML of something that many parts show."""
        macros = _environment().get_template("macros.html").module
        return str(getattr(macros, name)(*given)).strip()

    def refused(self, *place):
        """
        Return what was typed at a place and refused, and why.

        Parameters
        ----------
        *place : object
            The place.

        Returns
        -------
        (str, str) or None
            Text and fault.

        Examples
        --------
        >>> from formulate.workbench.state import State
        >>> from formulate.workbench.wishes_panel import WishesPanel
        >>> panel = WishesPanel(State())
        >>> typed = {"kind": "change", "name": "entry strength_percent", "value": "half"}
        >>> panel.receive(typed)
        >>> panel.refused("strength_percent")[0]
        'half'
        """
        return self.state.refused.get(place)

    # --- messages ------------------------------------------------------------------

    def _on_message(self, _widget, content, buffers):
        try:
            self.receive(content, buffers)
        except Exception as error:  # a notebook would hide it in a log
            traceback.print_exc()
            self._tell_anyhow(f"this did not work ({error!r})")
        finally:
            self.done = max(self.done, int(content.get("count", 0)))

    def receive(self, content, buffers=()):
        """
        Deal with one message from the browser.

        Parameters
        ----------
        content : dict
            "kind" (change, press, search, seen, hello, upload), "name" of the field or
            button, and its "value".
        buffers : sequence of bytes
            What was uploaded.

        Examples
        --------
        >>> from formulate.workbench.state import State
        >>> from formulate.workbench.wishes_panel import WishesPanel
        >>> panel = WishesPanel(State())
        >>> message = {"kind": "change", "name": "entry volume", "value": "50 L"}
        >>> panel.receive(message)
        >>> panel.state.job.volume
        '50 L'
        """
        kind, name = content["kind"], str(content["name"])
        self.fault = ""
        try:
            if len(str(content["value"])) > LARGEST:
                raise InputError(f"longer than {LARGEST} signs; take what is needed")
            if kind == "seen":
                self._on_seen(name, bool(content["value"]))
            elif kind == "too large":
                raise InputError(f"{shortened(content['value'])}: larger than 1 MB")
            elif kind == "upload":
                text = text_of_bytes(bytes(buffers[0]), str(content["value"]))
                self._on_upload(name, text, str(content["value"]))
            else:
                word, *rest = name.split(" ", 1)
                handler = getattr(self, f"_{kind}_{word}", None)
                if kind not in KINDS or handler is None:
                    raise InputError(f"{shortened(name)}: no such {kind} here")
                handler(*rest, content["value"])
        except FormulateError as error:
            self._tell("; ".join(error.faults))

    def _tell(self, fault):
        """Show in the panel what went wrong."""
        self.fault = fault
        self.refresh()

    def _tell_anyhow(self, fault):
        """Show what went wrong even where the rest cannot be shown."""
        try:
            self._tell(fault)
        except Exception:  # what went wrong lies in showing it
            self.html = f'<p role="alert">{html.escape(fault)}; undo, or begin anew</p>'

    def _on_seen(self, name, is_seen):
        """Note that something drawn apart came into view or left it."""
        (self.seen.add if is_seen else self.seen.discard)(name)

    def _on_upload(self, name, text, file_name):
        """Take the text of a file."""
        raise InputError(f"{shortened(file_name)}: this part takes no files")

    def _press_working(self, key, _value=""):
        """Show the working of a number, or hide it again."""
        self.clicked = "" if self.clicked == key else key
        self.refresh()

    def working(self, key):
        """
        Return the working of a number if it was asked for.

        Parameters
        ----------
        key : str
            Which number.

        Returns
        -------
        Working or None
            The working.

        Examples
        --------
        >>> from formulate.workbench.state import State
        >>> from formulate.workbench.water_panel import WaterPanel
        >>> panel = WaterPanel(State())
        >>> panel.receive({"kind": "press", "name": "working Ca", "value": ""})
        >>> panel.working("Ca").title
        'Ca in the solution'
        """
        return self._worked(key) if key == self.clicked else None

    def _worked(self, key):
        """Return the working of a number of this part."""
        return

    def _press_fold(self, _value=""):
        """Fold this part to one line; nothing of it is worked out then."""
        self.state.see(self.state.view.without_part(self.PART))

    def _press_unfold(self, _value=""):
        """Open this part."""
        self.state.see(self.state.view.with_part(self.PART))

    def _press_explain(self, _value=""):
        """Show what the words of this part mean and where its numbers come from."""
        self.is_explained = not self.is_explained
        self.refresh()

    def _press_paper(self, _value=""):
        """Hand this part, as it is seen, to the printer of the browser."""
        title = self.state.job.title or "A batch without a title"
        facts = {"title": title, "label": self.label, "stamp": stamp()}
        head, foot = (_rendered("paper", is_head=h, **facts) for h in (True, False))
        style = (HERE / "paper.css").read_text(encoding="utf-8")
        self.send({"kind": "paper", "head": head, "foot": foot, "style": style})

    def _press_print(self, _value=""):
        """Hand the sheet to the printer of the browser."""
        self.send({"kind": "print", "text": self.state.found.sheet()})

    def _send_file(self, name, text, kind):
        """Hand a file to the browser, which keeps it where the user keeps downloads."""
        self.send({"kind": "file", "name": name, "text": text, "type": kind})

    def __repr__(self):
        return f"{type(self).__name__}: {self.state.job.title or 'a job'}"
