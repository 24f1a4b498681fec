package fleet

import (
	"context"
	"crypto/ed25519"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"flitch/process"
	"flitch/process/evidence"
	"flitch/store"
	"flitch/store/fleet/fleettest"
)

// noon is an instant for tests. Sites and probes are invented.
var noon = time.Date(2031, 5, 5, 12, 0, 0, 0, time.UTC)

// wall is the machine's clock.
type wall struct{}

func (wall) Now() time.Time                         { return time.Now().UTC() }
func (wall) After(d time.Duration) <-chan time.Time { return time.After(d) }

// key signs what these sites seal; whose it is does not matter here.
var key = ed25519.NewKeyFromSeed(make([]byte, ed25519.SeedSize))

// A shed is a site's own database, filled as a daemon fills it.
type shed struct {
	t    testing.TB
	path string
	db   *store.DB
	n    int
}

func newShed(t testing.TB) *shed {
	t.Helper()
	s := &shed{t: t, path: filepath.Join(t.TempDir(), "flitch.db")}
	s.must(store.Create(s.path))
	s.open()
	s.line(evidence.KeyKind, "signed by key "+s.path+" from here on")
	return s
}

func (s *shed) open() {
	s.t.Helper()
	var err error
	s.db, err = store.Open(s.path)
	s.must(err)
	s.t.Cleanup(func() { s.db.Close() })
}

// copied is the same database on another disk, as of now.
func (s *shed) copied() *shed {
	s.t.Helper()
	c := &shed{t: s.t, path: filepath.Join(s.t.TempDir(), "flitch.db"), n: s.n}
	s.must(s.db.Close())
	data, err := os.ReadFile(s.path)
	s.must(err)
	s.must(os.WriteFile(c.path, data, 0o600))
	s.open()
	c.open()
	return c
}

func (s *shed) must(err error) {
	s.t.Helper()
	if err != nil {
		s.t.Fatal(err)
	}
}

// nasty are texts that sensors send and PostgreSQL does not hold as they are.
var nasty = []string{"4.2 °C", "zero \x00 byte", "no \xff UTF-8", `\xabcd`, "", "tab\tand\nline"}

// work takes in so many readings and what goes with them: of a thousand some are marked, some
// have no value, and now and then somebody says something, a minute passes, or all is sealed.
func (s *shed) work(readings int) {
	s.t.Helper()
	for readings > 0 {
		batch := make([]process.Reading, 0, 500)
		for len(batch) < min(500, readings) {
			batch = append(batch, s.reading())
		}
		readings -= len(batch)
		_, err := s.db.CommitIntake(batch, nil)
		s.must(err)
		s.must(s.db.Update(func(tx *store.Tx) error {
			c := process.Command{ID: fmt.Sprintf("%s-%d", s.path, s.n), Kind: process.CommandNote, At: noon, By: "T.V.", Text: nasty[s.n%len(nasty)], Batch: ""}
			if _, _, err := tx.AppendCommand(c, s.now()); err != nil {
				return err
			}
			_, err := tx.AppendTick(s.now())
			return err
		}))
		s.line("note", nasty[s.n%len(nasty)])
		s.n++
		s.seal()
	}
}

func (s *shed) now() time.Time { return noon.Add(time.Duration(s.n) * 100 * time.Millisecond) }

func (s *shed) reading() process.Reading {
	s.n++
	at := s.now()
	r := process.Reading{Probe: fmt.Sprintf("probe-%d", s.n%12), Measured: at, Device: at, Received: at.Add(40 * time.Millisecond), Value: 4 + float64(s.n%1000)/1000}
	switch {
	case s.n%97 == 0:
		r.Value, r.Quality, r.Reason, r.Raw = math.NaN(), process.Bad, "no number", nasty[s.n%len(nasty)]
	case s.n%101 == 0:
		r.Value = math.Copysign(0, -1)
	case s.n%103 == 0:
		r.Value, r.Quality, r.Reason, r.Raw, r.Device = math.MaxFloat64, process.Suspect, "spike \x00", "1.8e308", time.Time{}
	}
	return r
}

func (s *shed) line(kind, text string) {
	s.t.Helper()
	s.must(s.db.Update(func(tx *store.Tx) error {
		return tx.AppendJournal(process.JournalLine{At: s.now(), Kind: kind, By: "flitch", Text: text})
	}))
}

func (s *shed) seal() {
	s.t.Helper()
	last, _, err := s.db.LastSeal()
	s.must(err)
	to := s.db.LastSeq()
	var rows evidence.Sealer
	s.must(s.db.EachRow(context.Background(), last.Seal.To+1, to, func(r *evidence.Row) error { rows.Take(r); return nil }))
	seal := rows.Seal(last.Seal.To+1, to)
	s.must(s.db.Update(func(tx *store.Tx) error {
		_, err := tx.AppendSigned(process.JournalLine{At: s.now(), Kind: evidence.SealKind, By: "flitch", Text: seal.Text()},
			func(line int64, hash string, at int64) evidence.Signature { return evidence.Sign(key, line, hash, at) })
		return err
	}))
}

// A house is a PostgreSQL with the tables in it.
type house struct {
	*fleettest.Server
	t        testing.TB
	database string
}

func newHouse(t testing.TB) *house {
	t.Helper()
	return houseAt(t, fleettest.Shared(t))
}

func houseAt(t testing.TB, server *fleettest.Server) *house {
	h := &house{server, t, server.Database()}
	if _, _, err := Migrate(context.Background(), h.address("owner")); err != nil {
		t.Fatal(err)
	}
	return h
}

func (h *house) address(who string) Address {
	h.t.Helper()
	return h.parse(h.URL(who, h.database))
}

func (h *house) parse(url string) Address {
	h.t.Helper()
	a, err := ParseAddress(url)
	if err != nil {
		h.t.Fatal(err)
	}
	return a
}

// writer is a user with the rights of a site, and no more.
func (h *house) writer() string {
	h.t.Helper()
	name := h.User("site")
	if err := Allow(context.Background(), h.address("owner"), name, true); err != nil {
		h.t.Fatal(err)
	}
	return name
}

// sink is one of the site, which is stepped by hand.
func (s *shed) sink(at Address, name string) *Sink {
	return New(s.db, Options{Address: at, Site: name, Every: time.Second, Clock: wall{}, Glance: func(context.Context) (Glance, error) {
		return Glance{At: s.now(), Version: "test", State: "fine"}, nil
	}})
}

// turn is one turn of a sink, as Run makes it.
func turn(s *Sink) error {
	err := s.turn(context.Background())
	if err != nil {
		hangUp(s.conn)
		s.conn = nil
	}
	return err
}

func (h *house) read(name string) *Site {
	h.t.Helper()
	ctx := context.Background()
	r, err := Open(ctx, h.address("owner"))
	if err != nil {
		h.t.Fatal(err)
	}
	h.t.Cleanup(r.Close)
	sites, err := r.Sites(ctx, name)
	if err != nil {
		h.t.Fatal(err)
	}
	return sites[0]
}

// differs says what of the site is not in PostgreSQL exactly as it is in its own database;
// empty: nothing. Up to is how far it was sent: all of it, if whole.
func (h *house) differs(s *shed, name string, whole bool) string {
	h.t.Helper()
	site := h.read(name)
	defer site.in.Close()
	last, lines := int64(math.MaxInt64), int64(0)
	if !whole {
		last, lines = site.mark.logSeq, site.mark.journalSeq
	}
	here, there := s.all(s.db, last, lines), s.all(site, math.MaxInt64, 0)
	if len(here) < 3 {
		return "nothing was there to compare"
	}
	if len(here) != len(there) {
		return fmt.Sprintf("%d rows and lines here, %d there", len(here), len(there))
	}
	for i := range here {
		if here[i] != there[i] {
			return fmt.Sprintf("%.200q here is %.200q there", here[i], there[i])
		}
	}
	return ""
}

// all is every row, line and signature as text, in the order in which they are read.
func (s *shed) all(from interface {
	EachRow(context.Context, int64, int64, func(*evidence.Row) error) error
	EachLine(int64, int64, func(process.JournalLine) error) error
	Signatures(int64, int64) ([]evidence.Signature, error)
}, last, lines int64) (out []string) {
	s.t.Helper()
	s.must(from.EachRow(context.Background(), math.MinInt64, last, func(r *evidence.Row) error {
		out = append(out, string(r.Append(nil)))
		return nil
	}))
	s.must(from.EachLine(0, lines, func(l process.JournalLine) error { out = append(out, fmt.Sprintf("%+v", l)); return nil }))
	if lines == 0 {
		lines = math.MaxInt64
	}
	signed, err := from.Signatures(0, lines)
	s.must(err)
	for _, one := range signed {
		out = append(out, fmt.Sprintf("%+v", one))
	}
	return out
}
