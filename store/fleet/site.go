package fleet

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"flitch/process"
	"flitch/process/evidence"
	"flitch/store"
)

// A Log is what of the site's own database is sent up. All of it is read beside the writer,
// which never waits for it.
type Log interface {
	LastSeq() int64
	EachNext(ctx context.Context, after int64, limit int, fn func(*evidence.Row) error) (end int64, err error)
	EachRow(ctx context.Context, from, to int64, fn func(*evidence.Row) error) error
	EachLine(from, to int64, fn func(process.JournalLine) error) error
	Signatures(from, to int64) ([]evidence.Signature, error)
	BatchHeads() ([]store.BatchHead, error)
	Batch(id string) (store.BatchRow, bool, error)
	Commands(batch string) ([]process.Input, error)
	NextCommands(after int64, limit int) ([]process.Input, error)
	LastSeal() (store.SealedLine, bool, error)
	Removals() ([]evidence.Removal, error)
	RemovedStrands(line int64) ([]evidence.Strand, error)
}

// A mark is how far a site was sent.
type mark struct {
	site        int32
	history     string // hash of line 1 of the journal
	logSeq      int64
	logDigest   string // of the row with that number
	journalSeq  int64
	journalHash string
	batchesSeq  int64 // up to it every batch that was begun had its state told
}

const markQuery = "SELECT site, history, log_seq, log_digest, journal_seq, journal_hash, batches_seq FROM flitch.sites WHERE name = $1 AND retired IS NULL"

func scanMark(row pgx.Row) (m mark, found bool, err error) {
	err = row.Scan(&m.site, &m.history, &m.logSeq, &m.logDigest, &m.journalSeq, &m.journalHash, &m.batchesSeq)
	if errors.Is(err, pgx.ErrNoRows) {
		return m, false, nil
	}
	return m, err == nil, err
}

// hold locks the row of the site until the transaction ends: of two daemons one waits. The
// first time it makes the row.
func (s *Sink) hold(ctx context.Context, tx pgx.Tx, history string) (mark, error) {
	for first := true; ; first = false {
		m, found, err := scanMark(tx.QueryRow(ctx, markQuery+" FOR UPDATE", s.o.Site))
		if err != nil || found {
			return m, err
		}
		if !first {
			return m, trouble(History, `another name: site = "..." under [fleet]`, "the name %q is taken there by a site of another user", s.o.Site)
		}
		if _, err := tx.Exec(ctx, "INSERT INTO flitch.sites (name, history, every_ms) VALUES ($1, $2, $3) ON CONFLICT (name) DO NOTHING",
			s.o.Site, history, s.o.Every.Milliseconds()); err != nil {
			return m, err
		}
	}
}

// begins is the hash of line 1 of our journal, by which an installation is known; empty: there
// is none yet. The first line names the key that was made by chance, or the moment.
func begins(log Log) (hash string, err error) {
	err = log.EachLine(1, 1, func(l process.JournalLine) error { hash = l.Hash; return nil })
	return hash, ownFault(err)
}

// ownFault marks an error of our own database.
func ownFault(err error) error {
	var own *Trouble
	if err == nil || errors.As(err, &own) {
		return err
	}
	return trouble(Local, "", "our own database could not be read: %v", err)
}

// adopt is what to do about another history.
const adopt = "if this one is to go on under that name: flitch fleet adopt; if it is a copy, another name: site = \"...\" under [fleet]"

// ours refuses to go on where what is there is not what we stored: a copy of this database has
// sent something else, or this one was restored from a backup older than what was sent.
// Nothing there is ever overwritten.
func (s *Sink) ours(ctx context.Context, m mark, history string) error {
	if m.history != history {
		return trouble(History, adopt, "another installation writes under the name %q there", s.o.Site)
	}
	if last := s.log.LastSeq(); m.logSeq > last {
		return trouble(History, adopt, "what is there of %q goes to number %d of the log, and ours ends at %d: a copy of this database sent more, or this one was restored from an older backup", s.o.Site, m.logSeq, last)
	}
	hash, err := lineHash(s.log, m.journalSeq)
	if err != nil {
		return err
	}
	if hash != m.journalHash {
		return trouble(History, adopt, "line %d of the journal is another one there than ours: a copy of this database runs under the name %q, or this one was restored", m.journalSeq, s.o.Site)
	}
	digest, err := rowDigest(ctx, s.log, m.logSeq)
	if err != nil {
		return err
	}
	if digest == "" {
		gone, err := wasRemoved(s.log, m.logSeq)
		if err != nil || gone { // by the owner's rule, after it was sent; the journal is ours
			return err
		}
	}
	if digest != m.logDigest {
		return trouble(History, adopt, "number %d of the log is another one there than ours: a copy of this database runs under the name %q, or this one was restored", m.logSeq, s.o.Site)
	}
	return nil
}

func lineHash(log Log, seq int64) (hash string, err error) {
	if seq == 0 {
		return "", nil
	}
	err = log.EachLine(seq, seq, func(l process.JournalLine) error { hash = l.Hash; return nil })
	return hash, ownFault(err)
}

// rowDigest is the SHA-256 of the row with the number; empty: there is none.
func rowDigest(ctx context.Context, log Log, seq int64) (digest string, err error) {
	if seq == 0 {
		return "", nil
	}
	err = log.EachRow(ctx, seq, seq, func(r *evidence.Row) error { digest = digestOf(r); return nil })
	return digest, ownFault(err)
}

// wasRemoved reports whether the reading with the number was removed by the owner's rule.
func wasRemoved(log Log, seq int64) (bool, error) {
	all, err := log.Removals()
	return slices.ContainsFunc(all, func(r evidence.Removal) bool { return r.FirstSeq <= seq && seq <= r.LastSeq }), ownFault(err)
}

func digestOf(r *evidence.Row) string {
	sum := sha256.Sum256(r.Append(nil))
	return hex.EncodeToString(sum[:])
}

// Adopt lets the history of this database go on under the site's name. What another one has
// sent under it stays as it is, under a name that says until when; ours is sent from its
// beginning. It returns that name.
func Adopt(ctx context.Context, at Address, site string, now time.Time) (before string, err error) {
	err = at.once(ctx, turnWithin, func(ctx context.Context, tx pgx.Tx) error {
		if err := current(ctx, tx); err != nil {
			return err
		}
		m, found, err := scanMark(tx.QueryRow(ctx, markQuery+" FOR UPDATE", site))
		if err != nil {
			return err
		}
		if !found {
			return trouble(History, "flitch fleet glance lists them", "there is no site %q of this user", site)
		}
		before = fmt.Sprintf("%s until %s", site, now.UTC().Format("2006-01-02 15:04:05"))
		_, err = tx.Exec(ctx, "UPDATE flitch.sites SET name = $2, retired = now() WHERE site = $1", m.site, before)
		return err
	})
	return before, err
}
