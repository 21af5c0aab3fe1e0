-- What the carrier of a frame said beside its bytes, a time that was sent and could not be read, and
-- fixes of which only the latest possible time is known.

ALTER TABLE frame ADD COLUMN sent_utc REAL;
ALTER TABLE frame ADD COLUMN retained INTEGER NOT NULL DEFAULT 0;
ALTER TABLE frame ADD COLUMN sender TEXT NOT NULL DEFAULT '';
ALTER TABLE report ADD COLUMN time_unread TEXT;
ALTER TABLE fix ADD COLUMN time_unknown INTEGER NOT NULL DEFAULT 0;
