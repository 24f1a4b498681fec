package rehearsal

import (
	"maps"
	"slices"
	"strings"
	"time"

	"flitch/alerts"
	"flitch/process"
)

// A Report is what a night came to.
type Report struct {
	Title        string              `json:"title"`
	Batch        string              `json:"batch"`
	Plan         string              `json:"plan"`
	From         time.Time           `json:"from"`
	To           time.Time           `json:"to"`
	Phone        []Ring              `json:"phone"` // what the pretend phone showed
	Quiet        []Quiet             `json:"quiet"` // what nobody was told, and why
	Clocks       []process.Clock     `json:"clocks"`
	Verdict      process.Verdict     `json:"verdict"`
	Happenings   []process.Happening `json:"happenings"`
	Expectations []Outcome           `json:"expectations"`
	Unmet        int                 `json:"unmet"`

	// What a record of the night is made of.
	Ended  *process.Batch      `json:"-"`
	Places []*process.Place    `json:"-"`
	Heard  []process.Reading   `json:"-"` // in the order they came
	Alarms []alerts.Occurrence `json:"-"` // as they stand, by number
}

// A Ring is one message as the locked phone shows it.
type Ring struct {
	At     time.Time        `json:"at"`
	Kind   alerts.EventKind `json:"kind"`
	Level  string           `json:"level"`
	Entry  string           `json:"entry"`
	Alarm  int64            `json:"alarm"`
	To     string           `json:"to,omitempty"` // initials of those who have the channel
	By     string           `json:"by"`           // the channel
	First  string           `json:"first"`
	Second string           `json:"second"`

	level alerts.Level
	body  string
}

func (r *rehearsal) ringOf(m alerts.Message, at time.Time) Ring {
	second, _, _ := strings.Cut(m.Body, "\n")
	var owners []string
	for _, q := range r.policy.Persons {
		if slices.Contains(q.Channels, m.Channel) {
			owners = append(owners, q.Initials)
		}
	}
	return Ring{At: at, Kind: m.Kind, Level: m.Level.String(), Entry: m.Entry, Alarm: m.Alarm, To: strings.Join(owners, ", "), By: m.Channel,
		First: m.Subject, Second: second, level: m.Level, body: m.Body}
}

// asks reports a message that wants somebody to act: not the news that it is over.
func (r Ring) asks() bool { return r.Kind != alerts.Cleared && r.Alarm != 0 }

// A Quiet is something nobody was told, and why.
type Quiet struct {
	At   time.Time `json:"at"`
	Text string    `json:"text"`
}

// How the journal begins the reason for a silence, and tells of what waits for somebody.
const (
	nobodyTold = "nobody told: "
	laterTold  = "waits for the summary of "
)

// listen keeps the lines of the journal that explain a silence at the start of an
// alarm.
func (r *rehearsal) listen(l process.JournalLine) {
	starts := l.Kind == "alarm "+string(alerts.Raised) || l.Kind == "alarm "+string(alerts.Worsened)
	if starts && (strings.Contains(l.Text, nobodyTold) || strings.Contains(l.Text, laterTold)) {
		r.quiet = append(r.quiet, Quiet{l.At, l.Text})
	}
}

// An Outcome is one expectation, and whether it was met.
type Outcome struct {
	Line int    `json:"line"`
	Text string `json:"text"`
	Met  bool   `json:"met"`
	Why  string `json:"why,omitempty"` // what there was instead
}

func (r *rehearsal) report() *Report {
	s, b := r.scenario, r.batch
	out := &Report{Title: s.Title, Batch: s.Batch, Plan: b.Plan.Name, From: s.At(0), To: r.Now, Phone: r.rings, Quiet: r.quiet,
		Clocks: b.Clocks(r.Now), Verdict: b.Verdict(r.Now), Happenings: slices.Clone(b.Happenings)}
	out.Ended, out.Places = b, r.places
	for _, in := range r.history {
		if in.Kind == process.InputReading {
			out.Heard = append(out.Heard, in.Reading)
		}
	}
	for _, number := range slices.Sorted(maps.Keys(r.Alarms)) {
		out.Alarms = append(out.Alarms, r.Alarms[number])
	}
	out.Expectations = r.judge(out)
	for _, o := range out.Expectations {
		if !o.Met {
			out.Unmet++
		}
	}
	return out
}
