-- What a person saw or heard of a flight, in one order with what the trackers told. "facts" is JSON:
-- what there is beside the moment that it tells of. One that was taken back keeps its row.

CREATE TABLE sighting (
    seq       INTEGER PRIMARY KEY,
    payload   TEXT NOT NULL,
    kind      TEXT NOT NULL,
    at_utc    REAL NOT NULL,
    told_utc  REAL NOT NULL,
    facts     TEXT NOT NULL,
    who       TEXT NOT NULL,
    note      TEXT NOT NULL,
    gone_seq  INTEGER,
    gone_utc  REAL,
    gone_who  TEXT
) STRICT;
