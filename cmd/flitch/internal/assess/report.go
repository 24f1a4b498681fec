package assess

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"time"

	"flitch/alerts"
	"flitch/process"
)

// A Report is what a file comes to.
type Report struct {
	Plan       string              `json:"plan"`
	Verdict    process.Verdict     `json:"verdict"`
	Clocks     []process.Clock     `json:"clocks"`
	Estimates  []process.Estimate  `json:"estimates"` // by models: they explain, the clocks judge
	Excursions []Excursion         `json:"excursions"`
	Events     []process.Happening `json:"events"`
	Alarms     []Alarm             `json:"alarms"`
	Forecasts  []Forecast          `json:"forecasts"`
	Probes     []ProbeCount        `json:"probes"`
	Left       []Left              `json:"left_out"`
	From       time.Time           `json:"from"`
	To         time.Time           `json:"to"`
}

// An Excursion is a time outside a limit.
type Excursion struct {
	What  string    `json:"what"`
	Probe string    `json:"probe"`
	From  time.Time `json:"from"`
	To    time.Time `json:"to"`
	Worst float64   `json:"worst"` // °C
	Limit float64   `json:"limit"` // °C
}

// An Alarm is one that would have been raised.
type Alarm struct {
	ID       string    `json:"id"`
	Level    string    `json:"level"`
	Raised   time.Time `json:"raised"`
	Cleared  time.Time `json:"cleared,omitzero"`
	Answered time.Time `json:"answered,omitzero"` // by an event of the file
	Message  string    `json:"message"`
}

// A Forecast is when something was expected, as it looked at the time Made. No time
// is not today: the interval may be open to that side.
type Forecast struct {
	What string    `json:"what"`
	At   time.Time `json:"at,omitzero"`
	Low  time.Time `json:"low,omitzero"`
	High time.Time `json:"high,omitzero"`
	Made time.Time `json:"made"`
}

// A ProbeCount says how much of a probe was believed.
type ProbeCount struct {
	Probe     string            `json:"probe"`
	Placement process.Placement `json:"placement"`
	Believed  int64             `json:"believed"`
	Bad       int64             `json:"bad"`
	Gaps      int64             `json:"gaps"`
	Longest   string            `json:"longest_gap"`
}

func (s *run) report(left []Left) *Report {
	b := s.batch
	r := &Report{Plan: b.Plan.Name, Verdict: b.Verdict(s.Now), Clocks: b.Clocks(s.Now), Estimates: b.Estimates(), Excursions: s.scan.done(),
		Events: append([]process.Happening{}, b.Happenings...), Alarms: []Alarm{}, Forecasts: s.forecasts, Left: left, From: b.Started, To: s.Now}
	for _, number := range slices.Sorted(maps.Keys(s.Alarms)) {
		o := s.Alarms[number]
		r.Alarms = append(r.Alarms, Alarm{ID: o.Entry, Level: o.Level.String(), Raised: o.RaisedAt, Cleared: o.ClearedAt, Answered: answered(o), Message: o.Title + ": " + o.Subject})
	}
	for _, t := range b.Tracks {
		r.Probes = append(r.Probes, ProbeCount{t.Probe.Probe, t.Probe.Placement, t.Samples, t.Bad, t.GapCount, t.Longest.String()})
	}
	slices.SortStableFunc(r.Left, func(a, b Left) int { return cmp.Or(cmp.Compare(a.File, b.File), cmp.Compare(a.Line, b.Line)) })
	if r.Left == nil {
		r.Left = []Left{}
	}
	if r.Estimates == nil {
		r.Estimates = []process.Estimate{}
	}
	if r.Forecasts == nil {
		r.Forecasts = []Forecast{}
	}
	return r
}

// answered is when somebody first said to be on it.
func answered(o alerts.Occurrence) time.Time {
	if len(o.Answers) == 0 {
		return time.Time{}
	}
	return o.Answers[0].At
}

// forecastEvery keeps the list of forecasts short.
const (
	forecastEvery     = 10 * time.Minute
	cookForecastEvery = 30 * time.Minute
	cureForecastEvery = 6 * time.Hour
)

// forecast notes when the running leg of the chill will end, the slowest core will be
// at its target, what is in the fridge will be at its limit, and now and then when the
// cure is likely through.
func (s *run) forecast() {
	if s.Now.Sub(s.forecasted) < forecastEvery {
		return
	}
	s.forecasted = s.Now
	note := func(what string, at, low, high time.Time) {
		s.forecasts = append(s.forecasts, Forecast{What: what, At: at.Truncate(time.Second), Low: low.Truncate(time.Second), High: high.Truncate(time.Second), Made: s.Now})
	}
	if f, ok := s.batch.ChillForecast(s.Now); ok {
		note(process.ChillName(f.Leg)+" ends", f.At, f.Low, f.High)
	}
	if s.Now.Sub(s.cookForecasted) >= cookForecastEvery {
		s.forecastCook(note)
	}
	for _, p := range s.places {
		if e, ok := p.ProductEstimate(); ok && e.Reaches && e.Minutes > 0 {
			at := s.Now.Add(time.Duration(e.Minutes * float64(time.Minute)))
			note(fmt.Sprintf("product in the fridge at %.1f °C, by its air", e.LimitC), at, at, at)
		}
	}
	if s.Now.Sub(s.cureForecasted) < cureForecastEvery {
		return
	}
	for _, f := range s.batch.DryingForecasts() {
		s.cureForecasted = s.Now
		note("piece "+f.Piece+" dry enough by weight", f.At, f.Low, f.High)
	}
	if f, ok := s.batch.CureFinish(s.Now); ok {
		s.cureForecasted = s.Now
		note("cure likely through by diffusion", f.At, f.Low, f.High)
	}
}

func (s *run) forecastCook(note func(what string, at, low, high time.Time)) {
	if f, ok := s.cooks.Slowest(s.batch); ok {
		s.cookForecasted = s.Now
		note(fmt.Sprintf("core at %.1f °C", f.TargetC), f.At, f.Low, f.High)
	}
}
