package backup

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/process"
	"flitch/store"
)

// A Return says what is put back where.
type Return struct {
	From    string // a copy, or the database of one
	To      string // folder of the installation; made if it is not there
	Replace bool   // a database that is there is moved aside, not removed
	By      string // initials
	Now     time.Time
}

// Returned says what was put back.
type Returned struct {
	store.Copied
	Database string   // path
	Aside    string   // where the database went that was there; empty: none was
	Beside   []string // files that were missing and came with it
	Left     []string // names of files of the copy that are missing and did not come: they are no plain files
}

// What is at fault when it is not the copy.
var (
	ErrThere    = errors.New("a database is already there") // and nobody said to replace it
	ErrSame     = errors.New("the copy itself lies there, and would be changed")
	ErrTarget   = errors.New("nothing can be put there")
	ErrSettings = errors.New("where the database belongs is not known")
)

// Restore examines a copy and puts it back. Configuration and secrets come along only
// where they are missing: what is there is newer. The journal says when it was
// done, by whom, and up to when the database knows what happened.
//
// The database is made ready beside its place, its journal line in it, and takes the place
// last and at once. Whoever kills a Restore finds the database of before or the restored one,
// and can say the same again.
func Restore(r Return) (done Returned, err error) {
	from, err := databaseOf(r.From)
	if err != nil {
		return done, fmt.Errorf("restore: %w", err)
	}
	if err := r.trust(from); err != nil {
		return done, fmt.Errorf("restore: %w", err)
	}
	if done.Copied, err = store.Examine(from); err != nil {
		return done, fmt.Errorf("restore: this copy is not whole, try another: %w", err)
	}
	if err := os.MkdirAll(r.To, 0o755); err != nil {
		return done, fmt.Errorf("restore: %w: %w", ErrTarget, err)
	}
	if done.Database, err = r.target(from); err != nil {
		return done, err
	}
	if sameFile(r.From, r.To) || sameFile(from, done.Database) { // what an upgrade or a restore kept lies in the folder, and is a file
		return done, fmt.Errorf("restore: %s: %w", r.To, ErrSame)
	}
	if err := r.mayTake(done.Database); err != nil {
		return done, err
	}
	ready := done.Database + restored
	if err := errors.Join(os.MkdirAll(filepath.Dir(ready), 0o755), forget(ready), forget(ready+unready), copyFile(from, ready, secret)); err != nil {
		return done, fmt.Errorf("restore: %w: %w", ErrTarget, err)
	}
	if err := r.note(ready, done.Copied); err != nil {
		return done, errors.Join(err, forget(ready))
	}
	if done.Beside, done.Left, err = r.fill(filepath.Dir(from), done.Database); err != nil {
		return done, err
	}
	if done.Aside, err = r.replace(ready, done.Database); err != nil {
		return done, fmt.Errorf("restore: %w", err)
	}
	return done, nil
}

// target is the path of the database by the configuration that holds after the restore.
func (r Return) target(from string) (string, error) {
	for i, path := range []string{filepath.Join(r.To, settings), filepath.Join(filepath.Dir(from), settings)} {
		c, err := config.LoadPublic(path)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return "", fmt.Errorf("restore: %w: %w", ErrSettings, err)
		}
		name, err := filepath.Rel(filepath.Dir(path), c.Site.Database)
		switch {
		case err == nil && filepath.IsLocal(name):
		case i == 0: // the house's own configuration says that it lives elsewhere
			return c.Site.Database, nil
		default:
			return "", fmt.Errorf("restore: %w: the configuration in the copy has the database at %q, outside %s", ErrSettings, c.Site.Database, r.To)
		}
		return filepath.Join(r.To, name), nil
	}
	return filepath.Join(r.To, database), nil
}

// mayTake asks whether a database that is at the path may be moved aside.
func (r Return) mayTake(path string) error {
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return nil
	} else if err != nil {
		return fmt.Errorf("restore: %w", err)
	}
	if !r.Replace {
		return fmt.Errorf("restore: %s: %w", path, ErrThere)
	}
	if err := store.Unused(path); err != nil {
		return fmt.Errorf("restore: stop the daemon first: %w", err)
	}
	return nil
}

func sameFile(a, b string) bool {
	one, err := os.Stat(a)
	if err != nil {
		return false
	}
	other, err := os.Stat(b)
	return err == nil && os.SameFile(one, other)
}

// fill brings the files that are missing. What is no plain file is left: it may be a way to
// another one.
func (r Return) fill(copied, live string) (names, left []string, err error) {
	entries, err := os.ReadDir(copied)
	if err != nil {
		return nil, nil, fmt.Errorf("restore: %w", err)
	}
	for _, e := range entries {
		if e.Name() == database {
			continue // it comes last, see replace
		}
		to := filepath.Join(r.To, e.Name())
		end, ofDatabase := strings.CutPrefix(e.Name(), database+".")
		if ofDatabase && isPlain(end) {
			to = live + "." + end
		} else if e.Name() != settings && e.Name() != config.ProbeFile(settings) {
			continue // not ours
		}
		if _, err := os.Lstat(to); err == nil {
			continue
		}
		if !e.Type().IsRegular() {
			left = append(left, e.Name())
			continue
		}
		if info, err := e.Info(); err != nil || info.Size() > mostBeside {
			return names, left, fmt.Errorf("restore: %q has more than %d MB, which no configuration and no key has", e.Name(), mostBeside>>20)
		}
		mode := shared
		if ofDatabase {
			mode = secret
		}
		if err := copyFile(filepath.Join(copied, e.Name()), to, mode); err != nil {
			return names, left, fmt.Errorf("restore: %w: %w", ErrTarget, err)
		}
		names = append(names, to)
	}
	return names, left, nil
}

// note writes into the journal that the line ends here and goes on later.
func (r Return) note(path string, found store.Copied) error {
	db, err := store.Open(path)
	if err != nil {
		return fmt.Errorf("restore: %w", err)
	}
	text := "restored from a copy with nothing in it"
	if !found.Newest.IsZero() {
		text = "restored from a copy that ends at " + found.Newest.Format(time.RFC3339) + "; what came in between then and now is not here"
	}
	err = db.Update(func(tx *store.Tx) error {
		return tx.AppendJournal(process.JournalLine{At: r.Now, Kind: "restored", By: r.By, Text: text})
	})
	if up := db.Upgraded(); up != nil && up.Copy != "" {
		err = errors.Join(err, os.Remove(up.Copy)) // what it was restored from is kept already
	}
	return errors.Join(err, db.Close(), os.Remove(path+".lock"))
}
