package alerts

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// A Change is what a plan or a place asks of one alarm in another way than the
// catalogue. What is nil, zero or empty stays as it is.
type Change struct {
	ID          string
	Trigger     int            // which of its ways to start, from 1; 0 is the first
	Level       string         // "note", "tell" or "ring"
	Limit       *float64       // in the unit of the entry
	After       *time.Duration // continuous on-delay
	Summed      *time.Duration // on-delay in pieces, 0 is none
	Within      *time.Duration // over which pieces are added up
	Clears      *float64       // limit that ends it
	ClearsAfter *time.Duration
}

// Changed returns the entry of the catalogue that the change is about, as changed. The
// error says what is wrong in words for whoever wrote the plan or the configuration.
func Changed(catalogue []Entry, c Change) (Entry, error) {
	i := slices.IndexFunc(catalogue, func(e Entry) bool { return e.ID == c.ID })
	if i < 0 {
		return Entry{}, fmt.Errorf("there is no alarm %q", c.ID)
	}
	e := catalogue[i]
	n := max(c.Trigger, 1) - 1
	if c.Trigger < 0 || n >= len(e.Triggers) {
		return Entry{}, fmt.Errorf("%s has no trigger %d: the last is %d", e.ID, c.Trigger, len(e.Triggers))
	}
	if (c.Clears != nil || c.ClearsAfter != nil) && e.Clear.Never {
		return Entry{}, fmt.Errorf("%s is ended by a person, not by a value", e.ID)
	}
	e.Triggers = slices.Clone(e.Triggers)
	t := &e.Triggers[n]
	if c.Level != "" {
		level, ok := levelNamed(c.Level)
		if !ok {
			return Entry{}, fmt.Errorf("level %q: say note, tell or ring", c.Level)
		}
		t.Level = level
	}
	set(&t.Limit, c.Limit)
	set(&t.For, c.After)
	set(&t.Sum, c.Summed)
	set(&t.Window, c.Within)
	set(&e.Clear.Limit, c.Clears)
	set(&e.Clear.For, c.ClearsAfter)
	e.Source = "changed by the plan or the place; else " + e.Source
	if problems := e.check(); len(problems) > 0 {
		return Entry{}, fmt.Errorf("%s: %s", e.ID, strings.Join(problems, "; "))
	}
	return e, nil
}

func set[T any](into, value *T) {
	if value != nil {
		*into = *value
	}
}

func levelNamed(word string) (Level, bool) {
	for _, l := range []Level{Note, Tell, Ring} {
		if l.String() == word {
			return l, true
		}
	}
	return 0, false
}
