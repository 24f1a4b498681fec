package process

import (
	"time"

	"flitch/process/heat"
)

// A CookForecast is when a core will be at the target of its stage.
type CookForecast struct {
	Piece   string    `json:"piece"`
	TargetC float64   `json:"target_c"`
	At      time.Time `json:"at,omitzero"` // the best single time; zero: not today
	Low     time.Time `json:"low,omitzero"`
	High    time.Time `json:"high,omitzero"` // zero: perhaps not today
	// NotToday is the share of the pieces that might be this one that are not there in
	// a day, 0 to 1.
	NotToday float64 `json:"not_today"`
	ChamberC float64 `json:"chamber_c"` // it is for a chamber that stays so
}

// CookForecasts makes the forecasts of cooks. It keeps a thousand pieces of meat for
// each core and lets them follow the minutes that came since it was last asked; asked
// of a batch it does not know, it follows the cook from its start. The zero value is
// ready. It is no state of the batch: lost, it is made anew from it.
type CookForecasts struct {
	cores map[string]*following
}

// A following is the ensemble of one core and how far it has come.
type following struct {
	course  time.Time // start of the course it follows
	minutes int
	pieces  *heat.Ensemble
	made    CookForecast
	ok      bool
	asked   question
	fan     CookFan
	fanned  question
}

// follow gives the ensemble the minutes it has not seen.
func (g *following) follow(course *Course) {
	for ; g.minutes < len(course.Core); g.minutes++ {
		if m, ok := course.minute(g.minutes); ok {
			g.pieces.Advance(m)
		}
	}
}

// A question is what a forecast answers: asked again, the answer stands.
type question struct {
	minutes int
	targetC float64
	stalled bool
}

// Slowest returns the forecast for the core that will be there last. ok is false
// outside a heat stage with a core target, and in the first half hour of the meat.
func (f *CookForecasts) Slowest(b *Batch) (slowest CookForecast, ok bool) {
	target := b.Stage().CoreC
	if !b.Open() || !b.Stage().Heat || target == 0 {
		return CookForecast{}, false
	}
	for _, t := range b.Tracks {
		if t.Probe.Placement != Core || t.Watch == nil || t.Old(b.Now) || t.Doubted() {
			continue
		}
		if made, known := f.of(b, t, target); known && (!ok || made.later(slowest)) {
			slowest, ok = made, true
		}
	}
	return slowest, ok
}

func (c CookForecast) later(other CookForecast) bool {
	if c.At.IsZero() || other.At.IsZero() {
		return c.At.IsZero() && !other.At.IsZero()
	}
	return c.At.After(other.At)
}

// of is the forecast for one core.
func (f *CookForecasts) of(b *Batch, t *Track, target float64) (CookForecast, bool) {
	course := &t.Watch.Course
	g := f.following(b, t)
	g.follow(course)
	asked := question{g.minutes, target, t.Watch.Cook.Slow.Open}
	if g.asked == asked {
		return g.made, g.ok
	}
	g.asked = asked
	o, ok := g.pieces.Outlook(target, asked.stalled)
	now := course.From.Add(time.Duration(g.minutes-1) * time.Minute)
	at := func(e heat.ETA) time.Time {
		if e.Never {
			return time.Time{}
		}
		return now.Add(time.Duration(e.Min * float64(time.Minute)))
	}
	g.made, g.ok = CookForecast{Piece: t.Probe.Piece, TargetC: target, At: at(o.Point), Low: at(o.Early), High: at(o.Late),
		NotToday: o.NotToday, ChamberC: o.ChamberC}, ok
	return g.made, g.ok
}

// following returns the ensemble of a core, a fresh one for a course it does not know.
func (f *CookForecasts) following(b *Batch, t *Track) *following {
	key, course := b.ID+"\x00"+t.Probe.Probe, &t.Watch.Course
	g := f.cores[key]
	if g == nil || !g.course.Equal(course.From) || g.minutes > len(course.Core) {
		if f.cores == nil {
			f.cores = map[string]*following{}
		}
		g = &following{course: course.From, pieces: heat.NewCookEnsemble(b.chamberHumidity())}
		f.cores[key] = g
	}
	return g
}

// Forget drops what is kept of batches that are not among those named.
func (f *CookForecasts) Forget(open []*Batch) {
	for key := range f.cores {
		known := false
		for _, b := range open {
			known = known || len(key) > len(b.ID) && key[:len(b.ID)+1] == b.ID+"\x00"
		}
		if !known {
			delete(f.cores, key)
		}
	}
}

// chamberHumidity is the humidity of the chamber, kg of water a kg of dry air, where a
// probe tells it; 0 is not known. The pressure is taken for that of sea level.
func (b *Batch) chamberHumidity() float64 {
	chamber := b.TrackOf(Chamber)
	if chamber == nil {
		return 0
	}
	if wet := b.TrackOf(WetBulb); wet != nil {
		if air, ok := heat.AirOfWetBulb(chamber.Last.Value, wet.Last.Value, heat.SeaLevelPa); ok {
			return air.Humidity
		}
	}
	if rh := b.TrackOf(Humidity); rh != nil {
		if air, ok := heat.AirOfRH(chamber.Last.Value, rh.Last.Value, heat.SeaLevelPa); ok {
			return air.Humidity
		}
	}
	return 0
}
