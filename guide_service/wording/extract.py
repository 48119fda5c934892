"""Flow files for gettext tools: what a translator gets of each text.

``extract_flows`` is an extraction method as Babel calls it, named by its module path in ``babel.cfg``, so that
``pybabel extract -F babel.cfg conversation_flows`` finds the same entries as ``maintenance.extract``.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from pathlib import Path
from typing import IO

from guide_service.dialogue.strict_yaml import parse_strict
from guide_service.wording.catalogue import Sourced, sourced
from guide_service.wording.longest import typical
from guide_service.wording.messages import CALL, messages_in
from guide_service.wording.template import placeholders

Extracted = tuple[int, str, tuple[str, ...], list[str]]


def extract_flows(
    fileobj: IO[bytes],
    keywords: Mapping[str, object],  # noqa: ARG001 (the shape of every Babel extractor)
    comment_tags: Collection[str],  # noqa: ARG001
    options: Mapping[str, object],  # noqa: ARG001
) -> Iterator[Extracted]:
    """Line, gettext function, its arguments (context first) and translator comments of every text of a flow file."""
    name = Path(str(getattr(fileobj, "name", "flow"))).name
    top = parse_strict(fileobj.read().decode("utf-8"), name)
    for entry in sourced(messages_in(top)):
        function = "npgettext" if len(entry.forms) > 1 else "pgettext"
        yield entry.message.line, function, (entry.context, *entry.forms), comments(entry)


def comments(entry: Sourced) -> list[str]:
    """What a translator must know: the author's note, the room there is, and what stands in the places."""
    message = entry.message
    found = [message.note] if message.note else []
    if message.critical:
        found.append("Safety text: the plainest words, short sentences.")
    if entry.spoken or message.kind == CALL:
        found.append("Spoken by a voice on a call.")
    elif message.printed:
        found.append("Printed on a sheet of paper that hangs in a wet house: short, as it must be read from afar.")
    elif message.kind == "line":
        found.append("A line of a text message that it shares with others.")
    else:
        found.append(f"Text message: at most {message.budget} segment{'s' if message.budget > 1 else ''} in English.")
    found += [f"%({name})s: such as {typical(name)}" for name in _in_order(entry)]
    return found


def _in_order(entry: Sourced) -> list[str]:
    return sorted(frozenset().union(*map(placeholders, entry.forms)))
