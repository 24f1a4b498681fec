package fleet

import (
	"context"
	"errors"
	"math"

	"github.com/jackc/pgx/v5"

	"flitch/process"
	"flitch/process/evidence"
)

// How much goes at once: proposals. It bounds the memory, and what is sent again after a line
// that broke.
const (
	pieceRows   = 10_000
	pieceLines  = 2_000
	leastRows   = 100 // on the slowest line: some kilobytes within a minute
	growAfter   = 4   // pieces, before they are tried twice as large
	rowsPerLine = pieceRows / pieceLines
)

// A piece is what is sent in one transaction: rows of the log, and lines of the journal as far
// as every seal among them is over rows that are there.
type piece struct {
	readings, commands, ticks, lines, signatures, removed [][]any
	to                                                    mark
	at                                                    int64 // when the last row was taken in, ms
	last                                                  *evidence.Row
}

// take reads the next piece behind the mark, of at most so many rows.
func take(ctx context.Context, log Log, from mark, rows int) (p piece, err error) {
	p.to = from
	_, err = log.EachNext(ctx, from.logSeq, rows, func(r *evidence.Row) error { p.row(from.site, r); return nil })
	if err == nil && p.last != nil {
		p.to.logSeq, p.to.logDigest, p.at = p.last.Seq, digestOf(p.last), p.last.At
	}
	if err == nil {
		err = p.takeLines(log, from, int64(rows/rowsPerLine))
	}
	return p, ownFault(err)
}

func (p *piece) row(site int32, r *evidence.Row) {
	if p.last == nil || r.Seq > p.last.Seq { // kind by kind: the last may come first
		kept := *r
		p.last = &kept
	}
	switch r.Kind {
	case process.InputReading:
		p.readings = append(p.readings, reading(site, r))
	case process.InputCommand:
		p.commands = append(p.commands, []any{site, r.Seq, r.At, exact(r.ID), exact(r.Batch), exact(r.Body)})
	default:
		p.ticks = append(p.ticks, []any{site, r.Seq, r.At})
	}
}

func reading(site int32, r *evidence.Row) []any {
	out := []any{site, r.Seq, r.At, exact(r.Probe), r.Measured, r.Received, nil, nil, nil, nil, nil}
	if !math.IsNaN(r.Value) {
		out[6] = r.Value
	}
	if m := r.Mark; m != nil {
		out[7], out[8], out[10] = int16(m.Quality), exact(m.Reason), exact(m.Raw)
		if m.Device != nil {
			out[9] = *m.Device
		}
	}
	return out
}

// errEnough ends a walk.
var errEnough = errors.New("enough")

// takeLines takes lines of the journal, and stops before a seal whose rows are not sent: what is
// there can be verified at any moment.
func (p *piece) takeLines(log Log, from mark, most int64) error {
	first := from.journalSeq + 1
	var seals []int64
	err := log.EachLine(first, from.journalSeq+most, func(l process.JournalLine) error {
		if seal, ok := evidence.ParseSeal(l.Text); ok && l.Kind == evidence.SealKind && seal.To > p.to.logSeq {
			return errEnough
		} else if ok {
			seals = append(seals, l.Seq)
		}
		p.lines = append(p.lines, []any{from.site, l.Seq, l.At.UnixMilli(), exact(l.Batch), exact(l.Kind), exact(l.By), exact(l.Text), l.Prev, l.Hash})
		p.to.journalSeq, p.to.journalHash = l.Seq, l.Hash
		return nil
	})
	if err != nil && !errors.Is(err, errEnough) || len(p.lines) == 0 {
		return ignoreEnough(err)
	}
	signed, err := log.Signatures(first, p.to.journalSeq)
	for _, s := range signed {
		p.signatures = append(p.signatures, []any{from.site, s.Line, s.Hash, s.At, []byte(s.Key), s.Sig})
	}
	for _, line := range seals {
		if err == nil {
			err = p.takeRemoved(log, from.site, line)
		}
	}
	return err
}

// takeRemoved takes what a seal says of readings that are not here any more.
func (p *piece) takeRemoved(log Log, site int32, line int64) error {
	strands, err := log.RemovedStrands(line)
	for _, s := range strands {
		p.removed = append(p.removed, []any{site, line, exact(s.Name), s.Rows, s.Digest})
	}
	return err
}

func ignoreEnough(err error) error {
	if errors.Is(err, errEnough) {
		return nil
	}
	return err
}

func (p *piece) rows() int { return len(p.readings) + len(p.commands) + len(p.ticks) }

// full reports whether there was no room for more, of at most so many rows.
func (p *piece) full(rows int) bool { return p.rows() >= rows || len(p.lines) >= rows/rowsPerLine }

func (p *piece) empty() bool { return p.rows() == 0 && len(p.lines) == 0 }

// columns are those of each table, in the order in which a piece has them.
var columns = map[string][]string{
	"readings":   {"site", "seq", "at", "probe", "measured", "received", "value", "quality", "reason", "device", "raw"},
	"commands":   {"site", "seq", "at", "id", "batch", "body"},
	"ticks":      {"site", "seq", "at"},
	"journal":    {"site", "seq", "at", "batch", "kind", "by", "text", "prev", "hash"},
	"signatures": {"site", "line", "hash", "at", "key", "signature"},
	"removed":    {"site", "line", "name", "rows", "sha256"},
}

// put writes the piece and the mark behind it. Until the transaction is committed none of it
// is there.
func (p *piece) put(ctx context.Context, tx pgx.Tx) error {
	for _, part := range []struct {
		table string
		rows  [][]any
	}{{"readings", p.readings}, {"commands", p.commands}, {"ticks", p.ticks}, {"journal", p.lines}, {"signatures", p.signatures}, {"removed", p.removed}} {
		if len(part.rows) == 0 {
			continue
		}
		if _, err := tx.CopyFrom(ctx, pgx.Identifier{"flitch", part.table}, columns[part.table], pgx.CopyFromRows(part.rows)); err != nil {
			return err
		}
	}
	_, err := tx.Exec(ctx, `UPDATE flitch.sites SET log_seq = $2, log_digest = $3, log_at = CASE WHEN $2 > log_seq THEN $4 ELSE log_at END,
		journal_seq = $5, journal_hash = $6 WHERE site = $1`,
		p.to.site, p.to.logSeq, p.to.logDigest, p.at, p.to.journalSeq, p.to.journalHash)
	return err
}
