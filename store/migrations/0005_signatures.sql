-- Signatures of lines of the journal that are seals: Ed25519 over the number and the hash
-- of the line and the time, see package evidence. line is in the journal in the same transaction.
CREATE TABLE signatures (
    line      INTEGER PRIMARY KEY REFERENCES journal (seq),
    hash      TEXT NOT NULL,
    at        INTEGER NOT NULL,
    key       BLOB NOT NULL CHECK (length(key) = 32),
    signature BLOB NOT NULL CHECK (length(signature) = 64)
) STRICT;

CREATE TRIGGER signatures_no_update BEFORE UPDATE ON signatures
BEGIN SELECT RAISE (ABORT, 'signatures are never changed'); END;
CREATE TRIGGER signatures_no_delete BEFORE DELETE ON signatures
BEGIN SELECT RAISE (ABORT, 'signatures are never deleted'); END;
CREATE TRIGGER signatures_no_replace BEFORE INSERT ON signatures
WHEN EXISTS (SELECT 1 FROM signatures WHERE line = NEW.line)
BEGIN SELECT RAISE (ABORT, 'signatures are never changed'); END;

-- A seal is found by the numbers it is over: the last one by each record.
CREATE INDEX journal_kind ON journal (kind, seq);

-- Nothing of a batch is removed: no rule for how long records are kept ends inside flitch. A row
-- that takes the place of another is found by its seal: a look for each insert would cost too much.
CREATE TRIGGER readings_no_delete BEFORE DELETE ON readings
BEGIN SELECT RAISE (ABORT, 'readings are never deleted'); END;
CREATE TRIGGER reading_marks_no_delete BEFORE DELETE ON reading_marks
BEGIN SELECT RAISE (ABORT, 'readings are never deleted'); END;
CREATE TRIGGER batches_no_delete BEFORE DELETE ON batches
BEGIN SELECT RAISE (ABORT, 'batches are never deleted'); END;
