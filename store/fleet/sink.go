package fleet

import (
	"context"
	"io"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
)

// Waits between two attempts: proposals.
const (
	firstAgain = time.Second
	mostAgain  = 5 * time.Minute
)

// Options are what a sink works with.
type Options struct {
	Address Address
	Site    string // its name in the fleet
	Every   time.Duration
	Clock   interface {
		Now() time.Time
		After(time.Duration) <-chan time.Time
	}
	Glance func(context.Context) (Glance, error)                      // as the page has it
	Proof  func(ctx context.Context, batch string, w io.Writer) error // of a batch that is closed
	Told   func(Status)                                               // hears how each turn ended; quick
	Begin  func()                                                     // asks for the first line of the journal, without which nothing is sent; nil: it comes
}

// A Status is how sending goes.
type Status struct {
	Err    error         // why the last turn did not come to its end; nil: it did
	Class  Class         // of Err
	Sent   int           // rows of the log that are there since the last status
	Behind int64         // numbers of the log that are not there yet, as far as is known
	Since  time.Duration // for how long not all was there; 0: it is
	At     time.Time     // when everything was there last; zero: not since the start
}

// A Sink sends what a site stores, by a goroutine of its own.
type Sink struct {
	o   Options
	log Log

	// Of Run's goroutine alone.
	conn   *pgx.Conn
	failed int
	begun  time.Time
	at     time.Time // everything was there
	mark   mark      // as last known
	sent   int
	desk   snapshots
	rows   int           // of the next piece at most
	quick  int           // full pieces that were, since that changed
	within time.Duration // of each transaction, and of each question by itself

	mu     sync.Mutex
	status Status
}

// New returns a sink that does nothing yet.
func New(log Log, o Options) *Sink {
	return &Sink{o: o, log: log, rows: pieceRows, within: turnWithin, desk: snapshots{dirty: map[string]int64{}, open: map[string]bool{}, papers: map[string]time.Time{}, late: map[string]int{}}}
}

// Run sends until ctx ends. A database that is away is asked again ever less often, up to
// every five minutes; what is stored meanwhile waits in our own.
func (s *Sink) Run(ctx context.Context) error {
	defer func() { hangUp(s.conn) }()
	s.begun = s.o.Clock.Now()
	for {
		err := s.turn(ctx)
		if ctx.Err() != nil {
			return nil
		}
		wait := s.o.Every
		if s.failed++; err == nil {
			s.failed = 0
		} else {
			wait = min(max(firstAgain<<min(s.failed-1, 16), firstAgain), mostAgain)
			hangUp(s.conn)
			s.conn = nil
		}
		s.note(err)
		select {
		case <-ctx.Done():
			return nil
		case <-s.o.Clock.After(wait):
		}
	}
}

// note tells how the turn ended.
func (s *Sink) note(err error) {
	now := s.o.Clock.Now()
	st := Status{Err: err, Sent: s.sent}
	s.sent = 0
	if err == nil {
		s.at = now
	} else {
		st.Behind, st.Since = max(s.log.LastSeq()-s.mark.logSeq, 0), max(now.Sub(later(s.begun, s.at)), 0)
		st.Class = classOf(err)
	}
	st.At = s.at
	s.mu.Lock()
	s.status = st
	s.mu.Unlock()
	if s.o.Told != nil {
		s.o.Told(st)
	}
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// Status is how the last turn ended.
func (s *Sink) Status() Status {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.status
}

// turn sends all there is: first what is now, then the log piece by piece, then what is now
// as of its end.
func (s *Sink) turn(ctx context.Context) error {
	history, err := begins(s.log)
	if err != nil || history == "" { // the first seal begins the journal
		if s.o.Begin != nil && s.log.LastSeq() > 0 {
			s.o.Begin()
		}
		return err
	}
	if s.conn == nil {
		if s.conn, err = s.o.Address.connect(ctx); err != nil {
			return err
		}
		if err := s.fits(ctx); err != nil {
			return err
		}
	}
	if err := s.transact(ctx, history, s.tellNow); err != nil {
		return err
	}
	told := s.o.Clock.Now()
	for {
		more, err := s.sendPiece(ctx, history)
		if err != nil {
			return err
		}
		if !more {
			break
		}
		if err := s.wordBetween(ctx, history, &told); err != nil {
			return err
		}
	}
	return s.tellBatches(ctx, history)
}

// wordBetween says what is now, if that was told long enough ago: a long turn is not silent.
func (s *Sink) wordBetween(ctx context.Context, history string, told *time.Time) error {
	now := s.o.Clock.Now()
	if now.Sub(*told).Abs() < max(s.o.Every, leastWord) {
		return nil
	}
	*told = now
	s.progress()
	return s.transact(ctx, history, s.tellNow)
}

// fits asks whether the tables are those that this flitch knows.
func (s *Sink) fits(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, s.within)
	defer cancel()
	return explain(current(ctx, s.conn), s.o.Address.String())
}

// leastWord is how often a site says what is now while weeks of readings go up: it is not silent
// then. Proposal.
const leastWord = 10 * time.Second

// progress tells how far a long turn has come.
func (s *Sink) progress() {
	st := Status{Sent: s.sent, Behind: max(s.log.LastSeq()-s.mark.logSeq, 0), Since: max(s.o.Clock.Now().Sub(later(s.begun, s.at)), 0), At: s.at}
	s.sent = 0
	if s.o.Told != nil {
		s.o.Told(st)
	}
}

// sendPiece sends the next piece; false: there was none. What it comes to counts only after the
// commit.
func (s *Sink) sendPiece(ctx context.Context, history string) (more bool, err error) {
	var p piece
	began := s.o.Clock.Now()
	err = s.transact(ctx, history, func(ctx context.Context, tx pgx.Tx, m mark) (err error) {
		if p, err = take(ctx, s.log, m, s.rows); err != nil || p.empty() {
			return err
		}
		return p.put(ctx, tx)
	})
	if p.empty() {
		return false, err
	}
	s.resize(&p, s.o.Clock.Now().Sub(began).Abs(), err)
	if err != nil {
		return false, err
	}
	s.mark = p.to
	s.sent += p.rows()
	return true, nil
}

// resize halves the pieces after one that did not get through, so that on a slow line, or on one
// that breaks again and again, it is not the same piece for ever. Some full ones in a row that
// were through in a quarter of the time double them.
func (s *Sink) resize(p *piece, took time.Duration, err error) {
	switch {
	case err != nil && classOf(err) == Unreachable:
		s.rows, s.quick = max(s.rows/2, leastRows), 0
	case err == nil && p.full(s.rows) && took < s.within/4:
		if s.quick++; s.quick >= growAfter {
			s.rows, s.quick = min(2*s.rows, pieceRows), 0
		}
	}
}

// transact runs fn in a transaction that holds the row of the site, after a look whether what
// is there is ours.
func (s *Sink) transact(ctx context.Context, history string, fn func(context.Context, pgx.Tx, mark) error) error {
	ctx, cancel := context.WithTimeout(ctx, s.within)
	defer cancel()
	err := pgx.BeginFunc(ctx, s.conn, func(tx pgx.Tx) error {
		m, err := s.hold(ctx, tx, history)
		if err != nil {
			return err
		}
		if err := s.ours(ctx, m, history); err != nil {
			return err
		}
		s.mark = m
		return fn(ctx, tx, m)
	})
	return explain(err, s.o.Address.String())
}
