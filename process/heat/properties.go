package heat

// A Composition is what a food is made of, as mass fractions. They are divided by
// their sum, which must be 1 within maxOff: analyses seldom add up exactly.
type Composition struct {
	Water, Protein, Fat, Carbohydrate, Fibre float64
	Ash                                      float64 // minerals, and salt is counted here
}

// Properties are the thermal properties of a food that is not frozen.
type Properties struct {
	Density      float64 // kg/m³
	HeatCapacity float64 // J/(kg K)
	Conductivity float64 // W/(m K)
}

// Diffusivity is how fast a temperature spreads, m²/s.
func (p Properties) Diffusivity() float64 { return p.Conductivity / (p.Density * p.HeatCapacity) }

// The range of the formulas, °C, and how far fractions may be from adding up to 1
// (choice of this project: more is a forgotten part or a wrong unit).
const (
	minPropertyC = -40.0
	maxPropertyC = 150.0
	maxOff       = 0.05
)

// A quadratic is a + b T + c T², T in °C.
type quadratic struct{ a, b, c float64 }

func (q quadratic) at(tC float64) float64 { return q.a + tC*(q.b+tC*q.c) }

// An ingredient is a part of every food, with the properties it has alone.
type ingredient struct{ density, heatCapacity, conductivity quadratic }

// ingredients are in the order of parts. Choi and Okos 1986, -40 to 150 °C, read in
// four independent copies that agree. Copies differ in three places, and the others
// are wrong: water's heat capacity begins with 4176.2 (4128.9 is wrong above 0 °C),
// the slope of fat's conductivity is negative, and it is e-4.
var ingredients = [...]ingredient{
	{quadratic{997.18, 3.1439e-3, -3.7574e-3}, quadratic{4176.2, -9.0864e-2, 5.4731e-3}, quadratic{0.57109, 1.7625e-3, -6.7036e-6}},
	{quadratic{1329.9, -0.5184, 0}, quadratic{2008.2, 1.2089, -1.3129e-3}, quadratic{0.17881, 1.1958e-3, -2.7178e-6}},
	{quadratic{925.59, -0.41757, 0}, quadratic{1984.2, 1.4733, -4.8008e-3}, quadratic{0.18071, -2.7604e-4, -1.7749e-7}},
	{quadratic{1599.1, -0.31046, 0}, quadratic{1548.8, 1.9625, -5.9399e-3}, quadratic{0.20141, 1.3874e-3, -4.3312e-6}},
	{quadratic{1311.5, -0.36589, 0}, quadratic{1845.9, 1.8306, -4.6509e-3}, quadratic{0.18331, 1.2497e-3, -3.1683e-6}},
	{quadratic{2423.8, -0.28063, 0}, quadratic{1092.6, 1.8896, -3.6817e-3}, quadratic{0.32962, 1.4011e-3, -2.9069e-6}},
}

func (c Composition) parts() [len(ingredients)]float64 {
	return [...]float64{c.Water, c.Protein, c.Fat, c.Carbohydrate, c.Fibre, c.Ash}
}

// At returns the properties at a temperature, °C, -40 to 150. ok is false outside
// that range, and for fractions that are negative or do not add up to 1. Water is
// taken as liquid: under its freezing point a food is neither as light nor as
// quick to warm as this says.
//
// Mixing: volumes add up, so 1/density = sum x/density; heat capacity = sum
// x × capacity; conductivity = sum of volume fraction × conductivity (layers side
// by side along the flow of heat).
func (c Composition) At(tC float64) (p Properties, ok bool) {
	total, known := c.total()
	if !known || !(tC >= minPropertyC && tC <= maxPropertyC) {
		return Properties{}, false
	}
	volume := 0.0 // m³/kg
	for i, x := range c.parts() {
		x /= total
		part := x / ingredients[i].density.at(tC)
		volume += part
		p.HeatCapacity += x * ingredients[i].heatCapacity.at(tC)
		p.Conductivity += part * ingredients[i].conductivity.at(tC)
	}
	p.Density = 1 / volume
	p.Conductivity /= volume
	return p, true
}

func (c Composition) total() (sum float64, ok bool) {
	for _, x := range c.parts() {
		if !(x >= 0) {
			return 0, false
		}
		sum += x
	}
	return sum, sum >= 1-maxOff && sum <= 1+maxOff
}
