package app

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"flitch/process"
	"flitch/process/engine"
	"flitch/process/evidence"
	"flitch/process/record"
	"flitch/store"
)

// A stillness lets a reader speak of one moment of the past.
type stillness struct {
	batch   *process.Batch
	at      time.Time
	through int64 // number of the last input that counts
}

func (r *reader) now() time.Time {
	if r.still != nil {
		return r.still.at
	}
	return r.app.clock.Now()
}

// newest is the number of the last reading that counts at the moment spoken of.
func (r *reader) newest() (int64, error) {
	if r.still != nil {
		return r.still.through, nil
	}
	return r.app.db.NewestReading()
}

// A cover is which seals stand over a batch.
type cover struct {
	seals []store.SealedLine // in order; the last is over the last that counts
	said  []process.Input    // commands of the batch
	seen  int64              // number of the last input that counts
}

func (c *cover) last() store.SealedLine { return c.seals[len(c.seals)-1] }

// removed is when readings of a batch were removed; zero: none were.
func (r *reader) removed(b *process.Batch) (time.Time, error) {
	var probes []string
	for _, t := range b.Tracks {
		probes = append(probes, t.Probe.Probe)
	}
	from, to := span(b, r.now())
	return r.app.db.WasRemoved(probes, from, to)
}

// coverOf finds the seals of a batch: from its beginning, or from the first reading that was
// imported before it was typed, to the last thing said of it, or if it is open to the newest.
// None is over an empty one.
func (r *reader) coverOf(b *process.Batch) (c cover, err error) {
	if c.said, err = r.app.db.Commands(b.ID); err != nil || len(c.said) == 0 {
		return c, err
	}
	began, ended := c.said[0].Seq, c.said[len(c.said)-1].Seq
	end, found, err := r.app.db.SealOver(ended)
	if err != nil || !found {
		return c, err
	}
	c.seen = ended
	if b.Open() {
		if end, _, err = r.app.db.LastSeal(); err != nil {
			return c, err
		}
		c.seen = end.Seal.To
	}
	if began, err = r.firstImported(b, began, end.Seal.To); err != nil {
		return c, err
	}
	first, _, err := r.app.db.SealOver(began)
	if err != nil {
		return c, err
	}
	c.seals, err = r.app.db.SealsBetween(first.Seq, end.Seq)
	return c, err
}

// firstImported is the lowest number of what counts in a batch.
func (r *reader) firstImported(b *process.Batch, first, to int64) (int64, error) {
	if !b.Imported {
		return first, nil
	}
	var probes []string
	for _, t := range b.Tracks {
		probes = append(probes, t.Probe.Probe)
	}
	err := r.app.db.EachReading(probes, b.Started.Add(-time.Hour), b.Now.Add(time.Hour), func(seq int64, m process.Reading) error {
		if m.IsImported() && seq <= to {
			first = min(first, seq)
		}
		return nil
	})
	return first, err
}

// sealed puts a seal over what came in, unless the batch is closed and sealed: its record
// stays as it is.
func (r *reader) sealed(ctx context.Context, b *process.Batch) error {
	if r.still != nil {
		return nil
	}
	c, err := r.coverOf(b)
	if err == nil && (len(c.seals) == 0 || b.Open()) {
		err = r.app.seals.seal(ctx)
	}
	if err != nil && ctx.Err() == nil { // the record can be read all the same, and says that it is not sealed
		r.app.log.Error("the log was not sealed for a record", "batch", b.ID, "err", err)
		return nil
	}
	return err
}

// chain walks the journal, so that the record says how it was found, and says how it is sealed.
func (r *reader) chain(b *process.Batch) (record.Chain, error) {
	lines, hash, err := r.app.db.JournalHead()
	if err != nil {
		return record.Chain{}, err
	}
	out := record.Chain{Lines: lines, Last: hash}
	if err := r.app.db.VerifyJournal(); err != nil {
		out.Fault = err.Error()
		return out, nil
	}
	c, err := r.coverOf(b)
	if err != nil || len(c.seals) == 0 {
		return out, err
	}
	end := c.last()
	out.Lines, out.Last = end.Seq, end.Hash
	out.Seal = &record.Seal{Line: end.Seq, From: c.seals[0].Seal.From, To: end.Seal.To, At: end.At}
	if b.Open() && r.still == nil {
		if out.Seal.Waiting, err = r.app.db.CountRows(end.Seal.To); err != nil {
			return out, err
		}
	}
	if out.Seal.Removed, err = r.removed(b); err != nil {
		return out, err
	}
	return out, r.signers(c, out.Seal)
}

func (r *reader) signers(c cover, s *record.Seal) error {
	list, err := r.app.db.Signatures(c.seals[0].Seq, c.last().Seq)
	if err != nil {
		return err
	}
	var by evidence.Signers
	for i := range list {
		by.Take(&list[i])
	}
	n := len(by.Spans)
	if n == 0 || by.Spans[n-1].Last != s.Line {
		return nil // the newest is not signed
	}
	s.Key = by.Spans[n-1].Key
	if n > 1 {
		s.Before, s.Since = by.Spans[n-2].Key, time.UnixMilli(by.Spans[n-1].At).UTC()
	}
	return nil
}

// Proof writes the file by which a stranger can find out whether anything of the batch was
// changed, and compute its clocks anew.
func (r *reader) Proof(ctx context.Context, id string, w io.Writer) error {
	b, err := r.load(id)
	if err != nil {
		return err
	}
	if err := r.sealed(ctx, b); err != nil {
		return err
	}
	if on, err := r.removed(b); err != nil || !on.IsZero() {
		return errors.Join(err, fmt.Errorf("readings of batch %s were removed on %s by the rule keep_batches: there is nothing left to prove; a proof that was given away before can still be verified", id, on.Format(time.DateOnly)))
	}
	c, err := r.coverOf(b)
	if err != nil {
		return err
	}
	if len(c.seals) == 0 {
		return errors.New("the log could not be sealed; the log of flitch says why")
	}
	asOf := c.last().At
	if b.Open() { // memory is further than the seal
		if b, err = engine.Anew(r.app.db, id, c.seen, asOf); err != nil {
			return err
		}
	}
	still := &reader{app: r.app, site: r.site, still: &stillness{batch: b, at: asOf, through: c.last().Seal.To}}
	rec, err := still.Record(ctx, id)
	if err != nil {
		return err
	}
	return r.writeProof(ctx, w, c, b, rec)
}

func (r *reader) writeProof(ctx context.Context, w io.Writer, c cover, b *process.Batch, rec *record.Record) error {
	text, err := compact(rec)
	if err != nil {
		return err
	}
	var probes []string
	for _, t := range b.Tracks {
		if !slices.Contains(probes, t.Probe.Probe) {
			probes = append(probes, t.Probe.Probe)
		}
	}
	out := evidence.NewWriter(w, evidence.Opening{Batch: b.ID, Probes: probes, Seen: c.seen, AsOf: rec.MadeAt.UnixMilli()})
	out.Record(text)
	if err := r.writeJournal(out, c, b.ID); err != nil {
		return err
	}
	for _, s := range c.seals {
		if err := r.writeSeal(ctx, out, s); err != nil {
			return err
		}
	}
	end := evidence.Ending{SHA256: out.Sum(), MadeAt: r.app.clock.Now().UTC().Truncate(time.Millisecond), By: r.app.version}
	if key := r.app.seals.key; key != nil {
		end.Sign(key, b.ID)
	}
	return out.End(end)
}

// compact is the record as JSON in one line.
func compact(rec *record.Record) ([]byte, error) {
	var long, short bytes.Buffer
	if err := rec.JSON(&long); err != nil {
		return nil, err
	}
	err := json.Compact(&short, long.Bytes())
	return short.Bytes(), err
}

// writeJournal writes the lines from the seal before the first one and before the first line
// about the batch, or from line 1, to the last seal, and the signatures of the seals among them.
func (r *reader) writeJournal(out *evidence.Writer, c cover, batch string) error {
	about, err := r.app.db.Journal(batch)
	if err != nil {
		return err
	}
	begins := c.seals[0].Seq
	if len(about) > 0 {
		begins = min(begins, about[0].Seq)
	}
	first := int64(1)
	switch before, found, err := r.app.db.SealBefore(begins); {
	case err != nil:
		return err
	case found:
		first = before.Seq
	}
	if err := r.app.db.EachLine(first, c.last().Seq, func(l process.JournalLine) error { out.Journal(l); return nil }); err != nil {
		return err
	}
	signed, err := r.app.db.Signatures(first, c.last().Seq)
	for _, s := range signed {
		out.Signature(s)
	}
	return err
}

// writeSeal writes the strands of one seal, and the rows of those that are given away. The
// rows are read twice: what the strands come to stands before them.
func (r *reader) writeSeal(ctx context.Context, out *evidence.Writer, s store.SealedLine) error {
	var all evidence.Sealer
	err := r.app.db.EachRow(ctx, s.Seal.From, s.Seal.To, func(row *evidence.Row) error { all.Take(row); return nil })
	if err != nil {
		return err
	}
	removed, err := r.app.db.RemovedStrands(s.Seq) // of other probes and times
	if err != nil {
		return err
	}
	for _, strand := range removed {
		all.Add(strand)
	}
	out.Seal(evidence.SealLine{Line: s.Seq, Strands: all.Strands()})
	return r.app.db.EachRow(ctx, s.Seal.From, s.Seal.To, func(row *evidence.Row) error {
		if out.Wants(row) {
			out.Row(row)
		}
		return nil
	})
}
