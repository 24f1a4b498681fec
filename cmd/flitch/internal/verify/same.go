package verify

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"slices"

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
		case !slices.Equal(f.Uncertain, s.Uncertain):
			return fmt.Sprintf("%s is stated with doubts %q, and the readings leave %q", s.Name, s.Uncertain, f.Uncertain)
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
	end := fresh.End
	if stored.End.Typed.IsZero() { // an older version did not store it
		end = stored.End
	}
	for _, part := range []struct {
		name string
		a, b any
	}{
		{"who began it, and when", []any{stored.By, stored.Started, stored.Closed}, []any{fresh.By, fresh.Started, fresh.Closed}},
		{"the plan", stored.Plan, fresh.Plan}, {"the pieces", stored.Pieces, fresh.Pieces}, {"the stages", stored.Stages, fresh.Stages},
		{"the turns", stored.Turns, fresh.Turns}, {"the hand readings", stored.Hand, fresh.Hand}, {"the counts", stored.Counts, fresh.Counts},
		{"the notes", stored.Notes, fresh.Notes}, {"the doses", stored.Doses, fresh.Doses},
		{"the corrective actions", stored.Actions, fresh.Actions}, {"what became of the pieces", stored.Dispositions, fresh.Dispositions},
		{"the reviews", stored.Reviews, fresh.Reviews}, {"who closed it", stored.End, end}, {"what was struck out", stored.Struck, fresh.Struck},
	} {
		if !sameJSON(part.a, part.b) {
			return "what is stored of it is not what the log says: " + part.name
		}
	}
	return ""
}

// later are the fields that batches of older versions were stored without: there is nothing
// to compare them with.
var later = map[string]bool{"id": true}

// sameJSON reports whether what is stated is what was found, but for fields that older
// versions did not state. A list that is empty is one that is not there.
func sameJSON(stated, found any) bool {
	a, err := plain(stated)
	b, err2 := plain(found)
	return err == nil && err2 == nil && same(a, b)
}

func plain(v any) (out any, err error) {
	text, err := json.Marshal(v)
	if err != nil {
		return nil, err
	}
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber() // all digits count
	return out, d.Decode(&out)
}

func same(stated, found any) bool {
	switch f := found.(type) {
	case map[string]any:
		s, ok := stated.(map[string]any)
		if !ok {
			return false
		}
		for key, value := range f {
			if mine, is := s[key]; !(is && same(mine, value)) && (is || !later[key]) {
				return false
			}
		}
		for key := range s {
			if _, is := f[key]; !is {
				return false
			}
		}
		return true
	case []any:
		s, _ := stated.([]any)
		return len(s) == len(f) && each(s, f)
	case nil:
		list, ok := stated.([]any)
		return stated == nil || ok && len(list) == 0
	}
	return stated == found
}

func each(a, b []any) bool {
	for i := range a {
		if !same(a[i], b[i]) {
			return false
		}
	}
	return true
}
