-- What a person did in the search, and what became of a payload in the end. "shape" is JSON, pairs
-- of latitude and longitude. A look that was taken back keeps its row.

CREATE TABLE look (
    id        INTEGER PRIMARY KEY,
    payload   TEXT NOT NULL,
    time_utc  REAL NOT NULL,
    kind      TEXT NOT NULL,
    shape     TEXT NOT NULL,
    area      INTEGER NOT NULL,
    reach_m   REAL NOT NULL,
    chance    REAL NOT NULL,
    who       TEXT NOT NULL,
    note      TEXT NOT NULL,
    gone_utc  REAL
) STRICT;

CREATE TABLE found (
    id            INTEGER PRIMARY KEY,
    payload       TEXT NOT NULL,
    time_utc      REAL NOT NULL,
    told_utc      REAL NOT NULL,
    latitude_deg  REAL NOT NULL,
    longitude_deg REAL NOT NULL,
    condition     TEXT NOT NULL,
    who           TEXT NOT NULL,
    note          TEXT NOT NULL
) STRICT;
