package main

import (
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strings"
	"text/tabwriter"
)

// An answer is what a calculator says, with what it rests on.
type answer struct {
	Calculator  string            `json:"calculator"`
	Given       map[string]string `json:"given"`
	Taken       []taken           `json:"taken"` // what nobody typed
	Results     []result          `json:"results"`
	Model       string            `json:"model"`       // rule or model
	Source      string            `json:"source"`      // where that is from
	Uncertainty string            `json:"uncertainty"` // how far off it may be
	Marks       []string          `json:"marks"`       // what is from memory, an assumption, common practice
	Notes       []string          `json:"notes"`

	unused []string // keys that did not matter, so that what was taken for them is not said
}

// A result is a number with its unit, or a word. A number that is none (never, not
// known) is null, with the word beside it.
type result struct {
	Name  string   `json:"name"`
	Value *float64 `json:"value"`
	Unit  string   `json:"unit,omitempty"`
	Text  string   `json:"text,omitempty"`
}

// add puts a number into the answer.
func (a *answer) add(name string, v float64, unit string) {
	r := result{Name: name, Unit: unit, Value: &v}
	switch {
	case math.IsInf(v, 1):
		r.Value, r.Text = nil, "never"
	case math.IsNaN(v) || math.IsInf(v, -1):
		r.Value, r.Text = nil, "not known"
	}
	a.Results = append(a.Results, r)
}

// say puts a word into the answer.
func (a *answer) say(name, text string) {
	a.Results = append(a.Results, result{Name: name, Text: text})
}

func (a *answer) note(format string, args ...any) {
	a.Notes = append(a.Notes, fmt.Sprintf(format, args...))
}

func (a *answer) mark(text string) { a.Marks = append(a.Marks, text) }

// check keeps a calculator from answering without saying what it rests on.
func (a *answer) check() error {
	if a.Model == "" || a.Source == "" || a.Uncertainty == "" || len(a.Results) == 0 {
		return fmt.Errorf("%s: an answer without model, source or uncertainty", a.Calculator)
	}
	return nil
}

// cell is the result as one word for a column file.
func (r result) cell() string {
	if r.Value == nil {
		return r.Text
	}
	return fmt.Sprintf("%.6g", *r.Value)
}

// column is the result's head in a column file.
func (r result) column() string {
	name := strings.ReplaceAll(r.Name, " ", "_")
	if r.Unit == "" {
		return name
	}
	return name + " [" + r.Unit + "]"
}

func (r result) print(out io.Writer) {
	text := r.Text
	if r.Value != nil {
		text = fmt.Sprintf("%.5g %s", *r.Value, r.Unit)
	}
	fmt.Fprintf(out, "%s\t%s\n", r.Name, strings.TrimSpace(text))
}

// print writes the answer for a person.
func (a answer) print(out io.Writer) error {
	table := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	for _, r := range a.Results {
		r.print(table)
	}
	fmt.Fprintln(table)
	fmt.Fprintf(table, "model\t%s\nsource\t%s\nuncertain\t%s\n", a.Model, a.Source, a.Uncertainty)
	for _, k := range slices.Sorted(maps.Keys(a.Given)) {
		fmt.Fprintf(table, "given\t%s=%s\n", k, a.Given[k])
	}
	for _, t := range a.Taken {
		fmt.Fprintf(table, "taken\t%s=%s (%s)\n", t.Key, t.Value, t.Basis)
	}
	for _, m := range a.Marks {
		fmt.Fprintf(table, "mark\t%s\n", m)
	}
	for _, n := range a.Notes {
		fmt.Fprintf(table, "note\t%s\n", n)
	}
	return table.Flush()
}
