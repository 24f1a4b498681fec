package process

import (
	"math"
	"time"

	"flitch/process/heat"
)

// A Course is what chamber and core were in each minute of a cook, for the forecast:
// it needs the whole of it, and is too slow to be made anew with each reading.
type Course struct {
	From    time.Time `json:"from,omitzero"` // the first minute
	Chamber []int32   `json:"chamber"`       // hundredths of a degree, °C; noMinute: not measured
	Core    []int32   `json:"core"`
}

const (
	noMinute  = math.MinInt16
	maxCourse = 48 * 60 // minutes; a longer cook has no forecast
)

// put adds a minute; those left out are not measured.
func (c *Course) put(at time.Time, m heat.Minute) {
	if c.From.IsZero() {
		c.From = at
	}
	n := int(at.Sub(c.From) / time.Minute)
	if n < len(c.Core) || n >= maxCourse {
		return
	}
	for len(c.Core) < n {
		c.Chamber, c.Core = append(c.Chamber, noMinute), append(c.Core, noMinute)
	}
	c.Chamber = append(c.Chamber, hundredths(m.ChamberC, m.Flags&(heat.NoChamber|heat.BadChamber) == 0))
	c.Core = append(c.Core, hundredths(m.CoreC, m.Flags&(heat.NoCore|heat.BadCore) == 0))
}

func hundredths(v float64, known bool) int32 {
	if !known {
		return noMinute
	}
	return int32(math.Round(100 * v))
}

// minute returns minute n; ok is false when nothing was measured in it.
func (c *Course) minute(n int) (m heat.Minute, ok bool) {
	m = heat.Minute{Min: minuteOf(c.From) + float64(n), ChamberC: float64(c.Chamber[n]) / 100, CoreC: float64(c.Core[n]) / 100}
	if c.Chamber[n] == noMinute {
		m.Flags |= heat.NoChamber
	}
	if c.Core[n] == noMinute {
		m.Flags |= heat.NoCore
	}
	return m, m.Flags != heat.NoChamber|heat.NoCore
}
