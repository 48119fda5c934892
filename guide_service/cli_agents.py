"""``agents``: who may sign in to the agents' pages."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer
from sqlalchemy import Engine
from sqlmodel import col, select

from guide_service.console.roles import Role
from guide_service.settings import get_settings

if TYPE_CHECKING:
    from guide_service.county import County

agents = typer.Typer(no_args_is_help=True, help="Accounts: add, list, disable, reset a second factor.")
Login = Annotated[str, typer.Argument(help="What the agent types to sign in.")]


@agents.command(epilog="Example: python -m guide_service agents add rivera --name 'Ana Rivera' --office millrace")
def add(
    login: Login,
    name: Annotated[str, typer.Option(help="Name that colleagues see.")],
    office: Annotated[str | None, typer.Option(help="Office whose areas the agent sees (county file).")] = None,
    role: Annotated[Role, typer.Option(help="What the person does here.")] = Role.AGENT,
    coordinator: Annotated[bool, typer.Option("--coordinator", help="The same as --role coordinator.")] = False,
    days: Annotated[int | None, typer.Option(help="The account ends by itself after so many days.", min=1)] = None,
    expires: Annotated[
        dt.datetime | None, typer.Option(help="Or after this day, in the county's time.", formats=["%Y-%m-%d"])
    ] = None,
    password_file: Annotated[
        Path | None, typer.Option(help="File with the password; without it you are asked.", exists=True, dir_okay=False)
    ] = None,
) -> None:
    """Make an account, or give an existing one a new password and new rights."""
    from guide_service.accounts import AccountRefused, save_account

    ends = _end(days, expires)
    password = _password(password_file)
    role = Role.COORDINATOR if coordinator else role
    try:
        save_account(_engine(), _offices(), login, name, password, office, role, ends)
    except AccountRefused as refusal:
        _stop(str(refusal))
    print(f"{login} can sign in at {get_settings().address}/console")


@agents.command("list", epilog="Example: python -m guide_service agents list")
def list_() -> None:
    """Every account: login, name, office, role, state."""
    from rich.console import Console
    from rich.table import Table

    from guide_service.accounts import state_of
    from guide_service.database import reading
    from guide_service.records import Agent

    table = Table("login", "name", "office", "role", "second factor", "state", box=None)
    with reading(_engine()) as session:
        for agent in session.exec(select(Agent).order_by(col(Agent.login))):
            factor = "set" if agent.factor_set_at else "none"
            table.add_row(agent.login, agent.name, agent.office or "-", agent.role, factor, state_of(agent))
    Console().print(table)


@agents.command(epilog="Example: python -m guide_service agents disable rivera")
def disable(login: Login) -> None:
    """Close an account and sign it out everywhere, at once."""
    from guide_service.accounts import AccountRefused, disable_account

    try:
        disable_account(_engine(), login)
    except AccountRefused as refusal:
        _stop(str(refusal))
    print(f"{login} can no longer sign in.")


@agents.command(epilog="Example: python -m guide_service agents reset-second-factor rivera")
def reset_second_factor(login: Login) -> None:
    """For a lost phone: forget the second factor and its recovery codes, and sign the person out everywhere."""
    from guide_service import accounts

    try:
        accounts.reset_second_factor(_engine(), login)
    except accounts.AccountRefused as refusal:
        _stop(str(refusal))
    print(f"{login} signs in with the password alone, until a second factor is set up again.")


def _engine() -> Engine:
    from guide_service.database import make_engine

    return make_engine(get_settings().database)


def _county() -> County:
    from guide_service.county import read_county

    return read_county(get_settings().county_path)


def _offices() -> tuple[str, ...]:
    return tuple(office.id for office in _county().offices)


def _end(days: int | None, expires: dt.datetime | None) -> dt.datetime | None:
    """When a surge account ends by itself; refused when it would have ended already."""
    now = dt.datetime.now(dt.UTC)
    if days and expires:
        _stop("say either --days or --expires")
    if days:
        return now + dt.timedelta(days=days)
    if expires is None:
        return None
    ends = (expires + dt.timedelta(days=1)).replace(tzinfo=_county().zone(None))
    if ends <= now:
        _stop(f"{expires:%Y-%m-%d} is over")
    return ends


def _password(file: Path | None) -> str:
    if file:
        return file.read_text(encoding="utf-8").strip()
    return str(typer.prompt("Password", hide_input=True, confirmation_prompt=True))


def _stop(line: str) -> NoReturn:
    print(line, file=sys.stderr)
    raise typer.Exit(1)
