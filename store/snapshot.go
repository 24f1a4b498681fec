package store

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"math"
	"strings"

	"flitch/store/block"
)

// A snapshot is one moment of the database: a reading is in it once, as a row or in a block,
// though it may be moved while the snapshot is read.
type snapshot struct {
	db *DB
	tx *sql.Tx
}

// look calls fn with a snapshot on a reading connection. doing says what for, for the error.
func (db *DB) look(doing string, fn func(*snapshot) error) error {
	return db.lookUntil(background, doing, fn)
}

func (db *DB) lookUntil(ctx context.Context, doing string, fn func(*snapshot) error) error {
	tx, err := db.reader.BeginTx(ctx, nil)
	if err != nil {
		return db.noticed(fmt.Errorf("store: %s: %w", doing, err))
	}
	defer tx.Rollback() // it has read only
	return db.noticed(fn(&snapshot{db, tx}))
}

// rows calls fn for every row of a query; an error of fn comes back as it is.
func (s *snapshot) rows(doing string, fn func(*sql.Rows) error, query string, args ...any) error {
	rows, err := s.tx.QueryContext(background, query, args...)
	if err != nil {
		return fmt.Errorf("store: %s: %w", doing, err)
	}
	return eachOf(rows, doing, fn)
}

// blocks lists the blocks that a condition picks, without what is packed in them.
func (s *snapshot) blocks(where string, args ...any) (all []blockRow, err error) {
	err = s.rows("list blocks", func(rows *sql.Rows) error {
		var b blockRow
		if err := rows.Scan(&b.id, &b.probe, &b.firstSeq, &b.lastSeq, &b.firstMeasured, &b.lastMeasured, &b.n); err != nil {
			return fmt.Errorf("store: list blocks: %w", err)
		}
		all = append(all, b)
		return nil
	}, "SELECT id, probe, first_seq, last_seq, first_measured, last_measured, n FROM blocks WHERE "+where, args...)
	return all, err
}

// open reads and unpacks the block of that number.
func (s *snapshot) open(id int64) (probe string, rows []block.Row, err error) {
	b, err := s.read(id)
	if err != nil {
		return "", nil, err
	}
	if probe, err = s.probe(b.probe); err != nil {
		return "", nil, err
	}
	if rows, err = b.unpack(); err != nil {
		return probe, nil, b.wrong(probe, err)
	}
	return probe, rows, nil
}

func (s *snapshot) read(id int64) (b blockRow, err error) {
	if err = s.tx.QueryRowContext(background, "SELECT "+blockColumns+" FROM blocks WHERE id = ?", id).Scan(b.dest()...); err != nil {
		err = fmt.Errorf("store: read block %d: %w", id, err)
	}
	return b, err
}

// probe is the name behind a number; names never change.
func (s *snapshot) probe(id int64) (string, error) {
	if name, known := s.db.names.Load(id); known {
		return name.(string), nil
	}
	var name string
	if err := s.tx.QueryRowContext(background, "SELECT name FROM probes WHERE id = ?", id).Scan(&name); err != nil {
		return "", fmt.Errorf("store: find probe %d: %w", id, err)
	}
	s.db.names.Store(id, name)
	return name, nil
}

// An order is how readings are walked.
type order struct {
	key   func(*block.Row) key
	open  func(s *snapshot, id int64) (probe string, rows []block.Row, err error) // in this order
	begin func(*blockRow) int64                                                   // of a block: no key of it is lower
}

// A key is the place of a reading in an order.
type key struct{ major, minor int64 }

func (k key) compare(o key) int {
	return cmp.Or(cmp.Compare(k.major, o.major), cmp.Compare(k.minor, o.minor))
}

var lastKey = key{math.MaxInt64, math.MaxInt64}

var byTime = order{
	key: func(r *block.Row) key { return key{r.Measured, r.Seq} },
	open: func(s *snapshot, id int64) (string, []block.Row, error) {
		probe, rows, err := s.open(id)
		return probe, inOrderOfTime(rows), err
	},
	begin: func(b *blockRow) int64 { return b.firstMeasured },
}

var bySeq = order{
	key:   func(r *block.Row) key { return key{r.Seq, 0} },
	open:  (*snapshot).open,
	begin: func(b *blockRow) int64 { return b.firstSeq },
}

// bySeqInParts is for who comes back for the next part: blocks stay unpacked in between.
var bySeqInParts = order{bySeq.key, (*snapshot).reopen, bySeq.begin}

// several is so many question marks for a list.
func several(n int) string { return "(" + strings.TrimSuffix(strings.Repeat("?,", n), ",") + ")" }
