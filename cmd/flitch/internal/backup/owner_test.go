package backup

import (
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"
)

const daemon = 4242 // runs the daemon; this test is root

// notOf lists what in a folder is not of the daemon.
func notOf(t *testing.T, folder string) (others []string) {
	t.Helper()
	err := filepath.WalkDir(folder, func(path string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		info, err := e.Info()
		if err == nil && info.Sys().(*syscall.Stat_t).Uid != daemon {
			others = append(others, path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return others
}

// What root copies and puts back is of whoever runs the daemon, which has to read and one day to
// remove it.
func TestWhatRootPutsBackIsTheDaemons(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Fatal("this test gives files away and needs root")
	}
	folder, db := larder(t)
	stick := filepath.Join(t.TempDir(), "stick")
	for _, path := range []string{folder, filepath.Join(folder, "flitch.db"), filepath.Join(folder, "flitch.db.lock")} {
		if err := os.Chown(path, daemon, daemon); err != nil {
			t.Fatal(err)
		}
	}
	c := make1(t, db, order(folder, stick, noon.Add(time.Hour)))
	if others := notOf(t, stick); len(others) > 0 {
		t.Errorf("of the copy the daemon cannot remove %q", others)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"flitch.db.passwords", "flitch.toml"} {
		if err := os.Remove(filepath.Join(folder, name)); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := Restore(Return{From: c.Folder, To: folder, By: "T.V.", Now: noon.Add(3 * time.Hour), Replace: true}); err != nil {
		t.Fatal(err)
	}
	if others := notOf(t, folder); len(others) > 0 {
		t.Errorf("the daemon cannot read %q", others)
	}
}

// The database that an upgrade kept beside the new one is put back from where it lies.
func TestWhatAnUpgradeKeptIsPutBack(t *testing.T) {
	folder, db := larder(t)
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	kept := filepath.Join(folder, "flitch.schema-5.db")
	if err := copyFile(filepath.Join(folder, "flitch.db"), kept, secret); err != nil {
		t.Fatal(err)
	}
	r := Return{From: kept, To: folder, By: "T.V.", Now: noon.Add(time.Hour), Replace: true}
	done, err := Restore(r)
	if err != nil || done.Readings != 50 || done.Aside == "" {
		t.Fatalf("%+v, %v", done, err)
	}
	r.From, r.Now = done.Aside, noon.Add(2*time.Hour) // and what that put aside, as well
	if done, err = Restore(r); err != nil || done.Readings != 50 {
		t.Errorf("%+v, %v", done, err)
	}
	if _, err := os.Stat(kept); err != nil {
		t.Errorf("what was kept is gone: %v", err)
	}
	r.From = filepath.Join(folder, "flitch.db")
	if _, err := Restore(r); err == nil {
		t.Error("a database was put back over itself")
	}
}
