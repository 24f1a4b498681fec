package backup

import (
	"database/sql"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"flitch/store"
)

// A copy that somebody else has made, or changed, writes nothing outside the folder it is
// restored to, is never waited for, and does nothing by itself.
func TestAHostileCopyStaysInItsFolder(t *testing.T) {
	place := func(text string) func(*testing.T, string, string) {
		return func(t *testing.T, copied, _ string) {
			config, err := os.ReadFile(filepath.Join(copied, settings))
			if err != nil {
				t.Fatal(err)
			}
			changed := strings.Replace(string(config), `database = "flitch.db"`, "database = "+text, 1)
			if changed == string(config) {
				t.Fatal("the sample has its database elsewhere")
			}
			write(t, filepath.Join(copied, settings), changed)
		}
	}
	replaced := func(name string, by func(path, outside string) error) func(*testing.T, string, string) {
		return func(t *testing.T, copied, outside string) {
			path := filepath.Join(copied, name)
			_ = os.Remove(path)
			if err := by(path, outside); err != nil {
				t.Fatal(err)
			}
		}
	}
	link := func(path, outside string) error { return os.Symlink(filepath.Join(outside, "diary"), path) }
	pipe := func(path, _ string) error { return syscall.Mkfifo(path, 0o600) }
	folder := func(path, _ string) error { return os.Mkdir(path, 0o700) }
	sparse := func(path, _ string) error {
		return errorsOf(os.WriteFile(path, nil, 0o600), os.Truncate(path, 1<<40))
	}
	hostile := map[string]struct {
		change func(t *testing.T, copied, outside string)
		taken  bool // all the same, without what is hostile
	}{
		"a database above":               {place(`"../diary"`), false},
		"a database far above":           {place(`"x/../../../../../../tmp/flitch-diary"`), false},
		"a database elsewhere":           {place(`"/nowhere/diary"`), false},
		"a database that is a link":      {replaced(database, link), false},
		"a database that is a pipe":      {replaced(database, pipe), false},
		"a database that is a folder":    {replaced(database, folder), false},
		"a database of a terabyte":       {replaced(database, sparse), false},
		"a database of zeros":            {replaced(database, func(p, _ string) error { return os.Symlink("/dev/zero", p) }), false},
		"a configuration that is a link": {replaced(settings, link), false},
		"a configuration that is a pipe": {replaced(settings, pipe), false},
		"a configuration of a terabyte":  {replaced(settings, sparse), false},
		"a key that is a link":           {replaced("flitch.db.key", link), true},
		"a key that is a pipe":           {replaced("flitch.db.key", pipe), true},
		"a key that is a folder":         {replaced("flitch.db.key", folder), true},
		"a key of a terabyte":            {replaced("flitch.db.key", sparse), false},
		"a journal to be played":         {replaced("flitch.db-journal", func(p, _ string) error { return os.WriteFile(p, []byte("x"), 0o600) }), true},
		"a log to be played":             {replaced("flitch.db-wal", func(p, _ string) error { return os.WriteFile(p, []byte("x"), 0o600) }), true},
		"a name to colour the screen":    {replaced("flitch.db.\x1b[2J", func(p, _ string) error { return os.WriteFile(p, []byte("x"), 0o600) }), true},
		"a trigger": {func(t *testing.T, copied, _ string) {
			db, err := sql.Open("sqlite3", filepath.Join(copied, database))
			if err != nil {
				t.Fatal(err)
			}
			defer db.Close()
			if _, err := db.Exec("CREATE TRIGGER quiet AFTER INSERT ON journal BEGIN DELETE FROM rejections; END"); err != nil {
				t.Fatal(err)
			}
		}, false},
	}
	if len(hostile) < 15 {
		t.Fatalf("only %d hostile copies", len(hostile))
	}
	for name, h := range hostile {
		t.Run(name, func(t *testing.T) {
			house, db := larder(t)
			c := make1(t, db, order(house, t.TempDir(), noon))
			outer := t.TempDir() // of everything that must not be touched
			outside, to := filepath.Join(outer, "home"), filepath.Join(outer, "a", "b", "larder")
			for _, dir := range []string{outside, filepath.Dir(to)} {
				if err := os.MkdirAll(dir, 0o700); err != nil {
					t.Fatal(err)
				}
			}
			write(t, filepath.Join(outside, "diary"), "dear diary")
			h.change(t, c.Folder, outside)
			before := listed(t, outer, to)
			ended := make(chan error, 1)
			go func() { _, err := Restore(Return{From: c.Folder, To: to, By: "T.V.", Now: noon}); ended <- err }()
			select {
			case err := <-ended:
				if (err == nil) != h.taken {
					t.Errorf("taken %t: %v", h.taken, err)
				}
				if err != nil && len(err.Error()) > 1000 {
					t.Errorf("a long error: %.200s", err)
				}
			case <-time.After(time.Minute):
				t.Fatal("it waits for something that never comes")
			}
			if after := listed(t, outer, to); after != before {
				t.Errorf("outside there is now\n%swas\n%s", after, before)
			}
			all := listed(t, to, "")
			for _, odd := range []string{"-journal", "-wal", "\x1b", "dear"} {
				if strings.Contains(all, odd) {
					t.Errorf("restored: %q", all)
				}
			}
			if h.taken {
				if _, err := store.Examine(filepath.Join(to, database)); err != nil {
					t.Error(err)
				}
			}
		})
	}
	t.Logf("%d hostile copies", len(hostile))
}

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

func errorsOf(all ...error) error {
	for _, err := range all {
		if err != nil {
			return err
		}
	}
	return nil
}

// listed is every file below a folder but those below another, with its kind, size and what
// is in it if it is short.
func listed(t *testing.T, folder, but string) string {
	t.Helper()
	var b strings.Builder
	err := filepath.WalkDir(folder, func(path string, e fs.DirEntry, err error) error {
		if path == but {
			return fs.SkipDir
		}
		if err != nil {
			if path == folder {
				return fs.SkipAll // nothing was restored
			}
			return err
		}
		info, err := e.Info()
		if err != nil {
			return err
		}
		b.WriteString(strings.TrimPrefix(path, folder) + " " + info.Mode().String())
		if info.Mode().IsRegular() && info.Size() < 100 {
			text, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			b.WriteString(" " + string(text))
		}
		b.WriteString("\n")
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}
