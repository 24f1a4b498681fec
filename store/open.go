package store

import (
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"flitch/store/owner"
)

// Options are what a caller may want of an open database. The zero value is fine.
type Options struct {
	// ObserveCommit hears how long each transaction of the writer took, from its
	// begin to the end of its fsync, and how it ended. It is called while the writer
	// is held: it must be quick and must not call the DB.
	ObserveCommit func(took time.Duration, err error)
	// Unreadable hears of each statement that found the file damaged or could not read
	// it (Corrupt, IO). It may be called while the writer is held: the same holds.
	Unreadable func(err error)
}

// A DB is one open database. Its methods may be called from several goroutines.
type DB struct {
	reader   *sql.DB
	readOnly bool

	names    sync.Map // of probes, by their numbers
	unpacked unpackedBlocks
	packedTo atomic.Int64 // highest number in any block, set before that is committed

	mu       sync.Mutex // the writer, and all below
	lock     *lock      // nil when read-only or closed
	writer   *sql.DB
	insert   []*sql.Stmt // insert[i] takes 1<<i readings
	mark     []*sql.Stmt // mark[i] takes 1<<i marks
	args     []any       // room for the arguments of the largest of insert
	markArgs []any       // and of mark
	probes   map[string]int64
	packed   map[int64]int64 // the newest time measured that is in a block, ms, by the number of the probe
	looked   []lookedInBlock // blocks that were looked into last
	seq      int64           // highest sequence number given out
	at       int64           // time of that input, ms
	observe  func(time.Duration, error)
	upgraded *Upgrade // what Open did to the schema; nil: nothing

	unreadable func(error)
	writing    atomic.Pointer[time.Time] // since when a transaction of the writer has been under way; nil: none is
}

// Create makes a new, empty database at path, readable by its owner only. It
// refuses to touch a file that is already there (fs.ErrExist), but for one without a byte: a
// Create that was cut off leaves that.
func Create(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil && !isEmpty(path) {
		return fmt.Errorf("store: create database: %w", err)
	}
	if err == nil {
		owner.OfFolder(f)
		f.Close()
	}
	db, err := openAt(path, Options{})
	if err != nil {
		os.Remove(path)
		return err
	}
	if err := db.Close(); err != nil {
		return err
	}
	return syncFolder(filepath.Dir(path))
}

// syncFolder makes the name of a new file as durable as its content.
func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return fmt.Errorf("store: create database: %w", err)
	}
	defer d.Close()
	if err := d.Sync(); err != nil {
		return fmt.Errorf("store: create database: sync folder: %w", err)
	}
	return nil
}

// Open opens the database at path for reading and writing and brings its schema
// up to date; see Upgraded. The file must exist (ErrMissing, which is fs.ErrNotExist too) and hold
// something (ErrEmpty): a mistyped path or a file that was cut off must not start an empty
// record. ErrLocked means that another process has it; ErrNewer that this
// flitch is too old for it.
func Open(path string) (*DB, error) { return OpenWith(path, Options{}) }

// OpenWith is Open with options.
func OpenWith(path string, o Options) (*DB, error) {
	if err := mustExist(path); err != nil {
		return nil, err
	}
	if isEmpty(path) {
		return nil, fmt.Errorf("store: open %s: %w", path, ErrEmpty)
	}
	return openAt(path, o)
}

// isEmpty reports a plain file without a byte.
func isEmpty(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.Mode().IsRegular() && info.Size() == 0
}

func openAt(path string, o Options) (*DB, error) {
	path, err := filepath.EvalSymlinks(path) // one file, one lock, whatever it is called
	if err != nil {
		return nil, fmt.Errorf("store: open: %w", err)
	}
	l, err := takeLock(path)
	if err != nil {
		return nil, fmt.Errorf("store: open: %w", err)
	}
	db := &DB{lock: l, probes: map[string]int64{}, observe: o.ObserveCommit, unreadable: o.Unreadable}
	if err := db.start(path); err != nil {
		return nil, errors.Join(fmt.Errorf("store: open %s: %w", path, err), db.Close())
	}
	return db, nil
}

// OpenReadOnly opens the database at path beside a running daemon, for tools.
// Every method that writes returns ErrReadOnly. ErrOlder means that the daemon has
// not migrated it yet.
func OpenReadOnly(path string) (*DB, error) {
	if err := mustExist(path); err != nil {
		return nil, err
	}
	reader, err := openReaders(path)
	if err != nil {
		return nil, fmt.Errorf("store: open %s: %w", path, err)
	}
	db := &DB{reader: reader, readOnly: true}
	err = db.mustBeCurrent()
	if err == nil {
		err = db.loadSeq()
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("store: open %s: %w", path, err), db.Close())
	}
	return db, nil
}

var (
	// ErrMissing means that there is no database where one was looked for.
	ErrMissing = fmt.Errorf("no database is there, create one first: %w", fs.ErrNotExist)
	// ErrEmpty means that there is a file without a byte: flitch leaves none like that.
	ErrEmpty = errors.New("the file is empty, which flitch never leaves a database")
)

func mustExist(path string) error {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("store: %s: %w", path, ErrMissing)
	case err != nil:
		return fmt.Errorf("store: open: %w", err)
	case !info.Mode().IsRegular(): // a pipe would be waited for, for ever
		return fmt.Errorf("store: open: %s is no plain file (%s)", path, info.Mode().Type())
	}
	return nil
}

func (db *DB) mustBeCurrent() error {
	steps, err := migrations()
	if err != nil {
		return err
	}
	have, err := schemaVersion(db.reader, len(steps))
	if err == nil && have < len(steps) {
		err = fmt.Errorf("%w: start the daemon on it once", ErrOlder)
	}
	return err
}

func (db *DB) start(path string) error {
	var err error
	if db.writer, err = openWriter(path); err != nil {
		return err
	}
	if err := assertDurable(db.writer); err != nil {
		return err
	}
	steps, err := migrations()
	if err != nil {
		return err
	}
	if db.reader, err = openReaders(path); err != nil {
		return err
	}
	if err := db.upgrade(path, steps); err != nil {
		return err
	}
	if err := db.loadProbes(); err != nil {
		return err
	}
	if err := db.loadSeq(); err != nil {
		return err
	}
	if err := db.loadPacked(); err != nil {
		return err
	}
	return db.prepareInserts()
}

// Close waits for the transaction in progress, then closes the file and gives up
// the lock. The write-ahead log is folded into the file on the way.
func (db *DB) Close() error {
	db.mu.Lock()
	defer db.mu.Unlock()
	var errs []error
	for _, s := range slices.Concat(db.insert, db.mark) {
		errs = append(errs, s.Close())
	}
	if db.reader != nil { // first: the last to close folds the log in, and must be able to write
		errs = append(errs, db.reader.Close())
	}
	if db.writer != nil {
		errs = append(errs, db.writer.Close())
	}
	if db.lock != nil {
		errs = append(errs, db.lock.release())
		db.lock = nil
	}
	if err := errors.Join(errs...); err != nil {
		return fmt.Errorf("store: close: %w", err)
	}
	return nil
}
