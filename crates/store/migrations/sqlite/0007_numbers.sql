-- Numbers that attempts get once they are measured, in the order in which they were asked for, whatever takes longest.
CREATE TABLE reserved_numbers (
    identity    TEXT PRIMARY KEY NOT NULL,
    number      INTEGER NOT NULL UNIQUE,
    learner     TEXT                        -- whose attempt it is; what is measured of a deleted learner is not kept
) STRICT;
