package steady

import "time"

// A step is a clock that says more than has passed. The house goes on from it when it is
// due and Follow is called; until then it counts on by itself.
type step struct {
	at    time.Time     // of the house, when it was first seen
	spent time.Duration // the machine's count then
	off   time.Duration // how far ahead
	due   bool          // nobody is waited for
	byOne bool          // a sensor says so, of a clock that is not set
}

// ahead decides on a clock that says more than has passed.
func (c *Clock) ahead(own, wall time.Time, spent time.Duration) {
	off := wall.Sub(own)
	if c.refuses && (off-c.off).Abs() <= Step {
		c.refuse(own, wall)
		return
	}
	c.refuses = false
	if c.step == nil || (c.step.off-off).Abs() > Step {
		c.step = &step{at: own, spent: spent, off: off}
	}
	c.step.off = off
	if off <= 2*agrees || !c.witnessed(c.step.spent) || spent-c.step.spent >= patience {
		c.isDue()
	}
}

func (c *Clock) isDue() {
	if !c.step.due {
		c.step.due = true
		c.wake()
	}
}

// witnessed reports whether a sensor with a clock of its own agreed with us shortly before.
func (c *Clock) witnessed(spent time.Duration) bool {
	for _, at := range c.heard {
		if spent-at <= lately {
			return true
		}
	}
	return false
}

// followed is the notice of a step that is due. Soon after a start what is missing may have
// passed while we were off, and stands at the wrong place then.
func (c *Clock) followed() (Notice, bool) {
	if c.step == nil || !c.step.due {
		return Notice{}, false
	}
	n := Notice{Kind: Followed, From: c.at, To: c.at.Add(c.step.off), Since: c.step.at}
	if c.spent-c.start < early {
		n.Since = c.began
	}
	return n, true
}

// Follow takes over a step that Notices told of. Whoever has to know of it first, so that
// nothing is dated by the new time before, is told in between.
func (c *Clock) Follow() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.look()
	if c.step == nil || !c.step.due {
		return // it was set back in between
	}
	c.at = c.at.Add(c.step.off)
	c.step, c.refuses, c.doubted, c.off = nil, false, false, 0
	c.look()
}

// Witness takes the time that a sensor's clock shows now. known says that the sensor was
// believed before this start: only such a one may set a clock that is not set.
func (c *Clock) Witness(sensor string, shows time.Time, known bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	own := c.look()
	off := shows.Sub(own)
	pending := c.step != nil && !c.step.due
	switch {
	case off.Abs() <= agrees:
		c.heard[sensor] = c.spent
		if pending { // it agrees with us, and not with the machine
			c.step, c.refuses = nil, true
			wall, _ := c.machine.Times()
			c.refuse(own, wall)
		}
	case pending && (c.step.off-off).Abs() <= agrees:
		c.isDue()
	case !c.set && known && off > 0 && shows.Sub(c.began) <= byDevice && c.step == nil && c.live(sensor, shows):
		c.step = &step{at: own, spent: c.spent, off: off, byOne: true}
		c.isDue()
		c.ceiling = later(c.ceiling, shows.Add(Ahead))
	}
}

// A shown is what a sensor's clock showed at a count of the machine.
type shown struct {
	time  time.Time
	spent time.Duration
}

// live reports whether the clock of a sensor went on like ours since its last message. What
// a sensor or a broker kept for us comes faster.
func (c *Clock) live(sensor string, shows time.Time) bool {
	last, spoke := c.shown[sensor]
	c.shown[sensor] = shown{shows, c.spent}
	passed := c.spent - last.spent
	return spoke && passed >= time.Second && (shows.Sub(last.time)-passed).Abs() <= max(time.Second, passed/10)
}
