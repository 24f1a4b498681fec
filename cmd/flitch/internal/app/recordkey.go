package app

import (
	"crypto/ed25519"
	"crypto/rand"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"flitch/cmd/flitch/internal/keyfile"
	"flitch/process/evidence"
)

// KeyFile is the file of the key that signs the record, beside the database.
func KeyFile(database string) string { return database + ".record.key" }

const keyBlock = "PRIVATE KEY" // PKCS #8, RFC 5208, as common tools read it

// loadRecordKey reads the key, or makes one where there is none.
func loadRecordKey(database string) (key ed25519.PrivateKey, fresh bool, err error) {
	path := KeyFile(database)
	text, err := keyfile.Load(path, func() ([]byte, error) {
		fresh = true
		_, made, err := ed25519.GenerateKey(rand.Reader)
		if err != nil {
			return nil, err
		}
		der, err := x509.MarshalPKCS8PrivateKey(made)
		return pem.EncodeToMemory(&pem.Block{Type: keyBlock, Bytes: der}), err
	})
	if err != nil {
		return nil, fresh, fmt.Errorf("the key of the record, %s, cannot be read: %w", path, err)
	}
	if key, err = parseKey(text); err != nil {
		return nil, fresh, fmt.Errorf("the key of the record, %s, is of no use: %w; put the file back from a backup, or move it away to go on with a new key", path, err)
	}
	return key, fresh, nil
}

func parseKey(text []byte) (ed25519.PrivateKey, error) {
	block, _ := pem.Decode(text)
	if block == nil || block.Type != keyBlock {
		return nil, errors.New("it is no private key in PEM")
	}
	any, err := x509.ParsePKCS8PrivateKey(block.Bytes)
	if err != nil {
		return nil, errors.New("it is damaged")
	}
	key, ok := any.(ed25519.PrivateKey)
	if !ok {
		return nil, errors.New("it is a key of another kind, and Ed25519 is wanted")
	}
	return key, nil
}

// PublicKey reads the public half of the record key of a database, as PEM; fs.ErrNotExist if
// there is none yet.
func PublicKey(database string) (key ed25519.PublicKey, text []byte, err error) {
	if _, err := os.Stat(KeyFile(database)); errors.Is(err, fs.ErrNotExist) {
		return nil, nil, err
	}
	private, _, err := loadRecordKey(database)
	if err != nil {
		return nil, nil, err
	}
	key = private.Public().(ed25519.PublicKey)
	der, err := x509.MarshalPKIXPublicKey(key)
	return key, pem.EncodeToMemory(&pem.Block{Type: "PUBLIC KEY", Bytes: der}), err
}

// ParsePublicKey returns the fingerprint of a public key in PEM.
func ParsePublicKey(text []byte) (string, error) {
	block, _ := pem.Decode(text)
	if block == nil {
		return "", errors.New("it holds no key in PEM")
	}
	if private, err := parseKey(text); err == nil {
		return evidence.Fingerprint(private.Public().(ed25519.PublicKey)), nil
	}
	any, err := x509.ParsePKIXPublicKey(block.Bytes)
	if err != nil {
		return "", errors.New("the key in it is damaged")
	}
	key, ok := any.(ed25519.PublicKey)
	if !ok {
		return "", errors.New("it holds a key of another kind, and Ed25519 is wanted")
	}
	return evidence.Fingerprint(key), nil
}
