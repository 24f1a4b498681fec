package store

import (
	"context"
	"database/sql"
	"fmt"
	"net/url"
	"path/filepath"

	_ "github.com/mattn/go-sqlite3" // the driver
)

// readers is how many connections read at the same time.
const readers = 4

// background is the only context the writer uses: one that can be cancelled could
// interrupt a commit half-way, and costs a goroutine per statement.
var background = context.Background()

// openWriter opens the one connection that writes. auto_vacuum only takes effect
// before the first table exists.
func openWriter(path string) (*sql.DB, error) {
	w, err := openPool(path, 1, "mode=rw&_auto_vacuum=incremental&_journal_mode=WAL&_synchronous=FULL"+
		"&_txlock=immediate&_busy_timeout=5000&_foreign_keys=1")
	if err != nil {
		return nil, err
	}
	if _, err := w.Exec(fmt.Sprint("PRAGMA journal_size_limit = ", logMost)); err != nil {
		w.Close()
		return nil, fmt.Errorf("bound the log beside the database: %w", err)
	}
	return w, nil
}

// logMost is what the log beside the database may keep of a time in which it was large, bytes.
const logMost = 16 << 20

// openReaders opens the connections that only read. Each has half a megabyte of pages instead of
// SQLite's two: what they walk through is in the cache of the system anyway.
func openReaders(path string) (*sql.DB, error) {
	return openPool(path, readers, "mode=ro&_query_only=1&_busy_timeout=5000&_cache_size=-512")
}

// openPool opens path with the driver's options and makes sure that it can be
// reached. Idle connections are kept: opening one runs a dozen statements.
func openPool(path string, size int, options string) (*sql.DB, error) {
	name, err := address(path)
	if err != nil {
		return nil, err
	}
	db, err := sql.Open("sqlite3", name+"?"+options)
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(size)
	db.SetMaxIdleConns(size)
	if err := db.Ping(); err != nil {
		db.Close()
		return nil, err
	}
	return db, nil
}

// assertDurable fails unless a commit on w is an fsync. The driver's own default
// is synchronous=NORMAL, which loses committed rows at a power cut.
func assertDurable(w *sql.DB) error {
	var mode string
	if err := w.QueryRow("PRAGMA journal_mode").Scan(&mode); err != nil {
		return fmt.Errorf("ask for journal_mode: %w", err)
	}
	if mode != "wal" {
		return fmt.Errorf("journal_mode is %q, want \"wal\": the file system may not support it", mode)
	}
	var level int
	if err := w.QueryRow("PRAGMA synchronous").Scan(&level); err != nil {
		return fmt.Errorf("ask for synchronous: %w", err)
	}
	if level != 2 {
		return fmt.Errorf("synchronous is %d, want 2 (FULL): an acknowledged reading could be lost at a power cut", level)
	}
	return nil
}

// address is a path as SQLite takes it beside options.
func address(path string) (string, error) {
	abs, err := filepath.Abs(path)
	return "file:" + (&url.URL{Path: abs}).EscapedPath(), err
}
