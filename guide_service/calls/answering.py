"""A call from its first ring to its last answer: each webhook is one step, taken once, and says what is heard next.

begin     the phone rings: what is said first
answer    keys or words: understood against the prompt that was put (``hearing``), then carried out (``moves``)
dialled   an agent's phone was rung
"""

from __future__ import annotations

from sqlalchemy import Connection

from guide_service.calls import line as rows
from guide_service.calls import moves
from guide_service.calls.call import Call, Ring, said_last
from guide_service.calls.hearing import Given, hear
from guide_service.calls.line import Line
from guide_service.calls.prompt import Utterance
from guide_service.carrier.phone_numbers import origin_of_call
from guide_service.records.loading import Known, load_by_phone
from guide_service.wiring import Service


def begin(service: Service, ring: Ring) -> Utterance:
    with service.engine.connect() as connection:
        line = _line_of(connection, ring)
        if line is not None:
            return said_last(service, line)
        known = _known(connection, service, ring)
    call = Call(service, Line(ring.sid, ring.number, trusted=ring.trusted), known)
    first = moves.first_prompt(call)
    return call.put(first) if first is not None else moves.greet(call)


def answer(service: Service, ring: Ring, step: int, given: Given) -> Utterance:
    call = step_of(service, ring, step)
    if isinstance(call, Utterance):
        return call
    line = call.line
    assert line.prompt is not None
    return moves.carry_out(call, hear(given, line.prompt, line.page, call.listening(), service.lexicons))


def dialled(service: Service, ring: Ring, step: int, taken: bool) -> Utterance:
    """The agent's phone was rung: the two have spoken, or nobody took the call."""
    call = step_of(service, ring, step)
    if isinstance(call, Utterance):
        return call
    return call.put(call.script.good_bye()) if taken else moves.nobody_came(call)


def step_of(service: Service, ring: Ring, step: int) -> Call | Utterance:
    """The call at the step that is waited for; what was said last for any other step, which was taken before."""
    with service.engine.connect() as connection:
        line = _line_of(connection, ring)
        known = _known(connection, service, ring)
    if line is None:
        return begin(service, ring)
    if line.step != step or line.prompt is None:
        return said_last(service, line)
    return Call(service, line, known)


def _line_of(connection: Connection, ring: Ring) -> Line | None:
    if ring.ours is not None:
        return rows.look_up_ours(connection, ring.ours, ring.sid, ring.number)
    return rows.look_up(connection, ring.sid, ring.number)


def _known(connection: Connection, service: Service, ring: Ring) -> Known | None:
    address = origin_of_call(ring.number, ring.sid).address
    found = (load_by_phone(connection, key) for key in service.sealer.phone_keys(address))
    return next((known for known in found if known is not None), None)
