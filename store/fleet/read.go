package fleet

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"time"

	"github.com/jackc/pgx/v5"

	"flitch/process"
	"flitch/process/evidence"
	"flitch/store"
)

// A Reader reads what sites have sent, all of it as of one moment: daemons go on sending
// meanwhile. It is used by one goroutine.
type Reader struct {
	conn *pgx.Conn
	tx   pgx.Tx
	at   Address
}

// Open begins to read. The error is a *Trouble.
func Open(ctx context.Context, at Address) (*Reader, error) {
	conn, err := at.connect(ctx)
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(ctx, turnWithin)
	defer cancel()
	tx, err := conn.BeginTx(ctx, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly})
	if err == nil {
		_, err = tx.Exec(ctx, "SET LOCAL idle_in_transaction_session_timeout = 0") // verify computes between two questions
	}
	if err == nil {
		err = current(ctx, tx)
	}
	if err != nil {
		hangUp(conn)
		return nil, explain(err, at.String())
	}
	return &Reader{conn, tx, at}, nil
}

// Close ends the reading.
func (r *Reader) Close() { hangUp(r.conn) }

// A Site is one site of the fleet, as far as it has sent.
type Site struct {
	Name    string
	Age     time.Duration // since it was heard, by the server's clock
	Every   time.Duration // how often it tells something
	Told    time.Time     // by its clock, when it did last
	Heard   time.Time     // by the server's
	Retired bool          // another history took its name over
	LogAt   time.Time     // when the last row that is there was taken in
	Glance  *Glance       // nil: it has not told one

	mark mark
	in   *Reader
	ctx  context.Context // of the reading: the log of a batch is read by interfaces that have none
}

// Sites returns the sites by name; only that one if name is not empty.
func (r *Reader) Sites(ctx context.Context, name string) (out []*Site, err error) {
	err = each(ctx, r, func(row pgx.Rows) error {
		s := &Site{in: r, ctx: ctx}
		var age float64
		var every, told int64
		var at *int64
		var glance *string
		if err := row.Scan(&s.mark.site, &s.Name, &s.mark.history, &s.mark.logSeq, &s.mark.logDigest, &s.mark.journalSeq, &s.mark.journalHash, &s.mark.batchesSeq,
			&at, &every, &told, &s.Heard, &age, &s.Retired, &glance); err != nil {
			return err
		}
		s.Age, s.Every, s.Told = time.Duration(age*float64(time.Second)), time.Duration(every)*time.Millisecond, time.UnixMilli(told).UTC()
		if at != nil {
			s.LogAt = time.UnixMilli(*at).UTC()
		}
		if glance != nil {
			s.Glance = new(Glance)
			if err := json.Unmarshal([]byte(*glance), s.Glance); err != nil {
				s.Glance = nil // as if it had told none: it is not fine then
			}
		}
		out = append(out, s)
		return nil
	}, `SELECT s.site, s.name, s.history, s.log_seq, s.log_digest, s.journal_seq, s.journal_hash, s.batches_seq, s.log_at, s.every_ms, s.told, s.heard,
		extract(epoch FROM clock_timestamp() - s.heard)::float8, s.retired IS NOT NULL, g.body::text
		FROM flitch.sites s LEFT JOIN flitch.glances g USING (site) WHERE $1 = '' OR s.name = $1 ORDER BY s.name`, name)
	if err == nil && len(out) == 0 && name != "" {
		err = trouble(Other, "flitch fleet glance lists them", "there is no site %q", name)
	}
	return out, err
}

// each calls fn for the rows of a query.
func each(ctx context.Context, r *Reader, fn func(pgx.Rows) error, query string, args ...any) error {
	rows, err := r.tx.Query(ctx, query, args...)
	if err != nil {
		return explain(err, r.at.String())
	}
	defer rows.Close()
	for rows.Next() {
		if err := fn(rows); err != nil {
			return err
		}
	}
	return explain(rows.Err(), r.at.String())
}

// States returns the batches of the site, the oldest first, as they were as of their cursors.
func (s *Site) States() (out []store.BatchRow, err error) {
	err = each(s.ctx, s.in, func(row pgx.Rows) error {
		var b store.BatchRow
		var started *int64
		var state string
		if err := row.Scan(&b.ID, &b.Status, &started, &b.Cursor, &state); err != nil {
			return err
		}
		b.ID, b.State = original(b.ID), []byte(original(state))
		if started != nil {
			b.Started = time.UnixMilli(*started).UTC()
		}
		out = append(out, b)
		return nil
	}, "SELECT batch, status, started, cursor, state FROM flitch.states WHERE site = $1 ORDER BY started, batch", s.mark.site)
	return out, err
}

// Batches is States, as verify asks for it.
func (s *Site) Batches() ([]store.BatchRow, error) { return s.States() }

// BatchesThrough is the number up to which every batch that was begun is among Batches.
func (s *Site) BatchesThrough() (int64, error) { return s.mark.batchesSeq, nil }

// rowQueries are as in store: kind by kind, each in the order of its numbers.
var rowQueries = [...]struct {
	kind  process.InputKind
	query string
}{
	{process.InputCommand, "SELECT seq, at, id, batch, body FROM flitch.commands WHERE site = $1 AND seq BETWEEN $2 AND $3 ORDER BY seq"},
	{process.InputReading, "SELECT seq, at, probe, measured, received, value, quality, reason, device, raw FROM flitch.readings WHERE site = $1 AND seq BETWEEN $2 AND $3 ORDER BY seq"},
	{process.InputTick, "SELECT seq, at FROM flitch.ticks WHERE site = $1 AND seq BETWEEN $2 AND $3 ORDER BY seq"},
}

// EachRow calls fn for every row of the log with the numbers from to to, as store.DB does.
func (s *Site) EachRow(ctx context.Context, from, to int64, fn func(*evidence.Row) error) error {
	for _, q := range rowQueries {
		err := each(ctx, s.in, func(row pgx.Rows) error {
			r := evidence.Row{Kind: q.kind}
			if err := scanRow(row, &r); err != nil {
				return err
			}
			return fn(&r)
		}, q.query, s.mark.site, from, to)
		if err != nil {
			return err
		}
	}
	return nil
}

func scanRow(row pgx.Rows, r *evidence.Row) error {
	switch r.Kind {
	case process.InputCommand:
		err := row.Scan(&r.Seq, &r.At, &r.ID, &r.Batch, &r.Body)
		r.ID, r.Batch, r.Body = original(r.ID), original(r.Batch), original(r.Body)
		return err
	case process.InputTick:
		return row.Scan(&r.Seq, &r.At)
	}
	var value *float64
	var quality *int16
	var reason, raw *string
	var device *int64
	if err := row.Scan(&r.Seq, &r.At, &r.Probe, &r.Measured, &r.Received, &value, &quality, &reason, &device, &raw); err != nil {
		return err
	}
	r.Probe, r.Value = original(r.Probe), math.NaN()
	if value != nil {
		r.Value = *value
	}
	if quality != nil {
		r.Mark = &evidence.Mark{Quality: process.Quality(*quality), Device: device}
		if reason != nil && raw != nil {
			r.Mark.Reason, r.Mark.Raw = original(*reason), original(*raw)
		}
	}
	return nil
}

// EachLine calls fn for the lines of the journal with the numbers from to to; 0 means no end.
func (s *Site) EachLine(from, to int64, fn func(process.JournalLine) error) error {
	return s.lines(fn, "seq BETWEEN $2 AND $3", from, to)
}

func (s *Site) lines(fn func(process.JournalLine) error, where string, from, to int64) error {
	if to == 0 {
		to = math.MaxInt64
	}
	return each(s.ctx, s.in, func(row pgx.Rows) error {
		var l process.JournalLine
		var at int64
		if err := row.Scan(&l.Seq, &at, &l.Batch, &l.Kind, &l.By, &l.Text, &l.Prev, &l.Hash); err != nil {
			return err
		}
		l.At, l.Batch, l.Kind, l.By, l.Text = time.UnixMilli(at).UTC(), original(l.Batch), original(l.Kind), original(l.By), original(l.Text)
		return fn(l)
	}, "SELECT seq, at, batch, kind, by, text, prev, hash FROM flitch.journal WHERE site = $1 AND "+where+" ORDER BY seq", s.mark.site, from, to)
}

// Seals returns every seal, in order. A line that is none is a *evidence.BadLine.
func (s *Site) Seals() (out []store.SealedLine, err error) {
	err = s.lines(func(l process.JournalLine) error {
		seal, ok := evidence.ParseSeal(l.Text)
		if !ok {
			return &evidence.BadLine{Seq: l.Seq, What: "it is no seal as flitch writes it"}
		}
		out = append(out, store.SealedLine{JournalLine: l, Seal: seal})
		return nil
	}, "kind = '"+evidence.SealKind+"' AND seq BETWEEN $2 AND $3", math.MinInt64, 0)
	return out, err
}

// JournalHead is the last line that is there.
func (s *Site) JournalHead() (seq int64, hash string, err error) {
	err = s.in.tx.QueryRow(s.ctx, "SELECT seq, hash FROM flitch.journal WHERE site = $1 ORDER BY seq DESC LIMIT 1", s.mark.site).Scan(&seq, &hash)
	if errors.Is(err, pgx.ErrNoRows) {
		return 0, "", nil
	}
	return seq, hash, explain(err, s.in.at.String())
}

// Signatures returns the signatures of the lines from to to, in order.
func (s *Site) Signatures(from, to int64) (out []evidence.Signature, err error) {
	err = each(s.ctx, s.in, func(row pgx.Rows) error {
		var one evidence.Signature
		if err := row.Scan(&one.Line, &one.Hash, &one.At, (*[]byte)(&one.Key), &one.Sig); err != nil {
			return err
		}
		out = append(out, one)
		return nil
	}, "SELECT line, hash, at, key, signature FROM flitch.signatures WHERE site = $1 AND line BETWEEN $2 AND $3 ORDER BY line", s.mark.site, from, to)
	return out, err
}

// RemovedStrands are the strands of the seal on a line whose readings the site had removed before
// it sent them, or may have.
func (s *Site) RemovedStrands(line int64) (out []evidence.Strand, err error) {
	err = each(s.ctx, s.in, func(row pgx.Rows) error {
		var one evidence.Strand
		err := row.Scan(&one.Name, &one.Rows, &one.Digest)
		one.Name = original(one.Name)
		out = append(out, one)
		return err
	}, "SELECT name, rows, sha256 FROM flitch.removed WHERE site = $1 AND line = $2 ORDER BY name", s.mark.site, line)
	return out, err
}

// Commands returns every command that names the batch, in order.
func (s *Site) Commands(batch string) ([]process.Input, error) {
	return s.commands("left(batch, 60) = left($2, 60) AND batch = $2", exact(batch), math.MaxInt32) // by the index
}

// NextCommands returns at most limit commands whose number is above after.
func (s *Site) NextCommands(after int64, limit int) ([]process.Input, error) {
	return s.commands("seq > $2", after, limit)
}

func (s *Site) commands(where string, arg any, limit int) (out []process.Input, err error) {
	err = each(s.ctx, s.in, func(row pgx.Rows) error {
		r := evidence.Row{Kind: process.InputCommand}
		if err := scanRow(row, &r); err != nil {
			return err
		}
		in, err := r.Input()
		if err != nil {
			return fmt.Errorf("command %d: %w", r.Seq, err)
		}
		out = append(out, in)
		return nil
	}, "SELECT seq, at, id, batch, body FROM flitch.commands WHERE site = $1 AND "+where+" ORDER BY seq LIMIT $3", s.mark.site, arg, limit)
	return out, err
}

// EachReading calls fn for every reading of the probes measured in [from, to), by the time
// measured, then by number; a zero to means no end. Of one moment there are two where the site had
// removed the first and it was imported again: which one was in force depends on when is asked of.
func (s *Site) EachReading(probes []string, from, to time.Time, fn func(seq int64, r process.Reading) error) error {
	end := int64(math.MaxInt64)
	if !to.IsZero() {
		end = to.UnixMilli()
	}
	names := make([]string, len(probes))
	for i, p := range probes {
		names[i] = exact(p)
	}
	return each(s.ctx, s.in, func(row pgx.Rows) error {
		r := evidence.Row{Kind: process.InputReading}
		if err := scanRow(row, &r); err != nil {
			return err
		}
		in, err := r.Input()
		if err != nil {
			return err
		}
		return fn(r.Seq, in.Reading)
	}, `SELECT seq, at, probe, measured, received, value, quality, reason, device, raw FROM flitch.readings
		WHERE site = $1 AND probe = ANY($2) AND measured >= $3 AND measured < $4 ORDER BY measured, seq`, s.mark.site, names, from.UnixMilli(), end)
}
