-- How far the flight was when a landing estimate was made: chances of the phases, height, launch and
-- burst, as JSON; empty where that was not told.

ALTER TABLE landing ADD COLUMN progress TEXT NOT NULL DEFAULT '';
