"""Files that a browser sends. Pure."""

import base64
import binascii

from dash import dcc, html

from dashboard.shell import Component
from tuning.faults import Fault, InputError

MOST_BYTES = 5_000_000  # readings of twenty years have about half a million


def upload(id_: str, label: str, accept: str) -> Component:
    """A button that takes one file."""
    button = html.Span(label, className="like-button")
    # The label names and opens the unseen field inside, which takes the keys; a finger meets what looks like a button.
    return html.Label(dcc.Upload(button, id=id_, accept=accept, className="upload", disable_click=True))


def text_of(contents: str, name: str) -> str:
    """The text of an uploaded file. Raises InputError where it is too large or no UTF-8 text."""
    name = name[:80] or "file"
    if len(contents) > MOST_BYTES * 4 // 3 + 200:
        fault = Fault("", f"larger than {MOST_BYTES // 1_000_000} MB", "Split it, or use the command line")
        raise InputError(name, [fault])
    try:
        return base64.b64decode(contents.partition(",")[2], validate=True).decode("utf-8-sig")
    except (binascii.Error, UnicodeDecodeError):
        raise InputError(name, [Fault("", "no plain text", "Save it as UTF-8 text")]) from None
