package api

import (
	"errors"
	"net/http"
	"slices"

	"flitch/cmd/flitch/internal/quantity"
	"flitch/cmd/flitch/internal/reckon"
	"flitch/process"
)

// A Calculator is what GET /api/reckon tells of one.
type Calculator struct {
	Name    string          `json:"name"`
	Help    string          `json:"help"`
	Example string          `json:"example"` // key=value, as it is typed
	Keys    []CalculatorKey `json:"keys"`
}

// A CalculatorKey is one thing a calculator may be told.
type CalculatorKey struct {
	Name    string `json:"name"`
	Help    string `json:"help"`
	Example string `json:"example"`
	Needed  bool   `json:"needed"`
	Taken   string `json:"taken,omitempty"` // for it, when it is left out
	Basis   string `json:"basis,omitempty"` // why that
}

// calculators lists what can be reckoned.
func (s *server) calculators(w http.ResponseWriter, _ *http.Request) {
	var list []Calculator
	for _, c := range reckon.Calculators() {
		one := Calculator{Name: c.Name, Help: c.Help, Example: c.Example}
		for _, k := range c.Keys {
			one.Keys = append(one.Keys, CalculatorKey{Name: k.Name, Help: k.Help, Example: k.Read.Example, Needed: k.Needed, Taken: k.Taken, Basis: k.Basis})
		}
		list = append(list, one)
	}
	s.reply(w, http.StatusOK, list)
}

// reckon answers as flitch reckon NAME KEY=VALUE --json does; the keys are the query.
func (s *server) reckon(w http.ResponseWriter, r *http.Request) {
	calc, err := reckon.Named(r.PathValue("name"))
	if err != nil {
		s.failReckoning(w, r, err, true)
		return
	}
	var pairs []reckon.Pair
	for key, values := range r.URL.Query() {
		for _, text := range values {
			pairs = append(pairs, reckon.Pair{Key: key, Text: text})
		}
	}
	slices.SortFunc(pairs, reckon.Pair.Compare) // a map has no order, and a refusal is always the same
	a, err := calc.Answer(pairs)
	if err != nil {
		s.failReckoning(w, r, err, false)
		return
	}
	s.reply(w, http.StatusOK, a)
}

func (s *server) failReckoning(w http.ResponseWriter, r *http.Request, err error, missing bool) {
	if c, ok := errors.AsType[*quantity.Complaint](err); ok {
		err = &process.Refusal{What: c.What, Hint: c.Try, NotFound: missing}
	}
	s.fail(w, r, err)
}
