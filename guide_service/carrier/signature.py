"""Is this request really the carrier's? Signatures on the raw form, and the public address that they cover.

The rule (the carrier's webhook security page): the full public URL from scheme to query string, then every form field
as name + value in the order of the names, HMAC-SHA1 with the account's auth token, base64. Repeated values are sorted
and counted once, as the carrier's own package does. Written here rather than called there because every text pays for
it: one joined string, one HMAC, and the second form of the URL only when the first does not fit.
"""

from __future__ import annotations

import binascii
import hmac
from collections.abc import Iterable
from functools import lru_cache
from urllib.parse import urlsplit

Pairs = Iterable[tuple[str, str]]

_DEFAULT_PORT = {"https": "443", "http": "80"}


def sign(url: str, pairs: Pairs, token: str) -> str:
    """The signature [base64] that the carrier puts on this request. ``pairs``: raw form, blanks and duplicates kept."""
    return _signature(url, _joined(pairs), token).decode("ascii")


def is_genuine(url: str, pairs: Pairs, header: str | None, token: str) -> bool:
    """Whether ``header`` signs this request, with or without the port in the URL (the carrier does both)."""
    if not header or not token:  # an empty token would let anybody sign
        return False
    given, form = header.encode("utf-8", "surrogatepass"), _joined(pairs)
    if hmac.compare_digest(_signature(url, form, token), given):
        return True
    return hmac.compare_digest(_signature(_port_toggled(url), form, token), given)


def public_url_of(settings_public_url: str, raw_path: str | bytes, query_string: str | bytes = b"") -> str:
    """The URL that the carrier called, from what we are known by outside and the request's undecoded path and query.

    Never from Host or X-Forwarded-*: whoever sends a request can write those.
    """
    path, _, rest = _text(raw_path).partition("?")  # some servers leave the query on the raw path
    query = _text(query_string) or rest
    return f"{_outside_base(settings_public_url)}{path}{'?' if query else ''}{query}"


def _joined(pairs: Pairs) -> str:
    return "".join([name + value for name, value in sorted(set(pairs))])


def _signature(url: str, form: str, token: str) -> bytes:
    # surrogatepass: a form that no carrier sends must end as "not genuine", not as an exception
    signed = (url + form).encode("utf-8", "surrogatepass")
    return binascii.b2a_base64(hmac.digest(token.encode("utf-8"), signed, "sha1"), newline=False)


def _port_toggled(url: str) -> str:
    """The same URL without its port, or with the scheme's usual port when it has none."""
    scheme, mark, rest = url.partition("://")
    cut = min((at for at in (rest.find("/"), rest.find("?")) if at >= 0), default=len(rest))
    netloc, tail = rest[:cut], rest[cut:]
    host, colon, port = netloc.rpartition(":")
    if colon and port.isdigit():  # an IPv6 literal ends in "]", not in digits
        return f"{scheme}{mark}{host}{tail}"
    usual = _DEFAULT_PORT.get(scheme.lower(), "80")
    return f"{scheme}{mark}{netloc}:{usual}{tail}"


@lru_cache(maxsize=8)
def _outside_base(settings_public_url: str) -> str:
    """Scheme, host in lower case, port and path prefix; credentials, query and fragment are never signed."""
    parts = urlsplit(settings_public_url.strip())
    host = parts.netloc.rpartition("@")[2].lower()
    return f"{parts.scheme}://{host}{parts.path.rstrip('/')}"


def _text(raw: str | bytes) -> str:
    return raw if isinstance(raw, str) else raw.decode("latin-1")
