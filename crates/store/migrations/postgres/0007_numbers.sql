-- Numbers that attempts get once they are measured, in the order in which they were asked for, whatever takes longest.
CREATE TABLE reserved_numbers (
    identity    TEXT COLLATE "C" PRIMARY KEY,
    number      BIGINT NOT NULL UNIQUE,
    learner     TEXT COLLATE "C"            -- whose attempt it is; what is measured of a deleted learner is not kept
);
