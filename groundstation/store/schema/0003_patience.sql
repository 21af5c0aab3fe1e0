-- An alert that a person has seen; a delivery that waits for that, or for the end of a quiet time.

ALTER TABLE alert ADD COLUMN acknowledged_utc REAL;
ALTER TABLE delivery ADD COLUMN not_before_utc REAL NOT NULL DEFAULT 0.0;
ALTER TABLE delivery ADD COLUMN escalates INTEGER NOT NULL DEFAULT 0;
