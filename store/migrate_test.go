package store

import (
	"database/sql"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
)

func TestMigrations(t *testing.T) {
	steps := must[[]string](t)(migrations())
	if len(steps) == 0 {
		t.Fatal("no migrations were embedded")
	}
	for i, step := range steps {
		for _, clock := range []string{"CURRENT_", "unixepoch", "datetime(", "julianday"} {
			if strings.Contains(step, clock) {
				t.Errorf("step %d uses %s: SQLite's own clock does not follow ours", i+1, clock)
			}
		}
	}
}

// TestMigrationFailureKeepsTheLastGoodVersion breaks the second of three steps in
// its second statement.
func TestMigrationFailureKeepsTheLastGoodVersion(t *testing.T) {
	db := raw(t, filepath.Join(t.TempDir(), "steps.db"))
	steps := []string{"CREATE TABLE one (x)", "CREATE TABLE two (x); CREATE TABLE one (x)", "CREATE TABLE three (x)"}
	if err := migrate(db, steps); err == nil || !strings.Contains(err.Error(), "migrate to schema 2") {
		t.Fatalf("migrate: %v, want an error that names schema 2", err)
	}
	expectTables := func(want string, version int) {
		t.Helper()
		var tables string
		var have int
		if err := db.QueryRow("SELECT group_concat(name) FROM (SELECT name FROM sqlite_schema ORDER BY name)").Scan(&tables); err != nil {
			t.Fatal(err)
		}
		if err := db.QueryRow("PRAGMA user_version").Scan(&have); err != nil {
			t.Fatal(err)
		}
		if tables != want || have != version {
			t.Errorf("tables %s version %d, want %s version %d", tables, have, want, version)
		}
	}
	expectTables("one", 1)
	steps[1] = "CREATE TABLE two (x)"
	if err := migrate(db, steps); err != nil {
		t.Fatal(err)
	}
	expectTables("one,three,two", 3)
	if err := migrate(db, steps); err != nil {
		t.Errorf("again: %v", err)
	}
	expectTables("one,three,two", 3)
}

func TestTablesAreStrict(t *testing.T) {
	db := newDB(t)
	tables := must[[]string](t)(list(db, "tables", scanString, "SELECT name FROM pragma_table_list WHERE type = 'table' AND NOT strict AND name NOT LIKE 'sqlite%'"))
	if len(tables) != 0 {
		t.Errorf("not strict: %v", tables)
	}
	all := must[[]string](t)(list(db, "tables", scanString, "SELECT name FROM pragma_table_list WHERE type = 'table' AND strict"))
	if len(all) < 15 {
		t.Errorf("strict tables: %v, want all 15", all)
	}
}

func scanString(rows *sql.Rows) (s string, err error) {
	err = rows.Scan(&s)
	return s, err
}

func TestAMigrationOutOfItsPlaceIsNoStep(t *testing.T) {
	files := fstest.MapFS{"migrations/0001_readings.sql": {Data: []byte("one")}, "migrations/0002_marks.sql": {Data: []byte("two")}}
	if steps, err := Steps(files); err != nil || !slices.Equal(steps, []string{"one", "two"}) {
		t.Errorf("%q, %v", steps, err)
	}
	files["migrations/0004_phones.sql"] = &fstest.MapFile{}
	if _, err := Steps(files); err == nil || !strings.Contains(err.Error(), "must start with 0003_") {
		t.Errorf("a gap: %v", err)
	}
}
