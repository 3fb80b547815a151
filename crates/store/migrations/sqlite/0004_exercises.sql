-- Exercises that were put beside the shipped ones. Each name carries a part of the text's hash, so that a row never changes and
-- what an attempt was held against stays.
CREATE TABLE own_exercises (
    name        TEXT PRIMARY KEY NOT NULL,
    file        TEXT NOT NULL,
    text        TEXT NOT NULL,
    created     TEXT NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now'))
) STRICT;
