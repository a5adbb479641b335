"""The app factory and the server."""

import gc
import os
from pathlib import Path

from dash import Dash
from flask import Flask

from dashboard import api, progress_card, shell
from dashboard.auth import guard
from dashboard.headers import add_headers
from dashboard.login import add_login
from dashboard.network import is_loopback, own_names
from dashboard.pages import (
    adjust,
    corners,
    history,
    home,
    log,
    missing,
    new,
    sag,
    sheet,
    springs,
    travel,
    truck,
    walk,
)
from dashboard.passphrases import AccessFile
from dashboard.source import KEY, Source

THREADS = 8
CONNECTIONS = 500  # a browser holds up to six
LARGEST_BODY = 32 * 2**20


def create_app(
    log_url: str | os.PathLike[str],
    access: AccessFile | None = None,
    names: frozenset[str] = frozenset(),
) -> Dash:
    """The dashboard of one log. Several apps may live in one process.

    access: passphrases to ask for, None where only this machine can call. names: what it answers to besides
    addresses and localhost.
    """
    server = Flask("dashboard")
    guard(server, names, access)
    if access is not None:
        add_login(server, access)
    app = Dash(
        "dashboard",
        server=server,
        assets_folder=str(Path(__file__).with_name("assets")),
        use_pages=True,
        pages_folder="",
        title="Truck log",
        update_title="",
        index_string=shell.INDEX,
        on_error=shell.on_error,
    )
    app.server.config[KEY] = Source(os.fspath(log_url))
    for page in (home, log, corners, adjust, springs, travel, sag, history, walk, truck, new, missing):
        page.register(app)
    progress_card.register(app)
    api.register(app)
    sheet.register(app)
    app.layout = shell.layout
    # Dash adds its own callbacks at the first request; two threads must not meet there.
    with app.server.test_request_context("/login"):  # the gate lets it through
        app.server.preprocess_request()
    add_headers(app)
    return app


def serve(
    log_url: str | os.PathLike[str],
    host: str = "127.0.0.1",
    port: int = 8050,
    access: AccessFile | None = None,
) -> None:
    """Serve the dashboard until stopped. Without passphrases only where no other machine can call."""
    import waitress

    if access is None and not is_loopback(host):
        raise ValueError("other machines could call it without a passphrase")
    app = create_app(log_url, access, own_names() if access else frozenset())
    _spare_the_collector()
    waitress.serve(
        app.server,
        host=host,
        port=port,
        threads=THREADS,
        connection_limit=CONNECTIONS,
        asyncore_use_poll=True,  # the other way ends at 1,024 open files
        max_request_body_size=LARGEST_BODY,
        ident=None,
    )


def _spare_the_collector() -> None:
    """Keep the collector from looking for garbage among all libraries, again and again, while a long log is fitted.

    Fitting 2,000 runs makes a hundred thousand small objects; the looking took a third of the time (docs/accuracy.md).
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)
