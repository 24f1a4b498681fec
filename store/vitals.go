package store

import (
	"database/sql"
	"time"
)

// A Vital is a value that a sensor told of its battery or its signal, in the unit of
// the configuration.
type Vital struct {
	Probe string
	Kind  string // as in package process
	At    time.Time
	Value float64
}

// KeepVital keeps a value until ForgetVitals.
func (db *DB) KeepVital(v Vital) error {
	return db.Update(func(tx *Tx) error {
		return tx.exec("keep vital", "INSERT OR REPLACE INTO vitals (probe, kind, at, value) VALUES (?, ?, ?, ?)", v.Probe, v.Kind, v.At.UnixMilli(), v.Value)
	})
}

// Vitals returns the values that are kept, the oldest of each first.
func (db *DB) Vitals() ([]Vital, error) {
	return list(db, "vitals", func(rows *sql.Rows) (v Vital, err error) {
		err = rows.Scan(&v.Probe, &v.Kind, intoTime{&v.At}, &v.Value)
		return v, err
	}, "SELECT probe, kind, at, value FROM vitals ORDER BY probe, kind, at")
}

// ForgetVitals drops what was kept of one kind of a probe up to a time, that included.
func (db *DB) ForgetVitals(probe, kind string, upTo time.Time) error {
	return db.Update(func(tx *Tx) error {
		return tx.exec("forget vitals", "DELETE FROM vitals WHERE probe = ? AND kind = ? AND at <= ?", probe, kind, upTo.UnixMilli())
	})
}
