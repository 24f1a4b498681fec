package main

import (
	"database/sql"
	"encoding/csv"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"flitch/ingest/mqtt/mqtttest"
	"flitch/store"
)

// BenchmarkImport is the whole command, from the file over the daemon's interface to the
// disk, beside encoding/csv and plain inserts of the driver into the same table, with the
// same promise: a thousand rows a transaction, each transaction an fsync.
func BenchmarkImport(b *testing.B) {
	var ours, raw []float64
	for b.Loop() {
		l := newLarder(b)
		file, _ := manyRowsFile(b, l.dir)
		began := time.Now()
		if out, err := l.importing(file).CombinedOutput(); err != nil {
			b.Fatalf("%v: %s", err, out)
		}
		ours = append(ours, manyRows/time.Since(began).Seconds())
		l.kill()
		raw = append(raw, manyRows/rawImport(b, file).Seconds())
	}
	mqtttest.Against(b, "import_csv", "rows/s", ours, raw)
}

// rawImport is what one would write with the two libraries and no more.
func rawImport(b *testing.B, path string) time.Duration {
	database := filepath.Join(b.TempDir(), "raw.db")
	if err := store.Create(database); err != nil {
		b.Fatal(err)
	}
	db, err := sql.Open("sqlite3", "file:"+database+"?_journal_mode=WAL&_synchronous=FULL")
	if err != nil {
		b.Fatal(err)
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	if _, err := db.Exec("INSERT INTO probes (id, name) VALUES (1, 'alder-bottle')"); err != nil {
		b.Fatal(err)
	}
	file, err := os.Open(path)
	if err != nil {
		b.Fatal(err)
	}
	defer file.Close()
	began := time.Now()
	in := csv.NewReader(file)
	in.FieldsPerRecord, in.ReuseRecord = -1, true
	n := int64(0)
	for ended := false; !ended; {
		tx, err := db.Begin()
		if err != nil {
			b.Fatal(err)
		}
		insert, err := tx.Prepare("INSERT OR IGNORE INTO readings (seq, probe, measured, value, received) VALUES (?, 1, ?, ?, ?)")
		if err != nil {
			b.Fatal(err)
		}
		for range 1000 {
			record, err := in.Read()
			if ended = errors.Is(err, io.EOF); ended {
				break
			}
			if err != nil || len(record) < 2 {
				continue
			}
			at, err1 := strconv.ParseInt(record[0], 10, 64)
			value, err2 := strconv.ParseFloat(record[1], 64)
			if err1 != nil || err2 != nil {
				continue
			}
			n++
			if _, err := insert.Exec(n, at*1000, value, began.UnixMilli()); err != nil {
				b.Fatal(err)
			}
		}
		if err := tx.Commit(); err != nil {
			b.Fatal(err)
		}
	}
	took := time.Since(began)
	var rows int
	if err := db.QueryRow("SELECT count(*) FROM readings").Scan(&rows); err != nil || rows != manyRows {
		b.Fatalf("%d rows, %v", rows, err)
	}
	return took
}
