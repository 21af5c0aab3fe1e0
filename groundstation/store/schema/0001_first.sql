-- The journal: what came in, what was made of it, what was said.
--
-- Ids of frame, report and landing come from one counter, so they give the order of events
-- across the three tables. A NULL in a REAL column that a record always fills stands for "not a
-- number". Times are seconds since 1970-01-01T00:00:00Z.

CREATE TABLE frame (
    id           INTEGER PRIMARY KEY,
    source       TEXT NOT NULL,
    receiver     TEXT NOT NULL,
    received_utc REAL,
    data         BLOB NOT NULL
) STRICT;

CREATE INDEX frame_by_time ON frame (received_utc);

-- Either reason and detail are filled (unreadable) or the position is. "odd" holds, as JSON, a
-- report with a value that no column can hold, such as not-a-number or half of a character pair.
CREATE TABLE report (
    id            INTEGER PRIMARY KEY,
    frame_id      INTEGER NOT NULL REFERENCES frame (id),
    reason        TEXT,
    detail        TEXT,
    tracker       TEXT,
    latitude_deg  REAL,
    longitude_deg REAL,
    altitude_m    REAL,
    time_utc      REAL,
    uncertainty_m REAL,
    course_deg    REAL,
    speed_ms      REAL,
    satellites    INTEGER,
    valid         INTEGER,
    telemetry     TEXT,
    comment       TEXT,
    path          TEXT,
    odd           TEXT
) STRICT;

-- The last word of the gate on a report. "decided_seq" is the newest event of the transaction in
-- which it fell: a jump that was confirmed later has one above its report_id.
CREATE TABLE verdict (
    report_id   INTEGER PRIMARY KEY REFERENCES report (id),
    standing    TEXT NOT NULL CHECK (standing IN ('accepted', 'late', 'rejected')),
    reason      TEXT,
    detail      TEXT NOT NULL,
    decided_seq INTEGER NOT NULL
) STRICT;

CREATE TABLE fix (
    report_id     INTEGER PRIMARY KEY REFERENCES report (id),
    payload       TEXT NOT NULL,
    tracker       TEXT NOT NULL,
    source        TEXT NOT NULL,
    time_utc      REAL,
    received_utc  REAL,
    latitude_deg  REAL,
    longitude_deg REAL,
    altitude_m    REAL,
    uncertainty_m REAL,
    course_deg    REAL,
    speed_ms      REAL,
    satellites    INTEGER,
    telemetry     TEXT,
    late          INTEGER NOT NULL
) STRICT;

CREATE INDEX fix_by_time ON fix (payload, time_utc);

CREATE TABLE phase (
    id        INTEGER PRIMARY KEY,
    payload   TEXT NOT NULL,
    time_utc  REAL NOT NULL,
    phase     TEXT NOT NULL,
    since_utc REAL NOT NULL,
    UNIQUE (payload, phase, since_utc)
) STRICT;

CREATE TABLE landing (
    id              INTEGER PRIMARY KEY,
    payload         TEXT NOT NULL,
    time_utc        REAL,
    evidence_utc    REAL,
    phase           TEXT NOT NULL,
    latitude_deg    REAL,
    longitude_deg   REAL,
    ground_m        REAL,
    eta_utc         REAL,
    eta_first_utc   REAL,
    eta_last_utc    REAL,
    descent_rate_ms REAL,
    rate_first_ms   REAL,
    rate_last_ms    REAL,
    region_50       TEXT NOT NULL,
    region_90       TEXT NOT NULL,
    radius_50_m     REAL,
    radius_90_m     REAL,
    basis           TEXT NOT NULL
) STRICT;

CREATE INDEX landing_by_time ON landing (time_utc);

-- What is to be said, once per key. "written_utc" is real time, even in a rehearsal.
CREATE TABLE alert (
    id           INTEGER PRIMARY KEY,
    key          TEXT NOT NULL UNIQUE,
    payload      TEXT NOT NULL,
    kind         TEXT NOT NULL,
    time_utc     REAL,
    phase        TEXT NOT NULL,
    urgency      TEXT NOT NULL,
    thread       TEXT NOT NULL,
    useful_for_s REAL NOT NULL,
    written_utc  REAL NOT NULL,
    title        TEXT NOT NULL,
    body         TEXT NOT NULL,
    facts        TEXT NOT NULL
) STRICT;

-- One row per alert and target. "uncertain" counts attempts of which it is not known whether
-- the target took them: each may have made the message arrive twice.
CREATE TABLE delivery (
    alert_id      INTEGER NOT NULL REFERENCES alert (id),
    target        TEXT NOT NULL,
    state         TEXT NOT NULL CHECK (state IN ('pending', 'sending', 'delivered', 'expired',
                                                 'superseded', 'unwanted', 'failed')),
    attempts      INTEGER NOT NULL DEFAULT 0,
    uncertain     INTEGER NOT NULL DEFAULT 0,
    next_try_utc  REAL NOT NULL DEFAULT 0.0,
    last_error    TEXT NOT NULL DEFAULT '',
    delivered_utc REAL,
    PRIMARY KEY (alert_id, target)
) STRICT, WITHOUT ROWID;

CREATE INDEX delivery_open ON delivery (target, alert_id) WHERE state IN ('pending', 'sending');
