"""The demo: makes its database, fills it once, serves it with a worker, and says where to look."""

from __future__ import annotations

import socket
from pathlib import Path
from urllib.parse import urlsplit

from rich.console import Console
from sqlalchemy import Engine
from sqlmodel import SQLModel, select

from guide_service.accounts import save_account
from guide_service.app import RunWorker, serve
from guide_service.console.roles import Role
from guide_service.database import reading, writing
from guide_service.records import Agent, DemoClock, Household
from guide_service.records.migrating import migrate
from guide_service.settings import Settings, SettingsError
from guide_service.wiring import Service, build_service

PASSWORD = "ossery river 1936"
"""Of all accounts of the demo. It guards nothing: the demo holds nobody's data."""
AGENTS = (("rivera", "Ana Rivera", "millrace"), ("holt", "Ben Holt", "upper"))
COORDINATORS = (("county", "June Castell"), ("deputy", "Omar Vance"))
"""Two, so that a notice above the county's size has somebody to approve it."""
VOLUNTEER = ("walker", "Lee Ward", "millrace")
TRANSLATOR = ("words", "Noor Halim")


def run_demo(settings: Settings, host: str, port: int, reset: bool, run_worker: RunWorker) -> None:
    """Until Ctrl-C. ``reset``: forget first what the demo has stored."""
    if not _free(host, port):
        raise SettingsError(f"port {port} is taken: choose another with --port (make demo PORT=8010)")
    screen = Console(highlight=False)
    with screen.status("Preparing Larkwater County; the first time takes half a minute"):
        service = prepare(settings, reset)
    screen.print(_where_to_look(settings), soft_wrap=True)
    serve(service, host, port, run_worker)


def prepare(settings: Settings, reset: bool = False) -> Service:
    """The demo's service on its database, migrated and filled."""
    make_folder(settings.database)
    service = build_service(settings)
    migrate(service.engine)
    if reset:
        _forget(service.engine)
    if not _filled(service.engine):
        _forget(service.engine)
        service.in_force.seed(service.clock.now())
        _fill(service)
    _add_coordinators(service)
    return service


def _fill(service: Service) -> None:
    from guide_service.demo_seeding import seed

    with writing(service.engine) as session:
        session.add(DemoClock(id=1))
    offices = [office.id for office in service.county.offices]
    for login, name, office in AGENTS:
        save_account(service.engine, offices, login, name, PASSWORD, office, Role.AGENT)
    login, name, office = VOLUNTEER
    save_account(service.engine, offices, login, name, PASSWORD, office, Role.VOLUNTEER)
    save_account(service.engine, offices, *TRANSLATOR, PASSWORD, None, Role.TRANSLATOR)
    seed(service)


def _add_coordinators(service: Service) -> None:
    """Those who are missing: also in a demo that was filled when there was only one."""
    for login, name in COORDINATORS:
        if not _has_account(service.engine, login):
            save_account(service.engine, (), login, name, PASSWORD, None, Role.COORDINATOR)


def _filled(engine: Engine) -> bool:
    """The coordinators' accounts are made last: without the first of them a filling was broken off."""
    return _has_account(engine, COORDINATORS[0][0])


def _has_account(engine: Engine, login: str) -> bool:
    with reading(engine) as session:
        return session.exec(select(Agent.id).where(Agent.login == login)).first() is not None


def _forget(engine: Engine) -> None:
    """Empties a database of the demo; one that is not the demo's is left alone."""
    with writing(engine) as session:
        if session.get(DemoClock, 1) is None and session.exec(select(Household.id)).first() is not None:
            raise SettingsError("GUIDE_DATABASE_URL holds households that are not the demo's: nothing was changed")
        for table in reversed(SQLModel.metadata.sorted_tables):
            session.connection().execute(table.delete())


def make_folder(database: str) -> None:
    """Where the SQLite file goes; nothing for a server."""
    if database.startswith("sqlite:///"):
        Path(database.removeprefix("sqlite:///")).parent.mkdir(parents=True, exist_ok=True)


def _free(host: str, port: int) -> bool:
    with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError:
            return False
    return True


def _where_to_look(settings: Settings) -> str:
    address = urlsplit(settings.address)
    people = (
        *((login, f"{name}, agent of {office}") for login, name, office in AGENTS),
        *((login, f"{name}, coordinator of the whole county") for login, name in COORDINATORS),
        (VOLUNTEER[0], f"{VOLUNTEER[1]}, volunteer who measures in houses of {VOLUNTEER[2]}"),
        (TRANSLATOR[0], f"{TRANSLATOR[1]}, translator"),
    )
    return "\n".join(
        (
            "",
            f"  Practice phone   {settings.address}/handset",
            f"  Agents' list     {settings.address}/console",
            f"                   sign in with the password {PASSWORD} as",
            *(f"                     {login:<8} {who}" for login, who in people),
            f"  In a terminal    make phone HOST={address.hostname} PORT={address.port}",
            "",
            "  Ctrl-C stops it; what was done is kept. make demo-reset starts over.",
            "",
        )
    )
