package verify

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"

	"flitch/process"
)

// tolerance is by how much a sum may differ from the same one added up in another order: the
// daemon adds as readings come, a recount in the order of their times.
const tolerance = 1e-6

// sameClocks says what is different between the clocks that are stated and those that were
// computed; empty: nothing.
func sameClocks(stated, found []process.Clock) string {
	for i, s := range stated {
		if i >= len(found) || found[i].Name != s.Name {
			return fmt.Sprintf("a clock %s is stated that the readings do not give", s.Name)
		}
		f := found[i]
		switch {
		case f.Verdict != s.Verdict:
			return fmt.Sprintf("%s is stated as %s, and the readings give %s", s.Name, word(s.Verdict), word(f.Verdict))
		case math.Abs(f.Sum-s.Sum) > tolerance*max(1, math.Abs(f.Sum)):
			return fmt.Sprintf("%s is stated with %v %s, and the readings give %v", s.Name, s.Sum, s.Unit, f.Sum)
		case f.Limit != s.Limit || f.AtLeast != s.AtLeast || f.Unit != s.Unit || f.Rule != s.Rule || f.Source != s.Source:
			return fmt.Sprintf("%s is stated with another limit than the plan has", s.Name)
		case !f.From.Equal(s.From) || !f.To.Equal(s.To):
			return fmt.Sprintf("%s is stated with another begin or end than the readings give", s.Name)
		}
	}
	if len(found) > len(stated) {
		return fmt.Sprintf("the clock %s is left out", found[len(stated)].Name)
	}
	return ""
}

func word(v process.Verdict) string {
	if v == process.Running {
		return "running"
	}
	return string(v)
}

// sameSaid says which part of what was said of a batch is stored otherwise than the log has
// it; empty: none.
func sameSaid(stored, fresh *process.Batch) string {
	for _, part := range []struct {
		name string
		a, b any
	}{
		{"who began it, and when", []any{stored.By, stored.Started, stored.Closed}, []any{fresh.By, fresh.Started, fresh.Closed}},
		{"the plan", stored.Plan, fresh.Plan}, {"the pieces", stored.Pieces, fresh.Pieces}, {"the stages", stored.Stages, fresh.Stages},
		{"the turns", stored.Turns, fresh.Turns}, {"the hand readings", stored.Hand, fresh.Hand}, {"the counts", stored.Counts, fresh.Counts},
		{"the notes", stored.Notes, fresh.Notes}, {"the doses", stored.Doses, fresh.Doses},
	} {
		if !sameJSON(part.a, part.b) {
			return "what is stored of it is not what the log says: " + part.name
		}
	}
	return ""
}

func sameJSON(a, b any) bool {
	x, err := json.Marshal(a)
	y, err2 := json.Marshal(b)
	return err == nil && err2 == nil && bytes.Equal(x, y)
}
