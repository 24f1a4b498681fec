package store

import (
	"database/sql"
	"errors"
	"fmt"
)

// HasCommand reports whether a command with the ID is in the log.
func (db *DB) HasCommand(id string) (bool, error) {
	var seq int64
	err := db.reader.QueryRowContext(background, "SELECT seq FROM commands WHERE id = ?", id).Scan(&seq)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	if err != nil {
		return false, fmt.Errorf("store: look for command %s: %w", id, err)
	}
	return true, nil
}
