"""What every answer tells the browser: whose code may run here, who may show it in a frame, what to tell others."""

from dash import Dash
from werkzeug.wrappers import Response

_POLICY = {
    "default-src": "'self'",
    "style-src": "'self' 'unsafe-inline'",  # the components and the graphs write their styles into the page
    "img-src": "'self' data: blob:",
    "font-src": "'self' data:",
    "object-src": "'none'",
    "base-uri": "'none'",
    "form-action": "'self'",
    "frame-ancestors": "'none'",
}


def add_headers(app: Dash) -> None:
    """Call it when all callbacks are registered: scripts Dash writes into the page are allowed by their hash."""
    scripts = " ".join(["'self'", *sorted(set(app.csp_hashes()))])
    policy = "; ".join(f"{what} {allowed}" for what, allowed in (_POLICY | {"script-src": scripts}).items())

    @app.server.after_request
    def tell(answer: Response) -> Response:
        answer.headers["Content-Security-Policy"] = policy
        answer.headers["X-Content-Type-Options"] = "nosniff"
        # Not `no-referrer`: that would take the sender's name off our own forms too.
        answer.headers["Referrer-Policy"] = "same-origin"
        answer.headers["Cross-Origin-Resource-Policy"] = "same-origin"
        return answer
