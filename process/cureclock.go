package process

import (
	"fmt"
	"time"

	"flitch/process/cure"
)

const mmPerInch = 25.4

// CureSum is the cure earned by what one fridge probe measured.
type CureSum struct {
	Days  float64   `json:"days"`          // at the reference temperature
	Blind float64   `json:"blind"`         // minutes of the cure stage that earned nothing for want of data
	Decay float64   `json:"decay"`         // of nitrite, summed: see cure.NitriteLeft
	From  time.Time `json:"from,omitzero"` // counted from here on: the dose went on then
	Path2 float64   `json:"path2"`         // integral of the diffusivity over the stage, m²: transformed time for a path of 1 m
}

// add earns cure for a part of the cure stage. The rate follows diffusion of
// salt (process/cure): a cold day counts for less and a frozen one for nothing.
// A gap of up to 30 min is bridged, a longer one earns nothing.
func (c *CureSum) add(s span, rule CureRule) {
	if s.stage.Name != StageCure || !s.to.After(c.From) {
		return
	}
	if s.from.Before(c.From) {
		s.segment = s.startingAt(c.From)
	}
	if s.blind() {
		c.Blind += s.minutes()
		return
	}
	c.Days += cure.Days(s.v1, s.v2, s.minutes()/60, rule.ReferenceC)
	c.Path2 += cure.Tau(s.v1, s.v2, s.minutes()/60, 1)
	c.Decay += cure.NitriteDecay(s.v1, s.v2, s.minutes()/60, rule.acidity())
}

// acidity is the pH of the meat, said or usual.
func (r CureRule) acidity() float64 {
	if r.PH == 0 {
		return cure.DefaultPH
	}
	return r.PH
}

// cureLimit is what the user's rule asks for, in days at the reference
// temperature, for the thickest piece.
func (b *Batch) cureLimit() float64 {
	thickest := 0.0
	for _, p := range b.Pieces {
		thickest = max(thickest, p.ThicknessMM)
	}
	return b.Plan.Cure.Days + b.Plan.Cure.DaysPerInch*thickest/mmPerInch
}

// cureClock is the slowest of the fridge's probes: the product-like one if there
// is one, else the bare air sensor.
func (b *Batch) cureClock(now time.Time) (Clock, bool) {
	entry, begun := b.entry(StageCure)
	if b.Plan.index(StageCure) < 0 {
		return Clock{}, false
	}
	c := Clock{Name: ClockCure, Rule: b.Plan.Cure.Rule, Source: b.Plan.Cure.Source, Limit: b.cureLimit(),
		AtLeast: true, Unit: "d", From: entry.Entered, To: entry.Left, Running: begun && entry.Left.IsZero()}
	tracks := b.fridgeTracks(&c, StageCure)
	if len(tracks) == 0 || entry.passedBy() {
		c.Verdict = NotMeasured
		return c, true
	}
	slowest := tracks[0]
	for _, t := range tracks[1:] {
		if t.Cure.Days < slowest.Cure.Days {
			slowest = t
		}
	}
	c.Sum = slowest.Cure.Days
	if slowest.Cure.From.After(c.From) {
		c.From = slowest.Cure.From
	}
	if slowest.Cure.Blind > 0 {
		c.doubt("no data for %s: nothing earned", hoursText(slowest.Cure.Blind/60))
	}
	c.Verdict = atLeast(c)
	b.doubtDoses(&c)
	return c, true
}

// fridgeTracks returns the tracks that speak for the product in the fridge of a
// stage, and says on the clock when only the air speaks.
func (b *Batch) fridgeTracks(c *Clock, stage StageName) []*Track {
	if product := b.speaking(Product, stage); len(product) > 0 {
		return product
	}
	air := b.speaking(Air, stage)
	if len(air) > 0 {
		c.doubt("only an air sensor in stage %s; the product follows the air slowly", stage)
	}
	return air
}

// speaking returns the tracks of a placement that were heard and speak for the
// stage.
func (b *Batch) speaking(p Placement, stage StageName) []*Track {
	var out []*Track
	b.eachTrack(p, func(t *Track) {
		if t.Samples > 0 && t.speaksIn(b.Plan.stage(stage)) {
			out = append(out, t)
		}
	})
	return out
}

func (c *Clock) doubt(format string, args ...any) {
	c.Uncertain = append(c.Uncertain, fmt.Sprintf(format, args...))
}

// hoursText prints hours as "3 h 25 min" or "40 min".
func hoursText(h float64) string {
	m := int(h*60 + 0.5)
	if m < 60 {
		return fmt.Sprintf("%d min", m)
	}
	return fmt.Sprintf("%d h %02d min", m/60, m%60)
}
