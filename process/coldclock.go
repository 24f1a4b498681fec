package process

import (
	"slices"
	"time"

	"flitch/process/lethality"
)

// coldTolerance is how far a thermometer of food may be off where the limits of cold
// holding are kept with it, K (Food Code 2022, 4-203.11).
const coldTolerance = 1.0

// ColdSum is the time one fridge probe was above the cold limit.
type ColdSum struct {
	Minutes float64 `json:"minutes"`
	Blind   float64 `json:"blind"`          // minutes in gaps too long to be bridged, with both ends cold
	Near    float64 `json:"near,omitempty"` // minutes that would be above too if the probe reads low by its uncertainty
}

// add counts a part of a cold stage. A gap counts in full when either of its ends
// is above the limit: the warmer end stands for what was not seen. The limit is for
// what is read by a thermometer that is right within coldTolerance; what the probe, K, is
// more uncertain by is kept apart and stands against met.
func (c *ColdSum) add(s span, rule ColdRule, uncertainty float64) {
	if !s.stage.Cold {
		return
	}
	above, blind := minutesAbove(s.segment, rule.AboveC)
	atWorst, _ := minutesAbove(s.shifted(max(0, uncertainty-coldTolerance)), rule.AboveC)
	c.Minutes, c.Blind = c.Minutes+above, c.Blind+blind
	c.Near += max(0, atWorst-above-blind)
}

// minutesAbove is how long a segment was above level, and how long nobody knows.
func minutesAbove(s segment, level float64) (above, blind float64) {
	switch {
	case s.gap && s.warmer() > level:
		return s.minutes(), 0
	case s.blind():
		return 0, s.minutes()
	case s.gap:
		return 0, 0
	}
	return lethality.TimeAbove(s.v1, s.v2, s.minutes(), level), 0
}

// coldClock sums the time above the cold limit over every cold stage: what the
// warmest fridge probe says, and the whole of the stages done by hand, where no
// probe is in the meat.
func (b *Batch) coldClock(now time.Time) (Clock, bool) {
	c := Clock{Name: ClockCold, Rule: b.Plan.Cold.Rule, Source: b.Plan.Cold.Source, Limit: b.Plan.Cold.LimitMinutes, Unit: "min"}
	if c.Limit == 0 {
		return Clock{}, false
	}
	c.From, c.To, c.Running = b.coldSpan()
	unseen, near := 0.0, 0.0
	for _, f := range b.coldFridges(&c, now) {
		c.Sum += f.seen
		unseen += f.blind - f.seen
		near += f.worst - f.blind
	}
	if unseen > 0 {
		c.doubt("no data for %s", hoursText(unseen/60))
	}
	c.doubtNear(near/60, unseen+near)
	end := c.To
	if c.Running || end.IsZero() {
		end = now
	}
	lost := b.lostCold(c.From, end)
	c.doubtLost(lost)
	unseen += 60 * lost
	if byHand := b.byHandMinutes(now); byHand > 0 {
		c.Sum += byHand
		c.doubt("%s of work by hand without a probe, counted in full", hoursText(byHand/60))
	}
	c.Verdict = b.coldVerdict(c, unseen+near)
	return c, true
}

// doubtNear says what the uncertainty of the probe would add, h, when it is that by which
// the limit would not be kept. more is all that may have to be added, in the clock's unit.
func (c *Clock) doubtNear(hours, more float64) {
	if hours > 0 && c.Sum <= c.Limit && c.Sum+more > c.Limit {
		c.doubt("%s more if the probe is off by as much as it is uncertain: a check at a third point makes that less", hoursText(hours))
	}
}

// coldVerdict needs every cold stage that has a fridge to have been heard.
func (b *Batch) coldVerdict(c Clock, unseen float64) Verdict {
	verdict := atMost(c, unseen)
	if verdict != Met {
		return verdict
	}
	for _, e := range b.Stages {
		p := b.Plan.stage(e.Name)
		if p.Cold && p.Where != WhereRoom && len(b.fridgeTracks(&Clock{}, e.Name)) == 0 {
			return NotMeasured
		}
	}
	return verdict
}

// A coldFridge is how long a fridge was warm, min: by the warmest of its probes, by the
// one that may have been warmest while nobody saw it, and by that if it reads low.
type coldFridge struct {
	place              string
	seen, blind, worst float64
}

// coldFridges are those the cold stages were in.
func (b *Batch) coldFridges(c *Clock, now time.Time) []coldFridge {
	var fridges []coldFridge
	for _, t := range b.coldTracks(c) {
		i := slices.IndexFunc(fridges, func(f coldFridge) bool { return f.place == t.Probe.Place })
		if i < 0 {
			i = len(fridges)
			fridges = append(fridges, coldFridge{place: t.Probe.Place})
		}
		f := &fridges[i]
		unseen := t.Cold.Blind + b.tail(t, now) + b.head(t, func(p StagePlan) bool { return p.Cold && t.speaksIn(p) })
		f.seen, f.blind = max(f.seen, t.Cold.Minutes), max(f.blind, t.Cold.Minutes+unseen)
		f.worst = max(f.worst, t.Cold.Minutes+unseen+t.Cold.Near)
	}
	return fridges
}

// coldTracks returns the tracks that speak for the fridges of the cold stages, each once.
func (b *Batch) coldTracks(c *Clock) []*Track {
	var out []*Track
	for _, e := range b.Stages {
		p := b.Plan.stage(e.Name)
		if !p.Cold || p.Where == WhereRoom {
			continue
		}
		for _, t := range b.fridgeTracks(c, e.Name) {
			if !slices.Contains(out, t) {
				out = append(out, t)
			}
		}
	}
	slices.Sort(c.Uncertain)
	c.Uncertain = slices.Compact(c.Uncertain)
	return out
}

// coldSpan returns the first entry and the last leaving of the cold stages, and
// whether the batch is in one now.
func (b *Batch) coldSpan() (from, to time.Time, running bool) {
	for _, e := range b.Stages {
		if !b.Plan.stage(e.Name).Cold {
			continue
		}
		if from.IsZero() {
			from = e.Entered
		}
		to, running = e.Left, e.Left.IsZero()
	}
	return from, to, running
}

// byHandMinutes is the time spent in cold stages that no probe measures.
func (b *Batch) byHandMinutes(now time.Time) float64 {
	sum := 0.0
	for _, e := range b.Stages {
		p := b.Plan.stage(e.Name)
		if !p.Cold || p.Where != WhereRoom {
			continue
		}
		left := e.Left
		if left.IsZero() {
			left = now
		}
		sum += left.Sub(e.Entered).Minutes()
	}
	return sum
}

// tail is the time, in minutes, between the last sample of a track and the end of
// the newest cold stage it should have measured, when that is too long to bridge.
func (b *Batch) tail(t *Track, now time.Time) float64 {
	for i := len(b.Stages) - 1; i >= 0; i-- {
		p := b.Plan.stage(b.Stages[i].Name)
		if !p.Cold || !t.speaksIn(p) {
			continue
		}
		end := b.Stages[i].Left
		if end.IsZero() {
			end = now
		}
		if d := end.Sub(t.Last.At); d > interpolable {
			return d.Minutes()
		}
		return 0
	}
	return 0
}
