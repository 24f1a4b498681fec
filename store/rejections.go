package store

import (
	"database/sql"
	"strings"
	"time"

	"flitch/ingest/decode"
)

// maxRejections is how many rejected messages are kept, the newest. At most 3 KiB
// each, so 30 MB; a proposal.
const maxRejections = 10_000

// bounded cuts s to decode.MaxRaw bytes, at the border of a character: nothing
// that a device sends may fill the disk.
func bounded(s string) string {
	if len(s) <= decode.MaxRaw {
		return s
	}
	return strings.ToValidUTF8(s[:decode.MaxRaw], "")
}

func (tx *Tx) reject(rejected []decode.Rejection) error {
	if len(rejected) == 0 {
		return nil
	}
	for _, r := range rejected {
		raw := append([]byte{}, r.Raw[:min(len(r.Raw), decode.MaxRaw)]...) // never nil: NULL is not allowed
		err := tx.exec("keep rejected message", "INSERT INTO rejections (topic, received, raw, size, reason) VALUES (?, ?, ?, ?, ?)",
			bounded(r.Topic), optionalMilli(r.Received), raw, r.Size, bounded(r.Reason))
		if err != nil {
			return err
		}
	}
	return tx.exec("drop old rejected messages",
		"DELETE FROM rejections WHERE id <= (SELECT max(id) FROM rejections) - ?", maxRejections)
}

// Rejections returns at most limit messages that could not be used, newest first.
// The newest 10,000 are kept.
func (db *DB) Rejections(limit int) ([]decode.Rejection, error) {
	return list(db, "rejected messages", func(rows *sql.Rows) (r decode.Rejection, err error) {
		err = rows.Scan(&r.Topic, intoTime{&r.Received}, &r.Raw, &r.Size, &r.Reason)
		return r, err
	}, "SELECT topic, received, raw, size, reason FROM rejections ORDER BY id DESC LIMIT ?", limit)
}

// RejectedBetween counts the kept rejections that came in [from, to).
func (db *DB) RejectedBetween(from, to time.Time) (int, error) {
	var n int
	err := db.each("count rejected messages", func(rows *sql.Rows) error { return rows.Scan(&n) },
		"SELECT count(*) FROM rejections WHERE received >= ? AND received < ?", from.UnixMilli(), to.UnixMilli())
	return n, err
}
