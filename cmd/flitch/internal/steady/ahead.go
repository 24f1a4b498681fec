package steady

import "time"

// ahead decides on a clock that says more than has passed.
func (c *Clock) ahead(own, wall time.Time, spent time.Duration) time.Time {
	off := wall.Sub(own)
	if c.refuses && (off-c.off).Abs() <= Step {
		c.refuse(own, wall)
		return own
	}
	c.refuses = false
	if off <= 2*agrees || !c.witnessed(spent) {
		return c.follow(own, wall, own)
	}
	if c.waits == nil || (c.waits.off-off).Abs() > Step {
		c.waits = &wait{own, spent, off}
	}
	if spent-c.waits.spent < patience {
		return own
	}
	return c.follow(own, wall, c.waits.at)
}

// witnessed reports whether a sensor with a clock of its own agreed with us lately.
func (c *Clock) witnessed(spent time.Duration) bool {
	for _, at := range c.heard {
		if spent-at <= lately {
			return true
		}
	}
	return false
}

// follow takes the new time over. Soon after a start what is missing may have passed while
// we were off, and stands at the wrong place then.
func (c *Clock) follow(own, to, since time.Time) time.Time {
	if c.spent-c.start < early {
		since = c.began
	}
	c.tell(Notice{Kind: Followed, From: own, To: to, Since: since})
	c.doubted, c.off, c.set, c.waits = false, 0, true, nil
	return to
}

// Witness takes the time that a sensor's clock shows now. known says that the sensor was
// believed before this start: only such a one may set a clock that is not set.
func (c *Clock) Witness(sensor string, shows time.Time, known bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	own := c.look()
	switch off := shows.Sub(own); {
	case off.Abs() <= agrees:
		c.heard[sensor] = c.spent
		if c.waits != nil { // it agrees with us, and not with the machine
			c.refuses = true
			c.refuse(own, c.machine.Wall().Round(0))
		}
	case c.waits != nil && (c.waits.off-off).Abs() <= agrees:
		c.at = c.follow(own, c.machine.Wall().Round(0), c.waits.at)
	case !c.set && known && off > 0 && off <= byDevice:
		c.at = c.follow(own, shows, own)
		c.ceiling = later(c.ceiling, shows.Add(Ahead))
	}
}
