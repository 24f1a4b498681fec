package store

import (
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"strings"
)

//go:embed migrations/*.sql
var migrationFiles embed.FS

// applicationID marks the file as ours: "flit" in ASCII, in the database header.
const applicationID = 0x666c6974

// ErrNewer means that the database was written by a later version of flitch.
var ErrNewer = errors.New("the database was written by a newer flitch")

// ErrOlder means that the database has to be opened once by the daemon before a
// tool that only reads can use it.
var ErrOlder = errors.New("the database was written by an older flitch and has not been migrated")

func migrations() ([]string, error) { return Steps(migrationFiles) }

// Steps reads the folder migrations. Step n, counted from 1, takes a schema of version n-1 to
// version n; its file name starts with n in four digits, or Steps fails.
func Steps(files fs.FS) ([]string, error) {
	names, err := fs.Glob(files, "migrations/*.sql") // sorted
	if err != nil {
		return nil, err
	}
	steps := make([]string, len(names))
	for i, name := range names {
		if want := fmt.Sprintf("%04d_", i+1); !strings.HasPrefix(path.Base(name), want) {
			return nil, fmt.Errorf("migration %s: its name must start with %s", name, want)
		}
		text, err := fs.ReadFile(files, name)
		if err != nil {
			return nil, err
		}
		steps[i] = string(text)
	}
	return steps, nil
}

// schemaVersion returns how many of the steps the database has behind it.
func schemaVersion(db *sql.DB, steps int) (int, error) {
	var id, version, tables int
	err := db.QueryRow(`SELECT (SELECT application_id FROM pragma_application_id),
		(SELECT user_version FROM pragma_user_version), (SELECT count(*) FROM sqlite_schema)`).Scan(&id, &version, &tables)
	switch {
	case err != nil:
		return 0, err
	case id == 0 && version == 0 && tables == 0: // made a moment ago
		return 0, nil
	case id != applicationID || version < 1: // one that was changed may say -65500
		return 0, errors.New("this is not a flitch database")
	case version > steps:
		return 0, fmt.Errorf("%w (schema %d, this one knows %d): install that version or a later one", ErrNewer, version, steps)
	}
	return version, nil
}

// migrate runs the steps that are missing, each in a transaction of its own, so
// that a failure leaves the last good version.
func migrate(db *sql.DB, steps []string) error {
	have, err := schemaVersion(db, len(steps))
	if err != nil {
		return err
	}
	for n := have + 1; n <= len(steps); n++ {
		if err := migrateOne(db, n, steps[n-1]); err != nil {
			return fmt.Errorf("migrate to schema %d: %w", n, err)
		}
	}
	return nil
}

func migrateOne(db *sql.DB, version int, step string) error {
	tx, err := db.Begin()
	if err != nil {
		return err
	}
	defer tx.Rollback()
	mark := fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d", applicationID, version)
	if _, err := tx.Exec(step); err != nil {
		return err
	}
	if _, err := tx.Exec(mark); err != nil {
		return err
	}
	return tx.Commit()
}
