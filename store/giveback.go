package store

import (
	"fmt"
	"time"
)

// When pages that nothing is in are given back to the file system: when they are a quarter of
// the file and more than 16 MB. Below that new readings use them again soon, and a file that
// shrinks and grows wears out a card. Proposals.
const (
	freeShare = 4
	freePages = 4096
	backPages = 256 // at a time: 1 MB
)

// GiveBack makes the file shorter by at most 1 MB, if much of it is free, and reports whether there is
// more to give back. A file that was not made by flitch may be one that cannot shrink.
func (db *DB) GiveBack() (more bool, err error) {
	if db.readOnly {
		return false, ErrReadOnly
	}
	db.mu.Lock()
	defer db.mu.Unlock()
	began := time.Now()
	before, err := db.free()
	if err != nil || before < freePages || !db.muchIsFree(before) {
		return false, err
	}
	err = db.vacuum()
	if db.observe != nil {
		db.observe(time.Since(began), err)
	}
	if err != nil {
		return false, err
	}
	after, err := db.free()
	return after < before, err
}

func (db *DB) free() (pages int64, err error) {
	if err = db.writer.QueryRow("PRAGMA freelist_count").Scan(&pages); err != nil {
		err = fmt.Errorf("store: count free pages: %w", err)
	}
	return pages, err
}

func (db *DB) muchIsFree(free int64) bool {
	var pages int64
	return db.writer.QueryRow("PRAGMA page_count").Scan(&pages) == nil && free > pages/freeShare
}

// vacuum frees a page with each step of its statement, so all steps are taken.
func (db *DB) vacuum() error {
	rows, err := db.writer.Query(fmt.Sprintf("PRAGMA incremental_vacuum(%d)", backPages))
	if err != nil {
		return fmt.Errorf("store: give back pages: %w", err)
	}
	defer rows.Close()
	for rows.Next() {
	}
	if err := rows.Err(); err != nil {
		return fmt.Errorf("store: give back pages: %w", err)
	}
	return nil
}
