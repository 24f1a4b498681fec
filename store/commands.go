package store

import (
	"database/sql"
	"errors"
	"fmt"

	"flitch/process"
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

// NextCommands returns at most limit commands whose number is above after, in order.
func (db *DB) NextCommands(after int64, limit int) ([]process.Input, error) {
	return list(db, "next commands", scanCommand, "SELECT seq, at, body FROM commands WHERE seq > ? ORDER BY seq LIMIT ?", after, limit)
}
