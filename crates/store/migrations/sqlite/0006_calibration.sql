-- A calibration: a grading of attempts whose readings are known, after which each examiner is shown where he differed from them.
ALTER TABLE gradings ADD COLUMN calibrates INTEGER NOT NULL DEFAULT 0 CHECK (calibrates IN (0, 1));

-- For which code of which grading a value was given; nothing where it came from a table.
ALTER TABLE ratings ADD COLUMN grading TEXT REFERENCES gradings (id) ON DELETE SET NULL;
ALTER TABLE ratings ADD COLUMN code TEXT;
CREATE INDEX ratings_of_grading ON ratings (grading, examiner);
