package process

import (
	"fmt"
	"math"
	"time"

	"flitch/process/heat"
	"flitch/process/lethality"
	"flitch/process/rules"
)

// HumidityRule names a way to keep the air of a cook moist, in process/rules.
type HumidityRule struct {
	Option string `json:"option,omitempty" toml:"option"`
	Rule   string `json:"rule,omitempty" toml:"rule"`
	Source string `json:"source,omitempty" toml:"source"`
}

// MoistSum is how long one probe found the air of the cook moist enough.
type MoistSum struct {
	Minutes float64 `json:"minutes"`
	Cook    float64 `json:"cook"`  // minutes of the cook from its first reading to its last
	Blind   float64 `json:"blind"` // minutes of them that earned nothing for want of data
	LastRH  float64 `json:"last_rh"`
}

// moist counts a part of a segment of a humidity or wet-bulb probe in a heat stage,
// until every core has met its row. The uncertainty of the probe is taken off first.
func (b *Batch) moist(t *Track, s span) {
	option, ok := rules.Humidity(b.Plan.Humidity.Option)
	if !ok || !s.stage.Heat || b.rowMet() {
		return
	}
	t.Moist.Cook += s.minutes()
	seg, level := s.shifted(-t.Uncertainty()), option.LeastWetBulbC
	if option.LeastRH > 0 {
		seg, level = b.relative(t, seg), option.LeastRH
	}
	switch {
	case level == 0:
	case s.gap, math.IsNaN(seg.v1), math.IsNaN(seg.v2), b.sockUnknown(t):
		t.Moist.Blind += s.minutes()
	default:
		t.Moist.Minutes += lethality.TimeAbove(seg.v1, seg.v2, s.minutes(), level)
	}
}

// sockUnknown reports a wet bulb whose chamber has fallen silent: nobody can tell
// whether its sock is dry.
func (b *Batch) sockUnknown(t *Track) bool {
	chamber := b.TrackOf(Chamber)
	return t.Probe.Placement == WetBulb && chamber != nil && chamber.Old(t.Last.At)
}

// rowMet reports whether the plan asks for a lethality row and every core has met one:
// then the air need not be moist any more.
func (b *Batch) rowMet() bool { return b.Plan.Lethality.Table != "" && b.lethalMet() }

// cookMinutes is how long the meat was in the heat, until every core met its row.
func (b *Batch) cookMinutes() float64 {
	until := time.Time{}
	if b.rowMet() {
		until = b.worstLethal().Lethal.MetAt
	}
	return b.spent(until, func(p StagePlan) bool { return p.Heat }).Minutes()
}

// relative turns the ends of a segment into relative humidity, %: a wet bulb by the
// chamber beside it. NaN where there is none.
func (b *Batch) relative(t *Track, seg segment) segment {
	if t.Probe.Placement == Humidity {
		return seg
	}
	before, now := t.Moist.LastRH, math.NaN()
	if chamber := b.TrackOf(Chamber); chamber != nil {
		if air, ok := heat.AirOfWetBulb(chamber.Last.Value, seg.v2, heat.SeaLevelPa); ok {
			now, _ = air.RH()
		}
	}
	t.Moist.LastRH = 0
	if !math.IsNaN(now) {
		t.Moist.LastRH = now
	}
	seg.v1, seg.v2 = before, now
	return seg
}

// humidityClock is the probe that found the most, for the options that a sensor can
// decide.
func (b *Batch) humidityClock() (Clock, bool) {
	option, ok := rules.Humidity(b.Plan.Humidity.Option)
	if !ok {
		return Clock{}, false
	}
	c := Clock{Name: ClockHumidity, Rule: b.Plan.Humidity.Rule, Source: b.Plan.Humidity.Source, AtLeast: true, Unit: "h", Limit: option.LeastHours}
	t := b.moistest(option)
	if t == nil {
		c.doubt("no probe that tells it was heard: a person has to say so")
		c.Verdict = b.unmeasuredUntil(heatOver)
		return c, true
	}
	cook, blind := t.Moist.Cook/60, t.Moist.Blind/60
	// It speaks a little after the fire is lit and stops a little before the end; by
	// more than a gap at each, that part of the cook was not seen.
	if unseen := b.cookMinutes()/60 - cook; unseen > 2*t.Probe.allowed().Hours() {
		cook, blind = cook+unseen, blind+unseen
	}
	c.Sum, c.Running = t.Moist.Minutes/60, b.Open() && b.Stage().Heat
	c.Limit = max(option.LeastHours, option.LeastShare*cook)
	c.Rule = fmt.Sprintf("%s, cook so far %s", c.Rule, hoursText(cook))
	if blind > 0 {
		c.doubt("no data, or a dry sock, for %s: nothing earned", hoursText(blind))
	}
	if option.Note != "" {
		c.doubt("%s", option.Note)
	}
	c.Verdict = b.moistVerdict(c, option, cook, blind)
	return c, true
}

// moistVerdict waits for the end of the heat: the share of the cook is not known
// before.
func (b *Batch) moistVerdict(c Clock, option rules.HumidityOption, cook, blind float64) Verdict {
	switch {
	case c.Running && !b.rowMet():
		return Running
	case c.Sum >= c.Limit-rounding && cook >= option.LeastCookHours && (option.EndpointC == 0 || b.coldestPeak() >= option.EndpointC):
		return Met
	case c.Running:
		return Running
	case blind > 0:
		return NotMeasured
	}
	return NotMet
}

// coldestPeak is the highest temperature of the core that came least far, °C; -infinite
// when none was heard.
func (b *Batch) coldestPeak() float64 {
	peak := math.Inf(1)
	b.eachTrack(Core, func(t *Track) {
		switch {
		case t.notCore():
			peak = math.Inf(-1)
		case t.Samples > 0:
			peak = min(peak, t.Lethal.Highest-t.Uncertainty())
		}
	})
	if math.IsInf(peak, 1) {
		return math.Inf(-1)
	}
	return peak
}

// moistest is the probe that tells what the option asks: relative humidity by either
// kind of probe, a wet bulb by its own.
func (b *Batch) moistest(option rules.HumidityOption) *Track {
	var most *Track
	for _, p := range []Placement{WetBulb, Humidity} {
		if p == Humidity && option.LeastRH == 0 || option.LeastRH == 0 && option.LeastWetBulbC == 0 {
			continue
		}
		b.eachTrack(p, func(t *Track) {
			if t.Moist.Cook > 0 && (most == nil || t.Moist.Minutes > most.Moist.Minutes) {
				most = t
			}
		})
	}
	return most
}
