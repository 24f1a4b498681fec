package process

import "time"

// offBackK is how far under its set point a chamber counts as back, K: where H3 ends.
const offBackK = 15 / 1.8

// An OffCard is what is known of a heat that was lost. It holds no verdict.
type OffCard struct {
	SetC  float64 // of the stage, °C; 0: it sets none, and the times are those of the alarm
	LineC float64 // the chamber counts as off below it, °C
	From  Moment  // zero: not measured
	Until Moment  // zero: it is not back

	Chamber OffCourse
	Cores   []OffCourse // the coldest now comes first

	ComeUp *Clock // nil: the plan asks for none

	Doses     []DoseEntry // in force
	Undosed   []string    // pieces no dose is known of
	Punctured []string    // pieces a core probe is in, or that were pumped
}

// An OffCourse is what one probe read while the heat was lost. Nil is not measured.
type OffCourse struct {
	Piece  string
	AtOff  *Sample
	Lowest *Sample
	Now    *Sample
	Below  *Above // of a core: the upper line of the come-up rule
	Gaps   []Gap
}

// OffCard puts together what is known of the loss of heat that an alarm told of at since.
// chamber and cores are the readings from the heat stage on, cores by their slab.
func (b *Batch) OffCard(since, now time.Time, chamber Readings, cores map[string]Readings) OffCard {
	stage := b.heatStage()
	c := OffCard{SetC: stage.SetC, From: Moment{Earliest: since, Latest: since, Seen: true}, Doses: b.DosesInForce(), Punctured: b.punctured()}
	for _, p := range b.Pieces {
		if b.Dose(p.Name) == nil {
			c.Undosed = append(c.Undosed, p.Name)
		}
	}
	if stage.SetC > 0 {
		c.LineC = stage.SetC - offBackK
		c.From, c.Until = chamber.lost(since, c.LineC)
	}
	start := c.From.Earliest
	if start.IsZero() {
		start = since
	}
	if left := b.heatLeft(); !left.IsZero() && left.Before(now) {
		now = left
	}
	c.Chamber = chamber.course(start, now)
	for _, t := range b.CoreTracks() {
		course := cores[t.Probe.Piece].course(start, now)
		course.Piece = t.Probe.Piece
		if b.Plan.ComeUp.ToC > 0 && course.Now != nil {
			below := cores[t.Probe.Piece].within(start, now).below(start, b.Plan.ComeUp.ToC)
			course.Below = &below
		}
		c.Cores = append(c.Cores, course)
	}
	if clock, asked := b.comeUpClock(); asked {
		c.ComeUp = &clock
	}
	return c
}

// lost is when the readings fell under a line before since, and when they were back.
func (r Readings) lost(since time.Time, line float64) (from, until Moment) {
	held := -1
	for i, s := range r.Samples {
		if s.At.After(since) {
			break
		}
		if s.Value >= line {
			held = i
		}
	}
	if held < 0 || held+1 == len(r.Samples) {
		return from, until
	}
	from = r.between(r.Samples[held], r.Samples[held+1])
	for i := held + 1; i < len(r.Samples); i++ {
		if r.Samples[i].Value >= line {
			return from, r.between(r.Samples[i-1], r.Samples[i])
		}
	}
	return from, until
}

func (r Readings) course(from, now time.Time) OffCourse {
	part := r.within(from, now)
	if len(part.Samples) == 0 {
		return OffCourse{}
	}
	c := OffCourse{Lowest: part.lowest(), Now: part.last(), Gaps: part.gaps(now)}
	if !part.Samples[0].At.After(from) && from.Sub(part.Samples[0].At) <= r.Spacing {
		c.AtOff = &part.Samples[0]
	}
	return c
}

// heatStage is the heat stage the batch is in, or was in last.
func (b *Batch) heatStage() StagePlan {
	for i := len(b.Stages) - 1; i >= 0; i-- {
		if s := b.Plan.stage(b.Stages[i].Name); s.Heat {
			return s
		}
	}
	return StagePlan{}
}

// HeatEntered is when the first heat stage was entered; zero: none was.
func (b *Batch) HeatEntered() time.Time {
	for _, e := range b.Stages {
		if b.Plan.stage(e.Name).Heat {
			return e.Entered
		}
	}
	return time.Time{}
}

// punctured are the pieces whose inside was reached by a probe or a needle.
func (b *Batch) punctured() (out []string) {
	for _, p := range b.Pieces {
		e := b.Dose(p.Name)
		pumped := e != nil && e.Said.Method == "pumped"
		probed := false
		b.eachTrack(Core, func(t *Track) { probed = probed || t.Probe.Piece == p.Name && t.Samples > 0 })
		if pumped || probed {
			out = append(out, p.Name)
		}
	}
	return out
}
