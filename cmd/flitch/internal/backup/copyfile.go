package backup

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"

	"flitch/store/owner"
)

// Modes of copies.
const (
	secret fs.FileMode = 0o600
	shared fs.FileMode = 0o640 // the daemon reads it by its group
)

// copyFile gives the copy its name when it is on the disk. It replaces nothing
// (fs.ErrExist), and asks for nothing that the file system of a stick cannot do. Of root it is
// given to whoever the folder belongs to.
func copyFile(from, to string, mode fs.FileMode) error {
	if _, err := os.Lstat(to); err == nil {
		return fmt.Errorf("%s is already there: %w", to, fs.ErrExist)
	}
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	part := to + unready
	out, err := os.OpenFile(part, os.O_WRONLY|os.O_CREATE|os.O_TRUNC|syscall.O_NOFOLLOW, 0o600)
	if err != nil {
		return err
	}
	owner.OfFolder(out)
	_, err = io.Copy(out, in)
	if err = errors.Join(err, chmod(out, mode), out.Sync(), out.Close()); err == nil {
		err = os.Rename(part, to)
	}
	if err != nil {
		return errors.Join(err, os.Remove(part))
	}
	return syncFolder(filepath.Dir(to))
}

// chmod lets others read what is no secret. A stick knows no modes.
func chmod(f *os.File, mode fs.FileMode) error {
	if mode == secret {
		return nil // as it was made
	}
	if err := f.Chmod(mode); err != nil && !errors.Is(err, errors.ErrUnsupported) && !errors.Is(err, fs.ErrPermission) {
		return err
	}
	return nil
}

func syncFolder(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
