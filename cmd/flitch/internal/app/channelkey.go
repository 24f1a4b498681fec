package app

import (
	"crypto/rand"
	"fmt"

	"flitch/cmd/flitch/internal/keyfile"
)

const keyLength = 32 // bytes: as long as the sum of SHA-256 (RFC 2104, section 3)

// linkKey returns the key that signs the links in messages, made on the first run.
func linkKey(database string) ([]byte, error) {
	return keyOf(database+".key", "links sent before end", func() ([]byte, error) {
		key := make([]byte, keyLength)
		rand.Read(key) // never fails
		return key, nil
	})
}

// keyOf returns the key in a file; loss says what a new one costs.
func keyOf(path, loss string, fresh func() ([]byte, error)) ([]byte, error) {
	key, err := keyfile.Load(path, fresh)
	if err != nil {
		return nil, err
	}
	if len(key) != keyLength {
		return nil, fmt.Errorf("%s does not hold a key of %d bytes; remove it: a new one is made, and %s", path, keyLength, loss)
	}
	return key, nil
}
