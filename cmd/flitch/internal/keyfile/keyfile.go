// Package keyfile keeps secrets of this installation in files of their own beside
// the database: a copy of the database that is given away must not carry them.
package keyfile

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
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

// Write writes the whole file before it has its name, so that a power cut leaves
// no half of it.
func Write(path string, data []byte, mode fs.FileMode) error {
	file, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".*") // mode 0600
	if err != nil {
		return err
	}
	defer os.Remove(file.Name()) // it is gone when it has its name
	_, err = file.Write(data)
	err = errors.Join(err, file.Chmod(mode), file.Sync(), file.Close())
	if err != nil {
		return err
	}
	return os.Rename(file.Name(), path)
}
