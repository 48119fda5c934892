"""Messages that callers left and pictures that people sent: the carrier keeps them in the county's account.

Their addresses come with webhooks. Only what is a recording or a picture of our own account at the carrier's API is
ever asked for, so that the account's sign-in goes nowhere else and nobody can make us fetch another address.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import httpx

API = "https://api.twilio.com/2010-04-01/Accounts"
MOST_BYTES = 12_000_000
"""Of one recording or picture. Two minutes of speech are half a megabyte; the carrier takes pictures of 5 MB."""
SHOWN = frozenset({
    "audio/mpeg", "audio/wav", "audio/x-wav", "image/jpeg", "image/png", "image/gif", "image/webp",
})  # fmt: skip
"""What a browser may show; anything else is handed over as a file."""
_HEARD, _SEEN = r"Recordings/RE[0-9a-f]{32}", r"Messages/[SM]M[0-9a-f]{32}/Media/ME[0-9a-f]{32}"
_TEXT = r"Messages/[SM]M[0-9a-f]{32}"
_ADDRESS = re.compile(rf"{re.escape(API)}/(AC[0-9a-f]{{32}})/({_HEARD}|{_SEEN})")
_RESOURCE = re.compile(rf"{_HEARD}|{_SEEN}|{_TEXT}")


class NotToBeHad(Exception):
    """The carrier did not answer, or not with what was asked for: try again later."""


@dataclass(frozen=True, slots=True, repr=False)
class Kept:
    content: bytes
    type: str


def resource_of(address: str, account_sid: str) -> str | None:
    """What ``address`` names within our account ("Recordings/RE..."); None for any other address."""
    found = _ADDRESS.fullmatch(address)
    return found[2] if found is not None and found[1] == account_sid else None


def resource_of_text(sid: str) -> str | None:
    """The carrier's row of a text; None for an id that is none of a text's."""
    resource = f"Messages/{sid}"
    return resource if _RESOURCE.fullmatch(resource) else None


def fetch(http: httpx.Client, account_sid: str, token: str, resource: str) -> Kept | None:
    """None when the carrier has it no more. Raises ``NotToBeHad``. A picture's answer leads on to where it lies: the
    sign-in does not go along, since that is another host."""
    address = _address(account_sid, resource) + (".mp3" if resource.startswith("Recordings/") else "")
    try:
        with http.stream("GET", address, auth=(account_sid, token), follow_redirects=True) as answer:
            if answer.status_code in (404, 410):
                return None
            if answer.status_code != 200:
                raise NotToBeHad(f"HTTP {answer.status_code}")
            return Kept(_read(answer), answer.headers.get("Content-Type", "").partition(";")[0].strip().lower())
    except (httpx.HTTPError, httpx.InvalidURL) as error:
        failure = type(error).__name__
    raise NotToBeHad(failure)


def erase(http: httpx.Client, account_sid: str, token: str, resource: str) -> None:
    """Gone afterwards, also where it was before. Raises ``NotToBeHad``."""
    try:
        answer = http.delete(_address(account_sid, resource) + ".json", auth=(account_sid, token))
    except (httpx.HTTPError, httpx.InvalidURL) as error:
        failure = type(error).__name__
    else:
        if answer.status_code in (204, 404, 410):
            return
        failure = f"HTTP {answer.status_code}"
    raise NotToBeHad(failure)


def _address(account_sid: str, resource: str) -> str:
    if not _RESOURCE.fullmatch(resource):
        raise ValueError("no recording, picture or text of the carrier's")
    return f"{API}/{account_sid}/{resource}"


def _read(answer: httpx.Response) -> bytes:
    found = bytearray()
    for part in answer.iter_bytes():
        found += part
        if len(found) > MOST_BYTES:
            raise NotToBeHad("too large")
    return bytes(found)
