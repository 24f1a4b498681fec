package main

import (
	"fmt"
	"math"
	"strings"

	"flitch/process/heat"
	"flitch/process/hold"
)

func degrees(c float64) string { return fmt.Sprintf("%.1f °C", c) }

func stallReckoning() calculator {
	return calculator{
		name: "surface", help: "Temperature of a wet surface in the smoker: where a cook stalls.",
		example: "dry=107C rh=10% wetness=20%",
		keys: append(placeKeys(),
			key{name: "dry", help: "dry bulb, temperature of the air", read: readTemperature, needed: true},
			key{name: "rh", help: "relative humidity", read: readPercent},
			key{name: "humidity", help: "or kg of water per kg of dry air", read: readNumber},
			key{name: "wetness", help: "wet part of the surface, 10 to 30 % in a stall", read: readPercent, taken: "20%", basis: "assumption"},
			key{name: "h", help: "heat transfer, W/(m² K)", read: readNumber, taken: "10", basis: "assumption"},
			key{name: "emission", help: "emissivity times view factor of the walls", read: readPercent, taken: "90%", basis: "assumption"}),
		work: func(g given) (answer, error) {
			a := answer{Model: "heat balance of a wet surface: convection, radiation, evaporation with Stefan flow", Source: "textbook heat and mass transfer",
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

func meanKinetic() calculator {
	return calculator{
		name: "mean-kinetic", help: "Mean kinetic temperature of a profile: reported beside a record, it decides nothing.",
		example: "profile=0h:3C|8h:4C|9h:9C|12h:4C",
		keys: []key{
			{name: "profile", help: "time:temperature, straight lines between", read: readProfile},
			{name: "readings", help: "or readings that stand for equal times", read: readReadings},
		},
		work: func(g given) (answer, error) {
			if err := g.only("profile", "readings"); err != nil {
				return answer{}, err
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
				return answer{}, misuse("profile=0h:3C|8h:4C", "time does not go on between two of the points")
			}
			a := answer{Model: "mean kinetic temperature, 83.144 kJ/mol", Source: "pharmacopoeia USP (from memory)", Uncertainty: "that of your probe"}
			a.add("mean kinetic temperature", t, "°C")
			a.mark("from memory: the constant")
			a.note("made for drugs; bacteria follow other laws")
			return a, nil
		},
	}
}

// readReadings takes "3C|4C|5C".
var readReadings = reader{"3C|4C|5C", func(text string) (value, error) {
	var out []moment
	for i, one := range strings.Split(text, "|") {
		c, err := exactTemperature(withoutExponent(one))
		if err != nil {
			return value{}, err
		}
		out = append(out, moment{float64(i), c})
	}
	return value{series: out}, nil
}}
