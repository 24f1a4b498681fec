package fleet

import (
	"context"
	"strings"
	"sync"
	"testing"
	"time"

	"flitch/process"
	"flitch/store"
)

// wantTrouble fails unless err is of the class and says what to do.
func wantTrouble(t *testing.T, err error, class Class, words ...string) {
	t.Helper()
	if err == nil || classOf(err) != class {
		t.Errorf("want %s, got %v (%v)", class, err, classOf(err))
		return
	}
	for _, w := range words {
		if !strings.Contains(err.Error(), w) {
			t.Errorf("%q does not say %q", err, w)
		}
	}
	for _, secret := range []string{"alder@smoke", "alder%40", "smoke/1", "smoke%2F1"} {
		if strings.Contains(err.Error(), secret) {
			t.Errorf("the password is shown: %v", err)
		}
	}
}

// Two daemons for one site at once, on copies of one database: nothing is doubled. As soon as
// the copies differ one of them stops and says why.
func TestTwoDaemonsOfOneSiteNeverDoubleARow(t *testing.T) {
	h, a := newHouse(t), newShed(t)
	a.work(30_000)
	b := a.copied()
	at := h.address(h.writer())
	sinks := []*Sink{a.sink(at, "larder"), b.sink(at, "larder")}
	var turns sync.WaitGroup
	for _, s := range sinks {
		turns.Go(func() {
			if err := turn(s); err != nil {
				t.Error(err)
			}
		})
	}
	turns.Wait()
	if bad := h.differs(a, "larder", true); bad != "" {
		t.Fatal(bad)
	}
	stopped, mixed := 0, 0
	for range 10 { // both go on, each its own way
		a.work(700)
		b.n += 7 // other moments
		b.work(900)
		errs := [2]error{}
		for i, s := range sinks {
			turns.Go(func() { errs[i] = turn(s) })
		}
		turns.Wait()
		for _, err := range errs {
			if err != nil {
				wantTrouble(t, err, History, "flitch fleet adopt", "site = ")
				stopped++
			}
		}
		if h.differs(a, "larder", false) != "" && h.differs(b, "larder", false) != "" {
			mixed++
		}
	}
	t.Logf("%d faults: turns of two daemons that had parted; one was stopped each time, %d mixed", stopped, mixed)
	if stopped != 10 || mixed > 0 {
		t.Errorf("%d of 10 were stopped, %d times what is there is of neither", stopped, mixed)
	}
}

// The copies have the same journal, and only a reading differs: that is enough.
func TestACopyWithAnotherReadingIsStopped(t *testing.T) {
	h, a := newHouse(t), newShed(t)
	a.work(500)
	b := a.copied()
	at := h.address(h.writer())
	for _, s := range []*shed{a, b} {
		r := s.reading()
		r.Value += float64(len(s.path))
		if s == b {
			r.Value++
		}
		if _, err := s.db.CommitIntake([]process.Reading{r}, nil); err != nil {
			t.Fatal(err)
		}
	}
	if err := turn(a.sink(at, "larder")); err != nil {
		t.Fatal(err)
	}
	wantTrouble(t, turn(b.sink(at, "larder")), History, "number 503 of the log is another one")
	if bad := h.differs(a, "larder", true); bad != "" {
		t.Fatal(bad)
	}
}

// A database that was restored from an older copy is behind what was sent. It stops, and goes on
// when a person says so: what the other sent stays as it was.
func TestARestoredDatabaseStopsUntilItIsAdopted(t *testing.T) {
	h, a := newHouse(t), newShed(t)
	a.work(500)
	old := a.copied()
	a.work(500)
	at := h.address(h.writer())
	if err := turn(a.sink(at, "larder")); err != nil {
		t.Fatal(err)
	}
	sink := old.sink(at, "larder")
	wantTrouble(t, turn(sink), History, "ours ends at", "older backup", "flitch fleet adopt")
	old.line("restored", "from a copy")
	old.n += 5
	old.work(2_000) // now it is longer
	wantTrouble(t, turn(sink), History, "line 5 of the journal", "flitch fleet adopt")
	if bad := h.differs(a, "larder", true); bad != "" {
		t.Fatalf("what was sent was changed: %s", bad)
	}
	before, err := Adopt(context.Background(), at, "larder", noon)
	if err != nil {
		t.Fatal(err)
	}
	if err := turn(sink); err != nil {
		t.Fatal(err)
	}
	if bad := h.differs(old, "larder", true); bad != "" {
		t.Fatal(bad)
	}
	if bad := h.differs(a, before, true); bad != "" {
		t.Fatal(bad)
	}
	wantTrouble(t, turn(a.sink(at, "larder")), History) // the one before is the stranger now
}

func TestAnotherInstallationUnderTheNameIsRefused(t *testing.T) {
	h, a, b := newHouse(t), newShed(t), newShed(t)
	a.work(100)
	b.work(100)
	at := h.address(h.writer())
	if err := turn(a.sink(at, "larder")); err != nil {
		t.Fatal(err)
	}
	wantTrouble(t, turn(b.sink(at, "larder")), History, "another installation")
	wantTrouble(t, turn(b.sink(h.address(h.writer()), "larder")), History, "of another user", "another name")
	if bad := h.differs(a, "larder", true); bad != "" {
		t.Fatal(bad)
	}
	if err := turn(b.sink(at, "attic")); err != nil { // one user may write for several
		t.Fatal(err)
	}
	_, err := Adopt(context.Background(), at, "nowhere", noon)
	wantTrouble(t, err, History, "no site")
}

// Weeks without PostgreSQL: the sink asks ever less often, holds nothing, and ends at once when
// it is told to.
func TestAPostgreSQLThatIsAwayCostsNothing(t *testing.T) {
	s := newShed(t)
	s.work(1_000)
	at, err := ParseAddress("postgres://x:y@127.0.0.1:1/fleet?sslmode=disable")
	if err != nil {
		t.Fatal(err)
	}
	clock := &counted{}
	told := 0
	sink := New(s.db, Options{Address: at, Site: "larder", Every: 10 * time.Second, Clock: clock, Told: func(st Status) {
		told++
		wantTrouble(t, st.Err, Unreachable, "cannot be reached")
		if st.Behind != s.db.LastSeq() {
			t.Errorf("%d behind", st.Behind)
		}
	}})
	ctx, stop := context.WithCancel(context.Background())
	clock.stop = stop
	if err := sink.Run(ctx); err != nil {
		t.Fatal(err)
	}
	if told != 200 || clock.slept < 14*time.Hour {
		t.Errorf("%d attempts in %s", told, clock.slept)
	}
	t.Logf("%d faults: attempts without a PostgreSQL, over %s by its clock", told, clock.slept)
}

// A counted clock jumps to the end of each wait, 200 times.
type counted struct {
	slept time.Duration
	n     int
	stop  func()
}

func (c *counted) Now() time.Time { return noon.Add(c.slept) }

func (c *counted) After(d time.Duration) <-chan time.Time {
	c.slept += d
	if c.n++; c.n == 200 {
		c.stop()
		return nil
	}
	ring := make(chan time.Time, 1)
	ring <- c.Now()
	return ring
}

var _ Log = (*store.DB)(nil)
