"""A dashboard served as it will be, and a browser to look at it with."""

import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

CHROMIUM = shutil.which("chromium") or "/usr/bin/chromium"
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
SIZES = {"phone": {"width": 390, "height": 844}, "laptop": {"width": 1280, "height": 800}}
START_SECONDS = 30.0
_SERVE = """
import sys
from dashboard.app import serve
from dashboard.passphrases import AccessFile
serve(sys.argv[1], port=int(sys.argv[2]), access=AccessFile(sys.argv[3]) if sys.argv[3:] else None)
"""


@dataclass(frozen=True)
class Served:
    """A running dashboard: its address, its log file and its server's output."""

    url: str
    log: Path
    output: Path


@contextmanager
def served(log: Path, access: Path | None = None) -> Iterator[Served]:
    """Serve a log on a free port by a process of its own, until left. access: passphrases, to ask for one."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    output = log.with_suffix(".server.txt")
    root = Path(__file__).parents[2]
    path = os.pathsep.join([str(root), os.environ.get("PYTHONPATH", "")])
    with output.open("w") as out:
        process = subprocess.Popen(
            [sys.executable, "-c", _SERVE, str(log), str(port), *([str(access)] if access else [])],
            stdout=out,
            stderr=subprocess.STDOUT,
            env=os.environ | {"PYTHONPATH": path},
        )
        try:
            site = Served(f"http://127.0.0.1:{port}", log, output)
            _wait_for(site, process)
            yield site
        finally:
            process.terminate()
            process.wait(10)


def _wait_for(site: Served, process: "subprocess.Popen[bytes]") -> None:
    until = time.monotonic() + START_SECONDS
    while time.monotonic() < until and process.poll() is None:
        try:
            with urlopen(f"{site.url}/login", timeout=1):
                return
        except (URLError, TimeoutError):
            time.sleep(0.05)
    raise RuntimeError(f"the dashboard did not start:\n{site.output.read_text()}")
