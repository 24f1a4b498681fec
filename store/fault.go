package store

import (
	"errors"
	"syscall"
	"time"

	"github.com/mattn/go-sqlite3"
)

// A Fault says what is wrong with the disk or the file, so that a person can be
// told what to do.
type Fault uint8

// The faults told apart.
const (
	NoFault  Fault = iota
	Full           // no space left
	ReadOnly       // the file or the file system cannot be written
	IO             // the disk gave an error, or the file cannot be opened
	Corrupt        // the file is damaged, or is no database
	Other          // any other error
)

// String is the fault in plain words.
func (f Fault) String() string {
	switch f {
	case NoFault:
		return "no fault"
	case Full:
		return "disk full"
	case ReadOnly:
		return "database is read-only"
	case IO:
		return "disk error"
	case Corrupt:
		return "database file damaged"
	default:
		return "database error"
	}
}

// FaultOf says which kind of fault err is. Nil is NoFault.
func FaultOf(err error) Fault {
	if err == nil {
		return NoFault
	}
	switch { // files beside the database
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return Full
	case errors.Is(err, syscall.EROFS):
		return ReadOnly
	case errors.Is(err, syscall.EIO):
		return IO
	case errors.Is(err, ErrEmpty):
		return Corrupt
	}
	var se sqlite3.Error // by value; errors.Is on a code is false even when it matches
	if !errors.As(err, &se) {
		return Other
	}
	switch se.SystemErrno { // an I/O error of which the system says more
	case syscall.ENOSPC, syscall.EDQUOT:
		return Full
	case syscall.EROFS:
		return ReadOnly
	}
	switch se.Code {
	case sqlite3.ErrFull:
		return Full
	case sqlite3.ErrReadonly:
		return ReadOnly
	case sqlite3.ErrIoErr, sqlite3.ErrCantOpen:
		return IO
	case sqlite3.ErrCorrupt, sqlite3.ErrNotADB:
		return Corrupt
	}
	return Other
}

// noticed hands an error on to whoever wants to know of a file that cannot be read.
func (db *DB) noticed(err error) error {
	if db.unreadable == nil {
		return err
	}
	if f := FaultOf(err); (f == Corrupt || f == IO) && !outOfFiles(err) {
		db.unreadable(err)
	}
	return err
}

// outOfFiles reports that this process, or the machine, may open no more files: that says nothing of
// those there are.
func outOfFiles(err error) bool {
	var se sqlite3.Error
	return errors.As(err, &se) && (se.SystemErrno == syscall.EMFILE || se.SystemErrno == syscall.ENFILE)
}

// Writing returns since when the transaction under way has been, zero when there is none. How
// long ago that is goes by the machine's count, which a step of its clock does not change. It
// asks no disk and does not wait.
func (db *DB) Writing() time.Time {
	if began := db.writing.Load(); began != nil {
		return *began
	}
	return time.Time{}
}

// IsFull reports whether err came from a full disk.
func IsFull(err error) bool { return FaultOf(err) == Full }

// Held reports that another program has the database to itself for now.
func Held(err error) bool {
	var se sqlite3.Error
	return errors.As(err, &se) && (se.Code == sqlite3.ErrBusy || se.Code == sqlite3.ErrLocked)
}
