package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
)

// An Upgrade says that Open has brought a database to a later schema, and where the
// database of before is.
type Upgrade struct {
	From, To int    // schemas
	Copy     string // path of the database as it was; empty: none could be made
	Without  error  // why none could be made
}

// Upgraded returns what Open did to the schema; nil: nothing.
func (db *DB) Upgraded() *Upgrade { return db.upgraded }

// CopyOfSchema is the path at which Open leaves the database at path as it was before
// it left a schema. Not beside the keys, whose names begin with that of the database: a
// backup takes those along.
func CopyOfSchema(path string, schema int) string {
	return fmt.Sprintf("%s.schema-%d.db", strings.TrimSuffix(path, ".db"), schema)
}

// roomToSpare is what has to be free beside a copy for the steps themselves and the
// readings of meanwhile, bytes: a proposal.
const roomToSpare = 64 << 20

// upgrade brings the schema up to date, and keeps the database as it was beside it: the
// steps go forward only, and this copy is the way back. One is kept of each schema. It
// stops no upgrade: without room for it the steps lose nothing all the same, and a watch
// that does not begin would be worse.
func (db *DB) upgrade(path string, steps []string) error {
	have, err := schemaVersion(db.writer, len(steps))
	if err != nil {
		return wayBack(err, path, len(steps))
	}
	if have == 0 || have == len(steps) {
		return migrate(db.writer, steps)
	}
	up := &Upgrade{From: have, To: len(steps), Copy: CopyOfSchema(path, have)}
	if up.Without = db.keepBefore(path, up.Copy, have); up.Without != nil {
		up.Copy = ""
	}
	if err := migrate(db.writer, steps); err != nil {
		return err
	}
	db.upgraded = up
	return nil
}

// keepBefore makes the copy. It has its name when it is whole and on the disk, and then
// takes the place of an older one of the same schema.
func (db *DB) keepBefore(path, copied string, schema int) error {
	if err := enoughRoom(path); err != nil {
		return err
	}
	part := copied + ".part"
	if err := os.Remove(part); err != nil && !errors.Is(err, os.ErrNotExist) { // a start was killed in the middle of it
		return err
	}
	wanted, err := db.copyTo(background, part)
	if err != nil {
		return err
	}
	err = isCopy(part, wanted, schema)
	if err == nil {
		err = os.Rename(part, copied)
	}
	if err != nil {
		return errors.Join(err, os.Remove(part))
	}
	return syncFolder(filepath.Dir(copied))
}

// isCopy looks at the head of a copy and counts. It does not read all of it, which a
// backup does: a start has minutes.
func isCopy(path string, wanted Copied, schema int) error {
	pool, err := openPool(path, 1, "mode=ro&immutable=1&_query_only=1")
	if err != nil {
		return err
	}
	defer pool.Close()
	found, err := counted(context.Background(), pool)
	if err != nil {
		return err
	}
	if is, err := userVersion(pool); err != nil || is != schema || found != wanted {
		return fmt.Errorf("the copy holds schema %d, %+v, the database schema %d, %+v (%v)", is, found, schema, wanted, err)
	}
	return nil
}

func userVersion(db *sql.DB) (v int, err error) {
	return v, db.QueryRow("PRAGMA user_version").Scan(&v)
}

// enoughRoom fails when a copy would leave less than roomToSpare.
func enoughRoom(path string) error {
	var size int64
	for _, end := range []string{"", "-wal"} {
		if info, err := os.Stat(path + end); err == nil {
			size += info.Size()
		}
	}
	var fs syscall.Statfs_t
	if err := syscall.Statfs(filepath.Dir(path), &fs); err != nil {
		return err
	}
	if free := int64(fs.Bavail) * int64(fs.Bsize); free < size+roomToSpare {
		return fmt.Errorf("it needs %d MB, %d MB are free", (size+roomToSpare)>>20, free>>20)
	}
	return nil
}

// wayBack says to somebody with an older flitch where the database of before is, if it
// is there.
func wayBack(err error, path string, schema int) error {
	if !errors.Is(err, ErrNewer) {
		return err
	}
	if copied := CopyOfSchema(path, schema); isThere(copied) {
		return fmt.Errorf("%w; or go back to what it was before the upgrade, without what came in since: flitch restore %s --to %s --replace --by INITIALS",
			err, copied, filepath.Dir(path))
	}
	return fmt.Errorf("%w; or put back a backup that was made with this one: flitch restore COPY --to DIR --replace --by INITIALS", err)
}

func isThere(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}
