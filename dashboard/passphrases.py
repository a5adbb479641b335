"""The dashboard's passphrases: hashed, in a file that nobody else may read, with the secret that signs sessions."""

import json
import os
import secrets
import stat
import unicodedata
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from threading import Lock

from werkzeug.security import check_password_hash, generate_password_hash

from tuning.faults import Fault, InputError

OWNER, VIEWER = "owner", "viewer"
SHORTEST, LONGEST = 12, 200
_METHOD = "scrypt:32768:8:1"  # 32 MB and some 0.1 s a try; werkzeug's default, named so that an update can't change it
_FILE = "access.json"


@dataclass(frozen=True)
class Access:
    """Who gets in. owner, viewer: scrypt hashes, empty for none. secret: signs sessions and stays.

    edition: new with each change of a passphrase; a session of another edition is over.
    """

    owner: str
    viewer: str
    secret: str
    edition: str

    def role_of(self, passphrase: str) -> str | None:
        """Whose passphrase this is, None for nobody's. Every hash is tried, however the first comes out."""
        text = _normal(passphrase)
        hashes = {OWNER: self.owner, VIEWER: self.viewer}
        found = [role for role, hashed in hashes.items() if hashed and check_password_hash(hashed, text)]
        return found[0] if found else None


class AccessFile:
    """The file they are kept in. It is read again whenever it has changed."""

    def __init__(self, path: str | os.PathLike[str] | None = None) -> None:
        """At a path; by default in the user's data folder, one for all logs of this machine."""
        self.path = _default() if path is None else Path(path)
        self._lock = Lock()
        self._seen: tuple[int, int, int] | None = None
        self._kept: Access | None = None

    def read(self) -> Access | None:
        """What is in it now, None while no passphrase is set. Raises InputError where it can't be trusted."""
        with self._lock:
            try:
                found = self.path.stat()
            except FileNotFoundError:
                return None
            seen = (found.st_mtime_ns, found.st_ino, found.st_size)
            if seen != self._seen:
                self._refuse_readable(found)
                self._kept, self._seen = self._parse(), seen
            return self._kept

    def set(self, role: str, passphrase: str) -> None:
        """Set a passphrase; whoever is logged in has to log in again. Raises InputError, then nothing has changed."""
        text = _normal(passphrase)
        if not SHORTEST <= len(text) <= LONGEST or not text.isprintable():
            raise self._fault(
                f"that passphrase has {len(text)} characters",
                f"Give {SHORTEST} to {LONGEST} printable ones; four words that do not belong together are good",
            )
        now = self.read()
        if now is None and role == VIEWER:
            raise self._fault("no owner's passphrase is set yet", "Set it first: tuning passphrase")
        if now is not None and now.role_of(text) not in (None, role):
            raise self._fault("owner and viewer would have the same passphrase", "Give each one of their own")
        now = now or Access("", "", secrets.token_hex(32), "")
        hashed = generate_password_hash(text, method=_METHOD)
        parts = {"owner": hashed} if role == OWNER else {"viewer": hashed}
        self._write(replace(now, edition=secrets.token_hex(16), **parts))

    def _parse(self) -> Access:
        try:
            access = Access(**json.loads(self.path.read_text("utf-8")))
        except (ValueError, TypeError):
            access = None
        parts = asdict(access).values() if access else ()
        if access is None or not all(isinstance(part, str) for part in parts) or not access.secret:
            raise self._fault("is damaged", "Delete it, then run: tuning passphrase")
        return access

    def _refuse_readable(self, found: os.stat_result) -> None:
        if os.name == "posix" and stat.S_IMODE(found.st_mode) & 0o077:
            raise self._fault(
                "others on this machine may read it",
                f"Run: chmod 600 {self.path}; then give new passphrases, for these may be known",
            )

    def _write(self, access: Access) -> None:
        """Whole or not at all, and never readable by others, not even for a moment."""
        part = self.path.with_name(f"{self.path.name}.{secrets.token_hex(4)}.part")
        try:
            with os.fdopen(
                os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8"
            ) as file:
                json.dump(asdict(access), file, indent=1)
                file.flush()
                os.fsync(file.fileno())
            part.replace(self.path)
        finally:
            part.unlink(missing_ok=True)

    def _fault(self, problem: str, mend: str) -> InputError:
        return InputError(str(self.path), [Fault("", problem, mend)])


def _normal(passphrase: str) -> str:
    """The same text whichever keyboard it was typed on: phones add spaces and compose accents in their own way."""
    return unicodedata.normalize("NFKC", passphrase).strip()


def _default() -> Path:
    from platformdirs import user_data_path

    return user_data_path("tuning", appauthor=False, ensure_exists=True) / _FILE
