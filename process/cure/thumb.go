package cure

import (
	"fmt"
	"math"
)

// Grain is what a rule of thumb counts on.
type Grain string

// The rules of thumb of the trade count on nothing, on thickness, or on weight.
const (
	FixedDays   Grain = "days"            // the same for every piece
	PerInch     Grain = "days per inch"   // of the thickest place
	PerPound    Grain = "days per pound"  // of green weight
	FromEachWay Grain = "inches in a day" // reached from each face, to the middle, and some days more
)

// A Thumb is a rule of thumb for how long a cure takes.
type Thumb struct {
	Grain  Grain   `json:"grain"`
	Amount float64 `json:"amount"` // in the words of Grain
	Plus   float64 `json:"plus"`   // days added at the end
	Source string  `json:"source"`
}

// Thumbs returns the rules of thumb that were met, with where. None of them was
// measured, and they differ by a factor of two for one piece.
func Thumbs() []Thumb {
	return []Thumb{
		{PerInch, 7, 0, "traditional dry-cure rule; common practice, no source"},
		{PerInch, 5, 0, "hobby source that names none"},
		{FromEachWay, 0.25, 2, "hobby source that names none"},
		{FixedDays, 7, 0, "common practice, no source: 5 lb belly in a bag, turned daily, five to seven days, at least five"},
		{PerPound, 4, 0, "USDA farm bulletin on pork: hams in sweet pickle 3.5 to 4 days a pound (read in a copy)"},
	}
}

const (
	inch  = 0.0254    // m, exact
	pound = 453.59237 // g, exact
)

// Days returns the days by the rule for a piece thicknessM metres thick that weighs
// greenG g. It is NaN when the rule needs what is not known (0 or no number).
func (t Thumb) Days(thicknessM, greenG float64) float64 {
	days := math.NaN()
	switch t.Grain {
	case FixedDays:
		days = t.Amount
	case PerInch:
		days = t.Amount * known(thicknessM) / inch
	case PerPound:
		days = t.Amount * known(greenG) / pound
	case FromEachWay:
		days = known(thicknessM) / 2 / inch / t.Amount
	}
	return days + t.Plus
}

func known(v float64) float64 {
	if v > 0 && finite(v) {
		return v
	}
	return math.NaN()
}

// String names the rule.
func (t Thumb) String() string {
	switch t.Grain {
	case FixedDays:
		return fmt.Sprintf("%g days", t.Amount+t.Plus)
	case FromEachWay:
		return fmt.Sprintf("%g in a day from each face, and %g days", t.Amount, t.Plus)
	}
	return fmt.Sprintf("%g %s", t.Amount, t.Grain)
}

// Linear reports whether the rule grows in step with thickness, where diffusion
// grows with its square.
func (t Thumb) Linear() bool { return t.Grain == PerInch || t.Grain == FromEachWay }

// A Piece is a cut in its bath, with what the rules of thumb ask.
type Piece struct {
	Cut        Cut
	ThicknessM float64 // at the thickest place; a round cut: its diameter
	SkinOn     bool    // a sealed face
	GreenG     float64 // 0 when not known
}

func (p Piece) path() float64 { return Path(p.Cut.Shape, p.ThicknessM, p.SkinOn) }

// A Comparison is a rule of thumb beside the diffusion model, for one piece at one
// temperature. Neither of them says that the piece is through: Reach is what the
// model holds of the day on which the rule is.
type Comparison struct {
	RuleDays  float64 // by the rule; NaN when it cannot be worked
	ModelDays float64 // until the centre has the fraction, by the model
	Earliest  float64 // 80 % interval of ModelDays
	Latest    float64
	Centre    float64 // centre fraction on the day of the rule
	Mean      float64 // mean uptake on that day
	Reach     Reach
	PartM     float64 // thickness at which rule and model agree; NaN when they never do
}

// Compare holds the rule against the model at tempC, °C, for the centre fraction.
func (p Piece) Compare(t Thumb, fraction, tempC float64) Comparison {
	f := p.Cut.Finish(fraction, 0, p.path(), tempC)
	c := Comparison{
		RuleDays:  t.Days(p.ThicknessM, p.GreenG),
		ModelDays: f.Hours / hoursPerDay, Earliest: f.Earliest / hoursPerDay, Latest: f.Latest / hoursPerDay,
		PartM: p.part(t, fraction, tempC), Reach: NotYet,
	}
	tau := Tau(tempC, tempC, c.RuleDays*hoursPerDay, p.path())
	c.Centre, c.Mean, c.Reach = p.Cut.Centre(tau), p.Cut.Mean(tau), p.Cut.Reached(fraction, tau)
	return c
}

// part solves a + b L = k L² for the thickness L: days by a linear rule are days
// by the model. Below it the rule waits longer than the model, above it shorter.
// 7 days per inch at 4 °C in a bag: 2.24 in (57 mm).
func (p Piece) part(t Thumb, fraction, tempC float64) float64 {
	d := Diffusivity(tempC)
	if !t.Linear() || !(d > 0) {
		return math.NaN()
	}
	path := Path(p.Cut.Shape, 1, p.SkinOn)
	k := p.Cut.TauFor(fraction) * path * path / (d * secondsPerHour * hoursPerDay)
	b := t.Days(1, 0) - t.Plus
	return (b + math.Sqrt(b*b+4*k*t.Plus)) / (2 * k)
}

// Parting says where a linear rule and the model part, for the person.
func (c Comparison) Parting(t Thumb, thicknessM float64) string {
	if math.IsNaN(c.PartM) {
		return ""
	}
	way := "there the rule waits longer than the model"
	if thicknessM > c.PartM {
		way = "this piece is thicker: there the rule stops before the model does"
	}
	return fmt.Sprintf("%s grows with thickness, diffusion with its square: they part at %.2f in (%.0f mm); %s",
		t, c.PartM/inch, 1000*c.PartM, way)
}
