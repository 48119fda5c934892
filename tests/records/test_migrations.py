"""The migrations and the tables in the code are the same thing, on both databases."""

from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import Engine, inspect, text
from sqlmodel import SQLModel

from guide_service.database import make_engine, writing
from guide_service.records.migrating import is_current, migrate
from tests import postgres


def test_a_migrated_database_has_exactly_the_tables_of_the_code(engine: Engine) -> None:
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, SQLModel.metadata) == []


def test_a_migrated_database_is_current_and_migrating_again_changes_nothing(engine: Engine) -> None:
    assert is_current(engine)
    migrate(engine)
    assert is_current(engine)


def test_indexes_with_a_condition_keep_it(engine: Engine) -> None:
    """Alembic compares no conditions, and without them one live job per key would be one job ever."""
    indexes = {index["name"]: index for index in inspect(engine).get_indexes("job")}
    condition = indexes["uq_job_live_key"]["dialect_options"][f"{engine.dialect.name}_where"]
    assert "ready" in str(condition)
    indexes = {index["name"]: index for index in inspect(engine).get_indexes("escalation")}
    condition = indexes["uq_escalation_open"]["dialect_options"][f"{engine.dialect.name}_where"]
    assert "settled" in str(condition)


def test_an_empty_sqlite_file_is_not_current(tmp_path: Path) -> None:
    engine = make_engine(f"sqlite:///{tmp_path}/empty.db")
    assert not is_current(engine)
    engine.dispose()


def test_an_empty_postgres_database_is_not_current(postgres_server: str) -> None:
    engine = make_engine(postgres.new_database(postgres_server, "guide_empty"))
    assert not is_current(engine)
    engine.dispose()
    postgres.drop_database(postgres_server, "guide_empty")


def test_a_failed_migration_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    engine = make_engine(f"sqlite:///{tmp_path}/half.db")
    with writing(engine) as session:
        session.execute(text("create table job (id integer)"))
    with pytest.raises(Exception, match="already exists"):
        migrate(engine)
    assert inspect(engine).get_table_names() == ["job"]
    engine.dispose()
