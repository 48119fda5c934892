"""The carrier's voice grammar, written a second time from its pages: verbs, attributes, values, what may stand in what.

Sources: the carrier's pages on TwiML for voice, <Gather>, <Say>, <Play>, <Dial>, <Number>, <Record>, <Redirect>.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

URL = re.compile(r"https?://[^\s#]+")
NUMBER = re.compile(r"\+[1-9]\d{6,14}")
WHOLE = re.compile(r"\d+")
POSITIVE = re.compile(r"[1-9]\d*")
POST = re.compile("POST")
BOOL = re.compile("true|false")
MODELS = re.compile(
    "default|numbers_and_commands|phone_call|experimental_conversations|experimental_utterances|"
    "googlev2_(long|short|telephony|telephony_short)|deepgram_nova-[23]"
)
TAG = re.compile(r"[a-z]{2,3}(-[A-Za-z]+)*(-[A-Z]{2})?")
HINTS = re.compile(r"[^,]{1,100}(,[^,]{1,100}){0,499}")
ATTRIBUTES: dict[str, dict[str, re.Pattern[str]]] = {
    "Response": {},
    "Say": {"voice": re.compile(r"(Polly|Google)\.[\w-]+"), "language": TAG},
    "prosody": {"rate": re.compile(r"\d{2,3}%")},
    "Play": {},
    "Gather": {
        "input": re.compile("dtmf|dtmf speech"), "action": URL, "method": POST, "timeout": POSITIVE,
        "numDigits": POSITIVE, "finishOnKey": re.compile("#?"), "actionOnEmptyResult": BOOL, "language": TAG,
        "speechTimeout": POSITIVE, "speechModel": MODELS, "hints": HINTS,
    },
    "Redirect": {"method": POST},
    "Hangup": {},
    "Dial": {"action": URL, "method": POST, "timeout": POSITIVE},
    "Number": {"url": URL, "method": POST},
    "Record": {
        "action": URL, "method": POST, "maxLength": POSITIVE, "timeout": POSITIVE, "finishOnKey": re.compile("#"),
        "playBeep": BOOL, "trim": re.compile("do-not-trim|trim-silence"),
    },
}  # fmt: skip
INSIDE = {
    "Response": {"Say", "Play", "Gather", "Redirect", "Hangup", "Dial", "Record"},
    "Gather": {"Say", "Play"},
    "Say": {"prosody"},
    "Dial": {"Number"},
}
LONGEST_SAID = 4_096
"""Characters of one <Say> (from memory)."""
ENDS = {"Redirect", "Hangup", "Dial", "Record"}


def problems(document: bytes) -> list[str]:
    """What the carrier would refuse or do otherwise than meant; nothing for a document in order."""
    found: list[str] = []
    if not document.startswith(b'<?xml version="1.0" encoding="UTF-8"?>'):
        found.append("does not start with the declaration")
    root = ET.fromstring(document)
    if root.tag != "Response":
        found.append(f"root is {root.tag}")
    _look(root, found)
    if len(root) and root[-1].tag not in ENDS:
        found.append(f"ends with {root[-1].tag}: the call would be cut off")
    for at, verb in enumerate(root[:-1]):
        if verb.tag in ENDS:
            found.append(f"{verb.tag} at {at}: what follows is never reached")
    return found


def _look(element: ET.Element, found: list[str]) -> None:
    known = ATTRIBUTES.get(element.tag)
    if known is None:
        found.append(f"no verb {element.tag}")
        return
    for name, value in element.attrib.items():
        if name not in known or not known[name].fullmatch(value):
            found.append(f"{element.tag} {name}={value!r}")
    if element.tag == "Gather":
        _gather(element, found)
    words = "".join(element.itertext()).strip()
    if element.tag == "Say" and not 0 < len(words) <= LONGEST_SAID:
        found.append(f"Say of {len(words)} characters")
    if element.tag == "Number" and not NUMBER.fullmatch(words):
        found.append(f"Number {words!r}")
    if element.tag in ("Play", "Redirect") and not URL.fullmatch(words):
        found.append(f"{element.tag} {words!r}")
    for child in element:
        if child.tag not in INSIDE.get(element.tag, set()):
            found.append(f"{child.tag} inside {element.tag}")
        _look(child, found)


def _gather(element: ET.Element, found: list[str]) -> None:
    speaks = "speech" in element.get("input", "")
    if not element.get("action"):
        found.append("Gather without an action asks itself for ever")
    if element.get("actionOnEmptyResult") != "true" and not element.get("action", "").endswith("/accepted"):
        found.append("Gather that hears nothing falls through")
    if speaks != ("language" in element.attrib):
        found.append("a language belongs to speech, and speech to a language")
    if "speechModel" in element.attrib and "speechTimeout" not in element.attrib:
        found.append("speechModel needs a numeric speechTimeout")
    if not list(element):
        found.append("Gather that says nothing")
