"""Looks of a search, and what was found, as rows of the database and back."""

import json
import sqlite3

from groundstation.search.found import Condition, Found
from groundstation.search.looks import Look, LookKind
from groundstation.store.fix_rows import storable


def add_look(connection: sqlite3.Connection, look: Look) -> int:
    """Keep it; gives its number."""
    number = connection.execute(
        "INSERT INTO look (payload, time_utc, kind, shape, area, reach_m, chance, who, note)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            storable(look.payload),
            look.time_utc,
            str(look.kind),
            json.dumps(look.shape),
            int(look.area),
            look.reach_m,
            look.chance,
            storable(look.who),
            storable(look.note),
        ),
    ).lastrowid
    assert number is not None
    return number


def take_back_look(connection: sqlite3.Connection, number: int, now_utc: float) -> bool:
    """It counts no more; False where there is none."""
    return bool(
        connection.execute(
            "UPDATE look SET gone_utc = ? WHERE id = ? AND gone_utc IS NULL", (now_utc, number)
        ).rowcount
    )


def add_found(connection: sqlite3.Connection, found: Found) -> None:
    connection.execute(
        "INSERT INTO found (payload, time_utc, told_utc, latitude_deg, longitude_deg, condition,"
        " who, note) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (
            storable(found.payload),
            found.time_utc,
            found.told_utc,
            found.latitude_deg,
            found.longitude_deg,
            str(found.condition),
            storable(found.who),
            storable(found.note),
        ),
    )


def looks(connection: sqlite3.Connection) -> tuple[Look, ...]:
    """Those that count, oldest first."""
    rows = connection.execute(
        "SELECT id, payload, time_utc, kind, shape, area, reach_m, chance, who, note FROM look"
        " WHERE gone_utc IS NULL ORDER BY id"
    )
    return tuple(
        Look(
            number=row[0],
            payload=row[1],
            time_utc=row[2],
            kind=LookKind(row[3]),
            shape=tuple((lat, lon) for lat, lon in json.loads(row[4])),
            area=bool(row[5]),
            reach_m=row[6],
            chance=row[7],
            who=row[8],
            note=row[9],
        )
        for row in rows
    )


def found(connection: sqlite3.Connection) -> tuple[Found, ...]:
    """All that was ever found, oldest first."""
    rows = connection.execute(
        "SELECT payload, time_utc, told_utc, latitude_deg, longitude_deg, condition, who, note"
        " FROM found ORDER BY id"
    )
    return tuple(
        Found(
            payload=row[0],
            time_utc=row[1],
            told_utc=row[2],
            latitude_deg=row[3],
            longitude_deg=row[4],
            condition=Condition(row[5]),
            who=row[6],
            note=row[7],
        )
        for row in rows
    )
