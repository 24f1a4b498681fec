package app

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

const keyLength = 32 // bytes: as long as the sum of SHA-256 (RFC 2104, section 3)

// linkKey returns the key that signs the links in messages. It is made on the
// first run, in a file of its own beside the database: a copy of the database
// that is given away must not carry it.
func linkKey(database string) ([]byte, error) {
	path := database + ".key"
	key, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return newLinkKey(path)
	}
	if err != nil {
		return nil, err
	}
	if len(key) != keyLength {
		return nil, fmt.Errorf("%s does not hold a key of %d bytes; remove it: a new one is made, and links sent before end", path, keyLength)
	}
	if err := os.Chmod(path, 0o600); err != nil { // a restored backup may have opened it to others
		return nil, err
	}
	return key, nil
}

// newLinkKey writes the whole file before it has its name, so that a power cut
// leaves no half a key.
func newLinkKey(path string) ([]byte, error) {
	key := make([]byte, keyLength)
	rand.Read(key)                                                           // never fails
	file, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".*") // mode 0600
	if err != nil {
		return nil, err
	}
	defer os.Remove(file.Name())
	_, err = file.Write(key)
	err = errors.Join(err, file.Sync(), file.Close())
	if err == nil {
		err = os.Rename(file.Name(), path)
	}
	if err != nil {
		return nil, err
	}
	return key, nil
}
