package backup

import (
	"os"
	"path/filepath"
	"strings"
	"syscall"
)

// begin makes the folder of a copy that is not whole yet, and locks it until it is closed.
// What killed ones left there is removed: each is as big as the database, and a machine
// that starts and dies again and again would fill the disk with them.
func begin(folder, part string) (*os.File, error) {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		left := filepath.Join(folder, e.Name())
		if !e.IsDir() || !strings.HasPrefix(e.Name(), prefix) || !strings.HasSuffix(e.Name(), unready) {
			continue
		}
		if d, err := lockFolder(left); err == nil { // else somebody makes it now
			err = os.RemoveAll(left)
			d.Close()
			if err != nil {
				return nil, err
			}
		}
	}
	if err := os.Mkdir(part, 0o700); err != nil {
		return nil, err
	}
	if d, err := lockFolder(part); err == nil {
		return d, nil
	}
	return os.Open(part) // a file system without locks: nothing is removed there
}

// lockFolder fails when another process has it.
func lockFolder(path string) (*os.File, error) {
	d, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	if err := syscall.Flock(int(d.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		d.Close()
		return nil, err
	}
	return d, nil
}
