-- Who may sign in where the app is reached over a network. Codes, never names.

CREATE TABLE accounts (
    code        TEXT PRIMARY KEY NOT NULL COLLATE NOCASE,
    role        TEXT NOT NULL CHECK (role IN ('director', 'instructor', 'learner')),
    learner     TEXT,                       -- code of the learner whose work a learner's account sees
    password    TEXT NOT NULL,              -- argon2 hash with its salt and settings, PHC form
    created     TEXT NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')),
    CHECK ((role = 'learner') = (learner IS NOT NULL))
) STRICT;

-- A row for each browser that is signed in. The cookie's value itself is kept nowhere.
CREATE TABLE sign_ins (
    token       TEXT PRIMARY KEY NOT NULL,  -- SHA-256 of the cookie's value, hexadecimal
    account     TEXT NOT NULL COLLATE NOCASE REFERENCES accounts (code) ON DELETE CASCADE,
    created     TEXT NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')),
    used        TEXT NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')),
    ends        TEXT NOT NULL
) STRICT;
CREATE INDEX sign_ins_of_account ON sign_ins (account);

-- Which learners sent a scan themselves: the same bytes may come from several.
CREATE TABLE scan_senders (
    scan        TEXT NOT NULL REFERENCES scans (id) ON DELETE CASCADE,
    learner     TEXT NOT NULL,
    file        TEXT NOT NULL,              -- what this learner's file was called
    PRIMARY KEY (scan, learner)
) STRICT;
CREATE INDEX attempts_of_after ON attempts (after);
CREATE INDEX attempts_of_before ON attempts (before);
CREATE INDEX attempts_of_opposing ON attempts (opposing);
