package store

import (
	"database/sql"
	"fmt"
)

func (db *DB) loadProbes() error {
	return db.each("load probes", func(rows *sql.Rows) error {
		var name string
		var id int64
		if err := rows.Scan(&name, &id); err != nil {
			return fmt.Errorf("store: load probes: %w", err)
		}
		db.probes[name] = id
		return nil
	}, "SELECT name, id FROM probes")
}

// probe returns the number that stands for name in the readings, and gives one
// out if it is new.
func (tx *Tx) probe(name string) (int64, error) {
	if id, ok := tx.db.probes[name]; ok {
		return id, nil
	}
	if id, ok := tx.probes[name]; ok {
		return id, nil
	}
	id, err := tx.insert("add probe "+name, "INSERT INTO probes (name) VALUES (?)", name)
	if err != nil {
		return 0, err
	}
	if tx.probes == nil {
		tx.probes = map[string]int64{}
	}
	tx.probes[name] = id
	return id, nil
}
