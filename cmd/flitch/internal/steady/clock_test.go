package steady_test

import (
	"testing"
	"time"

	"flitch/cmd/flitch/internal/steady"

	"pgregory.net/rapid"
)

var (
	made  = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	today = time.Date(2031, 5, 5, 6, 0, 0, 0, time.UTC)
	epoch = time.Unix(3, 0).UTC()
)

// A machine of which the test holds both clocks.
type machine struct {
	wall    time.Time
	elapsed time.Duration
}

func (m *machine) Times() (time.Time, time.Duration)    { return m.wall, m.elapsed }
func (m *machine) After(time.Duration) <-chan time.Time { return nil }

func (m *machine) pass(d time.Duration) { m.wall, m.elapsed = m.wall.Add(d), m.elapsed+d }
func (m *machine) jump(d time.Duration) { m.wall = m.wall.Add(d) }

func notices(c *steady.Clock) (all []steady.Notice) {
	for {
		news := c.Notices()
		if all = append(all, news...); len(news) == 0 || news[len(news)-1].Kind != steady.Followed {
			return all
		}
		c.Follow()
	}
}

func kinds(c *steady.Clock) string {
	out := ""
	for _, n := range notices(c) {
		out += string(n.Kind) + "; "
	}
	return out
}

// want compares what the house says with what it should.
func want(t *testing.T, c *steady.Clock, at time.Time, news string) {
	t.Helper()
	if got := kinds(c); got != news {
		t.Errorf("told of %q, want %q", got, news)
	}
	if got := c.Now(); !got.Equal(at) {
		t.Errorf("the house has %v, want %v", got, at)
	}
}

func TestAStepAheadIsFollowedAtOnce(t *testing.T) {
	for _, d := range []time.Duration{3 * time.Second, time.Hour, 24 * time.Hour} {
		m := &machine{wall: today}
		c := steady.New(m, today.Add(-time.Hour), made)
		m.pass(time.Minute)
		m.jump(d)
		want(t, c, today.Add(time.Minute+d), "followed; ")
		m.pass(time.Minute)
		want(t, c, today.Add(2*time.Minute+d), "")
	}
}

// An hour that is counted twice would put two hours into one.
func TestAStepBackIsNotFollowed(t *testing.T) {
	m := &machine{wall: today}
	c := steady.New(m, time.Time{}, made)
	m.jump(-time.Hour)
	want(t, c, today, "refused; ")
	for range 90 {
		m.pass(time.Minute)
		c.Now()
	}
	want(t, c, today.Add(90*time.Minute), "")
	if off, doubted := c.Off(); off != -time.Hour || !doubted {
		t.Errorf("off by %v, doubted %v", off, doubted)
	}
	m.jump(time.Hour)
	want(t, c, today.Add(90*time.Minute), "agreed; ")
}

func TestAnIdleHouseComesBackAtHalfPace(t *testing.T) {
	m := &machine{wall: today}
	c := steady.New(m, time.Time{}, made)
	m.jump(-time.Hour)
	c.Now()
	c.Idle(true)
	notices(c)
	last := c.Now()
	for range 121 {
		m.pass(time.Minute)
		now := c.Now()
		if d := now.Sub(last); d < 30*time.Second || d > time.Minute {
			t.Fatalf("a minute was %v", d)
		}
		last = now
	}
	want(t, c, m.wall, "agreed; ")
}

// A time that cannot be is not taken, however long it is told; what it goes back to is.
func TestThirtyYearsAheadAreNotFollowed(t *testing.T) {
	m := &machine{wall: today}
	c := steady.New(m, time.Time{}, made)
	m.jump(30 * 365 * 24 * time.Hour)
	want(t, c, today, "refused; ")
	m.pass(time.Hour)
	want(t, c, today.Add(time.Hour), "")
	m.jump(-30 * 365 * 24 * time.Hour)
	want(t, c, today.Add(time.Hour), "agreed; ")
	m.jump(steady.Longest + time.Hour)
	want(t, c, today.Add(time.Hour), "refused; ")
}

func TestABoardThatStartsIn1970(t *testing.T) {
	for name, last := range map[string]time.Time{"with a log": today, "the first time": {}} {
		t.Run(name, func(t *testing.T) {
			m := &machine{wall: epoch}
			c := steady.New(m, last, made)
			from := made
			if !last.IsZero() {
				from = last
			}
			want(t, c, from, "not set; ")
			m.pass(24 * time.Hour) // a day without a time server
			want(t, c, from.Add(24*time.Hour), "")
			truth := today.Add(5*time.Hour + 24*time.Hour)
			m.wall = truth
			news := notices(c)
			if len(news) != 1 || news[0].Kind != steady.Followed || !news[0].To.Equal(truth) {
				t.Fatalf("told of %+v", news)
			}
			want(t, c, truth, "")
		})
	}
}

// A step soon after the start may be the time we were off: it says since when.
func TestWhatIsMissingMayHavePassedBeforeTheStart(t *testing.T) {
	m := &machine{wall: today.Add(time.Second)} // the clock was kept on disk, and the board was off for hours
	c := steady.New(m, today, made)
	m.pass(3 * time.Minute)
	m.jump(5 * time.Hour)
	if n := notices(c); len(n) != 1 || !n[0].Since.Equal(today.Add(time.Second)) {
		t.Errorf("told of %+v", n)
	}
	m.pass(48 * time.Hour)
	c.Now()
	m.jump(5 * time.Hour)
	if n := notices(c); len(n) != 1 || !n[0].Since.Equal(n[0].From) {
		t.Errorf("after two days told of %+v", n)
	}
}

// The machine slept: its count went on, and nothing was set.
func TestASuspendedMachine(t *testing.T) {
	m := &machine{wall: today}
	c := steady.New(m, time.Time{}, made)
	m.pass(6 * time.Hour)
	want(t, c, today.Add(6*time.Hour), "")
}

func TestALeapSecond(t *testing.T) {
	t.Run("smeared", func(t *testing.T) {
		for _, way := range []time.Duration{1, -1} {
			m := &machine{wall: today}
			c := steady.New(m, time.Time{}, made)
			for i := range 24 * 60 {
				m.pass(time.Minute)
				m.jump(way * 694444 * time.Nanosecond)
				if got := c.Now(); got.Sub(m.wall).Abs() > 0 {
					t.Fatalf("minute %d: %v beside %v", i, got, m.wall)
				}
			}
			want(t, c, m.wall, "")
		}
	})
	t.Run("stepped", func(t *testing.T) {
		m := &machine{wall: today}
		c := steady.New(m, time.Time{}, made)
		m.jump(-time.Second) // 23:59:59 a second time
		want(t, c, today, "")
		m.pass(2 * time.Second)
		want(t, c, today.Add(time.Second), "")
	})
}

// A sensor with a clock of its own decides on a step.
func TestASensorDecides(t *testing.T) {
	begin := func() (*machine, *steady.Clock) {
		m := &machine{wall: today}
		c := steady.New(m, time.Time{}, made)
		c.Witness("core", today.Add(-3*time.Second), true)
		m.pass(time.Minute)
		m.jump(time.Hour)
		want(t, c, today.Add(time.Minute), "")
		m.pass(time.Minute)
		return m, c
	}
	t.Run("against it", func(t *testing.T) {
		m, c := begin()
		c.Witness("core", today.Add(2*time.Minute), true)
		want(t, c, today.Add(2*time.Minute), "refused; ")
		m.pass(24 * time.Hour)
		want(t, c, today.Add(24*time.Hour+2*time.Minute), "")
	})
	t.Run("for it", func(t *testing.T) {
		_, c := begin()
		c.Witness("core", today.Add(time.Hour+2*time.Minute), true)
		want(t, c, today.Add(time.Hour+2*time.Minute), "followed; ")
	})
	t.Run("not at all", func(t *testing.T) {
		m, c := begin()
		m.pass(time.Minute)
		want(t, c, today.Add(time.Hour+3*time.Minute), "followed; ")
	})
	t.Run("sets a clock that is not set", func(t *testing.T) {
		m := &machine{wall: epoch}
		c := steady.New(m, today, made)
		notices(c)
		c.Witness("new", today.Add(5*time.Hour), false)
		c.Witness("core", today.Add(-5*time.Hour), true)
		want(t, c, today, "")
		c.Witness("core", today.Add(2*time.Hour), true) // a broker hands over what it kept
		c.Witness("core", today.Add(3*time.Hour), true)
		m.pass(time.Minute)
		c.Witness("core", today.Add(5*time.Hour), true)
		want(t, c, today.Add(time.Minute), "")
		m.pass(time.Minute)
		c.Witness("core", today.Add(5*time.Hour+time.Minute), true)
		want(t, c, today.Add(5*time.Hour+time.Minute), "followed; refused; ")
		m.wall = today.Add(5*time.Hour + 62*time.Second)
		want(t, c, today.Add(5*time.Hour+62*time.Second), "agreed; ")
	})
}

// Whatever the clock of the machine does, the house never runs back, and counts at least
// what passed but for the two seconds that are followed; without a step it counts just that.
func TestNoTimeIsLost(t *testing.T) {
	jumps := 0
	rapid.Check(t, func(t *rapid.T) {
		m := &machine{wall: today}
		c := steady.New(m, time.Time{}, made)
		last, ahead := c.Now(), false
		for range rapid.IntRange(1, 60).Draw(t, "steps") {
			if rapid.Bool().Draw(t, "jumps") {
				d := time.Duration(rapid.Int64Range(-40*365*24, 40*365*24).Draw(t, "hours")) * time.Hour / time.Duration(rapid.SampledFrom([]int64{1, 1000, 100000}).Draw(t, "small"))
				if d.Abs() <= steady.Step {
					continue
				}
				m.jump(d)
				jumps++
				ahead = true
			}
			d := time.Duration(rapid.Int64Range(0, 3600).Draw(t, "seconds")) * time.Second
			m.pass(d)
			notices(c)
			now := c.Now()
			if passed := now.Sub(last); passed < d-steady.Step || !ahead && passed != d {
				t.Fatalf("%v passed, the house counted %v", d, passed)
			}
			last = now
		}
		if last.After(today.Add(30 * 365 * 24 * time.Hour)) {
			t.Fatalf("the house is in %v", last)
		}
	})
	if jumps == 0 {
		t.Fatal("the clock never jumped: the test tests nothing")
	}
	t.Logf("%d jumps", jumps)
}

// Who waits for the rest of a minute, and again for the rest of that, comes to its end, also
// while the house goes at half pace.
func TestTheRestOfAMinuteEnds(t *testing.T) {
	m := &machine{wall: today}
	c := steady.New(m, time.Time{}, made)
	m.jump(-time.Hour)
	c.Idle(true)
	end := c.Now().Add(time.Minute)
	for looks := 0; c.Now().Before(end); looks++ {
		if looks > 100 {
			t.Fatalf("%v are left of a minute", end.Sub(c.Now()))
		}
		m.pass(end.Sub(c.Now()))
	}
}
