"""An address that is no page."""

import dash
from dash import dcc, html

from dashboard.shell import Component, sentence


def layout(**_: object) -> Component:
    """Says so."""
    return html.Div(
        [
            html.H1("No such page"),
            sentence("There is no page at this address."),
            html.P(dcc.Link("All trucks", href="/", className="go")),
        ]
    )


def register(app: dash.Dash) -> None:  # noqa: ARG001
    """Make it the page for what is not found."""
    dash.register_page("not_found_404", path="/not-found", title="No such page", layout=layout)
