"""Brings a database to the tables of this version (Alembic), and says whether it is there.

Write the first migration anew, as long as no database of anybody's exists (afterwards: ``alembic revision``)::

    D=guide_service/records/migrations; .venv/bin/python -m guide_service.records.migrating && \
        .venv/bin/ruff check -q --fix $D && .venv/bin/ruff format -q $D
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, text

from guide_service.database import make_engine, reading, writing

MIGRATIONS = Path(__file__).parent / "migrations"
FIRST = "0001"
_MIGRATION_LOCK = 4_207_801
"""Number of the advisory lock under which PostgreSQL migrates: two processes that start together take turns."""


def migrate(engine: Engine) -> None:
    """To the newest migration, in one transaction: a failure leaves the database as it was."""
    with writing(engine) as session:
        connection = session.connection()
        if engine.dialect.name == "postgresql":
            connection.execute(text(f"select pg_advisory_xact_lock({_MIGRATION_LOCK})"))
            connection.execute(text("set local lock_timeout = '5s'"))
        command.upgrade(_config(connection), "head")


def is_current(engine: Engine) -> bool:
    with reading(engine) as session:
        return MigrationContext.configure(session.connection()).get_current_revision() == _newest()


@cache
def _newest() -> str | None:
    return ScriptDirectory(str(MIGRATIONS)).get_current_head()


def _config(connection: Connection) -> Config:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    return config


def write_first_migration() -> None:
    """From the tables as the code has them now, against an empty database."""
    for old in (MIGRATIONS / "versions").glob("*.py"):
        old.unlink()
    with writing(make_engine("sqlite://")) as session:
        config = _config(session.connection())
        config.attributes["first"] = True
        command.revision(config, "first tables", autogenerate=True, rev_id=FIRST)


if __name__ == "__main__":
    write_first_migration()
