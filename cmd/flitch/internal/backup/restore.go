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
}

// ErrThere means that a database is there already, and nobody said to replace it.
var ErrThere = errors.New("a database is already there")

// Restore examines a copy and puts it back. Configuration and secrets come along only
// where they are missing: what is there is newer. The journal says when it was
// done, by whom, and up to when the database knows what happened.
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
		return done, fmt.Errorf("restore: %w", err)
	}
	if done.Database, err = r.target(from); err != nil {
		return done, err
	}
	if done.Aside, err = r.clear(done.Database); err != nil {
		return done, err
	}
	if err := copyFile(from, done.Database); err != nil {
		return done, fmt.Errorf("restore: %w", err)
	}
	if done.Beside, err = r.fill(filepath.Dir(from), done.Database); err != nil {
		return done, err
	}
	return done, r.note(done)
}

// target is the path of the database by the configuration that holds after the restore.
func (r Return) target(from string) (string, error) {
	for i, path := range []string{filepath.Join(r.To, settings), filepath.Join(filepath.Dir(from), settings)} {
		c, err := config.LoadPublic(path)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return "", fmt.Errorf("restore: where the database belongs is not known: %w", err)
		}
		name, err := filepath.Rel(filepath.Dir(path), c.Site.Database)
		switch {
		case err == nil && filepath.IsLocal(name):
		case i == 0: // the house's own configuration says that it lives elsewhere
			return c.Site.Database, nil
		default:
			return "", fmt.Errorf("restore: the configuration in the copy has the database at %q, outside %s: put a configuration of your own there first", c.Site.Database, r.To)
		}
		return filepath.Join(r.To, name), nil
	}
	return filepath.Join(r.To, database), nil
}

// clear moves a database that is there aside, with its log.
func (r Return) clear(path string) (aside string, err error) {
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return "", os.MkdirAll(filepath.Dir(path), 0o755)
	} else if err != nil {
		return "", fmt.Errorf("restore: %w", err)
	}
	if !r.Replace {
		return "", fmt.Errorf("restore: %s: %w", path, ErrThere)
	}
	if err := store.Unused(path); err != nil {
		return "", fmt.Errorf("restore: stop the daemon first: %w", err)
	}
	aside = path + ".before-" + r.Now.UTC().Format(stamp)
	for _, end := range []string{"-wal", "-shm", ""} {
		if err := os.Rename(path+end, aside+end); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return "", fmt.Errorf("restore: %w", err)
		}
	}
	return aside, nil
}

// fill brings the files that are missing.
func (r Return) fill(copied, live string) (names []string, err error) {
	entries, err := os.ReadDir(copied)
	if err != nil {
		return nil, fmt.Errorf("restore: %w", err)
	}
	for _, e := range entries {
		to := filepath.Join(r.To, e.Name())
		if end, ofDatabase := strings.CutPrefix(e.Name(), database+"."); ofDatabase && isPlain(end) {
			to = live + "." + end
		} else if e.Name() != settings && e.Name() != config.ProbeFile(settings) {
			continue // not ours
		}
		if _, err := os.Lstat(to); err == nil || !e.Type().IsRegular() {
			continue
		}
		if info, err := e.Info(); err != nil || info.Size() > mostBeside {
			return names, fmt.Errorf("restore: %q has more than %d MB, which no configuration and no key has", e.Name(), mostBeside>>20)
		}
		if err := copyFile(filepath.Join(copied, e.Name()), to); err != nil {
			return names, fmt.Errorf("restore: %w", err)
		}
		names = append(names, to)
	}
	return names, nil
}

// note writes into the journal that the line ends here and goes on later.
func (r Return) note(done Returned) error {
	db, err := store.Open(done.Database)
	if err != nil {
		return fmt.Errorf("restore: %w", err)
	}
	text := "restored from a copy with nothing in it"
	if !done.Newest.IsZero() {
		text = "restored from a copy that ends at " + done.Newest.Format(time.RFC3339) + "; what came in between then and now is not here"
	}
	err = db.Update(func(tx *store.Tx) error {
		return tx.AppendJournal(process.JournalLine{At: r.Now, Kind: "restored", By: r.By, Text: text})
	})
	return errors.Join(err, db.Close())
}
