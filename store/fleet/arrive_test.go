package fleet

import (
	"cmp"
	"context"
	"slices"
	"testing"
	"time"
)

func TestAllOfASiteArrivesAsItIs(t *testing.T) {
	h, s := newHouse(t), newShed(t)
	s.work(3_000)
	sink := s.sink(h.address(h.writer()), "larder")
	if err := turn(sink); err != nil {
		t.Fatal(err)
	}
	if bad := h.differs(s, "larder", true); bad != "" {
		t.Fatal(bad)
	}
	s.work(25_000) // more than two pieces
	for range 2 {  // the second finds nothing to do
		if err := turn(sink); err != nil {
			t.Fatal(err)
		}
		if bad := h.differs(s, "larder", true); bad != "" {
			t.Fatal(bad)
		}
	}
	site := h.read("larder")
	if site.Glance == nil || site.Glance.State != "fine" || site.Age < 0 || site.Age.Minutes() > 1 {
		t.Errorf("%+v", site)
	}
	if st := sink.Status(); st.Err != nil {
		t.Error(st.Err)
	}
}

func TestTextsThatPostgreSQLDoesNotHoldComeBack(t *testing.T) {
	for _, text := range append(nasty, `\x`, `\x00`, `\xzz`, "\xff\xfe", "plain") {
		if got := original(exact(text)); got != text {
			t.Errorf("%q came back as %q", text, got)
		}
	}
}

func FuzzExact(f *testing.F) {
	for _, text := range nasty {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if got := original(exact(text)); got != text {
			t.Errorf("%q came back as %q", text, got)
		}
	})
}

// Two that make the tables at once make them once.
func TestTheTablesAreMadeOnce(t *testing.T) {
	h := newHouse(t)
	ctx, at := context.Background(), h.parse(h.URL("owner", h.Database()))
	done := make(chan error)
	for range 2 {
		go func() { _, _, err := Migrate(ctx, at); done <- err }()
	}
	for range 2 {
		if err := <-done; err != nil {
			t.Error(err)
		}
	}
	if from, to, err := Migrate(ctx, at); err != nil || from != to || to == 0 {
		t.Errorf("again: from schema %d to %d, %v", from, to, err)
	}
}

// A fast clock is eleven seconds later each time it is asked.
type fast struct {
	wall
	asked int
}

func (f *fast) Now() time.Time { f.asked++; return noon.Add(time.Duration(f.asked) * 11 * time.Second) }

// While weeks of readings go up the site says what is now, and how far it has come: it is not silent.
func TestALongWayUpIsNotSilent(t *testing.T) {
	h, s := newHouse(t), newShed(t)
	s.work(35_000)
	sink := s.sink(h.address(h.writer()), "larder")
	var behind []int64
	sink.o.Clock, sink.o.Told = &fast{}, func(st Status) { behind = append(behind, st.Behind) }
	if err := turn(sink); err != nil {
		t.Fatal(err)
	}
	if len(behind) < 3 || !slices.IsSortedFunc(behind, func(a, b int64) int { return cmp.Compare(b, a) }) || behind[0] == 0 {
		t.Errorf("told that it is behind by %v", behind)
	}
	if bad := h.differs(s, "larder", true); bad != "" {
		t.Fatal(bad)
	}
}
