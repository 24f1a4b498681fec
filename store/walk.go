package store

import (
	"database/sql"
	"fmt"

	"flitch/store/block"
)

// A rowSource is a stream of what is still rows: a query of number, probe and readingColumns.
type rowSource struct {
	rows  *sql.Rows
	doing string
	scan  readingRow
	seq   int64
	name  string
	dest  []any
	held  []block.Row
	names []string
}

// rowsAtOnce is how many are taken from the query before they are handed on.
const rowsAtOnce = 64

// source begins the query. The caller closes its rows.
func (s *snapshot) source(doing, query string, args ...any) (*rowSource, error) {
	rows, err := s.tx.QueryContext(background, query, args...)
	if err != nil {
		return nil, fmt.Errorf("store: %s: %w", doing, err)
	}
	src := &rowSource{rows: rows, doing: doing}
	src.dest = append([]any{&src.seq, &src.name}, src.scan.dest()...)
	return src, nil
}

// stream is the source as a stream.
func (s *rowSource) stream() *stream { return &stream{more: s.more} }

func (s *rowSource) more(r *stream) error {
	s.held, s.names = s.held[:0], s.names[:0]
	for len(s.held) < rowsAtOnce && s.rows.Next() {
		if err := s.rows.Scan(s.dest...); err != nil {
			return fmt.Errorf("store: %s: %w", s.doing, err)
		}
		s.held, s.names = append(s.held, s.scan.row(s.seq)), append(s.names, s.name)
	}
	if err := s.rows.Err(); err != nil {
		return fmt.Errorf("store: %s: %w", s.doing, err)
	}
	r.rows, r.names = s.held, s.names
	return nil
}

// walkSeq calls fn for every reading of any probe with the numbers from to to, in the order of
// their numbers, which is o: bySeq or bySeqInParts.
func (s *snapshot) walkSeq(doing string, o order, from, to int64, fn func(probe string, r *block.Row) error) error {
	src, err := s.source(doing, `SELECT r.seq, p.name, `+readingColumns+` FROM readings r JOIN probes p ON p.id = r.probe
		LEFT JOIN reading_marks m ON m.seq = r.seq WHERE r.seq BETWEEN ? AND ? AND `+loose+` ORDER BY r.seq`, from, to)
	if err != nil {
		return err
	}
	defer src.rows.Close()
	m, err := s.bySeq(o, from, to)
	if err != nil {
		return err
	}
	m.sources = append(m.sources, src.stream())
	return m.walk(fn)
}

// seqBlocks are the blocks with numbers from ?1 to ?2. Those of a probe follow from each other, so
// that the last is the first that reaches to ?2, and the index is read no further.
const seqBlocks = `id IN (SELECT b.id FROM probes p JOIN blocks b ON b.probe = p.id AND b.last_seq >= ?1
	AND b.last_seq <= coalesce((SELECT min(last_seq) FROM blocks WHERE probe = p.id AND last_seq >= ?2), b.last_seq) WHERE b.first_seq <= ?2)`

// bySeq is the walk through the blocks alone, of the numbers from to to.
func (s *snapshot) bySeq(o order, from, to int64) (*merge, error) {
	waiting, err := s.blocks(seqBlocks, from, to)
	m := &merge{snap: s, order: o, from: key{from, 0}, to: lastKey, waiting: waiting}
	if to < lastKey.major {
		m.to = key{to + 1, 0}
	}
	return m, err
}
