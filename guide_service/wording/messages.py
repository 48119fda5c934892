"""The texts as the authors of the flows wrote them: every message of ``conversation_flows/`` by its permanent id.

Any mapping that has both ``id`` and ``text`` defines a message, wherever it stands; so does every entry under a
top-level ``messages:``, with its key as the id. Elsewhere a bare string refers to an id. Beside the text may stand:

    note      what a translator must know (who speaks, what stays short)
    plural    the text for more than one; ``text`` is then the singular, chosen by the count
    spoken    the variant for a voice, a catalogue entry of its own
    budget    segments it may take, default 2
    critical  "true" for safety texts, which must be still plainer
    older     "unsafe" when a change is one of safety: translations of the earlier text are not said any more
    kind      "line" for a fragment that shares a text message with others; "paper" for what is printed and never sent;
              "call" for what is only ever said by a voice on a call
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from guide_service.dialogue.strict_yaml import FlowFileError, Mapping, load_strict, mappings

DEFAULT_BUDGET = 2
LARGEST_BUDGET = 3
PAPER, CALL = "paper", "call"
KINDS = ("message", "line", PAPER, CALL)
_KEYS = frozenset({"id", "text", "note", "plural", "spoken", "budget", "critical", "kind", "older"})
_ID = re.compile(r"[a-z][a-z0-9_]*(?:[.\-][a-z0-9_]+)*")


@dataclass(frozen=True, slots=True)
class Message:
    id: str
    """Permanent: the gettext context, whatever happens to the state that says it."""
    text: str
    plural: str | None
    spoken: str | None
    note: str | None
    budget: int
    critical: bool
    kind: str
    file: str
    line: int
    older_unsafe: bool = False

    @property
    def printed(self) -> bool:
        """Stands on paper."""
        return self.kind == PAPER

    @property
    def never_texted(self) -> bool:
        """Printed, or only said on a call: segments and the alphabet of text messages are nothing to it."""
        return self.kind in (PAPER, CALL)

    @property
    def place(self) -> str:
        return f"{self.file}:{self.line}"


def load_messages(flows_dir: Path) -> MappingProxyType[str, Message]:
    """Every message of the flow files of a folder by id, in the order of file names and lines.

    Raises ``FlowFileError`` for an id that is defined twice (naming both places) and for unknown keys or values.
    """
    found: dict[str, Message] = {}
    for path in sorted(flows_dir.glob("*.yaml")):
        for message in messages_in(load_strict(path)):
            earlier = found.setdefault(message.id, message)
            if earlier is not message:
                problem = f"the message id {message.id!r} is already defined at {earlier.place}"
                raise FlowFileError(message.file, message.line, problem)
    return MappingProxyType(found)


def messages_in(top: Mapping) -> Iterator[Message]:
    """The messages of one flow file that was read with ``load_strict``."""
    shared = top.get("messages", Mapping(top.file, top.line))
    if not isinstance(shared, Mapping):
        raise top.error("'messages' is a mapping of ids to texts", "messages")
    for key, value in shared.items():
        yield _shared_message(shared, key, value)
    entries = {id(value) for value in shared.values()}
    for mapping in mappings(top):
        if mapping is not shared and id(mapping) not in entries and "id" in mapping and "text" in mapping:
            yield _message(mapping, _word(mapping, "id"), mapping.line)


def _shared_message(shared: Mapping, key: str, value: object) -> Message:
    line = shared.lines[key]
    if isinstance(value, str):
        entry = Mapping(shared.file, line)
        entry["text"] = value
        value = entry
    if not isinstance(value, Mapping) or "text" not in value:
        raise shared.error(f"the message {key!r} has no 'text'", key)
    if unknown := sorted(value.keys() - _KEYS):
        raise value.error(f"the message {key!r} has a key that is not known: {', '.join(unknown)}", unknown[0])
    if value.get("id", key) != key:
        raise value.error(f"the message {key!r} names another id, {value['id']!r}", "id")
    return _message(value, key, line)


def _message(mapping: Mapping, message_id: str, line: int) -> Message:
    if not _ID.fullmatch(message_id):
        raise mapping.error(f"{message_id!r} is not an id (lower case, digits, _ . -)", "id")
    return Message(
        id=message_id,
        text=_text(mapping, "text") or "",
        plural=_text(mapping, "plural"),
        spoken=_text(mapping, "spoken"),
        note=_text(mapping, "note"),
        budget=_budget(mapping),
        critical=_one_of(mapping, "critical", ("false", "true")) == "true",
        kind=_one_of(mapping, "kind", KINDS),
        file=mapping.file,
        line=line,
        older_unsafe=_one_of(mapping, "older", ("kept", "unsafe")) == "unsafe",
    )


def _word(mapping: Mapping, key: str) -> str:
    value = mapping[key]
    if not isinstance(value, str):
        raise mapping.error(f"{key!r} is a text, not a list or mapping", key)
    return value.strip()


def _text(mapping: Mapping, key: str) -> str | None:
    if key not in mapping:
        return None
    text = _word(mapping, key)
    if not text:
        raise mapping.error(f"{key!r} is empty", key)
    return text


def _budget(mapping: Mapping) -> int:
    word = _word(mapping, "budget") if "budget" in mapping else str(DEFAULT_BUDGET)
    if word not in map(str, range(1, LARGEST_BUDGET + 1)):
        raise mapping.error(f"'budget' is a number of segments from 1 to {LARGEST_BUDGET}, not {word!r}", "budget")
    return int(word)


def _one_of(mapping: Mapping, key: str, known: tuple[str, ...]) -> str:
    word = _word(mapping, key) if key in mapping else known[0]
    if word not in known:
        raise mapping.error(f"{key!r} is {' or '.join(known)}, not {word!r}", key)
    return word
