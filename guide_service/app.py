"""The web application: the carrier's webhooks, the agents' pages, two addresses for whoever watches over it."""

from __future__ import annotations

import gc
import logging
import sys
import threading
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from typing import Any, cast

import uvicorn
from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, RedirectResponse, Response
from sqlalchemy.exc import SQLAlchemyError
from starlette.exceptions import HTTPException

from guide_service.carrier.routes import router as carrier_router
from guide_service.carrier.voice_routes import voice_router
from guide_service.console.problems import PAGES, problem
from guide_service.console.routes import install_console
from guide_service.faults import describe
from guide_service.handset.routes import install_handset
from guide_service.readiness import what_fails
from guide_service.wiring import Service

STOP_WITHIN_SECONDS = 5
NO_TELEMETRY: Any = {"tracing": False, "metrics": False, "logs": False, "auto_configure": False}
"""The framework would tell addresses, failures and their traces to whoever a setting of the machine names."""
log = logging.getLogger(__name__)
RunWorker = Callable[[Service, threading.Event], None]


def create_app(service: Service, run_worker: RunWorker | None = None) -> FastAPI:
    """The application on a service. ``run_worker``: also do the work that falls due, in a thread (the demo)."""
    app = FastAPI(
        title="guide-service",
        openapi_url=None,
        docs_url=None,
        redoc_url=None,
        lifespan=_lifespan(service, run_worker),
        telemetry=NO_TELEMETRY,
    )
    app.state.service = service
    app.include_router(carrier_router(service))
    app.include_router(voice_router(service))
    app.add_api_route("/healthz", healthz, include_in_schema=False)
    app.add_api_route("/readyz", readyz, include_in_schema=False)
    app.add_api_route("/", front_door, include_in_schema=False)
    install_console(app)
    if service.settings.demo:
        install_handset(app)
    app.add_exception_handler(HTTPException, show_problem)
    app.add_exception_handler(RequestValidationError, show_problem)
    return app


def serve(service: Service, host: str, port: int, run_worker: RunWorker | None = None) -> None:
    """Until it is told to stop. No access log: addresses and numbers have no business in a log."""
    spare_the_collector()
    app = create_app(service, run_worker)
    config = uvicorn.Config(
        app,
        host=host,
        port=port,
        loop="uvloop",
        http="httptools",
        access_log=False,
        log_level="warning",
        server_header=False,
        timeout_graceful_shutdown=STOP_WITHIN_SECONDS,
    )
    server = uvicorn.Server(config)
    app.state.stopping = lambda: server.should_exit  # streams that stay open end with the process
    with suppress(KeyboardInterrupt):
        server.run()
    if not server.started:
        sys.exit(3)  # as uvicorn itself ends when it could not start


def spare_the_collector() -> None:
    """Flows, words and catalogues stay for good: they need not be looked through for garbage again and again.

    A turn makes thousands of small objects and no cycles; measured, the collector took a fifth of its time.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)


async def healthz() -> dict[str, str]:
    return {"status": "alive"}


def readyz(request: Request) -> JSONResponse:
    failing = what_fails(request.app.state.service)
    return JSONResponse({"status": "not ready" if failing else "ready", "failing": failing}, 503 if failing else 200)


async def front_door() -> Response:
    return RedirectResponse("/console", status_code=303)


def show_problem(request: Request, trouble: Exception) -> Response:
    """Agents get a page in plain words, programs get JSON."""
    status = trouble.status_code if isinstance(trouble, HTTPException) else 422
    if request.url.path.startswith(PAGES):
        return problem(request, cast("Service", request.app.state.service), status)
    if isinstance(trouble, HTTPException):
        return JSONResponse({"detail": trouble.detail}, trouble.status_code, trouble.headers)
    return JSONResponse({"detail": "the request is not as it should be"}, status)


def _seed_policy(service: Service) -> None:
    try:
        service.in_force.seed(service.clock.now())
    except SQLAlchemyError as problem:  # what is missing is said by /readyz, and the worker seeds it too
        log.warning("the policy could not be looked at: %s", describe(problem))


def _lifespan(service: Service, run_worker: RunWorker | None) -> Any:
    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        _seed_policy(service)
        stop = threading.Event()
        worker = threading.Thread(target=run_worker, args=(service, stop), name="worker") if run_worker else None
        if worker:
            worker.start()
        yield
        stop.set()
        if worker:
            worker.join(timeout=STOP_WITHIN_SECONDS)
        service.sender.close()

    return lifespan
