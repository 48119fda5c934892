"""The commands: ``python -m guide_service --help``.

What a command needs is imported inside it, so that ``--help`` and a wrong setting answer at once.
"""

from __future__ import annotations

import os
import socket
import sys
import threading
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from sqlalchemy.exc import OperationalError, ProgrammingError

from guide_service.cli_agents import agents
from guide_service.cli_paper import paper
from guide_service.cli_words import flows, locales
from guide_service.dialogue.strict_yaml import FlowFileError
from guide_service.settings import Settings, SettingsError, get_settings, read_settings

if TYPE_CHECKING:
    from guide_service.wiring import Service

app = typer.Typer(
    name="guide_service",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
    help="Guides flood-affected households by text message until their walls are dry enough to close.",
    epilog="Settings are read from GUIDE_* environment variables (docs/deployment.md). "
    "To try it without any account: [bold]python -m guide_service demo[/bold]",
)
app.add_typer(agents, name="agents")
app.add_typer(locales, name="locales")
app.command(epilog="Examples: python -m guide_service flows | python -m guide_service flows --draw check")(flows)
app.command(epilog="Example: python -m guide_service paper --language es --format pdf --out sheets")(paper)

Host = Annotated[str, typer.Option(help="Address to listen on.")]
Port = Annotated[int, typer.Option(help="Port to listen on.", min=1, max=65535)]


@app.command(epilog="Example: GUIDE_DEMO=1 python -m guide_service serve --port 8010")
def serve(host: Host = "127.0.0.1", port: Port = 8000) -> None:
    """Answer the carrier's webhooks and the agents' browsers.

    With GUIDE_DEMO set it also makes or migrates its database and does the work that falls due.
    """
    from guide_service import app as web
    from guide_service.wiring import build_service

    settings = at_port(get_settings(), host, port)
    if settings.demo:
        from guide_service.demo import prepare

        web.serve(prepare(settings), host, port, run_worker=work_until)
    else:
        web.serve(build_service(settings), host, port)


@app.command(epilog="Example: python -m guide_service work")
def work() -> None:
    """Do the work that falls due: reminders, texts to send, alarms. Run as many as you like."""
    import signal

    from guide_service.wiring import build_service

    stop = threading.Event()
    for name in (signal.SIGINT, signal.SIGTERM):
        signal.signal(name, lambda *_: stop.set())
    service = build_service(get_settings())
    work_until(service, stop)
    service.sender.close()


@app.command(epilog="Examples: python -m guide_service demo | python -m guide_service demo --reset")
def demo(
    host: Host = "127.0.0.1",
    port: Port = 8000,
    reset: Annotated[bool, typer.Option("--reset", help="Start over: forget what the demo has stored.")] = False,
) -> None:
    """Larkwater County on this machine: a dozen households, a practice phone, the agents' pages. No account needed."""
    from guide_service.demo import run_demo

    run_demo(at_port(read_settings(demo=True), host, port), host, port, reset, work_until)


@app.command(epilog="Examples: python -m guide_service phone | python -m guide_service phone --number 0123")
def phone(
    number: Annotated[str, typer.Option(help="Number of the practice phone, 555-0100 to 555-0199.")] = "+12025550123",
    address: Annotated[str, typer.Option(help="Where the service runs.")] = "",
) -> None:
    """A practice phone in the terminal, for a service that runs with GUIDE_DEMO."""
    from rich.console import Console

    from guide_service.handset.terminal import PhoneTrouble, TerminalPhone

    _line_editing()
    try:
        TerminalPhone(address or Settings(demo=True).address, number, Console()).run()
    except PhoneTrouble as trouble:
        print(trouble, file=sys.stderr)
        raise typer.Exit(1) from None


@app.command(epilog="Example: GUIDE_DATABASE_URL=postgresql://guide@db/guide python -m guide_service migrate")
def migrate() -> None:
    """Bring the database to the tables of this version. Safe to repeat, safe to start twice."""
    from guide_service.database import make_engine
    from guide_service.demo import make_folder
    from guide_service.records.migrating import migrate as bring_up

    make_folder(get_settings().database)
    bring_up(make_engine(get_settings().database))
    print("The database is up to date.")


@app.command(epilog="Example: python -m guide_service export --area millrace --out millrace.zip --why 'request 12'")
def export(
    out: Annotated[Path, typer.Option(help="The zip to write; it must not be there yet.")],
    why: Annotated[str, typer.Option(help="For whom, and under which request. It stands in the audit.")],
    household: Annotated[int | None, typer.Option(help="Id of a household, as in the address of its page.")] = None,
    area: Annotated[str | None, typer.Option(help="Id of an area of the county file.")] = None,
    numbers: Annotated[bool, typer.Option("--numbers", help="Whole phone numbers, not their last digits.")] = False,
) -> None:
    """Take out the records of a household or of an area, for a records request: a zip of tables with a readme."""
    from guide_service.exporting.zipping import Wanted, exported, note_export
    from guide_service.wiring import build_service

    service = build_service(get_settings())
    if (household is None) == (area is None) or (area and area not in {each.id for each in service.county.areas}):
        print("export: name one household or one area of the county file", file=sys.stderr)
        raise typer.Exit(2)
    if not why.strip() or out.exists():
        print(f"export: {out} is there already" if out.exists() else "export: say why", file=sys.stderr)
        raise typer.Exit(2)
    wanted = Wanted(household, area, numbers)
    note_export(service, wanted, why)
    with out.open("xb") as file:
        for chunk in exported(service, wanted):
            file.write(chunk)
    print(f"Written: {out}")


def at_port(settings: Settings, host: str, port: int) -> Settings:
    """In the demo nobody sets the public address: it is where we listen."""
    if settings.public_url or not settings.demo:
        return settings
    shown = "127.0.0.1" if host in ("", "0.0.0.0", "::") else host
    return settings.model_copy(update={"public_url": f"http://{shown}:{port}"})


def main() -> None:
    """A wrong setting, a mistake in a flow file or a database that is not there ends it with one clear line."""
    try:
        app()
    except (SettingsError, FlowFileError) as problem:
        print(f"guide_service: {problem}", file=sys.stderr)
        sys.exit(2)
    except (OperationalError, ProgrammingError) as problem:
        # never the address: it may hold a password
        why = str(problem.orig).strip().splitlines()[0]
        print(f"guide_service: the database of GUIDE_DATABASE_URL: {why} (has migrate been run?)", file=sys.stderr)
        sys.exit(1)


def work_until(service: Service, stop: threading.Event) -> None:
    """The worker of this process, under a name that no other one has."""
    from guide_service.followup.worker import run

    run(service, stop=stop, worker_name=f"{socket.gethostname()[:40]}:{os.getpid()}")


def _line_editing() -> None:
    try:
        import readline  # noqa: F401  (arrow keys and history for input())
    except ImportError:
        return
