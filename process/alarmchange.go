package process

import (
	"fmt"
	"math"
	"strings"
)

// An AlarmChange is what a plan asks of one alarm about its batch in another way than the
// catalogue. What is left out stays as it is.
type AlarmChange struct {
	ID             string   `json:"id" toml:"id"`                           // line of the catalogue: H5
	Trigger        int      `json:"trigger,omitempty" toml:"trigger"`       // which of its ways to start, from 1
	Level          string   `json:"level,omitempty" toml:"level"`           // note, tell or ring
	Limit          *float64 `json:"limit,omitempty" toml:"limit"`           // in the unit of the line
	AfterMin       *float64 `json:"after_min,omitempty" toml:"after_min"`   // continuous on-delay
	SummedMin      *float64 `json:"summed_min,omitempty" toml:"summed_min"` // on-delay in pieces
	WithinMin      *float64 `json:"within_min,omitempty" toml:"within_min"` // over which pieces are added up
	Clears         *float64 `json:"clears,omitempty" toml:"clears"`         // limit that ends it
	ClearsAfterMin *float64 `json:"clears_after_min,omitempty" toml:"clears_after_min"`
}

// mostAlarmMin bounds the delays of an alarm, min: a week.
const mostAlarmMin = 7 * 24 * 60

// problems says what is wrong without knowing the catalogue. Alarms of places are not
// a plan's: there may be another batch in the fridge.
func (c AlarmChange) problems() (out []string) {
	if c.ID == "" || strings.ContainsAny(c.ID[:1], "CB") && c.ID != "B1" {
		out = append(out, fmt.Sprintf("[[alarm]] id %q: a plan changes alarms about its batch, such as H5, K1, L2 or B1; others belong under the place", c.ID))
	}
	for _, v := range []*float64{c.Limit, c.Clears} {
		if v != nil && !(math.Abs(*v) <= 100_000) {
			out = append(out, fmt.Sprintf("[[alarm]] %s: %g is no limit", c.ID, *v))
		}
	}
	for _, v := range []*float64{c.AfterMin, c.SummedMin, c.WithinMin, c.ClearsAfterMin} {
		if v != nil && !(*v >= 0 && *v <= mostAlarmMin) {
			out = append(out, fmt.Sprintf("[[alarm]] %s: %g min: say 0 to %d", c.ID, *v, mostAlarmMin))
		}
	}
	return out
}
