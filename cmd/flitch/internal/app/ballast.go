package app

import (
	"errors"
	"io/fs"
	"os"
	"sync"
)

// ballastSize is how much room is kept beside the database for the alarm of a full disk,
// and for some minutes of readings: proposal, bytes.
const ballastSize = 1 << 20

// A ballast is a file that does nothing but take room. On a full disk it is thrown away,
// so that what has to be told can be stored; it comes back when there is room again, and
// until then the disk counts as full.
type ballast struct {
	path string
	mu   sync.Mutex
	here bool
}

// keep makes the file if it is not there. The error says that there is no room for it.
func (b *ballast) keep() error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.here {
		return nil
	}
	if info, err := os.Stat(b.path); err == nil && info.Size() == ballastSize {
		b.here = true
		return nil
	}
	err := b.write()
	b.here = err == nil
	return err
}

func (b *ballast) write() error {
	f, err := os.OpenFile(b.path, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	block := make([]byte, 64<<10)
	for i := range block {
		block[i] = byte(i * 7) // no hole, and nothing that a file system would fold
	}
	for n := 0; n < ballastSize && err == nil; n += len(block) {
		_, err = f.Write(block)
	}
	err = errors.Join(err, f.Sync(), f.Close())
	if err != nil {
		err = errors.Join(err, os.Remove(b.path))
	}
	return err
}

// drop makes room, and reports whether it did.
func (b *ballast) drop() bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	err := os.Remove(b.path)
	if err == nil || errors.Is(err, fs.ErrNotExist) {
		b.here = false
	}
	return err == nil
}
