package store

import (
	"compress/gzip"
	"database/sql"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Databases of each schema that was released have nothing foreign in them; what somebody adds
// is named.
func TestForeign(t *testing.T) {
	old, err := filepath.Glob("../testdata/databases/*.db.gz")
	if err != nil || len(old) == 0 {
		t.Fatalf("%d databases, %v", len(old), err)
	}
	for _, packed := range old {
		path := unpacked(t, packed)
		if list, err := Foreign(path); err != nil || len(list) != 0 {
			t.Errorf("%s: %q, %v", path, list, err)
		}
	}
	added := []string{
		"CREATE TRIGGER quiet AFTER INSERT ON journal BEGIN DELETE FROM rejections; END",
		"CREATE VIEW all_of_it AS SELECT 1",
		"CREATE TRIGGER readings_no_delete2 BEFORE DELETE ON readings BEGIN SELECT 1; END",
	}
	for _, statement := range added {
		path := filepath.Join(t.TempDir(), "flitch.db")
		if err := Create(path); err != nil {
			t.Fatal(err)
		}
		if list, err := Foreign(path); err != nil || len(list) != 0 {
			t.Fatalf("a new one: %q, %v", list, err)
		}
		db, err := sql.Open("sqlite3", path)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := db.Exec(statement); err != nil {
			t.Fatal(err)
		}
		db.Close()
		list, err := Foreign(path)
		if err != nil || len(list) != 1 || !strings.Contains(list[0], strings.Fields(statement)[2]) {
			t.Errorf("%s: %q, %v", statement, list, err)
		}
	}
	if _, err := Foreign(filepath.Join(t.TempDir(), "none.db")); err == nil {
		t.Error("no database has nothing foreign")
	}
	odd := filepath.Join(t.TempDir(), "odd.db")
	if err := os.WriteFile(odd, []byte("no database"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Foreign(odd); err == nil {
		t.Error("rubbish has nothing foreign")
	}
}

func unpacked(t *testing.T, path string) string {
	t.Helper()
	file, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	z, err := gzip.NewReader(file)
	if err != nil {
		t.Fatal(err)
	}
	all, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	to := filepath.Join(t.TempDir(), "old.db")
	if err := os.WriteFile(to, all, 0o600); err != nil {
		t.Fatal(err)
	}
	return to
}
