package sensor

import "fmt"

// The kinds of sensor.
const (
	NTC           = "ntc"
	Pt100         = "pt100"
	Pt1000        = "pt1000"
	ThermocoupleK = "thermocouple-k"
)

// Kinds returns every kind, in a fixed order.
func Kinds() []string { return []string{NTC, Pt100, Pt1000, ThermocoupleK} }

// A Spec says what hangs on a board that publishes raw numbers. The zero Spec is a
// sensor that sends a temperature and needs none of this.
type Spec struct {
	Kind    string
	Curve   SteinhartHart // of an NTC
	Divider Divider       // of an NTC that sends counts; zero: it sends Ω
	LeadOhm float64       // of platinum on two wires: both together
	Linear  bool          // of a thermocouple: a chip sends °C by a straight line; else mV
	ColdAt  string        // JSON pointer to the cold junction, °C, in the same payload
	ColdC   float64       // without ColdAt: it is taken to be always so warm, °C
}

// Converts reports whether the numbers need a conversion.
func (s Spec) Converts() bool { return s.Kind != "" }

// String is the Spec in words.
func (s Spec) String() string {
	cold := fmt.Sprintf("cold junction %g °C", s.ColdC)
	if s.ColdAt != "" {
		cold = "cold junction at " + s.ColdAt
	}
	switch {
	case s.Kind == NTC && s.Divider != Divider{}:
		return fmt.Sprintf("ntc %+v behind %+v", s.Curve, s.Divider)
	case s.Kind == NTC:
		return fmt.Sprintf("ntc %+v", s.Curve)
	case s.Kind == ThermocoupleK && s.Linear:
		return "thermocouple-k behind a chip, " + cold
	case s.Kind == ThermocoupleK:
		return "thermocouple-k in mV, " + cold
	case s.Converts():
		return fmt.Sprintf("%s, wires %g Ω", s.Kind, s.LeadOhm)
	}
	return "none"
}

// Conversion is that of the Spec, or what is wrong with it in words.
func (s Spec) Conversion() (Conversion, error) {
	switch s.Kind {
	case NTC:
		return s.ntc()
	case Pt100:
		return Platinum(100, s.LeadOhm)
	case Pt1000:
		return Platinum(1000, s.LeadOhm)
	case ThermocoupleK:
		return s.thermocouple()
	}
	return nil, fmt.Errorf("%q is no sensor that is known", s.Kind)
}

func (s Spec) ntc() (Conversion, error) {
	if err := s.Curve.Check(); err != nil {
		return nil, err
	}
	if s.Divider == (Divider{}) {
		return s.Curve.Ohms(), nil
	}
	if err := s.Divider.Check(); err != nil {
		return nil, err
	}
	return s.Divider.Counts(s.Curve), nil
}

func (s Spec) thermocouple() (Conversion, error) {
	if s.ColdAt == "" && !(s.ColdC >= coldestJunction && s.ColdC <= hottestJunction) {
		return nil, fmt.Errorf("a cold junction at %g °C is not from %.0f to %.0f", s.ColdC, coldestJunction, hottestJunction)
	}
	if s.Linear {
		return Linear(), nil
	}
	return Millivolts(), nil
}
