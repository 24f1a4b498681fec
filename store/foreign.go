package store

import (
	"database/sql"
	"fmt"
	"slices"
)

// programs are the parts of a schema that do something by themselves, with their words.
const programs = `SELECT type || ' ' || name || ': ' || coalesce(sql, '') FROM sqlite_schema
	WHERE type IN ('trigger', 'view') OR sql LIKE 'CREATE VIRTUAL%' ORDER BY 1`

// Foreign returns what the database at path would do by itself that flitch did not put there:
// triggers, views and virtual tables. Who opens a file of somebody else for writing runs them.
func Foreign(path string) ([]string, error) {
	if err := mustExist(path); err != nil {
		return nil, err
	}
	pool, err := openPool(path, 1, "mode=ro&immutable=1&_query_only=1")
	if err != nil {
		return nil, fmt.Errorf("store: look at %s: %w", path, err)
	}
	defer pool.Close()
	found, err := foreign(pool)
	if err != nil {
		return nil, fmt.Errorf("store: look at %s: %w", path, err)
	}
	return found, nil
}

func foreign(pool *sql.DB) (others []string, err error) {
	steps, err := migrations()
	if err != nil {
		return nil, err
	}
	have, err := schemaVersion(pool, len(steps))
	if err != nil {
		return nil, err
	}
	ours, err := ownPrograms(steps[:have])
	if err != nil {
		return nil, err
	}
	list, err := texts(pool, programs)
	for _, one := range list {
		if !slices.Contains(ours, one) {
			others = append(others, one)
		}
	}
	return others, err
}

// ownPrograms are those of an empty database of that schema.
func ownPrograms(steps []string) ([]string, error) {
	empty, err := sql.Open("sqlite3", ":memory:")
	if err != nil {
		return nil, err
	}
	defer empty.Close()
	empty.SetMaxOpenConns(1) // each connection would have a memory of its own
	if err := migrate(empty, steps); err != nil {
		return nil, err
	}
	return texts(empty, programs)
}

func texts(db *sql.DB, query string) (list []string, err error) {
	rows, err := db.Query(query)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var text string
		if err := rows.Scan(&text); err != nil {
			return nil, err
		}
		list = append(list, text)
	}
	return list, rows.Err()
}
