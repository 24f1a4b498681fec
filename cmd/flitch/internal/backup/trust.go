package backup

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"flitch/store"
)

// mostBeside is how large a configuration, or a file of keys or passwords, is at most, bytes.
// Proposal.
const mostBeside = 4 << 20

// trust refuses a copy that is none: a copy lies on a stick or a server, and who can write
// there must not come to write elsewhere. What looks like a file may be a way to another one,
// or a device that never ends; a database may do something by itself.
func (r Return) trust(from string) error {
	files := []string{from, filepath.Join(filepath.Dir(from), settings)}
	if r.From == from {
		files = files[1:] // it was named, and may be a link of whoever named it
	}
	for _, path := range files {
		info, err := os.Lstat(path)
		switch {
		case errors.Is(err, fs.ErrNotExist):
		case err != nil:
			return err
		case !info.Mode().IsRegular():
			return fmt.Errorf("%q in the copy is no plain file (%s)", filepath.Base(path), info.Mode().Type())
		case filepath.Base(path) == settings && info.Size() > mostBeside:
			return fmt.Errorf("the configuration in the copy has more than %d MB", mostBeside>>20)
		}
	}
	if info, err := os.Stat(from); err == nil && !info.Mode().IsRegular() {
		return fmt.Errorf("%q is no plain file (%s)", from, info.Mode().Type())
	}
	others, err := store.Foreign(from)
	if errors.Is(err, store.ErrNewer) {
		return err
	}
	if err == nil && len(others) > 0 {
		err = fmt.Errorf("the database of the copy would do things that flitch did not put there: %.200q", strings.Join(others, "; "))
	}
	if err != nil {
		return fmt.Errorf("this copy is not one to be trusted, try another: %w", err)
	}
	return nil
}

// Restorable is nil, or says why Restore would refuse a copy that is whole.
func Restorable(path string) error {
	at, err := databaseOf(path)
	if err != nil {
		return fmt.Errorf("backup: %w", err)
	}
	return Return{From: path}.trust(at)
}

// isPlain reports whether the end of a file's name is one of ours: key, root.crt and their
// like. The journals of a database are not: they would change what was examined.
func isPlain(end string) bool {
	odd := func(c rune) bool { return (c < 'a' || c > 'z') && c != '.' }
	return end != "" && end != "lock" && !strings.ContainsFunc(end, odd)
}
