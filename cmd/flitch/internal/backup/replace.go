package backup

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"flitch/store"
)

// restored ends the name of a database that is made ready beside its place, before those of
// databases that were moved aside.
const (
	restored = ".restored"
	before   = ".before-"
)

// replace gives the ready database its place. The one that is there keeps a name of its own
// from before it loses this one: at no moment is it nowhere.
//
// A database and its log belong together: another log beside it would be read into it. So
// what is in the log goes into the database first, and the new one comes by one rename. Where
// that fails, because it is the damage, the old one is removed first. A copy of the log as it
// was stays with what is moved aside: SQLite throws one away that it cannot read.
func (r Return) replace(ready, path string) (aside string, err error) {
	if _, err := os.Stat(path); err == nil {
		if aside, err = r.moveAside(path); err != nil {
			return "", err
		}
		_ = store.FoldLog(path) // what is damaged is looked at by people
	}
	if _, err := os.Stat(path + "-wal"); err == nil {
		if err := forget(path); err != nil {
			return "", err
		}
	}
	if err := os.Rename(ready, path); err != nil {
		return "", err
	}
	return aside, syncFolder(filepath.Dir(path))
}

// moveAside gives the database a second name beside it, its log first: one that has the name
// is whole.
func (r Return) moveAside(path string) (aside string, err error) {
	entries, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		return "", err
	}
	for _, e := range entries { // of a restore that was killed
		if strings.HasPrefix(e.Name(), filepath.Base(path)+before) && strings.HasSuffix(e.Name(), unready) {
			if err := os.Remove(filepath.Join(filepath.Dir(path), e.Name())); err != nil {
				return "", err
			}
		}
	}
	aside = freeName(path, r.Now)
	if err := copyFile(path+"-wal", aside+"-wal", secret); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return "", err
	}
	if os.Link(path, aside) == nil {
		return aside, syncFolder(filepath.Dir(path))
	}
	return aside, copyFile(path, aside, secret) // a file system that knows one name only
}

// freeName is where a database goes that is moved aside: by the time, and a second later if
// one is there already.
func freeName(path string, at time.Time) string {
	for ; ; at = at.Add(time.Second) {
		name := path + before + at.UTC().Format(stamp)
		_, database := os.Lstat(name)
		_, log := os.Lstat(name + "-wal")
		if database != nil && log != nil {
			return name
		}
	}
}

// forget removes a database with its log, the database first: a log alone is read by nobody,
// and a database alone would be.
func forget(path string) error {
	var errs []error
	for _, end := range []string{"", "-wal", "-shm"} {
		if err := os.Remove(path + end); err != nil && !errors.Is(err, fs.ErrNotExist) {
			errs = append(errs, err)
		}
	}
	return errors.Join(errs...)
}
