package reckon

import (
	"fmt"
	"math"
)

// An Answer is what a calculator says, with what it rests on.
type Answer struct {
	Calculator  string            `json:"calculator"`
	Given       map[string]string `json:"given"`
	Taken       []Taken           `json:"taken"` // what nobody typed
	Results     []Result          `json:"results"`
	Model       string            `json:"model"`       // rule or model
	Source      string            `json:"source"`      // where that is from
	Uncertainty string            `json:"uncertainty"` // how far off it may be
	Marks       []string          `json:"marks"`       // what is from memory, an assumption, common practice
	Notes       []string          `json:"notes"`

	unused []string // keys that did not matter, so that what was taken for them is not said
}

// A Result is a number with its unit, or a word. A number that is none (never, not
// known) is null, with the word beside it.
type Result struct {
	Name  string   `json:"name"`
	Value *float64 `json:"value"`
	Unit  string   `json:"unit,omitempty"`
	Text  string   `json:"text,omitempty"`

	Rule   string `json:"-"` // its own, where it is not the answer's
	Source string `json:"-"`
	Hint   string `json:"-"` // what to look at; stands in a note, too
}

// add puts a number into the answer.
func (a *Answer) add(name string, v float64, unit string) {
	r := Result{Name: name, Unit: unit, Value: &v}
	switch {
	case math.IsInf(v, 1):
		r.Value, r.Text = nil, "never"
	case math.IsNaN(v) || math.IsInf(v, -1):
		r.Value, r.Text = nil, "not known"
	}
	a.Results = append(a.Results, r)
}

// say puts a word into the answer.
func (a *Answer) say(name, text string) {
	a.Results = append(a.Results, Result{Name: name, Text: text})
}

// by says what the latest n results rest on, where that is not what the answer does.
func (a *Answer) by(n int, rule, source string) {
	for i := len(a.Results) - n; i < len(a.Results); i++ {
		a.Results[i].Rule, a.Results[i].Source = rule, source
	}
}

func (a *Answer) note(format string, args ...any) {
	a.Notes = append(a.Notes, fmt.Sprintf(format, args...))
}

func (a *Answer) mark(text string) { a.Marks = append(a.Marks, text) }

// check keeps a calculator from answering without saying what it rests on.
func (a *Answer) check() error {
	if a.Model == "" || a.Source == "" || a.Uncertainty == "" || len(a.Results) == 0 {
		return fmt.Errorf("%s: an answer without model, source or uncertainty", a.Calculator)
	}
	return nil
}
