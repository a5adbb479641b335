"""The app factory and the server."""

import os
from pathlib import Path

from dash import Dash

from dashboard import shell
from dashboard.pages import adjust, corners, home, log, missing, walk
from dashboard.source import KEY, Source

THREADS = 8
LOOPBACK = ("127.0.0.1", "localhost", "::1")


def create_app(log_url: str | os.PathLike[str]) -> Dash:
    """The dashboard of one log. Several apps may live in one process."""
    app = Dash(
        "dashboard",
        assets_folder=str(Path(__file__).with_name("assets")),
        use_pages=True,
        pages_folder="",
        title="Truck log",
        update_title="",
        index_string=shell.INDEX,
        on_error=shell.on_error,
    )
    app.server.config[KEY] = Source(os.fspath(log_url))
    for page in (home, log, corners, adjust, walk, missing):
        page.register(app)
    app.layout = shell.layout
    # Dash adds its own callbacks at the first request; two threads must not meet there.
    with app.server.test_request_context("/"):
        app.server.preprocess_request()
    return app


def serve(log_url: str | os.PathLike[str], host: str = "127.0.0.1", port: int = 8050) -> None:
    """Serve the dashboard until stopped. By default only this machine can reach it: there is no login."""
    import waitress

    app = create_app(log_url)
    trust(app, host)
    waitress.serve(app.server, host=host, port=port, threads=THREADS, ident=None)


def trust(app: Dash, host: str) -> None:
    """Answer to this machine's own names alone where only it can call, so that no web page can call through it."""
    if host in LOOPBACK:
        app.server.config["TRUSTED_HOSTS"] = list(LOOPBACK)
