package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/mattn/go-sqlite3"

	"flitch/store/owner"
)

// A Copied says what is in a copy of a database.
type Copied struct {
	Counts
	Readings int64
	Newest   time.Time // when the newest input was taken in; zero: there is none
	Bytes    int64     // size of the file
}

// Backup copies the database, as it stands now, into a new file at path, beside a
// daemon that goes on writing. The copy is synced, then opened, checked and counted
// like a stranger's file before Backup returns; one that is not whole is removed. It
// refuses to touch a file that is already there (fs.ErrExist).
func (db *DB) Backup(ctx context.Context, path string) (Copied, error) {
	wanted, err := db.copyTo(ctx, path)
	if err != nil {
		return Copied{}, fmt.Errorf("store: backup to %s: %w", path, err)
	}
	found, err := Examine(path)
	if err == nil && (found.Counts != wanted.Counts || found.Readings != wanted.Readings) {
		err = fmt.Errorf("store: backup to %s: the copy holds %+v, the database %+v", path, found, wanted)
	}
	if err != nil {
		return Copied{}, errors.Join(err, os.Remove(path))
	}
	return found, nil
}

// copyTo copies one moment of the database, and counts what it held then.
func (db *DB) copyTo(ctx context.Context, path string) (Copied, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return Copied{}, err
	}
	owner.OfFolder(f)
	defer f.Close()
	wanted, err := db.snapshot(ctx, path)
	if err == nil {
		err = f.Sync()
	}
	if err != nil {
		return Copied{}, errors.Join(err, os.Remove(path))
	}
	return wanted, syncFolder(filepath.Dir(path))
}

// snapshot holds one read transaction over the counting and the copying: both see the
// same moment, and the writer does not wait for it.
func (db *DB) snapshot(ctx context.Context, path string) (Copied, error) {
	from, err := db.reader.Conn(ctx)
	if err != nil {
		return Copied{}, err
	}
	defer from.Close()
	if _, err := from.ExecContext(ctx, "BEGIN"); err != nil {
		return Copied{}, err
	}
	defer from.ExecContext(background, "ROLLBACK") // it has read only
	wanted, err := counted(ctx, from)
	if err != nil {
		return Copied{}, err
	}
	pool, err := openPool(path, 1, "mode=rw")
	if err != nil {
		return Copied{}, err
	}
	defer pool.Close()
	to, err := pool.Conn(ctx)
	if err != nil {
		return Copied{}, err
	}
	defer to.Close()
	return wanted, to.Raw(func(target any) error {
		return from.Raw(func(source any) error {
			return copyPages(ctx, target.(*sqlite3.SQLiteConn), source.(*sqlite3.SQLiteConn))
		})
	})
}

// pagesAtOnce is how much is copied between two looks at whether somebody wants to stop: 4 MB.
const pagesAtOnce = 1024

func copyPages(ctx context.Context, target, source *sqlite3.SQLiteConn) error {
	b, err := target.Backup("main", source, "main")
	if err != nil {
		return err
	}
	for done := false; err == nil && !done; {
		if err = ctx.Err(); err == nil {
			done, err = b.Step(pagesAtOnce)
		}
	}
	return errors.Join(err, b.Close())
}

// A querier is a database or one connection of it.
type querier interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

func counted(ctx context.Context, q querier) (c Copied, err error) {
	if c.Counts, err = counts(ctx, q); err != nil {
		return c, err
	}
	c.Readings, err = countReadings(ctx, q)
	return c, err
}

// Examine opens the file of a backup as it is, without a daemon, without a lock and
// without changing a byte, and reads all of it: SQLite's own check, the chain of the
// journal, and the counts. ErrOlder and ErrNewer are no faults of a backup: its schema
// is that of the flitch that made it.
func Examine(path string) (Copied, error) {
	if err := mustExist(path); err != nil {
		return Copied{}, err
	}
	pool, err := openPool(path, readers, "mode=ro&immutable=1&_query_only=1")
	if err != nil {
		return Copied{}, fmt.Errorf("store: examine %s: %w", path, err)
	}
	defer pool.Close()
	db := &DB{reader: pool, readOnly: true}
	found, err := db.examine()
	if err != nil {
		return found, fmt.Errorf("store: examine %s: %w", path, err)
	}
	info, err := os.Stat(path)
	if err == nil {
		found.Bytes = info.Size()
	}
	return found, err
}

func (db *DB) examine() (Copied, error) {
	if err := errors.Join(db.Check(), db.VerifyJournal(), db.checkSums()); err != nil {
		return Copied{}, err
	}
	found, err := counted(background, db.reader)
	if err != nil {
		return found, err
	}
	if err := db.loadSeq(); err != nil {
		return found, err
	}
	if db.seq > 0 {
		found.Newest = time.UnixMilli(db.at).UTC()
	}
	return found, nil
}

// FoldLog brings what is in the log of the database at path into the database itself, and
// removes the log. Nobody else may have it open. A log that SQLite cannot read is lost by it.
func FoldLog(path string) error {
	if err := mustExist(path); err != nil {
		return err
	}
	pool, err := openPool(path, 1, "mode=rw&_synchronous=FULL")
	if err != nil {
		return fmt.Errorf("store: %w", err)
	}
	var busy, frames, folded int
	err = pool.QueryRow("PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &frames, &folded)
	if err = errors.Join(err, pool.Close()); err != nil { // the last to close removes the log
		return fmt.Errorf("store: fold the log of %s: %w", path, err)
	}
	return nil
}
