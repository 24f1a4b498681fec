package assess

import (
	"cmp"
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
	Doses      []process.DoseEntry `json:"doses,omitempty"` // in force, with what their checks came to
	Estimates  []process.Estimate  `json:"estimates"`       // by models: they explain, the clocks judge
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

// A ProbeCount says how much of a probe was believed.
type ProbeCount struct {
	Probe     string            `json:"probe"`
	Placement process.Placement `json:"placement"`
	Believed  int64             `json:"believed"`
	Bad       int64             `json:"bad"`
	Gaps      int64             `json:"gaps"`
	Longest   string            `json:"longest_gap"`
	LeftOut   []process.Flagged `json:"left_out,omitempty"` // why those that did not count did not
}

func (s *run) report(left []Left) *Report {
	b := s.batch
	clocks, verdict := s.judgedAsSeen()
	r := &Report{Plan: b.Plan.Name, Verdict: verdict, Clocks: clocks, Doses: b.DosesInForce(), Estimates: b.Estimates(), Excursions: s.scan.done(),
		Events: append([]process.Happening{}, b.Happenings...), Alarms: []Alarm{}, Forecasts: s.forecasts, Left: left, From: b.Started, To: s.Now}
	for _, number := range slices.Sorted(maps.Keys(s.Alarms)) {
		o := s.Alarms[number]
		r.Alarms = append(r.Alarms, Alarm{ID: o.Entry, Level: o.Level.String(), Raised: o.RaisedAt, Cleared: o.ClearedAt, Answered: answered(o), Message: o.Title + ": " + o.Subject})
	}
	for _, t := range b.Tracks {
		r.Probes = append(r.Probes, ProbeCount{t.Probe.Probe, t.Probe.Placement, t.Samples, t.Bad, t.GapCount, t.Longest.String(), t.Flagged})
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
