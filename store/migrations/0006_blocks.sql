-- Readings that stand under a seal, packed: see package store/block. A block holds every reading of
-- its probe whose number lies from first_seq to last_seq, and both of these; blocks of a probe
-- follow from the lowest number up, so that no row of it has a lower number than a block. In time
-- they may overlap: what comes late has a higher number.
CREATE TABLE blocks (
    id             INTEGER PRIMARY KEY AUTOINCREMENT, -- no number twice: what was unpacked is kept under it
    probe          INTEGER NOT NULL REFERENCES probes (id),
    first_seq      INTEGER NOT NULL,
    last_seq       INTEGER NOT NULL CHECK (last_seq >= first_seq),
    first_measured INTEGER NOT NULL, -- the earliest and the latest of them
    last_measured  INTEGER NOT NULL CHECK (last_measured >= first_measured),
    n              INTEGER NOT NULL CHECK (n > 0),
    sum            INTEGER NOT NULL, -- CRC-32C over all the others, see blockSum
    body           BLOB NOT NULL
) STRICT;
CREATE INDEX blocks_seq ON blocks (probe, last_seq, first_seq, n);
CREATE INDEX blocks_measured ON blocks (probe, last_measured, first_measured);

CREATE TRIGGER blocks_no_update BEFORE UPDATE ON blocks
BEGIN SELECT RAISE (ABORT, 'blocks are never changed'); END;
CREATE TRIGGER blocks_no_replace BEFORE INSERT ON blocks
WHEN EXISTS (SELECT 1 FROM blocks WHERE id = NEW.id)
    OR EXISTS (SELECT 1 FROM blocks WHERE probe = NEW.probe AND last_seq >= NEW.first_seq)
BEGIN SELECT RAISE (ABORT, 'blocks are never changed'); END;

-- A row may go when it is in a block.
DROP TRIGGER readings_no_delete;
CREATE TRIGGER readings_no_delete BEFORE DELETE ON readings
WHEN NOT EXISTS (SELECT 1 FROM blocks WHERE probe = OLD.probe AND last_seq >= OLD.seq AND first_seq <= OLD.seq)
BEGIN SELECT RAISE (ABORT, 'readings are never deleted'); END;
DROP TRIGGER reading_marks_no_delete;
CREATE TRIGGER reading_marks_no_delete BEFORE DELETE ON reading_marks
WHEN NOT EXISTS (SELECT 1 FROM readings r JOIN blocks b ON b.probe = r.probe AND b.last_seq >= r.seq AND b.first_seq <= r.seq WHERE r.seq = OLD.seq)
BEGIN SELECT RAISE (ABORT, 'readings are never deleted'); END;

-- What was removed by the owner's rule for how long readings are kept, each with the line of the
-- journal that says so. One row is a run of blocks of a probe that ends with a seal.
CREATE TABLE removals (
    line           INTEGER NOT NULL REFERENCES journal (seq),
    probe          INTEGER NOT NULL REFERENCES probes (id),
    first_seq      INTEGER NOT NULL,
    last_seq       INTEGER NOT NULL CHECK (last_seq >= first_seq),
    first_measured INTEGER NOT NULL,
    last_measured  INTEGER NOT NULL,
    n              INTEGER NOT NULL CHECK (n > 0),
    PRIMARY KEY (probe, first_seq)
) STRICT;
CREATE INDEX removals_line ON removals (line);

-- What each seal stood over of what was removed: with these its hash can still be made anew.
CREATE TABLE removed_strands (
    seal   INTEGER NOT NULL REFERENCES journal (seq), -- the line that is the seal
    probe  INTEGER NOT NULL REFERENCES probes (id),
    n      INTEGER NOT NULL CHECK (n > 0),
    digest BLOB NOT NULL CHECK (length(digest) = 32), -- SHA-256, see evidence.Strand
    PRIMARY KEY (seal, probe)
) STRICT, WITHOUT ROWID;

CREATE TRIGGER blocks_no_delete BEFORE DELETE ON blocks
WHEN NOT EXISTS (SELECT 1 FROM removals WHERE probe = OLD.probe AND first_seq <= OLD.first_seq AND last_seq >= OLD.last_seq)
BEGIN SELECT RAISE (ABORT, 'blocks are only removed by the rule for how long readings are kept'); END;
CREATE TRIGGER removals_no_update BEFORE UPDATE ON removals
BEGIN SELECT RAISE (ABORT, 'what was removed stays written'); END;
CREATE TRIGGER removals_no_delete BEFORE DELETE ON removals
BEGIN SELECT RAISE (ABORT, 'what was removed stays written'); END;
CREATE TRIGGER removals_no_replace BEFORE INSERT ON removals
WHEN EXISTS (SELECT 1 FROM removals WHERE probe = NEW.probe AND first_seq = NEW.first_seq)
BEGIN SELECT RAISE (ABORT, 'what was removed stays written'); END;
CREATE TRIGGER removed_strands_no_update BEFORE UPDATE ON removed_strands
BEGIN SELECT RAISE (ABORT, 'what was removed stays written'); END;
CREATE TRIGGER removed_strands_no_delete BEFORE DELETE ON removed_strands
BEGIN SELECT RAISE (ABORT, 'what was removed stays written'); END;
CREATE TRIGGER removed_strands_no_replace BEFORE INSERT ON removed_strands
WHEN EXISTS (SELECT 1 FROM removed_strands WHERE seal = NEW.seal AND probe = NEW.probe)
BEGIN SELECT RAISE (ABORT, 'what was removed stays written'); END;
