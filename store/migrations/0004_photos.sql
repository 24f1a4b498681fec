-- Pictures that came with notes, as JPEG without metadata, under their SHA-256 (hex). The
-- command of the note names the hash; it is in the log in the same transaction.
CREATE TABLE photos (
    hash  TEXT PRIMARY KEY CHECK (length(hash) = 64),
    taken INTEGER NOT NULL, -- into the database
    jpeg  BLOB NOT NULL
) STRICT;

CREATE TRIGGER photos_no_update BEFORE UPDATE ON photos
BEGIN SELECT RAISE (ABORT, 'photos are never changed'); END;
CREATE TRIGGER photos_no_delete BEFORE DELETE ON photos
BEGIN SELECT RAISE (ABORT, 'photos are never deleted'); END;
CREATE TRIGGER photos_no_replace BEFORE INSERT ON photos
WHEN EXISTS (SELECT 1 FROM photos WHERE hash = NEW.hash)
BEGIN SELECT RAISE (ABORT, 'photos are never changed'); END;
