package process

import (
	"math"
	"slices"
	"testing"
	"time"
)

// minutely are readings a minute apart from a beginning on; NaN is one that is missing.
func minutely(from time.Time, values ...float64) Readings {
	r := Readings{Spacing: 5 * time.Minute}
	for i, v := range values {
		if !math.IsNaN(v) {
			r.Samples = append(r.Samples, Sample{from.Add(time.Duration(i) * time.Minute), v})
		}
	}
	return r
}

func line(n int, from, to float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = from + (to-from)*float64(i)/float64(max(n-1, 1))
	}
	return out
}

var cardsBegin = time.Date(2031, 5, 5, 22, 0, 0, 0, time.UTC)

// stalled is a batch in its cook whose core and chamber were last read just now.
func stalled(core, chamber, rateKPerH float64, hand ...HandEntry) *Batch {
	now := cardsBegin.Add(time.Hour)
	track := func(p Placement, last, rate float64) *Track {
		t := &Track{Probe: PlacedProbe{Probe: string(p), Placement: p, Piece: map[Placement]string{Core: "A"}[p], Interval: time.Minute}, Heard: now, Samples: 60}
		for m := -30; m <= 0; m++ {
			t.Last = Sample{now.Add(time.Duration(m) * time.Minute), last + rate*float64(m)/60}
			t.Recent.add(t.Last)
		}
		return t
	}
	b := &Batch{ID: "X", Now: now, Hand: hand, Plan: Plan{ComeUp: ComeUpRule{FromC: 10, ToC: 54.4, LimitHours: 6},
		Stages: []StagePlan{{Name: StageCook, Where: WhereSmoker, SetC: 80, CoreC: 64, Heat: true}}}, Stages: []StageEntry{{Name: StageCook, Entered: cardsBegin}},
		Tracks: []*Track{track(Core, core, rateKPerH), track(Chamber, chamber, 0)}}
	b.Tracks[0].ComeUp = ComeUpSum{Minutes: 310, Began: cardsBegin}
	return b
}

func TestStallCardJudgesByTheTradesLines(t *testing.T) {
	at := cardsBegin.Add(50 * time.Minute)
	hand := func(c float64) HandEntry { return HandEntry{At: at, By: "M.O.", Placement: Chamber, Value: c} }
	const f = 1 / 1.8
	for _, c := range []struct {
		name                string
		core, chamber, rate float64
		hand                []HandEntry
		want                []StallRule
	}{
		{"Slow Middle: 133 °F, gap 22 °F", (133 - 32) * f, (155 - 32) * f, 0.1, nil, []StallRule{StallNoHeat}},
		{"gap just under 25 °F", 55, 55 + 24.9*f, 0.1, nil, []StallRule{StallNoHeat}},
		{"gap just over 25 °F", 55, 55 + 25.1*f, 0.1, nil, []StallRule{StallEvaporation}},
		{"large gap, too fast for a stall", 55, 80, 3, nil, []StallRule{StallOther}},
		{"large gap, under 110 °F", (109 - 32) * f, 80, 0, nil, []StallRule{StallOther}},
		{"large gap, over 145 °F", (146 - 32) * f, 90, 0, nil, []StallRule{StallOther}},
		{"Wrong Coals: 160 °F by the probe, 130 °F at the grate", (129 - 32) * f, (160 - 32) * f, 0, []HandEntry{hand((130 - 32) * f)}, []StallRule{StallChamber, StallEvaporation}},
		{"the hand agrees", 55, 80, 0, []HandEntry{hand(78)}, []StallRule{StallEvaporation}},
		{"a hand reading of three hours ago", 55, 80, 0, []HandEntry{{At: at.Add(-3 * time.Hour), Placement: Chamber, Value: 40}}, []StallRule{StallEvaporation}},
		{"a hand reading of the core", 55, 80, 0, []HandEntry{{At: at, Placement: Core, Value: 40}}, []StallRule{StallEvaporation}},
	} {
		b := stalled(c.core, c.chamber, c.rate, c.hand...)
		got := b.StallCard(b.Now)
		if !slices.Equal(got.Rules, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got.Rules, c.want)
		}
		if got.LeftH == nil || math.Abs(*got.LeftH-50.0/60) > 1e-9 {
			t.Errorf("%s: left of the come-up clock %v, want 50 min", c.name, got.LeftH)
		}
	}
}

// What nobody measures is not measured: an old chamber, a core that was never heard.
func TestStallCardInventsNothing(t *testing.T) {
	b := stalled(55, 80, 0)
	b.Tracks[1].Last.At = b.Now.Add(-time.Hour)
	if c := b.StallCard(b.Now); c.Chamber != nil || c.GapK != nil || !slices.Equal(c.Rules, []StallRule{StallUnknown}) {
		t.Errorf("with an old chamber: %+v", c)
	}
	b = stalled(55, 80, 0)
	b.Tracks[0].Samples = 0
	if c := b.StallCard(b.Now); c.Core != nil || c.GapK != nil || c.RateK != nil || c.Chamber == nil {
		t.Errorf("without a core: %+v", c)
	}
	b = stalled(55, 80, 0)
	b.Plan.ComeUp = ComeUpRule{}
	if c := b.StallCard(b.Now); c.ComeUp != nil || c.LeftH != nil {
		t.Errorf("without a come-up rule: %+v", c)
	}
}

// Ember at Three: the chamber falls under its line at minute 5, the core dips and is over
// 54.4 °C again, the chamber is back at minute 14.
func TestOffCardOfALostFire(t *testing.T) {
	b := stalled(50, 80, 0)
	b.Pieces = []Piece{{Name: "A"}, {Name: "B"}}
	chamber := minutely(cardsBegin, append(append([]float64{80, 80, 80, 79, 78}, line(9, 65, 45)...), 75, 80, 80)...)
	core := minutely(cardsBegin, 52, 53, 54, 54, 53, 52, 51, 50, 49, 49, 50, 51, 52, 53, 54, 55, 56)
	c := b.OffCard(cardsBegin.Add(8*time.Minute), cardsBegin.Add(16*time.Minute), chamber, map[string]Readings{"A": core})
	minute := func(n int) time.Time { return cardsBegin.Add(time.Duration(n) * time.Minute) }
	if !c.From.Earliest.Equal(minute(4)) || !c.From.Latest.Equal(minute(5)) || !c.From.Seen {
		t.Errorf("off from %+v", c.From)
	}
	if !c.Until.Earliest.Equal(minute(13)) || !c.Until.Latest.Equal(minute(14)) {
		t.Errorf("off until %+v", c.Until)
	}
	if a := c.Cores[0]; a.AtOff.Value != 53 || a.Lowest.Value != 49 || a.Now.Value != 56 || math.Abs(a.Below.Minutes-10.4) > 1e-9 || a.Below.Blind != 0 {
		t.Errorf("core %+v, below %+v", a, a.Below)
	}
	if c.Chamber.Lowest.Value != 45 || len(c.Chamber.Gaps) != 0 {
		t.Errorf("chamber %+v", c.Chamber)
	}
	if !slices.Equal(c.Punctured, []string{"A"}) || !slices.Equal(c.Undosed, []string{"A", "B"}) {
		t.Errorf("punctured %v, undosed %v", c.Punctured, c.Undosed)
	}
}

// A gap over the loss: the earliest and the latest it can have been, and the worse end
// counts for what nobody saw.
func TestOffCardWithAGap(t *testing.T) {
	b := stalled(50, 80, 0)
	no := math.NaN()
	hole := slices.Repeat([]float64{no}, 9)
	chamber := minutely(cardsBegin, slices.Concat([]float64{80}, hole, []float64{50, 50})...)
	core := minutely(cardsBegin, slices.Concat([]float64{60}, hole, []float64{53, 53})...)
	c := b.OffCard(cardsBegin.Add(11*time.Minute), cardsBegin.Add(11*time.Minute), chamber, map[string]Readings{"A": core})
	if c.From.Seen || !c.From.Earliest.Equal(cardsBegin) || !c.From.Latest.Equal(cardsBegin.Add(10*time.Minute)) || !c.Until.Latest.IsZero() {
		t.Errorf("off from %+v until %+v", c.From, c.Until)
	}
	if a := c.Cores[0]; len(a.Gaps) != 1 || a.Below.Minutes != 11 {
		t.Errorf("core %+v below %+v", a, a.Below)
	}
}

func TestOffCardInventsNothing(t *testing.T) {
	b := stalled(50, 80, 0)
	c := b.OffCard(cardsBegin.Add(time.Minute), cardsBegin.Add(9*time.Minute), Readings{}, nil)
	if !c.From.Earliest.IsZero() || !c.From.Latest.IsZero() || c.Chamber.Now != nil || c.Cores[0].AtOff != nil || c.Cores[0].Below != nil {
		t.Errorf("without readings: %+v", c)
	}
	never := minutely(cardsBegin, 50, 51, 52)
	if c := b.OffCard(cardsBegin.Add(2*time.Minute), cardsBegin.Add(2*time.Minute), never, nil); !c.From.Latest.IsZero() {
		t.Errorf("a chamber that never came up was lost at %+v", c.From)
	}
	late := minutely(cardsBegin.Add(30*time.Minute), 60, 60)
	if c := b.OffCard(cardsBegin, cardsBegin.Add(31*time.Minute), minutely(cardsBegin, 80, 60), map[string]Readings{"A": late}); c.Cores[0].AtOff != nil {
		t.Error("a core first heard half an hour later was read at the loss")
	}
}

// Storm: mains off at minute 10, the sensor silent with it, back and warmer at minute 70.
func TestPowerCardOfAStorm(t *testing.T) {
	p := &Place{Name: "alder", Kind: WhereFridge}
	no := slices.Repeat([]float64{math.NaN()}, 59)
	r := ColdReadings{
		Mains:   minutely(cardsBegin, slices.Concat(line(10, 1, 1), []float64{0}, no, []float64{1, 1})...),
		Product: minutely(cardsBegin, slices.Concat(line(11, 3.9, 3.9), no, []float64{7.8, 7.8})...),
		Door:    minutely(cardsBegin, slices.Concat([]float64{1}, line(19, 0, 0), []float64{1, 1, 0, 0, 1}, line(47, 0, 0))...),
	}
	minute := func(n int) time.Time { return cardsBegin.Add(time.Duration(n) * time.Minute) }
	c := p.PowerCard(minute(12), minute(71), false, r)
	if !c.Mains || !c.Off.Earliest.Equal(minute(9)) || !c.Off.Latest.Equal(minute(10)) || !c.On.Latest.Equal(minute(70)) || c.On.Seen {
		t.Errorf("off %+v, on %+v", c.Off, c.On)
	}
	if c.Then.Value != 3.9 || c.Now.Value != 7.8 || c.Peak.Value != 7.8 || c.By != Product {
		t.Errorf("then %v, now %v, peak %v, by %s", c.Then, c.Now, c.Peak, c.By)
	}
	for i, want := range []float64{61, 61, 61, 0} { // the warmer end of the gap stands for all of it
		if c.Above[i].Minutes != want {
			t.Errorf("above %.1f °C for %g min, want %g", c.Above[i].C, c.Above[i].Minutes, want)
		}
	}
	if c.Opened != 2 || c.Gap == nil || c.Gap.To.Sub(c.Gap.From) != time.Hour {
		t.Errorf("opened %d times, gap %+v", c.Opened, c.Gap)
	}
}

func TestPowerCardInventsNothing(t *testing.T) {
	p := &Place{Name: "birch", Kind: WhereFridge}
	if c := p.PowerCard(cardsBegin, cardsBegin.Add(time.Hour), false, ColdReadings{}); c.Mains || c.Door || c.By != "" || c.Then != nil || c.Peak != nil || c.Above != nil {
		t.Errorf("without readings: %+v", c)
	}
	c := p.PowerCard(cardsBegin.Add(2*time.Minute), cardsBegin.Add(3*time.Minute), false, ColdReadings{Air: minutely(cardsBegin, 5, 6, 7, 8), Mains: minutely(cardsBegin, 1, 1, 1, 1)})
	if c.By != Air || !c.Off.Latest.IsZero() || c.Then.Value != 7 || !c.Mains {
		t.Errorf("by the air, never off: %+v", c)
	}
	// Told of hours later, when the readings came: it counts from when they went off.
	late := minutely(cardsBegin, slices.Concat(line(20, 1, 1), line(30, 0, 0), line(200, 1, 1))...)
	c = p.PowerCard(cardsBegin.Add(-24*time.Hour), cardsBegin.Add(249*time.Minute), true, ColdReadings{Mains: late, Air: late})
	if !c.From.Equal(cardsBegin.Add(19*time.Minute)) || !c.On.Latest.Equal(cardsBegin.Add(50*time.Minute)) {
		t.Errorf("told late: counted since %s, off %+v, on %+v", c.From, c.Off, c.On)
	}
	// Off and back long before: another story.
	c = p.PowerCard(cardsBegin.Add(9*time.Minute), cardsBegin.Add(9*time.Minute), false, ColdReadings{Mains: minutely(cardsBegin, 1, 0, 1, 1, 1, 1, 1, 1, 1, 1)})
	if !c.Off.Latest.IsZero() {
		t.Errorf("off at %+v", c.Off)
	}
}
