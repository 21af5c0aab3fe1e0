-- Areas to keep out of, with the share of the ensemble that comes down in each: JSON, pairs.

ALTER TABLE landing ADD COLUMN inside TEXT NOT NULL DEFAULT '[]';
