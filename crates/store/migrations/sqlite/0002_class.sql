-- What a class keeps. People are codes everywhere; names stand in one table of their own, which can be emptied.
-- Times are UTC, ISO 8601. Units end the names.

CREATE TABLE learners (
    code        TEXT PRIMARY KEY NOT NULL CHECK (length(code) BETWEEN 1 AND 40),
    created     TEXT NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now'))
) STRICT;
INSERT INTO learners (code)
    SELECT DISTINCT substr(learner, 1, 40) FROM attempts WHERE learner <> '';

-- Who a code is, as far as anybody wanted it kept. Nothing refers to this table.
CREATE TABLE names (
    learner     TEXT PRIMARY KEY NOT NULL REFERENCES learners (code) ON DELETE CASCADE,
    name        TEXT,
    roster_id   TEXT UNIQUE                 -- the id that the roster's system uses
) STRICT;

CREATE TABLE cohorts (
    code        TEXT PRIMARY KEY NOT NULL CHECK (length(code) BETWEEN 1 AND 40),
    title       TEXT NOT NULL,
    roster_id   TEXT UNIQUE,
    created     TEXT NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now'))
) STRICT;

CREATE TABLE members (
    cohort      TEXT NOT NULL REFERENCES cohorts (code) ON DELETE CASCADE,
    learner     TEXT NOT NULL REFERENCES learners (code) ON DELETE CASCADE,
    PRIMARY KEY (cohort, learner)
) STRICT, WITHOUT ROWID;
CREATE INDEX members_of_learner ON members (learner);

-- One meeting of a cohort at the benches; not a session of the browser.
CREATE TABLE lab_sessions (
    code        TEXT PRIMARY KEY NOT NULL CHECK (length(code) BETWEEN 1 AND 40),
    title       TEXT NOT NULL,
    cohort      TEXT REFERENCES cohorts (code) ON DELETE SET NULL,
    instructor  TEXT,                       -- a code, never a name
    held        TEXT,                       -- the day
    created     TEXT NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now'))
) STRICT;
CREATE INDEX lab_sessions_of_cohort ON lab_sessions (cohort);

-- An exercise is what it asks: another word anywhere makes another version.
CREATE TABLE exercise_versions (
    id          TEXT PRIMARY KEY NOT NULL,  -- SHA-256 of the text, hexadecimal
    name        TEXT NOT NULL,
    title       TEXT NOT NULL,
    toml        TEXT NOT NULL,              -- complete, without inheritance
    created     TEXT NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now'))
) STRICT;
CREATE INDEX exercise_versions_of_name ON exercise_versions (name, created);

ALTER TABLE attempts ADD COLUMN session TEXT REFERENCES lab_sessions (code) ON DELETE SET NULL;
ALTER TABLE attempts ADD COLUMN exercise_version TEXT REFERENCES exercise_versions (id);
-- The day on which the tooth was cut, where it is known.
ALTER TABLE attempts ADD COLUMN taken TEXT;
-- Hash of all that makes the attempt what it is: the same scans of the same learner for the same purpose are one attempt.
ALTER TABLE attempts ADD COLUMN identity TEXT;
-- Version of the program that measured or refused it last.
ALTER TABLE attempts ADD COLUMN settled_by TEXT;
CREATE UNIQUE INDEX attempts_by_identity ON attempts (identity);
CREATE INDEX attempts_of_session ON attempts (session);
CREATE INDEX attempts_of_scan ON attempts (after);

-- A learner's code that is used is known, whoever writes it.
CREATE TRIGGER attempts_know_their_learner AFTER INSERT ON attempts WHEN NEW.learner <> ''
BEGIN
    INSERT INTO learners (code) VALUES (NEW.learner) ON CONFLICT DO NOTHING;
END;

-- A scan whose bytes were erased stays as what was measured, without name and bytes.
ALTER TABLE scans ADD COLUMN erased TEXT;

-- Files that are to go as soon as nothing holds them: what was deleted is deleted, even if the program ends in between.
CREATE TABLE doomed_files (
    scan        TEXT PRIMARY KEY NOT NULL
) STRICT;

-- The readings of the documents, row by row, so that a whole class is asked quickly. They follow the documents by themselves.
-- `part` is empty for the reading itself, else the name of a further number of it. A refused reading has its reason and no value.
CREATE TABLE readings (
    attempt     TEXT NOT NULL,
    version     TEXT NOT NULL,
    reading     TEXT NOT NULL,
    part        TEXT NOT NULL,
    value       REAL,
    word        TEXT,
    unit        TEXT NOT NULL,
    u95         REAL,                       -- expanded uncertainty, k = 2, in the same unit
    aspect      TEXT,
    angle_deg   REAL,                       -- round the tooth: 0 mesial, 90 facial, 180 distal, 270 lingual
    refused     TEXT,
    PRIMARY KEY (attempt, version, reading, part),
    FOREIGN KEY (attempt, version) REFERENCES documents (attempt, version) ON DELETE CASCADE
) STRICT, WITHOUT ROWID;
CREATE INDEX readings_of_class ON readings (reading, part, attempt);

CREATE VIEW unfolded_documents AS
    WITH sound AS (
        SELECT attempt, version, CASE WHEN json_valid(document) THEN document ELSE '{}' END AS document FROM documents
    ), parts AS (
        SELECT sound.attempt, sound.version, reading.key AS reading, reading.value AS entry,
               CASE part.key WHEN 'value' THEN '' ELSE part.key END AS part, part.type, part.value
        FROM sound, json_each(sound.document, '$.readings') AS reading, json_each(reading.value) AS part
        WHERE part.key NOT IN ('unit', 'u95', 'where', 'note') AND part.type IN ('integer', 'real', 'text')
    )
    SELECT attempt, version, reading, part,
           CASE WHEN type <> 'text' THEN CAST(value AS REAL) END AS value,
           CASE WHEN type = 'text' THEN value END AS word,
           CASE WHEN part LIKE '%\_mm' ESCAPE '\' THEN 'mm' WHEN part LIKE '%\_deg' ESCAPE '\' THEN 'deg'
                WHEN part LIKE '%\_um' ESCAPE '\' THEN 'um' WHEN part LIKE '%\_pct' ESCAPE '\' THEN 'pct'
                WHEN part LIKE '%\_mm2' ESCAPE '\' THEN 'mm2' WHEN part LIKE '%\_mm3' ESCAPE '\' THEN 'mm3'
                WHEN type = 'text' THEN '' ELSE coalesce(entry ->> '$.unit', '') END AS unit,
           CASE part WHEN '' THEN CAST(entry ->> '$.u95' AS REAL) END AS u95,
           CASE part WHEN '' THEN entry ->> '$.where.aspect' END AS aspect,
           CASE part WHEN '' THEN CAST(entry ->> '$.where.angle_deg' AS REAL) END AS angle_deg,
           NULL AS refused
    FROM parts
    UNION ALL
    SELECT sound.attempt, sound.version, refused.key, '', NULL, NULL, '', NULL, NULL, NULL, refused.value
    FROM sound, json_each(sound.document, '$.refused') AS refused;

CREATE TRIGGER documents_become_readings AFTER INSERT ON documents
BEGIN
    INSERT INTO readings SELECT * FROM unfolded_documents WHERE attempt = NEW.attempt AND version = NEW.version;
END;
INSERT INTO readings SELECT * FROM unfolded_documents;

-- What was computed stays as it was; an instructor's decision stands beside it.
CREATE TABLE grades (
    id          TEXT PRIMARY KEY NOT NULL DEFAULT (lower(hex(randomblob(10)))),
    attempt     TEXT NOT NULL REFERENCES attempts (id),
    exercise_version TEXT NOT NULL REFERENCES exercise_versions (id),
    stage       TEXT NOT NULL,
    version     TEXT NOT NULL,              -- of the program that measured and graded
    grade       TEXT NOT NULL,              -- JSON
    created     TEXT NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')),
    UNIQUE (attempt, exercise_version, stage, version)
) STRICT;

CREATE TABLE overrides (
    number      INTEGER PRIMARY KEY AUTOINCREMENT,
    grade       TEXT NOT NULL REFERENCES grades (id) ON DELETE CASCADE,
    by          TEXT NOT NULL CHECK (by <> ''),     -- a code, never a name
    reason      TEXT NOT NULL CHECK (reason <> ''),
    change      TEXT NOT NULL,              -- JSON
    created     TEXT NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now'))
) STRICT;
CREATE INDEX overrides_of_grade ON overrides (grade, number);

-- What examiners gave, each for himself, each time he graded.
CREATE TABLE ratings (
    examiner    TEXT NOT NULL,              -- a code, never a name
    attempt     TEXT NOT NULL REFERENCES attempts (id),
    criterion   TEXT NOT NULL,
    occasion    INTEGER NOT NULL CHECK (occasion >= 1),
    value       REAL NOT NULL,
    created     TEXT NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')),
    PRIMARY KEY (examiner, attempt, criterion, occasion)
) STRICT, WITHOUT ROWID;
CREATE INDEX ratings_of_attempt ON ratings (attempt);
