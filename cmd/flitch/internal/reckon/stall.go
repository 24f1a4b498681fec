package reckon

import (
	"fmt"
	"math"
	"strings"

	"flitch/cmd/flitch/internal/quantity"
	"flitch/process/heat"
	"flitch/process/hold"
)

func degrees(c float64) string { return fmt.Sprintf("%.1f °C", c) }

func stallReckoning() Calculator {
	return Calculator{
		Name: "surface", Help: "Temperature of a wet surface in the smoker: where a cook stalls.",
		Example: "dry=107C rh=10% wetness=20%",
		Keys: append(placeKeys(),
			Key{Name: "dry", Help: "dry bulb, temperature of the air", Read: readTemperature, Needed: true},
			Key{Name: "rh", Help: "relative humidity", Read: readPercent},
			Key{Name: "humidity", Help: "or kg of water per kg of dry air", Read: readNumber},
			Key{Name: "wetness", Help: "wet part of the surface, 10 to 30 % in a stall", Read: readPercent, Taken: "20%", Basis: "assumption"},
			Key{Name: "h", Help: "heat transfer, W/(m² K)", Read: readNumber, Taken: "10", Basis: "assumption"},
			Key{Name: "emission", Help: "emissivity times view factor of the walls", Read: readPercent, Taken: "90%", Basis: "assumption"}),
		work: func(g given) (Answer, error) {
			a := Answer{Model: "heat balance of a wet surface: convection, radiation, evaporation with Stefan flow", Source: "textbook heat and mass transfer",
				Uncertainty: "5 K and more (judgement): wetness and heat transfer are guesses"}
			pa, err := pressureGiven(g, &a)
			if err != nil {
				return a, err
			}
			if err := g.only("rh", "humidity"); err != nil {
				return a, err
			}
			air, ok := heat.AirOfRH(g.number("dry"), 100*g.number("rh"), pa)
			if g.has("humidity") {
				air = heat.Air{DryC: g.number("dry"), Humidity: g.number("humidity"), PressurePa: pa}
				_, ok = air.RH()
			}
			if !ok {
				return a, misuse("less humidity", "there is no such air at %.0f hPa", pa/100)
			}
			s := heat.Surface{Air: air, H: g.number("h"), Wet: g.number("wetness"), Emission: g.number("emission"), WallC: g.number("dry")}
			temp, ok := s.Temperature()
			wet, ok2 := air.WetBulb()
			if !ok || !ok2 {
				return a, misuse("dry=107C rh=10%", "there is no balance above 0 °C")
			}
			a.add("surface", temp, "°C")
			a.add("wet bulb", wet, "°C")
			a.mark("assumption: wetness, heat transfer and radiation unless you gave them")
			return a, nil
		},
	}
}

func meanKinetic() Calculator {
	return Calculator{
		Name: "mean-kinetic", Help: "Mean kinetic temperature of a profile: reported beside a record, it decides nothing.",
		Example: "profile=0h:3C|8h:4C|9h:9C|12h:4C",
		Keys: []Key{
			{Name: "profile", Help: "time:temperature, straight lines between", Read: readProfile},
			{Name: "readings", Help: "or readings that stand for equal times", Read: readReadings},
		},
		work: func(g given) (Answer, error) {
			if err := g.only("profile", "readings"); err != nil {
				return Answer{}, err
			}
			var samples []hold.Sample
			for _, p := range g.series("profile") {
				samples = append(samples, hold.Sample{H: p.hours, C: p.value})
			}
			t, ok := hold.MeanKineticLine(samples)
			if g.has("readings") {
				var all []float64
				for _, p := range g.series("readings") {
					all = append(all, p.value)
				}
				t, ok = hold.MeanKinetic(all)
			}
			if !ok || math.IsNaN(t) {
				return Answer{}, misuse("profile=0h:3C|8h:4C", "time does not go on between two of the points")
			}
			a := Answer{Model: "mean kinetic temperature, 83.144 kJ/mol", Source: "pharmacopoeia USP (from memory)", Uncertainty: "that of your probe"}
			a.add("mean kinetic temperature", t, "°C")
			a.mark("from memory: the constant")
			a.note("made for drugs; bacteria follow other laws")
			return a, nil
		},
	}
}

// readReadings takes "3C|4C|5C".
var readReadings = Reader{Example: "3C|4C|5C", value: func(text string) (value, error) {
	var out []moment
	for i, one := range strings.Split(text, "|") {
		c, err := quantity.ExactTemperature(quantity.WithoutExponent(one))
		if err != nil {
			return value{}, err
		}
		out = append(out, moment{float64(i), c})
	}
	return value{series: out}, nil
}}
