"""Turns on the event loop, which goes on with something else where one of them waits for the database server.

A turn is a plain function on a plain connection. In threads, several of them would fight for the interpreter; here each
is a greenlet in the loop's own thread: where its connection would wait for the server's answer, the loop waits instead,
and comes back to it. Nothing of a turn runs beside anything else of the loop except across such a wait, so that a lock
must not be held there.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, ParamSpec, TypeVar

import psycopg
from greenlet import getcurrent, greenlet
from psycopg import waiting

Given = ParamSpec("Given")
Made = TypeVar("Made")
LOOK_AGAIN_SECONDS = 1.0
"""How often the driver looks whether a socket was closed without a word."""


class _OnTheLoop(greenlet):  # type: ignore[misc]
    """A function that the loop may leave and come back to."""


async def on_the_loop(function: Callable[Given, Made], *given: Given.args, **named: Given.kwargs) -> Made:
    """Calls ``function``, whose connections let the loop go on while they wait; raises what it raises."""
    running = _OnTheLoop(function)
    found: Any = running.switch(*given, **named)
    while not running.dead:
        try:
            answer = await found
        except BaseException as trouble:
            found = running.throw(type(trouble), trouble, trouble.__traceback__)
        else:
            found = running.switch(answer)
    made: Made = found
    return made


class CooperativeConnection(psycopg.Connection[Any]):
    """The driver's, which waits as always, but for functions that are ``on_the_loop``."""

    def wait(self, gen: Any, *how: Any, **more: Any) -> Any:
        here = getcurrent()
        if not isinstance(here, _OnTheLoop):
            return super().wait(gen, *how, **more)
        assert here.parent is not None
        return here.parent.switch(waiting.wait_async(gen, self.pgconn.socket, LOOK_AGAIN_SECONDS))
