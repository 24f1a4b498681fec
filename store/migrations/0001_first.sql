-- Times are UTC milliseconds since 1970. NULL stands for "no time" and, in a
-- REAL column, for "not a number". Nothing here reads the database's own clock.

CREATE TABLE probes (
    id   INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE
) STRICT;

-- The input log is three tables that share one sequence number: readings,
-- commands, ticks. The one writer gives the numbers out, so a higher number was
-- never committed earlier. Numbers may be missing (duplicates), never reused.
CREATE TABLE readings (
    seq      INTEGER PRIMARY KEY,
    probe    INTEGER NOT NULL REFERENCES probes (id),
    measured INTEGER NOT NULL,
    value    REAL,
    received INTEGER NOT NULL,
    UNIQUE (probe, measured)
) STRICT;

-- Only for readings that are not plain: a quality other than good (0), a device
-- time that cannot be told from the reading itself (see Reading in readings.go),
-- or a place in the log (at) that differs from the time received.
CREATE TABLE reading_marks (
    seq     INTEGER PRIMARY KEY REFERENCES readings (seq) ON DELETE CASCADE,
    quality INTEGER NOT NULL CHECK (quality BETWEEN 0 AND 2),
    reason  TEXT NOT NULL,
    device  INTEGER,
    raw     TEXT NOT NULL,
    at      INTEGER
) STRICT;

CREATE TABLE commands (
    seq   INTEGER PRIMARY KEY,
    id    TEXT NOT NULL UNIQUE CHECK (id <> ''),
    at    INTEGER NOT NULL,
    batch TEXT NOT NULL,
    body  TEXT NOT NULL CHECK (json_valid(body))
) STRICT;
CREATE INDEX commands_batch ON commands (batch, seq);

CREATE TABLE ticks (
    seq INTEGER PRIMARY KEY,
    at  INTEGER NOT NULL
) STRICT;

-- Only the oldest rows are ever dropped, so the highest id is also the number of
-- messages rejected so far.
CREATE TABLE rejections (
    id       INTEGER PRIMARY KEY,
    topic    TEXT NOT NULL,
    received INTEGER,
    raw      BLOB NOT NULL,
    size     INTEGER NOT NULL,
    reason   TEXT NOT NULL
) STRICT;

CREATE TABLE batches (
    id      TEXT PRIMARY KEY,
    status  TEXT NOT NULL,
    started INTEGER,
    cursor  INTEGER NOT NULL,
    state   BLOB NOT NULL
) STRICT;

CREATE TABLE places (
    name   TEXT PRIMARY KEY,
    cursor INTEGER NOT NULL,
    state  BLOB NOT NULL
) STRICT;

CREATE TABLE alarms (
    key   TEXT PRIMARY KEY,
    state BLOB NOT NULL
) STRICT;

CREATE TABLE occurrences (
    number          INTEGER PRIMARY KEY,
    entry           TEXT NOT NULL,
    title           TEXT NOT NULL,
    subject         TEXT NOT NULL,
    unit            TEXT NOT NULL,
    level           INTEGER NOT NULL,
    since           INTEGER,
    raised          INTEGER,
    cleared         INTEGER,
    acknowledged    INTEGER,
    acknowledged_by TEXT NOT NULL,
    value           REAL,
    worst           REAL,
    threshold       REAL,
    answers         TEXT NOT NULL, -- JSON: who said they are on it, and when
    active          INTEGER NOT NULL CHECK (active IN (0, 1))
) STRICT;
CREATE INDEX occurrences_active ON occurrences (number) WHERE active = 1;
CREATE INDEX occurrences_subject ON occurrences (subject, number);

-- seq has no gaps. hash is SHA-256 over the line and prev: see JournalHash.
CREATE TABLE journal (
    seq   INTEGER PRIMARY KEY,
    at    INTEGER NOT NULL,
    batch TEXT NOT NULL,
    kind  TEXT NOT NULL,
    by    TEXT NOT NULL,
    text  TEXT NOT NULL,
    prev  TEXT NOT NULL,
    hash  TEXT NOT NULL UNIQUE
) STRICT;
CREATE INDEX journal_batch ON journal (batch, seq);

CREATE TABLE messages (
    id      INTEGER PRIMARY KEY,
    alarm   INTEGER NOT NULL,
    kind    TEXT NOT NULL,
    entry   TEXT NOT NULL,
    level   INTEGER NOT NULL,
    channel TEXT NOT NULL,
    subject TEXT NOT NULL,
    body    TEXT NOT NULL,
    due     INTEGER NOT NULL,
    next_at INTEGER NOT NULL, -- due, or the time of the next attempt if that is later
    status  TEXT NOT NULL CHECK (status IN ('pending', 'delivered', 'failed'))
) STRICT;
CREATE INDEX messages_pending ON messages (channel, due, id) WHERE status = 'pending';
CREATE INDEX messages_alarm ON messages (alarm, id);

-- A row is written before the message is sent. One without an end means that
-- nobody knows whether the message got through.
CREATE TABLE attempts (
    id      INTEGER PRIMARY KEY,
    message INTEGER NOT NULL REFERENCES messages (id),
    began   INTEGER NOT NULL,
    ended   INTEGER,
    outcome TEXT NOT NULL CHECK (outcome IN ('', 'delivered', 'retry', 'failed')),
    receipt TEXT NOT NULL,
    error   TEXT NOT NULL
) STRICT;
CREATE INDEX attempts_message ON attempts (message, id);

-- What was written stays as it was written. Readings may one day be removed by
-- age, never changed. INSERT OR REPLACE does not fire a DELETE trigger, hence the
-- checks on INSERT.
CREATE TRIGGER readings_no_update BEFORE UPDATE ON readings
BEGIN SELECT RAISE (ABORT, 'readings are never changed'); END;
CREATE TRIGGER reading_marks_no_update BEFORE UPDATE ON reading_marks
BEGIN SELECT RAISE (ABORT, 'readings are never changed'); END;

CREATE TRIGGER commands_no_update BEFORE UPDATE ON commands
BEGIN SELECT RAISE (ABORT, 'commands are append-only'); END;
CREATE TRIGGER commands_no_delete BEFORE DELETE ON commands
BEGIN SELECT RAISE (ABORT, 'commands are append-only'); END;
CREATE TRIGGER commands_no_replace BEFORE INSERT ON commands
WHEN NEW.seq <= (SELECT max(seq) FROM commands)
    OR EXISTS (SELECT 1 FROM commands WHERE id = NEW.id)
BEGIN SELECT RAISE (ABORT, 'commands are append-only'); END;

CREATE TRIGGER journal_no_update BEFORE UPDATE ON journal
BEGIN SELECT RAISE (ABORT, 'the journal is append-only'); END;
CREATE TRIGGER journal_no_delete BEFORE DELETE ON journal
BEGIN SELECT RAISE (ABORT, 'the journal is append-only'); END;
CREATE TRIGGER journal_no_replace BEFORE INSERT ON journal
WHEN NEW.seq <> (SELECT coalesce(max(seq), 0) + 1 FROM journal)
    OR EXISTS (SELECT 1 FROM journal WHERE hash = NEW.hash)
BEGIN SELECT RAISE (ABORT, 'the journal is append-only'); END;
