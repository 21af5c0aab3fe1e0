-- The station's clock jumped by by_s seconds after the event after_seq: times of reception up to
-- there are by_s too small. Times of flight, which the packets tell, are not touched.

CREATE TABLE clock_jump (
    after_seq INTEGER NOT NULL,
    by_s      REAL NOT NULL
) STRICT;
