-- Blind gradings: what each examiner is to grade, in which order and under which code. What was given goes to `ratings`.
CREATE TABLE gradings (
    id          TEXT COLLATE "C" PRIMARY KEY DEFAULT random_id(),
    title       TEXT NOT NULL,
    exercise    TEXT COLLATE "C" NOT NULL,
    stage       TEXT COLLATE "C" NOT NULL,
    criteria    TEXT NOT NULL,              -- JSON: id and title of each
    created     TEXT COLLATE "C" NOT NULL DEFAULT utc_now()
);

-- The key. It goes to nobody while it is graded by: an examiner is told the codes alone.
CREATE TABLE grading_places (
    grading     TEXT COLLATE "C" NOT NULL REFERENCES gradings (id) ON DELETE CASCADE,
    examiner    TEXT COLLATE nocase NOT NULL,   -- a code, never a name
    place       BIGINT NOT NULL,            -- in the examiner's own order
    code        TEXT COLLATE "C" NOT NULL,
    attempt     TEXT COLLATE "C" NOT NULL REFERENCES attempts (id) ON DELETE CASCADE,
    given       TEXT COLLATE "C",           -- when it was graded
    PRIMARY KEY (grading, examiner, place),
    UNIQUE (grading, examiner, code)
);
CREATE INDEX grading_places_of_examiner ON grading_places (examiner, given);
CREATE INDEX grading_places_of_attempt ON grading_places (attempt);
