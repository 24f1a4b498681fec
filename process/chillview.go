package process

import "time"

// A ChillView is the legs of a chill as a picture shows them.
type ChillView struct {
	Legs      []ChillLeg
	Forecast  *ChillOutlook // of the leg that runs; nil: nothing can be said
	ForecastC float64       // the temperature it is for
}

// A ChillLeg is one leg that has begun, of its slowest core.
type ChillLeg struct {
	Name    string
	Piece   string
	FromC   float64 // 0 with AtOnce
	AtOnce  bool    // counted from the end of the heat, whatever the core
	ToC     float64
	UncertK float64 // of the probe: the core has to read so much lower
	Start   time.Time
	Limit   time.Time
	End     time.Time // zero: not yet
}

// Chill returns the legs that have begun; ok is false when none has.
func (b *Batch) Chill(now time.Time) (out ChillView, ok bool) {
	for i := range chillClocks {
		t := b.slowestLeg(i, now)
		if t == nil {
			continue
		}
		l := t.Legs[i]
		out.Legs = append(out.Legs, ChillLeg{Name: ChillName(i), Piece: t.Probe.Piece, FromC: l.FromC, AtOnce: l.AtOnce, ToC: l.ToC,
			UncertK: t.Probe.Uncertainty, Start: l.Start, Limit: l.Start.Add(hoursOf(l.MaxHours)), End: l.End})
	}
	if f, some := b.ChillForecast(now); some && b.Open() {
		out.Forecast, out.ForecastC = &f, b.slowestLeg(f.Leg, now).Legs[f.Leg].ToC
	}
	return out, len(out.Legs) > 0
}
