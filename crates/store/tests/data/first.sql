BEGIN TRANSACTION;
CREATE TABLE _sqlx_migrations (
    version BIGINT PRIMARY KEY,
    description TEXT NOT NULL,
    installed_on TIMESTAMP NOT NULL DEFAULT CURRENT_TIMESTAMP,
    success BOOLEAN NOT NULL,
    checksum BLOB NOT NULL,
    execution_time BIGINT NOT NULL
);
INSERT INTO "_sqlx_migrations" VALUES(1,'first','2026-11-29 16:51:50',1,X'78032CDF0A31BE96FE52BEE7146CCDD233E55F08DE9AA97C5259C4884EA52B38545B88665A5C7356591EDC649EC2C067',3757916);
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
INSERT INTO "attempts" VALUES('a1',1,'277089d91c0bdf4f2e6862ba7e4a07605119431f5d13f726dd352b06f1b206a9',NULL,NULL,'{}',26,'QS-07',NULL,NULL,'done',NULL,NULL,'2026-11-01T09:01:00.000Z',NULL);
INSERT INTO "attempts" VALUES('a2',2,'277089d91c0bdf4f2e6862ba7e4a07605119431f5d13f726dd352b06f1b206a9',NULL,NULL,'{}',26,'QS-08',NULL,NULL,'refused','find','no prepared tooth','2026-11-01T09:02:00.000Z',NULL);
CREATE TABLE audit (
    number      INTEGER PRIMARY KEY AUTOINCREMENT,
    at          TEXT NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')),
    who         TEXT NOT NULL,
    what        TEXT NOT NULL,
    subject     TEXT NOT NULL
) STRICT;
INSERT INTO "audit" VALUES(1,'2026-11-01T09:01:00.000Z','bench','attempt added','a1');
CREATE TABLE documents (
    attempt     TEXT NOT NULL REFERENCES attempts (id),
    version     TEXT NOT NULL,
    layout      TEXT NOT NULL,              -- the document's schema
    document    TEXT NOT NULL,              -- JSON
    created     TEXT NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')),
    PRIMARY KEY (attempt, version)
) STRICT;
INSERT INTO "documents" VALUES('a1','0.1.0','kerfwright-measurement-1','{"schema": "kerfwright-measurement-1", "readings": {"finish_line.width.distal_mm": {"value": 0.55, "unit": "mm", "u95": 0.04, "least": 0.3}}, "refused": {"contact.mesial_mm": "no neighbour"}}','2026-11-01T09:03:00.000Z');
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
INSERT INTO "remarks" VALUES('r1',1,'a1',1.0,2.0,3.0,'a lip here','QS-I1','2026-11-01T09:04:00.000Z',NULL,NULL);
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
INSERT INTO "scans" VALUES('277089d91c0bdf4f2e6862ba7e4a07605119431f5d13f726dd352b06f1b206a9','QS-07.stl',5,'STL, binary',1,'[1.0,2.0,3.0]','[]','2026-11-01T09:00:00.000Z');
CREATE INDEX attempts_of_learner ON attempts (learner, number);
CREATE INDEX remarks_of_attempt ON remarks (attempt, number);
COMMIT;
