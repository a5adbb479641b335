"""The login page and the way out. Tries are counted: by address, and all together."""

import math
import time
from ipaddress import ip_address, ip_network
from pathlib import Path

from flask import Flask, g, make_response, redirect, render_template, request, session, url_for
from flask_wtf.csrf import generate_csrf
from limits import RateLimitItemPerMinute
from limits.storage import MemoryStorage
from limits.strategies import MovingWindowRateLimiter
from werkzeug.wrappers import Response

from dashboard.auth import CSRF_COOKIE, REMEMBERED
from dashboard.passphrases import AccessFile

TRIES, TRIES_OF_ALL = RateLimitItemPerMinute(5), RateLimitItemPerMinute(30)
_STYLE = Path(__file__).with_name("assets") / "shop.css"


def add_login(server: Flask, access: AccessFile) -> None:
    """The login page, its style and the way out; and with each page the token that Dash sends back."""
    limiter, style = MovingWindowRateLimiter(MemoryStorage()), _STYLE.read_bytes()

    @server.route("/login", methods=["GET", "POST"])
    def login() -> Response:
        if request.method != "POST":
            return _back() if "role" in g else _form()
        wait = _wait(limiter, request.remote_addr or "")
        if wait:
            return _form(f"Too many tries. Wait {wait} s, then try again.", 429, wait)
        now = access.read()
        role = now.role_of(request.form.get("passphrase", "")) if now else None
        if now is None or role is None:
            return _form("This is not the passphrase. Look at capitals and spaces, then try again.", 403)
        limiter.clear(TRIES, _place(request.remote_addr or ""))
        session.clear()
        session.permanent = True
        session["role"], session["edition"] = role, now.edition
        return _back()

    @server.get("/login/style.css")
    def login_style() -> Response:
        return Response(style, mimetype="text/css")

    @server.post("/logout")
    def logout() -> Response:
        session.clear()
        left = redirect(url_for("login"), 303)
        left.delete_cookie(CSRF_COOKIE)
        return left

    @server.after_request
    def hand_token(answer: Response) -> Response:
        """Dash reads the token from this cookie, so it can't be hidden from the page; it is worth nothing without
        the session's own.
        """
        if "role" in g and request.method == "GET" and answer.mimetype == "text/html":
            session.modified = True  # and so renewed
            answer.set_cookie(CSRF_COOKIE, generate_csrf(), max_age=REMEMBERED, samesite="Lax")
            answer.cache_control.no_store = True  # the back button shows nothing after the way out
        return answer


def _form(fault: str = "", status: int = 200, wait: int = 0) -> Response:
    text = render_template(
        "login.html", fault=fault, wanted=request.args.get("next"), csrf_token=generate_csrf()
    )
    answer = make_response(text, status)
    answer.cache_control.no_store = True
    if wait:
        answer.retry_after = wait
    return answer


def _wait(limiter: MovingWindowRateLimiter, address: str) -> int:
    """Count a try; seconds to wait before it may be made, 0 where it may."""
    for limit, who in ((TRIES, _place(address)), (TRIES_OF_ALL, "all")):
        if not limiter.hit(limit, who):
            again = limiter.get_window_stats(limit, who).reset_time
            return max(1, math.ceil(again - time.time()))
    return 0


def _place(address: str) -> str:
    """Whom a try is counted to: an address, or the network of a long one, for a machine may take any in it."""
    try:
        found = ip_address(address)
    except ValueError:
        return address
    return address if found.version == 4 else str(ip_network(f"{address.partition('%')[0]}/64", strict=False))


def _back() -> Response:
    return redirect(own_path(request.args.get("next")), 303)


def own_path(wanted: str | None) -> str:
    """The wanted address where it is one of ours and no browser could take it for another; otherwise the start.

    Two slashes begin another site's address; browsers read a backslash as a slash and skip tabs and line ends.
    """
    text = wanted or "/"
    ours = text.startswith("/") and not text.startswith("//") and "\\" not in text and text.isprintable()
    return text if ours else "/"
