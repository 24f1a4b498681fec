package growth

import (
	"fmt"
	"math"
	"strings"
)

// A Model is the growth of one organism in one kind of food, for given conditions.
// New makes one; it does not change after that and may be shared.
type Model struct {
	Code     string
	Organism string
	Food     string
	// FromC and ToC are where the model was made or is held to be usable, °C;
	// outside it still answers, as its formula does. See Extrapolates.
	FromC, ToC float64
	// Decides is the lag a decision uses, Beside one to show next to it.
	Decides, Beside Lag
	// SpreadLog is how far repeated trials lie apart, decimal units; 0 is not known.
	SpreadLog  float64
	Bands      Bands
	Source     string
	Provenance string // "seen" in the source or a copy of it
	Note       string // what a reader has to know, empty for most

	law law
}

// A Lag is the work cells do before they grow, h0 = lag time times rate. H0 0 is
// no lag, the strictest.
type Lag struct {
	H0         float64
	Name       string // empty: there is none to show
	Source     string
	Provenance string // "seen", "memory" (confirm before it decides anything) or "proposal", a choice of this project
}

// New returns the model with this code for food in these conditions. It is an
// error when the code is unknown or a condition cannot be. The zero Conditions
// are the strictest.
func New(code string, c Conditions) (*Model, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	for i := range models {
		if models[i].Code != code {
			continue
		}
		m := models[i].Model
		if models[i].factor != nil {
			m.law.scale *= models[i].factor(c)
		}
		if m.law.shape == squareRoot {
			m.law.worst = m.law.peak()
		}
		return &m, nil
	}
	return nil, fmt.Errorf("growth: no model %q, want one of %s", code, strings.Join(Codes(), ", "))
}

// Codes returns the codes that New knows.
func Codes() []string {
	codes := make([]string, len(models))
	for i := range models {
		codes[i] = models[i].Code
	}
	return codes
}

// Rate returns the growth rate at tempC, natural-log units per hour, at least 0.
// A value that is no finite number may be any temperature: it grows at the
// fastest.
func (m *Model) Rate(tempC float64) float64 { return m.law.rate(tempC) }

// DoublingHours returns the time for a doubling at tempC without lag; +Inf where
// there is no growth.
func (m *Model) DoublingHours(tempC float64) float64 { return math.Ln2 / m.Rate(tempC) }

// Fastest returns the highest rate at any temperature between v1 and v2.
func (m *Model) Fastest(v1, v2 float64) float64 { return m.law.fastest(v1, v2) }

// Extrapolates reports whether the model is used outside where it was made.
func (m *Model) Extrapolates(tempC float64) bool { return !(tempC >= m.FromC && tempC <= m.ToC) }

// flat is the temperature difference, K, below which a segment counts as level.
const flat = 1e-9

// Segment returns the rate summed over a straight line from v1 to v2 (°C) in
// dtHours, natural-log units. Both ends must be finite numbers and dtHours more
// than 0, or the result is 0: Sum.Add counts such a segment as a gap.
//
// Simpson's rule in panels of at most 1 K, between the temperatures where growth
// begins and ends: the sharp upper end of a law is otherwise missed. Checked
// against growth_cooling_profiles.csv and Gauss-Legendre quadrature.
func (m *Model) Segment(v1, v2, dtHours float64) float64 {
	if !usable(v1, v2, dtHours) {
		return 0
	}
	low, high := min(v1, v2), max(v1, v2)
	if high-low < flat {
		return dtHours * m.law.rate(low)
	}
	a, b := max(low, m.law.min), min(high, m.law.max)
	if b <= a {
		return 0
	}
	return dtHours * ((b - a) / (high - low)) * m.law.mean(a, b)
}

// mean is the mean rate between a and b, both inside the law's range.
func (l *law) mean(a, b float64) float64 {
	panels := 1.0
	if l.shape != openSquareRoot { // Simpson is exact for a parabola
		panels = math.Ceil(b - a)
	}
	step := (b - a) / panels
	sum := l.rate(a) + l.rate(b)
	for i := 0.0; i < panels; i++ {
		sum += 4 * l.rate(a+(i+0.5)*step)
		if i > 0 {
			sum += 2 * l.rate(a+i*step)
		}
	}
	return sum / (6 * panels)
}

func usable(v1, v2, dt float64) bool { return dt > 0 && finite(v1) && finite(v2) && finite(dt) }

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
