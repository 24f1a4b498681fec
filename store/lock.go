package store

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"

	"flitch/store/owner"
)

// ErrLocked means that another process has the database open for writing.
var ErrLocked = errors.New("the database is in use by another daemon")

// A lock is the exclusive right to write one database. The kernel drops it when
// the process ends, however it ends; the file stays, so that nobody can lock a
// file that somebody else is just removing.
type lock struct{ file *os.File }

// takeLock takes the lock of the database at path. The error wraps ErrLocked and
// names the holder's process if it is known.
func takeLock(path string) (*lock, error) {
	f, err := openLock(path)
	if err != nil {
		return nil, fmt.Errorf("open lock file: %w", err)
	}
	err = syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if err == nil {
		writePID(f)
		return &lock{f}, nil
	}
	defer f.Close()
	if !errors.Is(err, syscall.EWOULDBLOCK) {
		return nil, fmt.Errorf("lock %s.lock: %w", path, err)
	}
	if pid := readPID(f); pid > 0 {
		return nil, fmt.Errorf("%s: %w (process %d)", path, ErrLocked, pid)
	}
	return nil, fmt.Errorf("%s: %w", path, ErrLocked)
}

// openLock opens the file of the lock, or makes it for whoever owns the database. It follows no link:
// that may lead to what is not ours to write.
func openLock(path string) (*os.File, error) {
	f, err := os.OpenFile(path+".lock", os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return os.OpenFile(path+".lock", os.O_RDWR|syscall.O_NOFOLLOW, 0)
	}
	if err == nil {
		owner.Like(f, path)
	}
	return f, err
}

func (l *lock) release() error { return l.file.Close() }

// writePID is for people only; on a full disk the lock holds without it.
func writePID(f *os.File) {
	if f.Truncate(0) == nil {
		_, _ = f.WriteAt([]byte(strconv.Itoa(os.Getpid())+"\n"), 0)
	}
}

func readPID(f *os.File) int {
	b, err := io.ReadAll(io.LimitReader(f, 32))
	if err != nil {
		return 0
	}
	pid, err := strconv.Atoi(strings.TrimSpace(string(b)))
	if err != nil {
		return 0
	}
	return pid
}

// Unused returns nil when no process has the database at path open for writing, else an
// error that wraps ErrLocked.
func Unused(path string) error {
	path, err := filepath.EvalSymlinks(path)
	if err != nil {
		return fmt.Errorf("store: %w", err)
	}
	l, err := takeLock(path)
	if err != nil {
		return fmt.Errorf("store: %w", err)
	}
	return l.release()
}
