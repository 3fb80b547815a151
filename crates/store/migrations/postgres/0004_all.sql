-- All that the first four migrations of SQLite lay down, in PostgreSQL's words; from the fifth on the two folders go in pairs.
-- Times are UTC, ISO 8601, as text. Texts compare byte by byte, as in SQLite.

CREATE FUNCTION utc_now(shift text DEFAULT '0 seconds') RETURNS text LANGUAGE sql VOLATILE AS $$
    SELECT to_char((clock_timestamp() + shift::interval) AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"') COLLATE "C"
$$;
CREATE FUNCTION random_id() RETURNS text LANGUAGE sql VOLATILE AS $$
    SELECT left(replace(gen_random_uuid()::text, '-', ''), 20)
$$;
-- Codes of accounts: capital letters make no difference.
CREATE COLLATION nocase (provider = icu, locale = 'und-u-ks-level2', deterministic = false);

CREATE TABLE learners (
    code        TEXT COLLATE "C" PRIMARY KEY CHECK (length(code) BETWEEN 1 AND 40),
    created     TEXT COLLATE "C" NOT NULL DEFAULT utc_now()
);

CREATE TABLE names (
    learner     TEXT COLLATE "C" PRIMARY KEY REFERENCES learners (code) ON DELETE CASCADE,
    name        TEXT,
    roster_id   TEXT COLLATE "C" UNIQUE
);

CREATE TABLE cohorts (
    code        TEXT COLLATE "C" PRIMARY KEY CHECK (length(code) BETWEEN 1 AND 40),
    title       TEXT NOT NULL,
    roster_id   TEXT COLLATE "C" UNIQUE,
    created     TEXT COLLATE "C" NOT NULL DEFAULT utc_now()
);

CREATE TABLE members (
    cohort      TEXT COLLATE "C" NOT NULL REFERENCES cohorts (code) ON DELETE CASCADE,
    learner     TEXT COLLATE "C" NOT NULL REFERENCES learners (code) ON DELETE CASCADE,
    PRIMARY KEY (cohort, learner)
);
CREATE INDEX members_of_learner ON members (learner);

CREATE TABLE lab_sessions (
    code        TEXT COLLATE "C" PRIMARY KEY CHECK (length(code) BETWEEN 1 AND 40),
    title       TEXT NOT NULL,
    cohort      TEXT COLLATE "C" REFERENCES cohorts (code) ON DELETE SET NULL,
    instructor  TEXT COLLATE "C",
    held        TEXT COLLATE "C",
    created     TEXT COLLATE "C" NOT NULL DEFAULT utc_now()
);
CREATE INDEX lab_sessions_of_cohort ON lab_sessions (cohort);

CREATE TABLE exercise_versions (
    id          TEXT COLLATE "C" PRIMARY KEY,
    name        TEXT COLLATE "C" NOT NULL,
    title       TEXT NOT NULL,
    toml        TEXT NOT NULL,
    created     TEXT COLLATE "C" NOT NULL DEFAULT utc_now()
);
CREATE INDEX exercise_versions_of_name ON exercise_versions (name, created);

CREATE TABLE own_exercises (
    name        TEXT COLLATE "C" PRIMARY KEY,
    file        TEXT NOT NULL,
    text        TEXT NOT NULL,
    created     TEXT COLLATE "C" NOT NULL DEFAULT utc_now()
);

CREATE TABLE scans (
    id          TEXT COLLATE "C" PRIMARY KEY,
    file        TEXT NOT NULL,
    n_bytes     BIGINT NOT NULL,
    format      TEXT NOT NULL,
    n_triangles BIGINT NOT NULL,
    size_mm     JSONB NOT NULL,
    findings    JSONB NOT NULL,
    created     TEXT COLLATE "C" NOT NULL DEFAULT utc_now(),
    erased      TEXT COLLATE "C"
);

CREATE TABLE scan_senders (
    scan        TEXT COLLATE "C" NOT NULL REFERENCES scans (id) ON DELETE CASCADE,
    learner     TEXT COLLATE "C" NOT NULL,
    file        TEXT NOT NULL,
    PRIMARY KEY (scan, learner)
);

CREATE TABLE doomed_files (
    scan        TEXT COLLATE "C" PRIMARY KEY
);

CREATE TABLE attempts (
    id          TEXT COLLATE "C" PRIMARY KEY DEFAULT random_id(),
    number      BIGINT NOT NULL UNIQUE,
    after       TEXT COLLATE "C" NOT NULL REFERENCES scans (id),
    before      TEXT COLLATE "C" REFERENCES scans (id),
    opposing    TEXT COLLATE "C" REFERENCES scans (id),
    request     TEXT NOT NULL,
    fdi         BIGINT NOT NULL,
    learner     TEXT COLLATE "C",
    exercise    TEXT COLLATE "C",
    stage       TEXT COLLATE "C",
    state       TEXT COLLATE "C" NOT NULL DEFAULT 'waiting'
                CHECK (state IN ('waiting', 'running', 'done', 'refused', 'cancelled')),
    error_code  TEXT,
    error_text  TEXT,
    created     TEXT COLLATE "C" NOT NULL DEFAULT utc_now(),
    finished    TEXT COLLATE "C",
    session     TEXT COLLATE "C" REFERENCES lab_sessions (code) ON DELETE SET NULL,
    exercise_version TEXT COLLATE "C" REFERENCES exercise_versions (id),
    taken       TEXT COLLATE "C",
    identity    TEXT COLLATE "C",
    settled_by  TEXT COLLATE "C"
);
CREATE UNIQUE INDEX attempts_by_identity ON attempts (identity);
CREATE INDEX attempts_of_learner ON attempts (learner, number);
CREATE INDEX attempts_of_session ON attempts (session);
CREATE INDEX attempts_of_after ON attempts (after);
CREATE INDEX attempts_of_before ON attempts (before);
CREATE INDEX attempts_of_opposing ON attempts (opposing);

CREATE FUNCTION know_the_learner() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    INSERT INTO learners (code) VALUES (NEW.learner) ON CONFLICT DO NOTHING;
    RETURN NULL;
END
$$;
CREATE TRIGGER attempts_know_their_learner AFTER INSERT ON attempts
    FOR EACH ROW WHEN (NEW.learner <> '') EXECUTE FUNCTION know_the_learner();

CREATE TABLE documents (
    attempt     TEXT COLLATE "C" NOT NULL REFERENCES attempts (id),
    version     TEXT COLLATE "C" NOT NULL,
    layout      TEXT NOT NULL,
    document    TEXT NOT NULL,
    created     TEXT COLLATE "C" NOT NULL DEFAULT utc_now(),
    PRIMARY KEY (attempt, version)
);

CREATE TABLE readings (
    attempt     TEXT COLLATE "C" NOT NULL,
    version     TEXT COLLATE "C" NOT NULL,
    reading     TEXT COLLATE "C" NOT NULL,
    part        TEXT COLLATE "C" NOT NULL,
    value       DOUBLE PRECISION,
    word        TEXT,
    unit        TEXT NOT NULL,
    u95         DOUBLE PRECISION,
    aspect      TEXT,
    angle_deg   DOUBLE PRECISION,
    refused     TEXT,
    PRIMARY KEY (attempt, version, reading, part),
    FOREIGN KEY (attempt, version) REFERENCES documents (attempt, version) ON DELETE CASCADE
);
CREATE INDEX readings_of_class ON readings (reading, part, attempt);

-- The document as far as it can be read: one that is no JSON has no rows.
CREATE FUNCTION sound_document(document text) RETURNS jsonb LANGUAGE plpgsql IMMUTABLE AS $$
BEGIN
    RETURN document::jsonb;
EXCEPTION WHEN OTHERS THEN
    RETURN '{}';
END
$$;
CREATE FUNCTION members_of(value jsonb) RETURNS TABLE (key text, entry jsonb) LANGUAGE sql IMMUTABLE AS $$
    SELECT each.key, each.value FROM jsonb_each(CASE jsonb_typeof(value) WHEN 'object' THEN value ELSE '{}' END) AS each
$$;

CREATE FUNCTION unfold_document() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    sound jsonb := sound_document(NEW.document);
BEGIN
    INSERT INTO readings
    SELECT NEW.attempt, NEW.version, reading, part,
           CASE WHEN type = 'number' THEN (entry #>> '{}')::double precision END,
           CASE WHEN type = 'string' THEN entry #>> '{}' END,
           CASE WHEN part LIKE '%\_mm' THEN 'mm' WHEN part LIKE '%\_deg' THEN 'deg' WHEN part LIKE '%\_um' THEN 'um'
                WHEN part LIKE '%\_pct' THEN 'pct' WHEN part LIKE '%\_mm2' THEN 'mm2' WHEN part LIKE '%\_mm3' THEN 'mm3'
                WHEN type = 'string' THEN '' ELSE coalesce(whole ->> 'unit', '') END,
           CASE WHEN part = '' AND jsonb_typeof(whole -> 'u95') = 'number' THEN (whole ->> 'u95')::double precision END,
           CASE WHEN part = '' THEN whole #>> '{where,aspect}' END,
           CASE WHEN part = '' AND jsonb_typeof(whole #> '{where,angle_deg}') = 'number'
                THEN (whole #>> '{where,angle_deg}')::double precision END,
           NULL
    FROM (
        SELECT reading.key AS reading, reading.entry AS whole, part.entry, jsonb_typeof(part.entry) AS type,
               CASE part.key WHEN 'value' THEN '' ELSE part.key END AS part
        FROM members_of(sound -> 'readings') AS reading, members_of(reading.entry) AS part
        WHERE part.key NOT IN ('unit', 'u95', 'where', 'note') AND jsonb_typeof(part.entry) IN ('number', 'string')
    ) AS parts
    UNION ALL
    SELECT NEW.attempt, NEW.version, refused.key, '', NULL, NULL, '', NULL, NULL, NULL, refused.entry #>> '{}'
    FROM members_of(sound -> 'refused') AS refused;
    RETURN NULL;
END
$$;
CREATE TRIGGER documents_become_readings AFTER INSERT ON documents FOR EACH ROW EXECUTE FUNCTION unfold_document();

CREATE TABLE remarks (
    id          TEXT COLLATE "C" PRIMARY KEY DEFAULT random_id(),
    number      BIGINT NOT NULL UNIQUE,
    attempt     TEXT COLLATE "C" NOT NULL REFERENCES attempts (id),
    x_mm        DOUBLE PRECISION NOT NULL,
    y_mm        DOUBLE PRECISION NOT NULL,
    z_mm        DOUBLE PRECISION NOT NULL,
    text        TEXT NOT NULL,
    author      TEXT COLLATE "C" NOT NULL,
    created     TEXT COLLATE "C" NOT NULL DEFAULT utc_now(),
    resolved    TEXT COLLATE "C",
    removed     TEXT COLLATE "C"
);
CREATE INDEX remarks_of_attempt ON remarks (attempt, number);

CREATE TABLE grades (
    id          TEXT COLLATE "C" PRIMARY KEY DEFAULT random_id(),
    attempt     TEXT COLLATE "C" NOT NULL REFERENCES attempts (id),
    exercise_version TEXT COLLATE "C" NOT NULL REFERENCES exercise_versions (id),
    stage       TEXT COLLATE "C" NOT NULL,
    version     TEXT COLLATE "C" NOT NULL,
    grade       TEXT NOT NULL,
    created     TEXT COLLATE "C" NOT NULL DEFAULT utc_now(),
    UNIQUE (attempt, exercise_version, stage, version)
);

CREATE TABLE overrides (
    number      BIGINT GENERATED BY DEFAULT AS IDENTITY PRIMARY KEY,
    grade       TEXT COLLATE "C" NOT NULL REFERENCES grades (id) ON DELETE CASCADE,
    by          TEXT COLLATE "C" NOT NULL CHECK (by <> ''),
    reason      TEXT NOT NULL CHECK (reason <> ''),
    change      TEXT NOT NULL,
    created     TEXT COLLATE "C" NOT NULL DEFAULT utc_now()
);
CREATE INDEX overrides_of_grade ON overrides (grade, number);

CREATE TABLE ratings (
    examiner    TEXT COLLATE "C" NOT NULL,
    attempt     TEXT COLLATE "C" NOT NULL REFERENCES attempts (id),
    criterion   TEXT COLLATE "C" NOT NULL,
    occasion    BIGINT NOT NULL CHECK (occasion >= 1),
    value       DOUBLE PRECISION NOT NULL,
    created     TEXT COLLATE "C" NOT NULL DEFAULT utc_now(),
    PRIMARY KEY (examiner, attempt, criterion, occasion)
);
CREATE INDEX ratings_of_attempt ON ratings (attempt);

CREATE TABLE accounts (
    code        TEXT COLLATE nocase PRIMARY KEY,
    role        TEXT COLLATE "C" NOT NULL CHECK (role IN ('director', 'instructor', 'learner')),
    learner     TEXT COLLATE "C",
    password    TEXT NOT NULL,
    created     TEXT COLLATE "C" NOT NULL DEFAULT utc_now(),
    CHECK ((role = 'learner') = (learner IS NOT NULL))
);

CREATE TABLE sign_ins (
    token       TEXT COLLATE "C" PRIMARY KEY,
    account     TEXT COLLATE nocase NOT NULL REFERENCES accounts (code) ON DELETE CASCADE,
    created     TEXT COLLATE "C" NOT NULL DEFAULT utc_now(),
    used        TEXT COLLATE "C" NOT NULL DEFAULT utc_now(),
    ends        TEXT COLLATE "C" NOT NULL
);
CREATE INDEX sign_ins_of_account ON sign_ins (account);

CREATE TABLE audit (
    number      BIGINT GENERATED BY DEFAULT AS IDENTITY PRIMARY KEY,
    at          TEXT COLLATE "C" NOT NULL DEFAULT utc_now(),
    who         TEXT COLLATE "C" NOT NULL,
    what        TEXT NOT NULL,
    subject     TEXT COLLATE "C" NOT NULL
);
