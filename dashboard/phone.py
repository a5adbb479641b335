"""The page on the laptop as a code for the phone: the same truck, without typing an address."""

from collections.abc import Callable
from urllib.parse import urlsplit

import segno
from dash import html
from flask import request

from dashboard.auth import logged_in
from dashboard.network import is_loopback, own_address
from dashboard.shell import Component, sentence

_NOT_YET = (
    "Not yet: this dashboard answers this machine only. Stop it (Ctrl+C) and start it with “tuning serve --lan”; then "
    "the phone has to be on the same network."
)


def phone_card(page: str) -> Component:
    """A fold with the address of a page as a phone reaches it, as text and as a QR code (ISO/IEC 18004)."""
    base, open_ = request.host_url.rstrip("/"), logged_in()
    return card(
        phone_address(base, page, own_address), open_ or not is_loopback(urlsplit(base).hostname or "")
    )


def phone_address(base: str, page: str, own: Callable[[], str | None]) -> str | None:
    """A page's address for another machine. base: how this browser calls the server; where that is only this
    machine's name for itself, its own address on the network stands instead. None where it is on no network.
    """
    parts = urlsplit(base)
    if not is_loopback(parts.hostname or ""):
        return base + page
    found = own()
    if found is None:
        return None
    port = f":{parts.port}" if parts.port else ""
    return f"{parts.scheme}://{found}{port}{page}"


def card(address: str | None, reachable: bool) -> Component:
    """The fold. Pure."""
    said = [] if reachable else [sentence(_NOT_YET, "warn")]
    if address is None:
        shown = [html.P("This machine is on no network that a phone could be on.")]
    else:
        # On white whatever the page's colours: many cameras read no light code on dark.
        code = segno.make(address, error="m", micro=False).svg_data_uri(scale=6, border=4, light="white")
        shown = [
            html.P(["Point the phone's camera at this, or type ", html.Code(address)]),
            html.Img(src=code, alt="QR code of the address above", className="qr"),
        ]
    return html.Details([html.Summary("Open on a phone"), *said, *shown], className="phone")
