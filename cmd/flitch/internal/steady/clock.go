package steady

import (
	"sync"
	"time"
)

// The bounds of what is believed. All are proposals.
const (
	Step     = 2 * time.Second           // a difference up to this is followed without a word: a leap second is one
	Longest  = 48 * time.Hour            // longest step ahead that is followed once a time was believed
	Ahead    = 10 * 365 * 24 * time.Hour // and what lies more than this after all that is stored cannot be
	patience = 2 * time.Minute           // how long the next word of a sensor is waited for
	agrees   = time.Minute               // how far a sensor's clock may be off and still agree
	lately   = 10 * time.Minute          // how long its agreement counts
	early    = 24 * time.Hour            // how long after a start a step may be the time we were off
	byDevice = 31 * 24 * time.Hour       // how far a sensor may set a clock that is not set
)

// A Machine is what a machine tells of time.
type Machine interface {
	// Times are those of one moment: what its clock says, UTC and without Go's own count in it,
	// which may jump both ways; and what it counts from any moment on, which never jumps and
	// runs on while it is suspended.
	Times() (wall time.Time, elapsed time.Duration)
	After(d time.Duration) <-chan time.Time
}

// A Notice tells of something that happened to the clock of the machine.
type Notice struct {
	Kind Kind
	From time.Time // what the house had counted to
	To   time.Time // what the clock said; the house has it from now on if it was followed
	// Since is from when on times may be too early by To - From: the time that is missing
	// may have passed at any moment after it. Of a start without a clock it is when that was.
	Since time.Time
}

// Kind is what happened.
type Kind string

// The kinds of notices.
const (
	Unset    Kind = "not set"  // at the start: it says what cannot be, or less than is stored
	Followed Kind = "followed" // a step ahead
	Refused  Kind = "refused"  // a step that is not followed
	Agreed   Kind = "agreed"   // the house and the machine agree again
)

// A Clock is the clock of a house.
type Clock struct {
	machine        Machine
	floor, ceiling time.Time
	Wake           chan struct{} // receives after a notice

	mu      sync.Mutex
	at      time.Time                // what it last told
	spent   time.Duration            // the machine's count then
	began   time.Time                // at, when this clock was made
	start   time.Duration            // spent then
	set     bool                     // a time of the machine, or of a sensor, was believed since
	idle    bool                     // nothing runs by time: nobody minds if an hour is a bit longer
	odd     time.Duration            // what half of the last count left over: else who waits for the rest of it waits for ever
	doubted bool                     // the machine says something else than we
	off     time.Duration            // how far the machine is ahead of us, while doubted
	step    *step                    // ahead, and not yet followed
	heard   map[string]time.Duration // by sensor: the machine's count when it last agreed
	shown   map[string]shown         // by sensor, of a clock that is not set
	refuses bool                     // a sensor has said that the step at off is none
	news    []Notice
}

// New returns a clock that goes on from last, the newest time that is stored; zero if
// nothing is. Nothing before made, when this flitch was built, can be a time of now.
func New(m Machine, last, made time.Time) *Clock {
	c := &Clock{machine: m, floor: made, Wake: make(chan struct{}, 1), heard: map[string]time.Duration{}, shown: map[string]shown{}}
	newest := later(made, last)
	c.ceiling = newest.Add(Ahead)
	wall, spent := m.Times()
	c.spent, c.start = spent, spent
	c.at = later(newest, wall)
	if !c.canBe(wall) || wall.Before(newest.Add(-Step)) {
		c.at = newest
		c.doubted, c.off = true, wall.Sub(newest)
		c.tell(Notice{Kind: Unset, From: newest, To: wall, Since: newest})
	}
	c.set = !c.doubted
	c.began = c.at
	return c
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// Now is the time of the house, UTC. It never runs backwards.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.look()
}

// After waits by the machine's timers: they stand while it is suspended.
func (c *Clock) After(d time.Duration) <-chan time.Time { return c.machine.After(d) }

// Idle says whether nothing runs by time, so that the house may come back to the machine.
func (c *Clock) Idle(is bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.look()
	c.idle = is
}

// Notices takes out what happened since the last call. The last of them may be a step ahead:
// it is taken over by Follow, and told of again until then.
func (c *Clock) Notices() []Notice {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.look()
	news := c.news
	c.news = nil
	if n, ok := c.followed(); ok {
		news = append(news, n)
	}
	return news
}

// Off is how far the clock of the machine is ahead of the house, if they do not agree.
func (c *Clock) Off() (off time.Duration, doubted bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.look()
	return c.off, c.doubted
}

// look moves the clock on. The lock is held.
func (c *Clock) look() time.Time {
	wall, spent := c.machine.Times()
	passed := max(0, spent-c.spent)
	own := c.at.Add(passed)
	off := wall.Sub(own)
	switch {
	case !c.canBe(wall):
		c.refuse(own, wall)
	case off.Abs() <= Step:
		own = c.agree(later(c.at, wall))
	case off > 0 && (off <= Longest || !c.set):
		c.ahead(own, wall, spent)
	case off < 0 && c.idle:
		passed += c.odd
		c.odd = passed % 2
		own = c.comeBack(c.at.Add(passed/2), wall)
	default:
		c.refuse(own, wall)
	}
	c.at, c.spent = own, spent
	return own
}

// comeBack lets the machine catch up with us.
func (c *Clock) comeBack(own, wall time.Time) time.Time {
	if !wall.Before(own.Add(-Step)) {
		return c.agree(later(own, wall))
	}
	c.refuse(own, wall)
	return own
}

func (c *Clock) canBe(wall time.Time) bool { return !wall.Before(c.floor) && wall.Before(c.ceiling) }

func (c *Clock) agree(own time.Time) time.Time {
	if c.doubted {
		c.tell(Notice{Kind: Agreed, From: own, To: own})
	}
	c.doubted, c.off, c.set, c.step, c.refuses = false, 0, true, nil, false
	return own
}

// refuse counts on by itself and tells of each new step once.
func (c *Clock) refuse(own, wall time.Time) {
	off := wall.Sub(own)
	slow := c.idle && off < 0 // then it shrinks by itself
	if !c.doubted || !slow && (off-c.off).Abs() > Step || slow && off < c.off-Step {
		c.tell(Notice{Kind: Refused, From: own, To: wall})
	}
	c.doubted, c.off = true, off
	if c.step != nil && !c.step.byOne {
		c.step = nil
	}
}

func (c *Clock) tell(n Notice) {
	const kept = 100 // a clock that jumps all the time has been told of
	if len(c.news) < kept {
		c.news = append(c.news, n)
	}
	c.wake()
}

func (c *Clock) wake() {
	select {
	case c.Wake <- struct{}{}:
	default:
	}
}
