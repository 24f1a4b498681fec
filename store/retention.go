package store

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/hex"
	"fmt"
	"slices"
	"time"

	"flitch/process"
	"flitch/process/evidence"
	"flitch/store/block"
)

// A Kept says which readings stay, however old they are: a batch needs them.
type Kept struct {
	Probe             string
	From, To          time.Time // measured; a zero To: without an end
	FirstSeq, LastSeq int64     // and those with these numbers, whenever they were measured: a proof gives them away
}

// A KeepRule says which readings may go.
type KeepRule struct {
	Before time.Time // those measured before this
	Kept   []Kept    // but for these
	Words  string    // of the rule, for the journal
}

// holds reports whether a block has to stay.
func (k *KeepRule) holds(probe string, b *blockRow) bool {
	if !fromMilli(b.lastMeasured).Before(k.Before) {
		return true
	}
	return slices.ContainsFunc(k.Kept, func(k Kept) bool {
		measured := fromMilli(b.lastMeasured).After(k.From) && (k.To.IsZero() || fromMilli(b.firstMeasured).Before(k.To))
		return k.Probe == probe && (measured || b.lastSeq >= k.FirstSeq && b.firstSeq <= k.LastSeq)
	})
}

// dueBlocks is how many blocks are removed by one line of the journal at most.
const dueBlocks = 8

// A Due is blocks of one probe that follow from each other and may go.
type Due struct {
	probe  string
	blocks []blockRow
	seals  []sealSpan // all there are
}

// A sealSpan is which numbers a seal is over.
type sealSpan struct{ line, from, to int64 }

// Due lists what the rule removes. Only whole blocks go, and of a seal all blocks of a probe
// or none, so that what the seal says of the probe stays one digest.
func (db *DB) Due(rule KeepRule) (due []Due, err error) {
	err = db.look("list what is old", func(s *snapshot) error {
		seals, err := s.sealSpans()
		if err != nil {
			return err
		}
		return s.eachProbe(func(id int64, name string) error {
			blocks, err := s.blocks("probe = ? ORDER BY last_seq", id)
			for err == nil && len(blocks) > 0 {
				n := together(blocks, seals)
				if slices.ContainsFunc(blocks[:n], func(b blockRow) bool { return rule.holds(name, &b) }) {
					blocks = blocks[n:]
					due = append(due, Due{}) // what comes next is no continuation
					continue
				}
				var rest bool // of the same seal, that are still rows
				if n == len(blocks) {
					rest, err = s.rowsUnder(id, sealOf(seals, blocks[n-1].lastSeq))
				}
				if !rest {
					due = appendDue(due, name, blocks[:n], seals)
				}
				blocks = blocks[n:]
			}
			return err
		})
	})
	due = slices.DeleteFunc(due, func(d Due) bool { return len(d.blocks) == 0 })
	slices.SortStableFunc(due, func(a, b Due) int { return cmp.Compare(a.blocks[0].firstSeq, b.blocks[0].firstSeq) })
	return due, err
}

// appendDue adds blocks that go together to the last Due, or begins another.
func appendDue(due []Due, probe string, blocks []blockRow, seals []sealSpan) []Due {
	if last := len(due) - 1; last >= 0 && due[last].probe == probe && len(due[last].blocks)+len(blocks) <= dueBlocks {
		due[last].blocks = append(due[last].blocks, blocks...)
		return due
	}
	return append(due, Due{probe, slices.Clone(blocks), seals})
}

// together is how many of the blocks, from the first on, share seals with each other.
func together(blocks []blockRow, seals []sealSpan) int {
	n := 1
	for n < len(blocks) && blocks[n].firstSeq <= sealOf(seals, blocks[n-1].lastSeq).to {
		n++
	}
	return n
}

// sealOf is the seal over a number; a zero one: none is.
func sealOf(seals []sealSpan, seq int64) sealSpan {
	i, _ := slices.BinarySearchFunc(seals, seq, func(s sealSpan, seq int64) int { return cmp.Compare(s.to, seq) })
	if i == len(seals) || seals[i].from > seq {
		return sealSpan{}
	}
	return seals[i]
}

func (s *snapshot) sealSpans() (all []sealSpan, err error) {
	err = s.rows("seals", func(rows *sql.Rows) error {
		l, err := scanLine(rows)
		if err != nil {
			return err
		}
		seal, ok := evidence.ParseSeal(l.Text)
		if !ok {
			return fmt.Errorf("store: %w", &evidence.BadLine{Seq: l.Seq, What: "it is no seal as flitch writes it"})
		}
		all = append(all, sealSpan{l.Seq, seal.From, seal.To})
		return nil
	}, journalQuery+" WHERE kind = '"+evidence.SealKind+"' ORDER BY seq")
	return all, err
}

func (s *snapshot) rowsUnder(probe int64, seal sealSpan) (some bool, err error) {
	err = s.tx.QueryRowContext(background, "SELECT EXISTS (SELECT 1 FROM readings r WHERE seq BETWEEN ? AND ? AND +probe = ? AND "+loose+")", seal.from, seal.to, probe).Scan(&some)
	return some, err
}

// Remove removes what is due, in one transaction with the line of the journal that says so, and what
// each seal said of it. Blocks that are damaged, or stand under no seal, are not removed: that is an error.
func (db *DB) Remove(ctx context.Context, d Due, rule KeepRule, at time.Time) (r evidence.Removal, err error) {
	var strands []removedStrand
	err = db.lookUntil(ctx, "read what is old", func(s *snapshot) (err error) {
		strands, err = s.strandsOf(&d)
		return err
	})
	if err != nil {
		return r, err
	}
	first, last := &d.blocks[0], &d.blocks[len(d.blocks)-1]
	r = evidence.Removal{Probe: d.probe, FirstSeq: first.firstSeq, LastSeq: last.lastSeq, FirstMeasured: first.firstMeasured, LastMeasured: last.lastMeasured}
	for i := range d.blocks {
		b := &d.blocks[i]
		r.Rows += b.n
		r.FirstMeasured, r.LastMeasured = min(r.FirstMeasured, b.firstMeasured), max(r.LastMeasured, b.lastMeasured)
	}
	err = db.Update(func(tx *Tx) error { return tx.remove(&r, d.blocks, strands, rule.Words, at) })
	return r, err
}

// A removedStrand is what a seal said of readings that go.
type removedStrand struct {
	line, n int64
	digest  []byte
}

// strandsOf makes the strands of the seals anew from what is due.
func (s *snapshot) strandsOf(d *Due) (all []removedStrand, err error) {
	var sealer evidence.Sealer
	var under sealSpan
	end := func() error {
		strands := sealer.Strands()
		sealer = evidence.Sealer{}
		if len(strands) == 0 {
			return nil
		}
		digest, err := hex.DecodeString(strands[0].Digest)
		all = append(all, removedStrand{under.line, strands[0].Rows, digest})
		return err
	}
	for i := range d.blocks {
		name, rows, err := s.open(d.blocks[i].id)
		if err != nil {
			return nil, err
		}
		for j := range rows {
			if rows[j].Seq > under.to {
				if err := end(); err != nil {
					return nil, err
				}
				if under = sealOf(d.seals, rows[j].Seq); under.line == 0 {
					return nil, d.blocks[i].wrong(name, fmt.Errorf("%w: number %d stands under no seal", block.ErrDamaged, rows[j].Seq))
				}
			}
			sealer.Take(rowOf(name, &rows[j]))
		}
	}
	return all, end()
}

func (tx *Tx) remove(r *evidence.Removal, blocks []blockRow, strands []removedStrand, words string, at time.Time) error {
	line := process.JournalLine{At: at, Kind: evidence.RemovedKind, By: "flitch", Text: r.Text() + " by " + words}
	if err := tx.AppendJournal(line); err != nil {
		return err
	}
	r.Line = tx.head.seq
	probe := blocks[0].probe
	err := tx.exec("note what is removed", "INSERT INTO removals (line, probe, first_seq, last_seq, first_measured, last_measured, n) VALUES (?, ?, ?, ?, ?, ?, ?)",
		r.Line, probe, r.FirstSeq, r.LastSeq, r.FirstMeasured, r.LastMeasured, r.Rows)
	for _, s := range strands {
		if err == nil {
			err = tx.exec("note what is removed", "INSERT INTO removed_strands (seal, probe, n, digest) VALUES (?, ?, ?, ?)", s.line, probe, s.n, s.digest)
		}
	}
	for i := range blocks {
		if err == nil {
			err = tx.removeBlock(&blocks[i])
		}
	}
	return err
}

// removeBlock removes the block, and what it covers: without it that would be rows again.
func (tx *Tx) removeBlock(b *blockRow) error {
	for _, query := range []string{
		"DELETE FROM reading_marks WHERE seq IN (SELECT seq FROM readings WHERE seq BETWEEN ? AND ? AND +probe = ?)",
		"DELETE FROM readings WHERE seq BETWEEN ? AND ? AND +probe = ?",
	} {
		if err := tx.exec("take away rows", query, b.firstSeq, b.lastSeq, b.probe); err != nil {
			return err
		}
	}
	res, err := tx.tx.ExecContext(background, "DELETE FROM blocks WHERE id = ?", b.id)
	if err != nil {
		return fmt.Errorf("store: remove block %d: %w", b.id, err)
	}
	if n, err := res.RowsAffected(); err != nil || n != 1 {
		return fmt.Errorf("store: remove block %d: it is gone already (%v)", b.id, err)
	}
	return nil
}
