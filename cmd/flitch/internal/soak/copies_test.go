package soak

import (
	"context"
	"database/sql"
	big "encoding/binary"
	"hash/crc32"
	"time"

	_ "github.com/mattn/go-sqlite3"

	"flitch/store"
	"flitch/store/block"
)

// packRest packs what is too little for a block: behind a copy no row of a lower number may be left.
func packRest(ctx context.Context, db *store.DB) error {
	for p := db.NewPacker(1); ; {
		if _, more, err := p.Next(ctx); err != nil || !more {
			return err
		}
	}
}

// An oneBlock is what is read and written of a block.
type oneBlock struct {
	probe int64
	rows  []block.Row
}

// copyBlocks copies all blocks so many times, each time with numbers that are higher by rows and
// times that are later by day.
func copyBlocks(path string, times int, rows int64, day time.Duration) (copied int64, err error) {
	db, err := sql.Open("sqlite3", "file:"+path+"?_synchronous=OFF&_journal_mode=WAL")
	if err != nil {
		return 0, err
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	var last int64
	if err := db.QueryRow("SELECT max(id) FROM blocks").Scan(&last); err != nil {
		return 0, err
	}
	for n := range int64(times) {
		tx, err := db.Begin()
		if err != nil {
			return copied, err
		}
		for id := int64(1); id <= last; id++ {
			b, err := readBlock(tx, id)
			if err == nil {
				b.move((n+1)*rows, (n+1)*day.Milliseconds())
				err = b.write(tx)
			}
			if err != nil {
				tx.Rollback()
				return copied, err
			}
			copied += int64(len(b.rows))
		}
		if err := tx.Commit(); err != nil {
			return copied, err
		}
	}
	return copied, nil
}

func readBlock(tx *sql.Tx, id int64) (b oneBlock, err error) {
	var body []byte
	if err = tx.QueryRow("SELECT probe, body FROM blocks WHERE id = ?", id).Scan(&b.probe, &body); err == nil {
		b.rows, err = block.Decode(body)
	}
	return b, err
}

func (b *oneBlock) move(numbers, ms int64) {
	for i := range b.rows {
		r := &b.rows[i]
		r.Seq, r.Measured, r.Received = r.Seq+numbers, r.Measured+ms, r.Received+ms
	}
}

// write puts the block in with its checksum, as the store describes it (blockSum); verify and the daemon
// read it.
func (b *oneBlock) write(tx *sql.Tx) error {
	body, err := block.Encode(b.rows)
	if err != nil {
		return err
	}
	first, last := b.rows[0], b.rows[len(b.rows)-1]
	from, to := first.Measured, first.Measured
	for _, r := range b.rows {
		from, to = min(from, r.Measured), max(to, r.Measured)
	}
	var head []byte
	for _, v := range []int64{b.probe, first.Seq, last.Seq, from, to, int64(len(b.rows))} {
		head = big.BigEndian.AppendUint64(head, uint64(v))
	}
	sum := crc32.Checksum(append(head, body...), crc32.MakeTable(crc32.Castagnoli))
	_, err = tx.Exec("INSERT INTO blocks (probe, first_seq, last_seq, first_measured, last_measured, n, sum, body) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
		b.probe, first.Seq, last.Seq, from, to, len(b.rows), int64(sum), body)
	return err
}
