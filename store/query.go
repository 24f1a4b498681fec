package store

import (
	"database/sql"
	"fmt"
)

// each calls fn for every row of a query on the reading connections. doing says
// what for, for the error; an error of fn comes back as it is.
func (db *DB) each(doing string, fn func(*sql.Rows) error, query string, args ...any) error {
	rows, err := db.reader.QueryContext(background, query, args...)
	if err != nil {
		return db.noticed(fmt.Errorf("store: %s: %w", doing, err))
	}
	return db.noticed(eachOf(rows, doing, fn))
}

// eachOf calls fn for every one of the rows, and closes them.
func eachOf(rows *sql.Rows, doing string, fn func(*sql.Rows) error) error {
	defer rows.Close()
	for rows.Next() {
		if err := fn(rows); err != nil {
			return err
		}
	}
	if err := rows.Err(); err != nil {
		return fmt.Errorf("store: %s: %w", doing, err)
	}
	return nil
}

// list collects what scan makes of every row of a query.
func list[T any](db *DB, doing string, scan func(*sql.Rows) (T, error), query string, args ...any) ([]T, error) {
	var all []T
	err := db.each(doing, func(rows *sql.Rows) error {
		one, err := scan(rows)
		if err != nil {
			return fmt.Errorf("store: %s: %w", doing, err)
		}
		all = append(all, one)
		return nil
	}, query, args...)
	if err != nil {
		return nil, err
	}
	return all, nil
}
