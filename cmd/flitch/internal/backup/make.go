package backup

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/keyfile"
	"flitch/store"
	"flitch/store/owner"
)

const (
	prefix   = "flitch-"
	stamp    = "20060102T150405Z"
	unready  = ".part" // of a copy that is not whole, and counts for nothing
	database = "flitch.db"
	settings = "flitch.toml"
)

// A Copy is one copy of an installation.
type Copy struct {
	Folder string    // path
	At     time.Time // when it was begun
}

// Database is the path of the copied database.
func (c Copy) Database() string { return filepath.Join(c.Folder, database) }

// Order says what is copied, and where to.
type Order struct {
	Config  string // path of the configuration; empty: none is copied
	Live    string // path of the database
	Folder  string // where copies are kept; made if it is not there
	Secrets bool   // the keys and passwords too
	Now     time.Time
}

// Of is the order that a configuration gives.
func Of(c *config.Config, now time.Time) Order {
	return Order{Config: c.Path, Live: c.Site.Database, Folder: c.Backup.Folder, Secrets: c.Backup.Secrets, Now: now}
}

// Make copies everything that is wanted, and gives the copy its name when it is whole and
// on the disk: a name that can be seen is a backup.
func Make(ctx context.Context, db *store.DB, o Order) (_ Copy, found store.Copied, err error) {
	if err := o.makeFolder(); err != nil {
		return Copy{}, found, fmt.Errorf("backup: %w", err)
	}
	c := Copy{Folder: filepath.Join(o.Folder, prefix+o.Now.UTC().Format(stamp)), At: o.Now.UTC().Truncate(time.Second)}
	if _, err := os.Stat(c.Folder); err == nil {
		return Copy{}, found, fmt.Errorf("backup: %s is already there: %w", c.Folder, fs.ErrExist)
	}
	part := c.Folder + unready
	busy, err := begin(o.Folder, part)
	if err != nil {
		return Copy{}, found, fmt.Errorf("backup: %w", err)
	}
	defer busy.Close()
	owner.Like(busy, o.Live) // and with it what is put in: whoever runs the daemon has to remove it one day
	defer func() {
		if err != nil {
			err = errors.Join(fmt.Errorf("backup: %w", err), os.RemoveAll(part))
		}
	}()
	if found, err = db.Backup(ctx, filepath.Join(part, database)); err != nil {
		return Copy{}, found, err
	}
	beside, err := o.beside()
	if err != nil {
		return Copy{}, found, err
	}
	for from, name := range beside {
		err := copyFile(from, filepath.Join(part, name), secret)
		if err != nil && !errors.Is(err, fs.ErrNotExist) { // no probe was added by the page, perhaps
			return Copy{}, found, err
		}
	}
	if err = os.Rename(part, c.Folder); err != nil {
		return Copy{}, found, err
	}
	return c, found, syncFolder(o.Folder)
}

// makeFolder makes the folder of the copies where there is none: whoever makes the first copy, the
// next ones are the daemon's to make.
func (o Order) makeFolder() error {
	if _, err := os.Stat(o.Folder); err == nil {
		return nil
	}
	if err := os.MkdirAll(o.Folder, 0o700); err != nil {
		return err
	}
	made, err := os.Open(o.Folder)
	if err != nil {
		return err
	}
	owner.Like(made, o.Live)
	return made.Close()
}

// beside is what is copied beside the database: where it is, and its name in the copy.
func (o Order) beside() (map[string]string, error) {
	files := map[string]string{}
	if o.Config != "" {
		files[o.Config] = settings
		files[config.ProbeFile(o.Config)] = config.ProbeFile(settings)
	}
	if !o.Secrets {
		return files, nil
	}
	around, err := os.ReadDir(filepath.Dir(o.Live))
	for _, e := range around {
		end, ours := strings.CutPrefix(e.Name(), filepath.Base(o.Live)+".")
		if ours && !passing(end) && e.Type().IsRegular() {
			files[filepath.Join(filepath.Dir(o.Live), e.Name())] = database + "." + end
		}
	}
	return files, err
}

// passing reports the end of the name of a file that is no part of an installation: a lock, a
// ballast, when it started, what is not whole, and what a restore put aside or was killed at.
func passing(end string) bool {
	return end == "lock" || end == "ballast" || end == "starts" || strings.HasSuffix(end, keyfile.Unready) || strings.HasPrefix("."+end, before) || strings.HasPrefix("."+end, restored)
}

// Examine reads a copy whole: a folder, or the database of one.
func Examine(path string) (store.Copied, error) {
	at, err := databaseOf(path)
	if err != nil {
		return store.Copied{}, fmt.Errorf("backup: %w", err)
	}
	return store.Examine(at)
}

func databaseOf(path string) (string, error) {
	info, err := os.Stat(path)
	if err != nil || !info.IsDir() {
		return path, err
	}
	inside := filepath.Join(path, database)
	if _, err := os.Lstat(inside); errors.Is(err, fs.ErrNotExist) {
		return inside, fmt.Errorf("%s is no copy: no %s is in it", path, database)
	}
	return inside, nil
}
