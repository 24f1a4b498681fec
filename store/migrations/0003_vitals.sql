-- What sensors told of their batteries and signals since the last look at them, at
-- most one value an hour of each. No readings: nothing is promised of them.
CREATE TABLE vitals (
    probe TEXT NOT NULL,
    kind  TEXT NOT NULL,
    at    INTEGER NOT NULL,
    value REAL NOT NULL,
    PRIMARY KEY (probe, kind, at)
) STRICT, WITHOUT ROWID;
