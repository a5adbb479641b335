"""One gate before everything the server answers: the right host, no stranger's page, logged in.

Whatever is not named in `OPEN` is behind it, whoever adds a route.
"""

from datetime import timedelta

from flask import Flask, g, has_app_context, redirect, request, session, url_for
from flask_wtf.csrf import validate_csrf
from werkzeug.wrappers import Response
from wtforms import ValidationError

from dashboard.network import answers_to
from dashboard.passphrases import OWNER, AccessFile
from tuning.faults import Fault, InputError

OPEN = frozenset(
    {"login", "login_style"}
)  # the endpoints a stranger may ask for: the login page and its style
REMEMBERED = timedelta(days=30)  # since a page was last opened
CSRF_COOKIE, CSRF_HEADER, CSRF_FIELD = "_csrf_token", "X-CSRFToken", "csrf_token"  # Dash's own words for them
LOOKING = "You are looking only: nothing was saved. To write, log out and log in with the owner's passphrase."
_READING = frozenset({"GET", "HEAD", "OPTIONS", "TRACE"})
_FORM_BYTES = 10_000  # a stranger's form: a passphrase and a token

Refusal = Response | tuple[str, int] | None


def may_write() -> bool:
    """Whether who asks may write: an owner, or anybody where there is no passphrase."""
    return not has_app_context() or g.get("role", OWNER) == OWNER


def logged_in() -> bool:
    """Whether who asks came in by a passphrase, and so may log out."""
    return has_app_context() and "role" in g


def guard(server: Flask, names: frozenset[str], access: AccessFile | None) -> None:
    """Put the gate before a server on which nothing is registered yet.

    names: what it answers to besides addresses and localhost. access: passphrases; None where only this machine
    can call. Raises InputError where none is set or the file can't be trusted.
    """

    @server.before_request
    def gate() -> Refusal:
        if not answers_to(request.host, names):
            return "There is nothing at this name. Call this machine by its address.\n", 400
        if request.method not in _READING and not _from_own_page():
            return "Refused: another site's page sent this. Nothing was saved.\n", 403
        return None if access is None else _admit(access)

    if access is None:
        return
    now = access.read()
    if now is None:
        raise InputError(str(access.path), [Fault("", "no passphrase is set", "Run: tuning passphrase")])
    server.config.update(
        SECRET_KEY=now.secret,
        PERMANENT_SESSION_LIFETIME=REMEMBERED,
        # Only a page renews its session: an answer that was under way would bring it back after the way out.
        SESSION_REFRESH_EACH_REQUEST=False,
        SESSION_COOKIE_HTTPONLY=True,
        # Not Strict: a link in a message or behind a QR code has to open its page without another login. What Strict
        # adds is that such a link is not followed at all, and following one changes nothing here.
        SESSION_COOKIE_SAMESITE="Lax",
        WTF_CSRF_TIME_LIMIT=None,  # a token is good as long as its session
    )


def _from_own_page() -> bool:
    """Whether a request that may change something was sent by a page of ours, or by no page at all.

    Browsers name the sender in one of these headers at least, and no page can forge them. A program that sends
    neither has no session of somebody else's to misuse.
    """
    site, origin = request.headers.get("Sec-Fetch-Site"), request.headers.get("Origin")
    if site not in (None, "same-origin", "none"):
        return False
    return origin is None or origin.partition("://")[2].lower() == request.host.lower()


def _admit(access: AccessFile) -> Refusal:
    """Nothing for who is logged in, or asks for the login page; otherwise a refusal."""
    now = access.read()
    if now is not None and session.get("edition") == now.edition:
        g.role = session["role"]
    elif request.endpoint not in OPEN:
        return _turn_away()
    else:
        request.max_content_length = _FORM_BYTES
    if request.method in _READING:
        return None
    try:
        validate_csrf(request.headers.get(CSRF_HEADER) or request.form.get(CSRF_FIELD))
    except ValidationError:
        return "Refused: this page is out of date. Nothing was saved; reload it.\n", 403
    return None


def _turn_away() -> Refusal:
    """A page leads to the login page, which leads back; anything else is refused."""
    if request.method in ("GET", "HEAD") and "text/html" in request.headers.get("Accept", ""):
        return redirect(url_for("login", next=request.full_path.rstrip("?")), 303)
    return "Log in first.\n", 401
