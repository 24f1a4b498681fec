package process

import (
	"slices"
	"time"

	"flitch/process/cure"
)

// DryingRule says how much weight a piece has to lose, and where.
type DryingRule struct {
	Loss   float64     `json:"loss" toml:"loss"`               // to be lost of the green weight, 0 to 1
	Limit  float64     `json:"limit,omitempty" toml:"limit"`   // lost at the very end of drying, 0 to 1; zero is that of lean meat
	Stages []StageName `json:"stages,omitempty" toml:"stages"` // in which it dries
	RHLow  float64     `json:"rh_low,omitempty" toml:"rh_low"` // band of the room, %; zero RHHigh: not watched
	RHHigh float64     `json:"rh_high,omitempty" toml:"rh_high"`
	Rule   string      `json:"rule" toml:"rule"`
	Source string      `json:"source" toml:"source"`

	// Protein of the green meat, 0 to 1, for an estimate of the water activity beside
	// it; that needs the water and the salt of the cure too. Zero: none is made.
	Protein float64 `json:"protein,omitempty" toml:"protein"`
}

// scaleEvery is how often the reading of a scale is taken for a weighing.
const scaleEvery = 6 * time.Hour

// weighScale takes the reading of a scale under a drying piece for a weighing.
func (b *Batch) weighScale(t *Track, s Sample) {
	if t.Probe.Placement != Weight || !b.canWeigh(t.Probe.Piece, s.Value) || !slices.Contains(b.Plan.Drying.Stages, b.Stage().Name) {
		return
	}
	for i := len(b.Hand) - 1; i >= 0; i-- {
		if h := b.Hand[i]; h.Placement == Weight && h.Piece == t.Probe.Piece && h.By == t.Probe.Probe && s.At.Sub(h.At) < scaleEvery {
			return
		}
	}
	b.Hand = append(b.Hand, HandEntry{At: s.At, Typed: b.Now, By: t.Probe.Probe, Placement: Weight, Piece: t.Probe.Piece, Value: s.Value})
}

// weighings returns what a piece weighed, g, in order of time. A weighing that names
// no piece is of the only one.
func (b *Batch) weighings(piece string) []Sample {
	var out []Sample
	for _, h := range b.Hand {
		if h.Placement == Weight && !h.Rung.partial() && (h.Piece == piece || h.Piece == "" && len(b.Pieces) == 1) {
			out = append(out, Sample{h.At, h.Value})
		}
	}
	slices.SortStableFunc(out, func(a, b Sample) int { return a.At.Compare(b.At) })
	return out
}

// dryingSpan is from the first entry to the last leaving of the drying stages.
func (b *Batch) dryingSpan() (from, to time.Time, running bool) {
	for _, e := range b.Stages {
		if !slices.Contains(b.Plan.Drying.Stages, e.Name) {
			continue
		}
		if from.IsZero() {
			from = e.Entered
		}
		to, running = e.Left, e.Left.IsZero()
	}
	return from, to, running
}

// dryingClock is the piece that lost the least of its green weight.
func (b *Batch) dryingClock() (Clock, bool) {
	rule := b.Plan.Drying
	if rule.Loss == 0 {
		return Clock{}, false
	}
	c := Clock{Name: ClockDrying, Rule: rule.Rule, Source: rule.Source, Limit: 100 * rule.Loss, AtLeast: true, Unit: "%"}
	c.From, c.To, c.Running = b.dryingSpan()
	for i, p := range b.Pieces {
		weighed := b.weighings(p.Name)
		if len(weighed) == 0 {
			c.doubt("piece %s was not weighed", p.Name)
			c.Sum = 0
			c.Verdict = b.unmeasuredUntil(func(b *Batch) bool { return !b.Open() || !c.From.IsZero() && !c.Running })
			return c, true
		}
		if lost := 100 * (1 - weighed[len(weighed)-1].Value/p.GreenG); i == 0 || lost < c.Sum {
			c.Sum = lost
		}
	}
	c.Verdict = atLeast(c)
	return c, true
}

// A DryingForecast is when a piece will have lost enough.
type DryingForecast struct {
	Piece string `json:"piece"`
	Forecast
	Promised  bool `json:"promised"`  // at least two weighings stand behind it
	Hardening bool `json:"hardening"` // it dries ever slower: the surface may have closed
}

// DryingForecasts fits each piece's weighings and carries them on to the loss of the
// rule. Pieces that are there, were not weighed since drying began, or lost nothing
// have none.
func (b *Batch) DryingForecasts() []DryingForecast {
	from, _, running := b.dryingSpan()
	if b.Plan.Drying.Loss == 0 || !running {
		return nil
	}
	var out []DryingForecast
	for _, p := range b.Pieces {
		if f, ok := b.Plan.Drying.forecast(p, b.weighings(p.Name), from, b.Plan.Cure.Shape); ok {
			out = append(out, f)
		}
	}
	return out
}

// forecast takes the last weighing before a day of drying is over for the weight it
// began with, and the green weight when there is none.
func (r DryingRule) forecast(p Piece, weighed []Sample, from time.Time, shape string) (DryingForecast, bool) {
	start := Sample{from, p.GreenG}
	var series []cure.Weighing
	for _, w := range weighed {
		if w.At.Sub(from) < 24*time.Hour {
			start = Sample{later(w.At, from), w.Value}
			continue
		}
		series = append(series, cure.Weighing{Days: w.At.Sub(start.At).Hours() / 24, Loss: 1 - w.Value/start.Value})
	}
	limit := r.Limit
	if limit == 0 {
		limit = cure.LeanLimit
	}
	d := cure.Drying{PathM: cure.Path(shapeOf(shape), p.ThicknessMM/1000, p.SkinOn), Limit: limit}
	f, err := d.Forecast(series, 1-p.GreenG*(1-r.Loss)/start.Value)
	if err != nil {
		return DryingForecast{}, false
	}
	at := func(days float64) time.Time { return start.At.Add(hoursOf(min(24*days, maxDryingHours))) }
	return DryingForecast{Piece: p.Name, Forecast: Forecast{At: at(f.Days), Low: at(f.Earliest), High: at(f.Latest)},
		Promised: f.Promised, Hardening: f.Hardening}, true
}

// maxDryingHours bounds a date that is too far off to be one: ten years.
const maxDryingHours = 10 * 365 * 24

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// activity estimates the water activity of a piece by what it lost.
func (b *Batch) activity(p Piece) (e Estimate, ok bool) {
	weighed, rule := b.weighings(p.Name), b.Plan.Cure
	if b.Plan.Drying.Protein == 0 || rule.Water == 0 || rule.SaltPct == 0 || len(weighed) == 0 {
		return Estimate{}, false
	}
	product := cure.Product{Water: rule.Water, Protein: b.Plan.Drying.Protein, Salt: rule.SaltPct / 100,
		Loss: max(0, 1-weighed[len(weighed)-1].Value/p.GreenG)}
	a, err := product.Activity()
	if err != nil {
		return Estimate{}, false
	}
	e = Estimate{Name: "water activity", Subject: "piece " + p.Name, Value: a.AW, Low: a.AW - cure.ActivityError, High: a.AW + cure.ActivityError,
		Model: "Pitzer for salt in the water that protein does not bind", Source: "Pitzer and Mayorga 1973, from memory; error by judgement", Provenance: "memory"}
	e.doubt("a loss of weight proves no water activity: have it measured")
	return e, true
}
