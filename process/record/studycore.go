package record

import "time"

// reached are the temperatures of which people note the hours: 100, 120, 130 and 145 °F,
// °C; common practice.
var reached = [...]float64{(100 - 32) / 1.8, (120 - 32) / 1.8, (130 - 32) / 1.8, (145 - 32) / 1.8}

// cooled are the temperatures of a cooling log: 80 °F, 45 °F and 40 °F, °C (the legs of
// FSIS-GD-2021-14, and the cold limit of the household advice).
var cooled = [...]float64{(80 - 32) / 1.8, (45 - 32) / 1.8, (40 - 32) / 1.8}

// A coreEar notes when a core was how warm. A reading counts when the next one says so too.
type coreEar struct {
	up      [len(reached)]mark
	down    [len(cooled)]mark
	endC    float64 // the last reading of the heat, °C
	endAt   time.Time
	began   bool // there was a reading in the heat
	highest float64
	topAt   time.Time
}

// A mark is a moment that the reading after it confirms.
type mark struct {
	at   time.Time
	sure bool
}

func (m *mark) see(is bool, at time.Time) {
	switch {
	case m.sure:
	case !is:
		m.at = time.Time{}
	case m.at.IsZero():
		m.at = at
	default:
		m.sure = true
	}
}

// moment is when; the zero time: never, or nothing confirms it.
func (m mark) moment() time.Time {
	if !m.sure {
		return time.Time{}
	}
	return m.at
}

func (c *coreEar) hear(s *study, e *ear, row Row) {
	from, to := s.heat()
	if from.IsZero() || row.Measured.Before(from) {
		return
	}
	if to.IsZero() || row.Measured.Before(to) {
		c.endC, c.endAt, c.began = row.Value, row.Measured, true
		if c.topAt.IsZero() || row.Value > c.highest {
			c.highest, c.topAt = row.Value, row.Measured
		}
		for i, limit := range reached {
			c.up[i].see(row.Value >= limit, row.Measured)
		}
		return
	}
	for i, limit := range cooled {
		c.down[i].see(row.Value <= limit, row.Measured)
	}
}
