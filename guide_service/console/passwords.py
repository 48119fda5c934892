"""Passwords of agents: argon2id with the library's defaults (RFC 9106, second recommended option)."""

from __future__ import annotations

import threading

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from guide_service.console.catalogue import gettext

SHORTEST = 12
"""Characters. NIST SP 800-63B asks for at least 8, the draft of revision 4 for 15 where it is the only factor."""

_hasher = PasswordHasher()
_few_at_once = threading.BoundedSemaphore(2)
"""One check takes 64 MiB: a burst of sign-ins waits instead of taking the memory of the machine."""
_in_line = threading.BoundedSemaphore(8)
"""And it may not hold all threads of the server: the others are sent away at once."""


class TooManyAtOnce(Exception):
    """So many passwords are being checked that this one has to come again."""


def hash_password(password: str) -> str:
    with _few_at_once:
        return _hasher.hash(password)


_NOBODY = hash_password("the password of nobody at all")


def matches(password: str, password_hash: str | None) -> bool:
    """Whether it is the password; ``None`` (no such agent) costs the same time and is never right.

    Raises ``TooManyAtOnce``.
    """
    if not _in_line.acquire(blocking=False):
        raise TooManyAtOnce
    try:
        with _few_at_once:
            return _hasher.verify(password_hash or _NOBODY, password) and password_hash is not None
    except (VerificationError, InvalidHashError):
        return False
    finally:
        _in_line.release()


def reason_against(password: str, login: str) -> str | None:
    """Why a new password is refused; None when it will do."""
    if len(password) < SHORTEST:
        return gettext("A password has at least %(number)s characters.") % {"number": SHORTEST}
    if len(set(password)) < 5 or login.lower() in password.lower():
        return gettext("This password is too easy to guess.")
    return None
