-- What one bench keeps. Roster, cohorts, sessions, grades and overrides follow in later migrations; what they will point at
-- (attempts, documents, exercises by name and version, learners by code) is laid down here so that nothing has to be rewritten.
-- Times are UTC, ISO 8601. Lengths end in _mm.

-- A scan is its bytes: the same bytes are one row, whatever the files were called. The bytes lie in the folder of scans.
CREATE TABLE scans (
    id          TEXT PRIMARY KEY NOT NULL,  -- SHA-256 of the bytes, hexadecimal
    file        TEXT NOT NULL,              -- name of the file as first given
    n_bytes     INTEGER NOT NULL,
    format      TEXT NOT NULL,
    n_triangles INTEGER NOT NULL,
    size_mm     TEXT NOT NULL,              -- JSON: three lengths
    findings    TEXT NOT NULL,              -- JSON: what was found and repaired
    created     TEXT NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now'))
) STRICT;

CREATE TABLE attempts (
    id          TEXT PRIMARY KEY NOT NULL DEFAULT (lower(hex(randomblob(10)))),
    number      INTEGER NOT NULL UNIQUE,    -- order of coming
    after       TEXT NOT NULL REFERENCES scans (id),
    before      TEXT REFERENCES scans (id),
    opposing    TEXT REFERENCES scans (id),
    request     TEXT NOT NULL,              -- JSON: all that was asked
    fdi         INTEGER NOT NULL,
    learner     TEXT,                       -- a code, never a name
    exercise    TEXT,
    stage       TEXT,
    state       TEXT NOT NULL DEFAULT 'waiting'
                CHECK (state IN ('waiting', 'running', 'done', 'refused', 'cancelled')),
    error_code  TEXT,
    error_text  TEXT,
    created     TEXT NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')),
    finished    TEXT
) STRICT;
CREATE INDEX attempts_of_learner ON attempts (learner, number);

-- A document for each version of the program that measured the attempt.
CREATE TABLE documents (
    attempt     TEXT NOT NULL REFERENCES attempts (id),
    version     TEXT NOT NULL,
    layout      TEXT NOT NULL,              -- the document's schema
    document    TEXT NOT NULL,              -- JSON
    created     TEXT NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')),
    PRIMARY KEY (attempt, version)
) STRICT;

-- A removed remark stays, so that removing can be undone.
CREATE TABLE remarks (
    id          TEXT PRIMARY KEY NOT NULL DEFAULT (lower(hex(randomblob(10)))),
    number      INTEGER NOT NULL UNIQUE,
    attempt     TEXT NOT NULL REFERENCES attempts (id),
    x_mm        REAL NOT NULL,              -- frame of the after scan
    y_mm        REAL NOT NULL,
    z_mm        REAL NOT NULL,
    text        TEXT NOT NULL,
    author      TEXT NOT NULL,              -- a code, never a name
    created     TEXT NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')),
    resolved    TEXT,
    removed     TEXT
) STRICT;
CREATE INDEX remarks_of_attempt ON remarks (attempt, number);

-- Who did what when; ids alone, no content.
CREATE TABLE audit (
    number      INTEGER PRIMARY KEY AUTOINCREMENT,
    at          TEXT NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')),
    who         TEXT NOT NULL,
    what        TEXT NOT NULL,
    subject     TEXT NOT NULL
) STRICT;
