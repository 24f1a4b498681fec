package rules

import (
	_ "embed"
	"fmt"
	"strconv"
	"strings"
	"sync"
)

// A DegreeHourRule limits the degrees above Base times hours that sausage may
// ferment for, in one unit of temperature, until its pH is 5.3. process/growth
// counts them.
type DegreeHourRule struct {
	ID     string // "us", "canada"
	Unit   string // "F" or "C"
	Base   float64
	Limits []DegreeHourLimit // coolest room first
	Form   []FormHours       // whole hours by the form of a university, or none
}

// A DegreeHourLimit holds for a room whose highest temperature was at least, or
// above, Room; the first of a rule for any.
type DegreeHourLimit struct {
	Room       float64
	Above      bool // the room has to be warmer than Room, not only as warm
	Any        bool
	Limit      float64 // degrees times hours
	Source     string
	Provenance string // "seen" or "memory"
}

// FormHours is a row of the fermentation form: the whole hours in a room at a
// constant temperature.
type FormHours struct {
	Room, Hours        float64
	Source, Provenance string
}

//go:embed degree_hours.csv
var degreeHourTable string

// degreeHours reads degree_hours.csv once; nobody changes what it returns.
var degreeHours = sync.OnceValues(func() ([]DegreeHourRule, error) {
	lines, err := records(degreeHourTable)
	if err != nil {
		return nil, err
	}
	var out []DegreeHourRule
	for _, line := range lines {
		if len(out) == 0 || out[len(out)-1].ID != line["rule"] {
			out = append(out, DegreeHourRule{ID: line["rule"]})
		}
		if err := out[len(out)-1].read(line); err != nil {
			return nil, fmt.Errorf("rules: degree-hours, room %q: %w", line["room"], err)
		}
	}
	return out, nil
})

func (r *DegreeHourRule) read(line map[string]string) error {
	base, err := strconv.ParseFloat(line["base"], 64)
	if err != nil {
		return err
	}
	r.Unit, r.Base = line["unit"], base
	if line["kind"] == "table" {
		f := FormHours{Source: line["source"], Provenance: line["provenance"]}
		if f.Room, err = strconv.ParseFloat(line["room"], 64); err != nil {
			return err
		}
		f.Hours, err = strconv.ParseFloat(line["hours"], 64)
		r.Form = append(r.Form, f)
		return err
	}
	l := DegreeHourLimit{Any: line["room"] == "any", Source: line["source"], Provenance: line["provenance"]}
	if !l.Any {
		room, atLeast := strings.CutPrefix(line["room"], ">=")
		l.Above = !atLeast
		if l.Room, err = strconv.ParseFloat(strings.TrimPrefix(room, ">"), 64); err != nil {
			return err
		}
	}
	l.Limit, err = strconv.ParseFloat(line["limit"], 64)
	r.Limits = append(r.Limits, l)
	return err
}

// DegreeHours returns a rule by its id, "us" (°F) or "canada" (°C). ok is false for
// another. Its slices are shared: they must not be changed.
func DegreeHours(id string) (DegreeHourRule, bool) {
	all, err := degreeHours()
	if err != nil {
		return DegreeHourRule{}, false
	}
	for _, r := range all {
		if r.ID == id {
			return r, true
		}
	}
	return DegreeHourRule{}, false
}

// Limit returns the limit for a room by its highest temperature, in the rule's
// unit. A room at the boundary of the US rule, 90 or 100 °F, has the limit of 90 to
// 100 °F, 1000 (form of the University of Wisconsin, seen). A temperature that is no
// number has the strictest.
func (r DegreeHourRule) Limit(highest float64) DegreeHourLimit {
	var out DegreeHourLimit
	for _, l := range r.Limits {
		margin := -rounding
		if l.Above {
			margin = rounding
		}
		if l.Any || !(highest < l.Room+margin) {
			out = l
		}
	}
	return out
}

// FormFor returns the row of the form for a room at a constant temperature: the
// next listed one at or above it. ok is false above the last.
func (r DegreeHourRule) FormFor(room float64) (FormHours, bool) {
	for _, f := range r.Form {
		if room <= f.Room+rounding {
			return f, true
		}
	}
	return FormHours{}, false
}
