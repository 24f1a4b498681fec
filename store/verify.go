package store

import (
	"database/sql"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
)

// OpenBeside opens a database for reading, beside a daemon or without one, and changes no
// byte of it: a copy on a stick stays as it is.
func OpenBeside(path string) (*DB, error) {
	if err := mustExist(path); err != nil {
		return nil, err
	}
	if _, err := os.Stat(path + "-wal"); err == nil { // what is in it counts
		return OpenReadOnly(path)
	}
	pool, err := openPool(path, readers, "mode=ro&immutable=1&_query_only=1")
	if err != nil {
		return nil, fmt.Errorf("store: open %s: %w", path, err)
	}
	db := &DB{reader: pool, readOnly: true}
	if err = db.mustBeCurrent(); err == nil {
		err = db.loadSeq()
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("store: open %s: %w", path, err), db.Close())
	}
	return db, nil
}

const schemaQuery = "SELECT type || ' ' || name || ' ' || coalesce(sql, '') FROM sqlite_schema ORDER BY type, name"

// CheckSchema returns an error that names the first table, index or trigger that is not as
// this flitch makes it: what guards the rows against changes may have been taken off.
func (db *DB) CheckSchema() error {
	steps, err := migrations()
	if err != nil {
		return err
	}
	fresh, err := sql.Open("sqlite3", ":memory:")
	if err != nil {
		return fmt.Errorf("store: check schema: %w", err)
	}
	defer fresh.Close()
	fresh.SetMaxOpenConns(1) // each connection has a memory of its own
	if err := migrate(fresh, steps); err != nil {
		return fmt.Errorf("store: check schema: %w", err)
	}
	text := func(rows *sql.Rows) (line string, err error) { err = rows.Scan(&line); return line, err }
	wanted, err := list(&DB{reader: fresh}, "schema as it is made", text, schemaQuery)
	if err != nil {
		return err
	}
	found, err := list(db, "schema", text, schemaQuery)
	if err != nil {
		return err
	}
	for _, w := range wanted {
		if !slices.Contains(found, w) {
			return fmt.Errorf("store: %.60q is missing or changed", w)
		}
	}
	for _, f := range found {
		if !slices.Contains(wanted, f) && !strings.HasPrefix(f, "table sqlite_stat") {
			return fmt.Errorf("store: %.60q is not flitch's", f)
		}
	}
	return nil
}

// CheckLinks returns an error for a row that points to one that is not there: a mark
// without its reading.
func (db *DB) CheckLinks() error {
	bad, err := list(db, "check links", func(rows *sql.Rows) (line string, err error) {
		var table, parent string
		var row sql.NullInt64
		var key int
		err = rows.Scan(&table, &row, &parent, &key)
		return fmt.Sprintf("row %d of %s points to a row of %s that is not there", row.Int64, table, parent), err
	}, "PRAGMA foreign_key_check")
	if err != nil {
		return err
	}
	if len(bad) > 0 {
		return errors.New("store: " + bad[0])
	}
	return nil
}
