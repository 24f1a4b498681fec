// Package keyfile keeps secrets of this installation in files of their own beside
// the database: a copy of the database that is given away must not carry them. Other small
// files that must never be half are written by it, too.
package keyfile

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"

	"flitch/store/owner"
)

// Load returns what the file holds, readable by its owner only. Where there is
// none, it is made: on the first run.
func Load(path string, fresh func() ([]byte, error)) ([]byte, error) {
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		if data, err = fresh(); err != nil {
			return nil, err
		}
		return data, Write(path, data, 0o600)
	}
	if err != nil {
		return nil, err
	}
	return data, os.Chmod(path, 0o600) // a restored backup may have opened it to others
}

// Unready ends the name of a file that is not whole yet, and counts for nothing.
const Unready = ".part"

// Write writes the whole file before it has its name, and makes both as durable as can be,
// so that a power cut leaves the file of before or the new one. What a Write that was killed
// left behind is removed: secrets must not lie about. Of root it is given to whoever the folder
// belongs to.
func Write(path string, data []byte, mode fs.FileMode) error {
	return WriteFrom(path, bytes.NewReader(data), mode)
}

// WriteFrom is Write of all that can be read.
func WriteFrom(path string, from io.Reader, mode fs.FileMode) error {
	sweep(path)
	file, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".*"+Unready) // mode 0600
	if err != nil {
		return err
	}
	defer os.Remove(file.Name()) // it is gone when it has its name
	owner.OfFolder(file)
	_ = lock(file) // says that somebody is at it; a file system without locks has leftovers
	_, err = io.Copy(file, from)
	err = errors.Join(err, file.Chmod(mode), file.Sync())
	if err == nil {
		err = os.Rename(file.Name(), path)
	}
	if err = errors.Join(err, file.Close()); err != nil {
		return err
	}
	return syncFolder(filepath.Dir(path))
}

// sweep removes what nobody writes to any more. It is no fault if that fails.
func sweep(path string) {
	entries, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		return
	}
	for _, e := range entries {
		middle, ours := strings.CutPrefix(e.Name(), filepath.Base(path)+".")
		if _, err := strconv.ParseUint(strings.TrimSuffix(middle, Unready), 10, 64); !ours || err != nil || !strings.HasSuffix(middle, Unready) {
			continue
		}
		left := filepath.Join(filepath.Dir(path), e.Name())
		if file, err := os.Open(left); err == nil {
			if lock(file) == nil {
				os.Remove(left)
			}
			file.Close()
		}
	}
}

func lock(file *os.File) error {
	return syscall.Flock(int(file.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
}

func syncFolder(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
