package process

// atLeast judges a clock whose sum has to reach its limit. A clock that stopped
// short is not met; one still running has no verdict yet.
func atLeast(c Clock) Verdict {
	switch {
	case c.Sum >= c.Limit:
		return Met
	case c.Running || c.From.IsZero():
		return Running
	}
	return NotMet
}

// atMost judges a clock whose sum may not pass its limit, when unseen is the time
// inside it that nobody measured, in the unit of the clock. What was not seen is
// counted at its worst: met needs the unseen time to fit under the limit too.
func atMost(c Clock, unseen float64) Verdict {
	switch {
	case c.Sum > c.Limit:
		return NotMet
	case c.Running:
		return Running
	case c.Sum+unseen > c.Limit:
		return NotMeasured
	}
	return Met
}
