package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"

	"flitch/process/evidence"
	"flitch/store/block"
)

// How many readings of a probe a block is made of. Of 4096 it has some 8 KB, of which half a page of
// 4 KB is left free on the average; 8192 would save 0.2 bytes a reading and be twice as much to
// unpack where one is looked for. See BenchmarkPack.
const (
	packFrom  = 4096
	packMost  = 2 * packFrom // a part of a seal that is longer is parted
	packMarks = block.MaxMarks / 2
)

// Packed says what one step of a Packer did: made blocks, or took rows away.
type Packed struct {
	Probe    string
	Readings int // that were rows only and are in a block now
	Bytes    int // that the block takes, but for what SQLite adds
	Taken    int // rows that were covered by a block and are gone now
}

// A Packer moves readings from rows into blocks: of each probe, from the oldest on, those of so
// many whole seals that there are packFrom of them. What is not sealed is never moved. Rows are taken
// away when those of many probes are covered: they lie among each other, and a page would be
// written once for each. It keeps no state but what can be found again; two of one database get in
// each other's way.
type Packer struct {
	db     *DB
	from   int64             // packs from so many readings on
	counts map[int64]*toPack // by the number of the probe
	ends   []int64           // last numbers of the seals that are not counted yet
	line   int64             // of the journal, of the last seal that was read
	sealed int64             // the last number that is counted
	take   taking
}

// A toPack is what is there of a probe, and under a seal, and still rows.
type toPack struct {
	n                           int
	firstSeq, lastSeq           int64
	firstMeasured, lastMeasured int64
}

// NewPacker returns a Packer. Blocks of fewer readings than packFrom are for tests, and for who
// wants to see everything packed: from is the least, 0 the usual.
func (db *DB) NewPacker(from int) *Packer {
	if from <= 0 {
		from = packFrom
	}
	return &Packer{db: db, from: int64(from), counts: map[int64]*toPack{}, take: taking{due: true}}
}

// Next makes the blocks of one probe that are due, or takes rows away that are covered, and reports
// false when there is nothing to do. Each is one transaction that holds the writer for the time of some
// thousand rows. What it was stopped or failed in is done again by the next call.
func (p *Packer) Next(ctx context.Context) (done Packed, more bool, err error) {
	if p.db.readOnly {
		return done, false, ErrReadOnly
	}
	for {
		if err := ctx.Err(); err != nil {
			return done, false, err
		}
		if probe, c := p.due(); c != nil {
			if done, err = p.pack(ctx, probe, c); err != nil {
				*p = *p.db.NewPacker(int(p.from)) // what was done and what was not is found out anew
				return done, false, err
			}
			delete(p.counts, probe)
			return done, true, nil
		}
		all := false
		if p.take.rows < takeFrom*int(p.from) {
			more, err := p.countSeal()
			if err != nil {
				return done, false, err
			}
			if more {
				continue
			}
			all = true
		}
		if done.Taken, err = p.takeAway(); err != nil || done.Taken > 0 || all {
			if done.Taken == 0 {
				p.db.unpacked.forget() // who still walks opens them again; all others are done
			}
			return done, done.Taken > 0, err
		}
	}
}

// due is a probe of which there is enough to pack; nil: of none.
func (p *Packer) due() (probe int64, c *toPack) {
	for probe, c := range p.counts {
		if int64(c.n) >= p.from {
			return probe, c
		}
	}
	return 0, nil
}

// PackAll packs all that is due, and reports after each step. It is what the daemon does in
// small pieces, at once.
func (db *DB) PackAll(ctx context.Context, report func(Packed)) error {
	for p := db.NewPacker(0); ; {
		done, more, err := p.Next(ctx)
		if err != nil || !more {
			return err
		}
		if report != nil {
			report(done)
		}
	}
}

// countSeal counts what the next seal stands over that has rows; false: there is none.
func (p *Packer) countSeal() (bool, error) {
	var lowest sql.NullInt64
	if err := p.db.reader.QueryRowContext(background, "SELECT min(seq) FROM readings WHERE seq > ?", p.sealed).Scan(&lowest); err != nil {
		return false, fmt.Errorf("store: find readings to pack: %w", err)
	}
	if !lowest.Valid {
		return false, nil
	}
	for len(p.ends) == 0 || p.ends[len(p.ends)-1] < lowest.Int64 {
		p.ends = p.ends[:0]
		if more, err := p.readSeals(); err != nil || !more {
			return false, err
		}
	}
	for p.ends[0] < lowest.Int64 { // all of it is in blocks
		p.ends = p.ends[1:]
	}
	to := p.ends[0]
	err := p.db.each("count readings to pack", func(rows *sql.Rows) error {
		var probe int64
		var c toPack
		if err := rows.Scan(&probe, &c.n, &c.firstSeq, &c.lastSeq, &c.firstMeasured, &c.lastMeasured); err != nil {
			return fmt.Errorf("store: count readings to pack: %w", err)
		}
		if old := p.counts[probe]; old != nil {
			c.n, c.firstSeq = c.n+old.n, old.firstSeq
			c.firstMeasured, c.lastMeasured = min(c.firstMeasured, old.firstMeasured), max(c.lastMeasured, old.lastMeasured)
		}
		p.counts[probe] = &c
		return nil
	}, `SELECT probe, count(*), min(seq), max(seq), min(measured), max(measured) FROM readings r
		WHERE seq > ? AND seq <= ? AND `+loose+` GROUP BY probe`, p.sealed, to)
	if err != nil {
		return false, err
	}
	p.sealed, p.ends = to, p.ends[1:]
	return true, nil
}

// sealsAtOnce is how many seals are read at a time: seven days.
const sealsAtOnce = 1000

// readSeals reads where the next seals end; false: there are no more.
func (p *Packer) readSeals() (bool, error) {
	lines, err := list(p.db, "seals", scanLine, journalQuery+" WHERE kind = '"+evidence.SealKind+"' AND seq > ? ORDER BY seq LIMIT ?", p.line, sealsAtOnce)
	for _, l := range lines {
		seal, ok := evidence.ParseSeal(l.Text)
		if !ok {
			return false, fmt.Errorf("store: %w", &evidence.BadLine{Seq: l.Seq, What: "it is no seal as flitch writes it"})
		}
		p.line, p.ends = l.Seq, append(p.ends, seal.To)
	}
	return len(lines) > 0, err
}

// pack makes blocks of what was counted of a probe.
func (p *Packer) pack(ctx context.Context, probe int64, c *toPack) (done Packed, err error) {
	rows, err := p.db.rowsToPack(probe, c)
	if err != nil {
		return done, err
	}
	if len(rows) != c.n {
		return done, fmt.Errorf("store: pack readings of probe %d: %d rows, and there were %d", probe, len(rows), c.n)
	}
	for len(rows) > 0 && ctx.Err() == nil {
		n := partOf(rows)
		b, err := newBlock(probe, rows[:n])
		if err != nil {
			return done, fmt.Errorf("store: pack readings of probe %d: %w", probe, err)
		}
		if err := p.db.Update(func(tx *Tx) error { return tx.cover(b, rows[:n]) }); err != nil {
			return done, err
		}
		p.take.more(n)
		done.Readings, done.Bytes = done.Readings+n, done.Bytes+len(b.body)
		rows = rows[n:]
	}
	if err := ctx.Err(); err != nil {
		return done, err
	}
	return done, p.db.look("find probe", func(s *snapshot) (err error) { done.Probe, err = s.probe(probe); return err })
}

// partOf is how many of the rows go into one block: all, if they are not too many and their marks not
// too long.
func partOf(rows []block.Row) int {
	n := len(rows)
	if n > packMost {
		n = packFrom
	}
	marks := 0
	for i := range rows[:n] {
		if m := rows[i].Mark; m != nil {
			marks += len(m.Reason) + len(m.Raw) + 64
		}
		if marks > packMarks && i > 0 {
			return i
		}
	}
	return n
}

// rowsToPack reads rows of a probe in the order of their numbers. They are found by the times
// measured: of the numbers in between most are of other probes.
func (db *DB) rowsToPack(probe int64, c *toPack) (all []block.Row, err error) {
	var seq int64
	var r readingRow
	dest := append([]any{&seq}, r.dest()...)
	err = db.each("read readings to pack", func(rows *sql.Rows) error {
		if err := rows.Scan(dest...); err != nil {
			return fmt.Errorf("store: read readings to pack: %w", err)
		}
		all = append(all, r.row(seq))
		return nil
	}, `SELECT r.seq, `+readingColumns+` FROM readings r LEFT JOIN reading_marks m ON m.seq = r.seq
		WHERE r.probe = ? AND r.measured BETWEEN ? AND ? AND +r.seq BETWEEN ? AND ?`, probe, c.firstMeasured, c.lastMeasured, c.firstSeq, c.lastSeq)
	slices.SortFunc(all, func(a, b block.Row) int { return int(a.Seq - b.Seq) })
	return all, err
}

// cover writes the block, reads it back, and holds it against the rows. Rows that are committed never
// change: those that were read before are those that are there.
func (tx *Tx) cover(b *blockRow, rows []block.Row) error {
	id, err := tx.insert("write block", `INSERT INTO blocks (probe, first_seq, last_seq, first_measured, last_measured, n, sum, body)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?)`, b.probe, b.firstSeq, b.lastSeq, b.firstMeasured, b.lastMeasured, b.n, b.sum, b.body)
	if err != nil {
		return err
	}
	s := &snapshot{tx.db, tx.tx}
	_, back, err := s.open(id)
	if err != nil {
		return err
	}
	if !slices.EqualFunc(back, rows, block.Same) {
		return fmt.Errorf("store: block %d gives back other readings than went in", id)
	}
	var n int64
	err = tx.tx.QueryRowContext(background, "SELECT count(*) FROM readings WHERE probe = ? AND measured BETWEEN ? AND ? AND +seq BETWEEN ? AND ?",
		b.probe, b.firstMeasured, b.lastMeasured, b.firstSeq, b.lastSeq).Scan(&n)
	if err != nil || n != b.n {
		return errors.Join(fmt.Errorf("store: %d rows are in block %d of %d readings", n, id, b.n), err)
	}
	if tx.nowPacked == nil {
		tx.nowPacked = map[int64]int64{}
	}
	tx.nowPacked[b.probe] = max(tx.nowPacked[b.probe], b.lastMeasured)
	if tx.db.packedTo.Load() < b.lastSeq { // before it is committed: see NextInputs
		tx.db.packedTo.Store(b.lastSeq)
	}
	return nil
}

// committed notes up to when the transaction has put readings into blocks. Blocks that it
// removed may have been the newest: then one look more finds nothing.
func (tx *Tx) committed() {
	for probe, newest := range tx.nowPacked {
		tx.db.packed[probe] = max(tx.db.packed[probe], newest)
	}
}
