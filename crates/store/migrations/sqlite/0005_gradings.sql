-- Blind gradings: what each examiner is to grade, in which order and under which code. What was given goes to `ratings`.
CREATE TABLE gradings (
    id          TEXT PRIMARY KEY NOT NULL DEFAULT (lower(hex(randomblob(10)))),
    title       TEXT NOT NULL,
    exercise    TEXT NOT NULL,
    stage       TEXT NOT NULL,
    criteria    TEXT NOT NULL,              -- JSON: id and title of each
    created     TEXT NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now'))
) STRICT;

-- The key. It goes to nobody while it is graded by: an examiner is told the codes alone.
CREATE TABLE grading_places (
    grading     TEXT NOT NULL REFERENCES gradings (id) ON DELETE CASCADE,
    examiner    TEXT NOT NULL COLLATE NOCASE,   -- a code, never a name
    place       INTEGER NOT NULL,           -- in the examiner's own order
    code        TEXT NOT NULL,
    attempt     TEXT NOT NULL REFERENCES attempts (id) ON DELETE CASCADE,
    given       TEXT,                       -- when it was graded
    PRIMARY KEY (grading, examiner, place),
    UNIQUE (grading, examiner, code)
) STRICT;
CREATE INDEX grading_places_of_examiner ON grading_places (examiner, given);
CREATE INDEX grading_places_of_attempt ON grading_places (attempt);
