package store

import (
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"time"
)

// PhotoHash is the name of a picture: SHA-256 of its bytes, lower-case hex.
func PhotoHash(jpeg []byte) string {
	sum := sha256.Sum256(jpeg)
	return hex.EncodeToString(sum[:])
}

// SavePhoto keeps a picture under its hash. One that is there already is the same.
func (tx *Tx) SavePhoto(jpeg []byte, at time.Time) error {
	hash := PhotoHash(jpeg)
	var one int
	err := tx.tx.QueryRowContext(background, "SELECT 1 FROM photos WHERE hash = ?", hash).Scan(&one)
	if err == nil {
		return nil
	}
	if !errors.Is(err, sql.ErrNoRows) {
		return fmt.Errorf("store: photo %s: %w", hash, err)
	}
	return tx.exec("save photo "+hash, "INSERT INTO photos (hash, taken, jpeg) VALUES (?, ?, ?)", hash, at.UnixMilli(), jpeg)
}

// Photo returns the picture of that hash; false if there is none. The bytes are what was
// put in: others are an error.
func (db *DB) Photo(hash string) (jpeg []byte, found bool, err error) {
	err = db.reader.QueryRowContext(background, "SELECT jpeg FROM photos WHERE hash = ?", hash).Scan(&jpeg)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return nil, false, nil
	case err != nil:
		return nil, false, fmt.Errorf("store: photo %s: %w", hash, err)
	case PhotoHash(jpeg) != hash:
		return nil, false, fmt.Errorf("store: photo %s: its bytes were changed", hash)
	}
	return jpeg, true, nil
}
