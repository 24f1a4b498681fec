package fleet

import (
	"bytes"
	"context"
	"crypto/md5"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"flitch/process/evidence"
	"flitch/store"
)

// stateEvery is how often the state of an open batch goes up: as often as it is stored.
const stateEvery = time.Minute

// maxProof bounds what is held of a proof while it is sent, bytes: proposal. A longer one is at
// the site only.
const maxProof = 16 << 20

// proofTries is how often a line gives up at the record of one batch before that is sent without
// the proof, which stays at the site only: it goes up as one value, and a line of 300 kbit/s takes
// 2 MB within a turn. Proposal.
const proofTries = 3

// recordAgain is when the record of a batch that could not be made is tried again: of one whose
// readings were removed there is none. It holds up nothing else.
const recordAgain = 24 * time.Hour

// snapshots are what is known of batches that have to be told. Of Run's goroutine.
type snapshots struct {
	looked bool             // all batches were looked at since the start
	named  int64            // the commands up to this number were looked at
	dirty  map[string]int64 // and the number of the last command that names it
	open   map[string]bool
	at     time.Time            // when the open ones were told last
	papers map[string]time.Time // closed: not before this time
	late   map[string]int       // how often the line gave up at the record
}

// A told batch is as far as it is there.
type told struct {
	state string // MD5 of it, to find a difference and not a forger: what was computed anew has the same number
	said  int64  // the last command in its record; zero: there is none
}

// toldBatches is what is there of the batches of a site, by their names in the fleet.
func (s *Sink) toldBatches(ctx context.Context) (map[string]told, error) {
	ctx, cancel := context.WithTimeout(ctx, s.within)
	defer cancel()
	there := map[string]told{}
	rows, err := s.conn.Query(ctx, `SELECT batch, md5(state), coalesce((SELECT max(said) FROM flitch.records r WHERE r.site = s.site AND r.batch = s.batch), 0)
		FROM flitch.states s WHERE site = $1`, s.mark.site)
	if err == nil {
		var id string
		var t told
		_, err = pgx.ForEachRow(rows, []any{&id, &t.state, &t.said}, func() error { there[id] = t; return nil })
	}
	return there, explain(err, s.o.Address.String())
}

// look notes, once after a start, which batches are not there as they are here.
func (d *snapshots) look(log Log, is map[string]told) error {
	all, err := log.BatchHeads()
	if err != nil {
		return err
	}
	for _, b := range all {
		row, _, err := log.Batch(b.ID)
		if err != nil {
			return err
		}
		there, found := is[exact(b.ID)]
		if !found || row.Status == "open" || there.state != fmt.Sprintf("%x", md5.Sum([]byte(exact(string(row.State))))) {
			d.dirty[b.ID] = max(d.dirty[b.ID], 0)
			continue
		}
		said, err := log.Commands(b.ID)
		if err != nil {
			return err
		}
		if len(said) > 0 && there.said != said[len(said)-1].Seq {
			d.papers[b.ID] = time.Time{}
		}
	}
	return nil
}

// soil notes which batches have changed, of the log that is there.
func (d *snapshots) soil(log Log, there mark, now time.Time) error {
	if err := d.name(log, there.logSeq); err != nil {
		return err
	}
	if now.Sub(d.at).Abs() >= stateEvery {
		d.at = now
		for id := range d.open {
			d.dirty[id] = max(d.dirty[id], 0)
		}
	}
	return nil
}

// name notes the batches that commands name, up to a number.
func (d *snapshots) name(log Log, through int64) error {
	for d.named < through {
		said, err := log.NextCommands(d.named, pieceLines)
		if err != nil {
			return err
		}
		for _, in := range said {
			if in.Seq <= through && in.Command.Batch != "" {
				d.dirty[in.Command.Batch] = in.Seq
			}
		}
		if len(said) < pieceLines {
			d.named = through
		} else {
			d.named = min(said[len(said)-1].Seq, through)
		}
	}
	return nil
}

// tellBatches sends the states of batches that have changed, each as of a number whose rows
// are there, and one record a turn.
func (s *Sink) tellBatches(ctx context.Context, history string) error {
	if !s.desk.looked {
		is, err := s.toldBatches(ctx)
		if err != nil {
			return err
		}
		if err := s.desk.look(s.log, is); err != nil {
			return ownFault(err)
		}
		s.desk.named, s.desk.looked, s.desk.at = s.mark.batchesSeq, true, s.o.Clock.Now()
	}
	if err := s.desk.soil(s.log, s.mark, s.o.Clock.Now()); err != nil {
		return ownFault(err)
	}
	told, word := false, s.o.Clock.Now()
	for id, wanted := range s.desk.dirty {
		if err := s.wordBetween(ctx, history, &word); err != nil {
			return err
		}
		row, found, err := s.log.Batch(id)
		if err != nil {
			return ownFault(err)
		}
		if !found || row.Cursor < wanted || row.Cursor > s.mark.logSeq {
			continue // not evaluated yet, or further than the log that is there
		}
		if err := s.transact(ctx, history, func(ctx context.Context, tx pgx.Tx, m mark) error { return putState(ctx, tx, m, row) }); err != nil {
			return err
		}
		told = true
		delete(s.desk.dirty, id)
		delete(s.desk.open, id)
		if row.Status == "open" {
			s.desk.open[id] = true
		} else {
			s.desk.papers[id] = time.Time{}
		}
	}
	if told && len(s.desk.dirty) == 0 {
		err := s.transact(ctx, history, func(ctx context.Context, tx pgx.Tx, m mark) error { return putBatchesSeq(ctx, tx, m, s.desk.named) })
		if err != nil {
			return err
		}
	}
	return s.tellRecord(ctx, history)
}

func putBatchesSeq(ctx context.Context, tx pgx.Tx, m mark, through int64) error {
	_, err := tx.Exec(ctx, "UPDATE flitch.sites SET batches_seq = $2 WHERE site = $1 AND batches_seq < $2", m.site, through)
	return err
}

func putState(ctx context.Context, tx pgx.Tx, m mark, row store.BatchRow) error {
	var started any
	if !row.Started.IsZero() {
		started = row.Started.UnixMilli()
	}
	_, err := tx.Exec(ctx, `INSERT INTO flitch.states (site, batch, cursor, status, started, state) VALUES ($1, $2, $3, $4, $5, $6)
		ON CONFLICT (site, batch) DO UPDATE SET cursor = excluded.cursor, status = excluded.status, started = excluded.started, state = excluded.state
		WHERE excluded.cursor >= states.cursor`,
		m.site, exact(row.ID), row.Cursor, row.Status, started, exact(string(row.State)))
	return err
}

// tellRecord sends the record and the proof of one closed batch whose last word is sealed.
func (s *Sink) tellRecord(ctx context.Context, history string) error {
	now := s.o.Clock.Now()
	for id, after := range s.desk.papers {
		if now.Before(after) {
			continue
		}
		done, err := s.record(ctx, history, id)
		switch {
		case err != nil:
			return err
		case done == recordFails:
			s.desk.papers[id] = now.Add(recordAgain)
			continue
		case done == recordWaits:
			continue
		}
		delete(s.desk.papers, id)
		delete(s.desk.late, id)
		if done == recordSent {
			return nil // one a turn: a board that just began is not kept busy for an hour
		}
	}
	return nil
}

// How it stands with a record.
const (
	recordThere = iota
	recordWaits
	recordFails // who makes it says why
	recordSent
)

func (s *Sink) record(ctx context.Context, history, id string) (done int, err error) {
	said, err := s.log.Commands(id)
	if err != nil || len(said) == 0 {
		return recordThere, ownFault(err)
	}
	last := said[len(said)-1].Seq
	seal, sealed, err := s.log.LastSeal()
	if err != nil || !sealed || seal.Seal.To < last || seal.Seq > s.mark.journalSeq {
		return recordWaits, ownFault(err)
	}
	if there, err := s.hasRecord(ctx, id, last); err != nil || there {
		return recordThere, err
	}
	var file bounded
	if err := s.o.Proof(ctx, id, &file); err != nil {
		return recordFails, nil
	}
	text, err := evidence.RecordIn(bytes.NewReader(file.kept))
	if err != nil {
		return recordFails, nil
	}
	if file.over || s.desk.late[id] >= proofTries {
		file.kept = []byte{}
	}
	err = s.transact(ctx, history, func(ctx context.Context, tx pgx.Tx, m mark) error {
		_, err := tx.Exec(ctx, "INSERT INTO flitch.records (site, batch, said, record, proof) VALUES ($1, $2, $3, $4, $5)", m.site, exact(id), last, string(text), file.kept)
		return err
	})
	if classOf(err) == Unreachable {
		s.desk.late[id]++
	}
	return recordSent, err
}

// hasRecord asks whether the record of the batch, as of what was said last, is there.
func (s *Sink) hasRecord(ctx context.Context, id string, last int64) (there bool, err error) {
	ctx, cancel := context.WithTimeout(ctx, s.within)
	defer cancel()
	err = s.conn.QueryRow(ctx, "SELECT EXISTS (SELECT FROM flitch.records WHERE site = $1 AND batch = $2 AND said = $3)", s.mark.site, exact(id), last).Scan(&there)
	return there, explain(err, s.o.Address.String())
}

// A bounded writer keeps the beginning.
type bounded struct {
	kept []byte
	over bool
}

// Write implements io.Writer.
func (b *bounded) Write(p []byte) (int, error) {
	if b.over = b.over || len(b.kept)+len(p) > maxProof; !b.over {
		b.kept = append(b.kept, p...)
	}
	return len(p), nil
}
