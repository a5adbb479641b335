"""Which machines may call: addresses to listen on, names to answer to, addresses to tell a phone."""

import ipaddress
import re
import socket

EVERYWHERE = "*"  # waitress' word for all addresses of this machine
LOOPBACK_NAMES = frozenset({"localhost"})
# Endings a name gets in a house of its own. None can be bought, so no stranger's page can stand under them: RFC 6762
# (local), RFC 8375 (home.arpa); lan and internal are not in the public DNS (from memory).
_HOUSE = ("", ".local", ".lan", ".home.arpa", ".internal")
# Addresses of documentation (RFC 5737, RFC 3849): nothing is sent there, it is only asked which way it would leave.
_FAR = ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1"))
_HOST = re.compile(r"(?:\[([0-9a-f:.]+)\]|([a-z0-9._-]+))(?::[0-9]{1,5})?", re.ASCII)


def is_loopback(host: str) -> bool:
    """Whether only this machine can call an address or name that is listened on."""
    if host.lower() in LOOPBACK_NAMES:
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def own_names() -> frozenset[str]:
    """What the network may call this machine: its name, alone and with the endings of a house, and its full name."""
    full = socket.gethostname().lower()
    name = full.partition(".")[0]
    return frozenset({f"{name}{ending}" for ending in _HOUSE} | {full, socket.getfqdn().lower()})


def own_address() -> str | None:
    """This machine's address on its network, as a phone there would type it; None where it is on none."""
    for family, far in _FAR:
        with socket.socket(family, socket.SOCK_DGRAM) as probe:
            try:
                probe.connect((far, 9))
            except OSError:
                continue
            found = str(probe.getsockname()[0])
        if not is_loopback(found):
            return f"[{found}]" if family == socket.AF_INET6 else found
    return None


def addresses(host: str, port: int) -> list[str]:
    """What to type into a browser for a server listening at a host, the surest first."""
    if host != EVERYWHERE:
        return [f"http://{f'[{host}]' if ':' in host else host}:{port}"]
    named = f"{socket.gethostname().partition('.')[0].lower()}.local"
    return [f"http://{place}:{port}" for place in (own_address() or "127.0.0.1", named)]


def answers_to(host: str, names: frozenset[str]) -> bool:
    """Whether a request's Host header is one to answer: a bare address, localhost or one of the names.

    A stranger's web page can reach this machine by a name that it first points at its own server, then at this one
    (DNS rebinding). It can't do so with a bare address: there the browser has already called the machine it names.
    """
    found = _HOST.fullmatch(host.lower())
    if found is None:
        return False
    six, other = found.groups()
    if other in LOOPBACK_NAMES or other in names:
        return True
    try:
        ipaddress.ip_address(six or other)
    except ValueError:
        return False
    return True
