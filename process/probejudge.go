package process

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"flitch/process/heat"
)

// adjustedTooOften is how many checks running a probe may be corrected at before it is
// to be replaced (thermometer procedures of small plants: adjusted three months running).
const adjustedTooOften = 3

// A CheckResult is what a check came to. It is logged with it, so that whoever reads
// the log later, or in another order, comes to the same.
type CheckResult struct {
	Before    Correction `json:"before"`             // in force when the probe was read
	After     Correction `json:"after"`              // in force from the check on
	ResidualK float64    `json:"residual_k"`         // largest |off| at the points that made no correction
	Fails     string     `json:"fails,omitempty"`    // FailsOff or FailsReplace: why the probe is out of use; empty: it is in use
	Refused   Correction `json:"refused,omitzero"`   // of FailsReplace: the correction that it would have needed
	Adjusted  int        `json:"adjusted,omitempty"` // checks running at which it was corrected, this one too
	Batches   []string   `json:"batches,omitempty"`  // measured with it since its last good check, when it was found off
}

// Why a probe is out of use after its check.
const (
	FailsOff     = "off"     // not within CheckLimitK
	FailsReplace = "replace" // too far off to be corrected
)

// result is what the check came to; of one logged before there were corrections, by the
// limit alone.
func (c CheckSaid) result() CheckResult {
	if c.Result != nil {
		return *c.Result
	}
	return c.judge(Correction{})
}

// Good reports whether the probe is in use after the check.
func (c CheckSaid) Good() bool { return c.result().Fails == "" }

// After is the correction in force after the check.
func (c CheckSaid) After() Correction { return c.result().After }

// Before is the correction that was in force when the probe was read.
func (c CheckSaid) Before() Correction { return c.result().Before }

// uncertainty of the probe after the check, K: what a third point showed, else what is
// configured; never less than what it was seen to be off by.
func (c CheckSaid) uncertainty(configured float64) float64 {
	r := c.result()
	if r.After.UncertaintyK > 0 {
		configured = r.After.UncertaintyK
	}
	return max(configured, r.ResidualK)
}

// judge is the result of the check of a probe with a correction in force.
func (c CheckSaid) judge(before Correction) CheckResult {
	r := CheckResult{Before: before, After: before}
	if c.Replaced {
		r.After = Correction{}
	}
	from := r.After
	rest, two := c.Points(), false
	if c.Correct {
		made := makers(rest)
		after := corrected(before, from.gain(), made)
		if !heat.Correctable(after.Gain, after.Sent(0)) {
			r.Fails, r.ResidualK = FailsReplace, largest(before, from, rest)
			if !math.IsInf(after.Gain, 0) { // ice and boiling water read the same
				r.Refused = after
			}
			return r
		}
		r.After, two = after, len(made) == 2
		rest = slices.DeleteFunc(rest, func(p CheckPoint) bool { return slices.Contains(made, p) })
	}
	r.ResidualK = largest(before, r.After, rest)
	switch {
	case !within(r.ResidualK):
		r.Fails, r.After = FailsOff, from
	case two && len(rest) > 0:
		r.After.UncertaintyK = max(LeastUncertaintyK, r.ResidualK)
	}
	return r
}

// makers are the points a correction is made of: ice and boiling water, else ice alone,
// else the first.
func makers(points []CheckPoint) []CheckPoint {
	at := func(method string) int {
		return slices.IndexFunc(points, func(p CheckPoint) bool { return p.Method == method })
	}
	ice, boiling := at(CheckIce), at(CheckBoiling)
	switch {
	case ice >= 0 && boiling >= 0:
		return []CheckPoint{points[ice], points[boiling]}
	case ice >= 0:
		return []CheckPoint{points[ice]}
	}
	return points[:1:1]
}

// corrected is the correction that makes the points right, in terms of what the probe
// sends. One point moves the offset and keeps the gain; two make both.
func corrected(before Correction, gain float64, made []CheckPoint) Correction {
	after := Correction{Gain: gain}
	first := made[0]
	if len(made) == 2 {
		after.Gain = (made[1].TrueC - first.TrueC) / (before.Sent(made[1].ReadC) - before.Sent(first.ReadC))
	}
	after.OffsetC = first.TrueC - after.Gain*before.Sent(first.ReadC)
	return after
}

// largest is how far the points are off at most when corrected, K.
func largest(before, after Correction, points []CheckPoint) (k float64) {
	for _, p := range points {
		k = max(k, math.Abs(after.Of(before.Sent(p.ReadC))-p.TrueC))
	}
	return k
}

// Words is the check in words, in °C and K.
func (c CheckSaid) Words() string { return c.WordsIn(celsius, kelvin) }

func celsius(c float64) string { return fmt.Sprintf("%.1f °C", c) }
func kelvin(k float64) string  { return fmt.Sprintf("%.1f K", k) }

// WordsIn is the check in words, with temperatures (°C) and differences (K) as the reader
// has them.
func (c CheckSaid) WordsIn(temperature, difference func(float64) string) string {
	var read []string
	for _, p := range c.Points() {
		where := map[string]string{CheckIce: "in ice", CheckBoiling: "in boiling water", CheckCompare: "beside a thermometer"}[p.Method]
		read = append(read, fmt.Sprintf("%s %s, where it was %s", temperature(p.ReadC), where, temperature(p.TrueC)))
	}
	begin := "read "
	if c.Replaced {
		begin = "replaced, and the new one read "
	}
	return begin + strings.Join(read, ", and ") + ": " + c.verdict(temperature, difference)
}

// Verdict is what the check came to in words, in °C and K.
func (c CheckSaid) Verdict() string { return c.verdict(celsius, kelvin) }

func (c CheckSaid) verdict(temperature, difference func(float64) string) string {
	r := c.result()
	switch r.Fails {
	case "":
	case FailsReplace:
		if r.Refused.Gain == 0 {
			return "out of use, too far off to be corrected; replace it"
		}
		return fmt.Sprintf("out of use, too far off to be corrected: gain %.3f, %s in ice; replace it", r.Refused.Gain, temperature(r.Refused.Sent(0)))
	default:
		return "out of use, not within " + difference(CheckLimitK)
	}
	text := "within " + difference(CheckLimitK)
	if c.Correct {
		text = "corrected from then on, " + r.After.Words()
	}
	if r.After.UncertaintyK > 0 {
		text += ", uncertain by " + difference(c.uncertainty(0))
	}
	if r.Adjusted >= adjustedTooOften {
		text += fmt.Sprintf("; corrected at %d checks running: replace it", r.Adjusted)
	}
	return text
}
