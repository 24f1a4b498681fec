package ingest

import (
	"errors"
	"testing"
	"time"

	"flitch/ingest/decode"
)

// noon is an instant for tests; times below are seconds from it.
var noon = time.Date(2031, 5, 2, 12, 0, 0, 0, time.UTC)

func at(seconds float64) time.Time {
	return noon.Add(time.Duration(seconds * float64(time.Second)))
}

func TestDeviceTimeBelief(t *testing.T) {
	stored := at(-500) // the only reading on disk
	isTaken := func(_ string, ms int64) (bool, error) { return ms == stored.UnixMilli(), nil }
	for _, c := range []struct {
		name     string
		known    bool      // newest believed time is -60 s
		device   time.Time // arrival is at 0 s
		interval time.Duration
		want     time.Time
		doubt    string
		dup      bool
	}{
		{name: "in the window", known: true, device: at(-1), want: at(-1)},
		{name: "the newest again", known: true, device: at(-60), want: at(-60)}, // the unique key absorbs it
		{name: "two minutes ahead", known: true, device: at(120), want: at(120)},
		{name: "further ahead", known: true, device: at(120.001), want: at(0),
			doubt: "device clock not believed: 2031-05-02T12:02:00Z is ahead of arrival"},
		{name: "before the last accepted", known: true, device: at(-61), want: at(0),
			doubt: "device time before the last accepted one"},
		{name: "before, but on disk", known: true, device: stored, dup: true},
		{name: "woke in 1970", known: true, device: time.Unix(7, 0), want: at(0),
			doubt: "device clock not believed: 1970-01-01T00:00:07Z"},
		{name: "woke in 1970, never believed", device: time.Unix(7, 0), want: at(0),
			doubt: "device clock not believed: 1970-01-01T00:00:07Z"},
		{name: "first time, a day old", device: at(-86400), want: at(-86400), doubt: "late"},
		{name: "first time, older", device: at(-86401), want: at(0),
			doubt: "device clock not believed: 2031-05-01T11:59:59Z"},
		{name: "five minutes old", device: at(-300), want: at(-300)},
		{name: "older than five minutes", device: at(-300.001), want: at(-300.001), doubt: "late"},
		{name: "slow probe, three intervals", device: at(-1800), interval: 10 * time.Minute, want: at(-1800)},
		{name: "slow probe, more", device: at(-1800.001), interval: 10 * time.Minute, want: at(-1800.001), doubt: "late"},
		{name: "no time", known: true, want: at(0)},
	} {
		t.Run(c.name, func(t *testing.T) {
			tr := &track{probe: "core-1"}
			if c.known {
				tr.known, tr.newest, tr.top = true, at(-60).UnixMilli(), at(-60).UnixMilli()
			}
			d, err := tr.date(decode.Sample{Device: c.device}, noon, c.interval, isTaken)
			if err != nil {
				t.Fatal(err)
			}
			if !d.measured.Equal(c.want) && !c.dup || d.doubt != c.doubt || d.duplicate != c.dup {
				t.Errorf("got %+v, want %v %q %t", d, c.want, c.doubt, c.dup)
			}
			if believed := d.measured.Equal(c.device) && !c.dup; believed && tr.newest != c.device.UnixMilli() {
				t.Errorf("newest %d after %v", tr.newest, c.device)
			}
		})
	}
}

// A time that cannot be read makes the reading suspect, not lost.
func TestUnreadableDeviceTime(t *testing.T) {
	tr := &track{probe: "core-1"}
	d, err := tr.date(decode.Sample{TimeProblem: "device time is null"}, noon, 0, nil)
	if err != nil || !d.measured.Equal(noon) || d.doubt != "device time is null" {
		t.Errorf("%+v %v", d, err)
	}
}

// used stands for the store: the milliseconds of one probe that have a reading.
type used struct {
	at    map[int64]bool
	asked int // questions to the store
}

func newUsed() *used { return &used{at: map[int64]bool{}} }

func (u *used) taken(_ string, ms int64) (bool, error) {
	u.asked++
	return u.at[ms], nil
}

// arrive dates a reading without a time and stores it.
func (u *used) arrive(t *testing.T, tr *track, received time.Time) int64 {
	t.Helper()
	d, err := tr.date(decode.Sample{}, received, 0, u.taken)
	if err != nil {
		t.Fatal(err)
	}
	ms := d.measured.UnixMilli()
	if u.at[ms] {
		t.Fatalf("two readings at %d: the second would be lost", ms)
	}
	u.at[ms] = true
	return ms
}

// A night's queue handed over at once: no reading is lost and the store is not
// asked about each.
func TestNoTwoArrivalsShareAMillisecond(t *testing.T) {
	u, tr := newUsed(), &track{probe: "core-1"}
	u.asked = 0
	for range 10000 {
		u.arrive(t, tr, noon)
	}
	if len(u.at) != 10000 || u.asked != 0 {
		t.Errorf("%d instants, %d questions", len(u.at), u.asked)
	}
	if ms := u.arrive(t, tr, at(100)); ms != at(100).UnixMilli() {
		t.Errorf("after the flood the clock counts again, got %d", ms)
	}
}

// The same while the clock is set back into that night: each question is asked
// once.
func TestFloodInARepeatedHour(t *testing.T) {
	u, tr := newUsed(), &track{probe: "core-1"}
	for range 10000 {
		u.arrive(t, tr, noon)
	}
	u.arrive(t, tr, at(3600))
	u.asked = 0
	for range 10000 {
		u.arrive(t, tr, noon)
	}
	if u.asked > 21000 {
		t.Errorf("%d questions", u.asked)
	}
}

// An hour is lived twice after the clock was set back; readings keep the time the
// clock shows and step aside where one is stored.
func TestClockSetBack(t *testing.T) {
	u, tr := newUsed(), &track{probe: "core-1"}
	for i := range 3600 {
		u.arrive(t, tr, at(float64(i)))
	}
	for i := range 3600 {
		if ms := u.arrive(t, tr, at(float64(i))); ms != at(float64(i)).UnixMilli()+1 {
			t.Fatalf("second %d of the repeated hour is dated %d ms off", i, ms-at(float64(i)).UnixMilli())
		}
	}
}

// Readings with device times in front of the clock do not hide those without.
func TestArrivalBesideDeviceTime(t *testing.T) {
	u, tr := newUsed(), &track{probe: "core-1"}
	d, err := tr.date(decode.Sample{Device: at(60)}, noon, 0, u.taken)
	if err != nil {
		t.Fatal(err)
	}
	u.at[d.measured.UnixMilli()] = true
	if ms := u.arrive(t, tr, at(1)); ms != at(1).UnixMilli() {
		t.Errorf("dated %d", ms)
	}
	if ms := u.arrive(t, tr, at(60)); ms != at(60).UnixMilli()+1 {
		t.Errorf("dated %d", ms)
	}
}

func TestStoreThatCannotBeAsked(t *testing.T) {
	broken := errors.New("disk")
	tr := &track{probe: "core-1", known: true, newest: noon.UnixMilli()}
	_, err := tr.date(decode.Sample{Device: time.Unix(7, 0)}, at(60), 0, func(string, int64) (bool, error) { return false, broken })
	if !errors.Is(err, broken) {
		t.Errorf("error %v", err)
	}
}
