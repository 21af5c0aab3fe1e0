"""Bringing a database to the form this program knows, by numbered steps.

Each step is one file of SQL in ``schema``, run in one transaction together with the record that
it ran, so that a step that fails leaves nothing behind.
"""

import sqlite3
from collections.abc import Callable
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from groundstation.errors import StoreError

if TYPE_CHECKING:
    from sqlite_utils import Database

STEPS_OF = "groundstation"
"""The name under which our steps are recorded in the database."""


@cache
def steps() -> dict[str, str]:
    """The SQL of every step, by name, in the order in which they run."""
    found = files("groundstation.store").joinpath("schema").iterdir()
    scripts = sorted((f for f in found if f.name.endswith(".sql")), key=lambda f: f.name)
    return {f.name.removesuffix(".sql"): f.read_text(encoding="utf-8") for f in scripts}


def migrate(connection: sqlite3.Connection, path: Path) -> None:
    """Run the steps that ``connection`` has not had yet. Raises ``StoreError``."""
    # Costs a quarter of a second, which the commands that never write should not pay.
    from sqlite_utils import Database, Migrations  # noqa: PLC0415

    refuse_newer(connection, path)
    migrations = Migrations(STEPS_OF)
    for name, script in steps().items():
        migrations(name=name)(_step(script))
    try:
        migrations.apply(Database(connection, execute_plugins=False))
    except sqlite3.Error as error:
        raise StoreError(
            f"{path} could not be brought up to date ({error}); it is unchanged. "
            "Keep a copy of it and name another file to go on"
        ) from error


def refuse_newer(connection: sqlite3.Connection, path: Path) -> None:
    """Raise ``StoreError`` where a newer program has written the database."""
    unknown = [name for name in applied(connection, path) if name not in steps()]
    if unknown:
        raise StoreError(
            f"{path} was written by a newer version of this program (it has {unknown[-1]!r}, "
            f"this version ends with {[*steps()][-1]!r}); install that version again, "
            "or name another file"
        )


def refuse_older(connection: sqlite3.Connection, path: Path) -> None:
    """Raise ``StoreError`` where steps are missing, which a reader can't run."""
    missing = [name for name in steps() if name not in applied(connection, path)]
    if missing:
        raise StoreError(
            f"{path} lacks {missing[0]!r}: it is from an older version of this program or was "
            "never one of its databases; start the station once to bring it up to date"
        )


def applied(connection: sqlite3.Connection, path: Path) -> list[str]:
    """The names of the steps that the database has had, oldest first."""
    try:
        if not connection.execute(
            "SELECT 1 FROM sqlite_schema WHERE name = '_sqlite_migrations'"
        ).fetchone():
            return []
        rows = connection.execute(
            "SELECT name FROM _sqlite_migrations WHERE migration_set = ? ORDER BY id", (STEPS_OF,)
        )
        return [str(name) for (name,) in rows]
    except sqlite3.Error as error:
        raise StoreError(f"{path} can't be read: {error}; name another file") from error


def _step(script: str) -> Callable[["Database"], None]:
    def run(db: "Database") -> None:
        # Not executescript(): that would end the transaction in which the step must stay.
        statement = ""
        for line in script.splitlines(keepends=True):
            statement += line
            if sqlite3.complete_statement(statement):
                db.conn.execute(statement)
                statement = ""
        if statement.strip():
            raise StoreError(f"a step of the database ends within a statement: {statement!r}")

    return run
