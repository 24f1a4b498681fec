package cure

// A Spoonful is what a level US tablespoon of a salt weighs, g.
type Spoonful struct {
	Salt  string  `json:"salt"`
	Grams float64 `json:"grams"`
}

// Spoonfuls are kitchen weighings of salts by the tablespoon (seen, one kitchen).
func Spoonfuls() []Spoonful {
	return []Spoonful{
		{"fine table salt", 19.0}, {"pickling salt", 18.5}, {"coarse sea salt", 16.7}, {"fine sea salt", 16.2},
		{"rolled flake salt", 15.5}, {"hollow flake salt", 11.3}, {"thin flake salt", 8.3},
	}
}

// SpoonSpread returns the heaviest spoonful over the lightest, 2.3: the reason why
// nitrite is never dosed by the spoon.
func SpoonSpread() float64 {
	all := Spoonfuls()
	low, high := all[0].Grams, all[0].Grams
	for _, s := range all {
		low, high = min(low, s.Grams), max(high, s.Grams)
	}
	return high / low
}
