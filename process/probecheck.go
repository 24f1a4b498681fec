package process

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"flitch/process/heat"
)

// CheckLimitK is how far a probe may be off at its check: 2 °F, as an ice bath that
// reads from 30 to 34 °F is accepted in the thermometer procedures of small plants.
const CheckLimitK = 2 / 1.8

// The air that water may boil in, Pa: from 5000 m up to a high-pressure day in a mine.
const (
	leastAirPa = 50_000
	mostAirPa  = 110_000
)

// maxPoints bounds how many points one check has.
const maxPoints = 6

// The ways to check a probe.
const (
	CheckIce     = "ice"     // ice water, 0 °C
	CheckBoiling = "boiling" // boiling water at the pressure of the place
	CheckCompare = "compare" // beside a thermometer that is trusted
)

// A CheckPoint is one temperature a probe was held to.
type CheckPoint struct {
	Method     string  `json:"method"`
	ReadC      float64 `json:"read_c"`                // what the probe said, °C, as flitch shows it: with the correction in force
	TrueC      float64 `json:"true_c"`                // what it was, °C; of ice 0
	PressurePa float64 `json:"pressure_pa,omitempty"` // of boiling: at the station, not reduced to sea level; TrueC follows from it
}

// A CheckSaid is a check of a probe as a person said it.
type CheckSaid struct {
	Probe string `json:"probe"`

	// The first point, in the words of CheckPoint.
	Method     string  `json:"method"`
	ReadC      float64 `json:"read_c"`
	TrueC      float64 `json:"true_c"`
	PressurePa float64 `json:"pressure_pa,omitempty"`

	Further  []CheckPoint `json:"further,omitempty"`  // more points of the same check
	Correct  bool         `json:"correct,omitempty"`  // what it reads from now on is corrected by them
	Replaced bool         `json:"replaced,omitempty"` // another probe is there now: the correction of the old one is forgotten
	AsSent   bool         `json:"as_sent,omitempty"`  // the numbers are as sent; taken away when flitch has turned them into what it shows

	Result *CheckResult `json:"result,omitempty"` // filled in by flitch before it is logged
}

// A ProbeCheck is one check of a probe, and the answer.
type ProbeCheck struct {
	CheckSaid
	At    time.Time `json:"at"`
	Typed time.Time `json:"typed"`
	By    string    `json:"by"`
	Text  string    `json:"text,omitempty"`
}

// Points are all points of the check. The temperature of water that boils follows from
// the pressure, where that was said.
func (c CheckSaid) Points() []CheckPoint {
	list := append([]CheckPoint{{Method: c.Method, ReadC: c.ReadC, TrueC: c.TrueC, PressurePa: c.PressurePa}}, c.Further...)
	for i := range list {
		if p := &list[i]; p.Method == CheckBoiling && p.PressurePa != 0 {
			p.TrueC, _ = heat.BoilingPoint(p.PressurePa)
		}
	}
	return list
}

// OffK is by how much the probe read too high.
func (p CheckPoint) OffK() float64 { return p.ReadC - p.TrueC }

// within reports a difference that a probe may have.
func within(k float64) bool { return math.Abs(k) <= CheckLimitK+1e-9 }

// FoundOff reports whether the probe was found off by more than CheckLimitK, corrected
// afterwards or not: what it told since its last good check is then in doubt.
// A probe that was put in place of another says nothing of what that one told.
func (c CheckSaid) FoundOff() bool {
	return !c.Replaced && slices.ContainsFunc(c.Points(), func(p CheckPoint) bool { return !within(p.OffK()) })
}

// CheckOfProbe refuses a check that cannot be true.
func CheckOfProbe(c Command, now time.Time) error {
	said := c.Check
	switch {
	case strings.TrimSpace(c.By) == "":
		return refuse("nobody signed", "add your initials: --by T.V.")
	case said == nil || said.Probe == "":
		return refuse("a check without its probe", "flitch probe check alder-bottle --ice 0.3C")
	case c.At.After(now.Add(ahead)):
		return refuse(fmt.Sprintf("%s has not happened yet", c.At.Format(time.RFC3339)), "name a time that has passed, or leave it out for now")
	case len(c.Text) > maxText:
		return refuse(fmt.Sprintf("the text has %d characters", len(c.Text)), fmt.Sprintf("keep it under %d", maxText))
	case len(said.Further) >= maxPoints:
		return refuse(fmt.Sprintf("%d points in one check", 1+len(said.Further)), fmt.Sprintf("at most %d", maxPoints))
	}
	seen := map[string]bool{}
	for _, p := range said.Points() {
		if p.Method != CheckCompare && seen[p.Method] {
			return refuse("twice "+p.Method+" in one check", "one reading of each, or two checks")
		}
		seen[p.Method] = true
		if err := p.check(); err != nil {
			return err
		}
	}
	return nil
}

func (p CheckPoint) check() error {
	switch {
	case !slices.Contains([]string{CheckIce, CheckBoiling, CheckCompare}, p.Method):
		return refuse(fmt.Sprintf("%q is no way to check a probe", p.Method), "say ice, boiling or compare")
	case p.Method == CheckIce && p.TrueC != 0:
		return refuse(fmt.Sprintf("ice water is at 0 °C, not at %g °C", p.TrueC), "compare it with a thermometer instead")
	case p.PressurePa != 0 && !(p.Method == CheckBoiling && p.PressurePa >= leastAirPa && p.PressurePa <= mostAirPa):
		return refuse(fmt.Sprintf("a pressure of %.6g hPa where water boils is not from %d to %d", p.PressurePa/100, leastAirPa/100, mostAirPa/100),
			"what a barometer in the room shows, not reduced to sea level: --pressure 954hPa")
	case !(p.ReadC >= -60 && p.ReadC <= 400) || !(p.TrueC >= -60 && p.TrueC <= 400):
		return refuse(fmt.Sprintf("%g °C read and %g °C true cannot be", p.ReadC, p.TrueC), "type what it read with its unit: 0.3C or 32.5F")
	case p.Method == CheckBoiling && !(p.TrueC >= 80 && p.TrueC <= 103):
		return refuse(fmt.Sprintf("water in a kitchen does not boil at %g °C", p.TrueC), "say the pressure or the altitude: --altitude 520m")
	}
	return nil
}
