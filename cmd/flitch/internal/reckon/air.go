package reckon

import "flitch/process/heat"

// placeKeys say where it is: the pressure there, or the altitude.
func placeKeys() []Key {
	return []Key{
		{Name: "altitude", Help: "of the place", Read: readAltitude},
		{Name: "pressure", Help: "at the station, not reduced to sea level", Read: readPressure},
	}
}

// pressureGiven is the pressure of the place, Pa; sea level when nothing is said.
func pressureGiven(g given, a *Answer) (float64, error) {
	switch {
	case g.has("altitude") && g.has("pressure"):
		return 0, misuse("altitude or pressure", "altitude and pressure say the same thing")
	case g.has("pressure"):
		return g.number("pressure"), nil
	case g.has("altitude"):
		pa, ok := heat.PressureAt(g.number("altitude"))
		if !ok {
			return 0, misuse("altitude=500m", "no air is known at that altitude")
		}
		a.note("standard air at that altitude; weather moves the pressure by 3 %%")
		return pa, nil
	}
	a.Taken = append(a.Taken, Taken{"altitude", "0m", "sea level, standard air"})
	return heat.SeaLevelPa, nil
}

func wetBulb() Calculator {
	return Calculator{
		Name: "wet-bulb", Help: "Humidity of the air: dry bulb with wet bulb or relative humidity.",
		Example: "dry=57C rh=40% altitude=500m",
		Keys: append(placeKeys(),
			Key{Name: "dry", Help: "dry bulb, temperature of the air", Read: readTemperature, Needed: true},
			Key{Name: "rh", Help: "relative humidity", Read: readPercent},
			Key{Name: "wet", Help: "or the wet bulb", Read: readTemperature}),
		work: reckonWetBulb,
	}
}

func reckonWetBulb(g given) (Answer, error) {
	a := Answer{
		Model:       "psychrometric equations of ASHRAE, Hyland and Wexler for saturation",
		Source:      "ASHRAE (coefficients seen); within 300 ppm of its own table",
		Uncertainty: "that of your probes; a sock that runs dry reads too warm",
	}
	pa, err := pressureGiven(g, &a)
	if err == nil {
		err = g.only("rh", "wet")
	}
	if err != nil {
		return a, err
	}
	dry := g.number("dry")
	air, ok := heat.AirOfRH(dry, 100*g.number("rh"), pa)
	if g.has("wet") {
		air, ok = heat.AirOfWetBulb(dry, g.number("wet"), pa)
	}
	if !ok {
		return a, misuse("a wet bulb at or below the dry bulb, or less humidity", "there is no such air at %.0f hPa", pa/100)
	}
	wet, ok1 := air.WetBulb()
	rh, ok2 := air.RH()
	most, ok3 := heat.MaxRH(dry, pa)
	if !ok1 || !ok2 || !ok3 {
		return a, misuse("a temperature from -60C to 200C", "the formulas do not reach there")
	}
	a.add("wet bulb", wet, "°C")
	a.add("relative humidity", rh, "%")
	if dew, ok := air.DewPoint(); ok {
		a.add("dew point", dew, "°C")
	}
	a.add("humidity ratio", 1000*air.Humidity, "g/kg dry air")
	if most < 100 {
		a.add("most there can be", most, "%")
	}
	if dry > 85 {
		a.note("humidity sensors rated to 85 °C lie in this heat: measure with a wet sock")
	}
	return a, nil
}

func boilingPoint() Calculator {
	return Calculator{
		Name: "boiling-point", Help: "Where water boils, for the check of a probe; with both readings, its calibration.",
		Example: "altitude=500m ice=0.3C boil=98.6C",
		Keys: append(placeKeys(),
			Key{Name: "ice", Help: "what the probe read in ice water", Read: readTemperature},
			Key{Name: "boil", Help: "what it read in boiling water", Read: readTemperature},
			Key{Name: "reading", Help: "a reading to correct by that", Read: readTemperature}),
		work: func(g given) (Answer, error) {
			a := Answer{Model: "saturation line of water", Source: "IAPWS-IF97, region 4, backward equation (coefficients read in public copies)",
				Uncertainty: "under 0.01 K at a known pressure; up to 0.9 K by the weather when only the altitude is known"}
			pa, err := pressureGiven(g, &a)
			if err != nil {
				return a, err
			}
			boil, ok := heat.BoilingPoint(pa)
			if !ok {
				return a, misuse("pressure=955hPa", "water has no boiling point at %g Pa", pa)
			}
			a.add("boiling point", boil, "°C")
			a.add("pressure", pa/100, "hPa")
			return a, calibration(&a, g, pa)
		},
	}
}

// calibration adds what the two readings of a probe come to.
func calibration(a *Answer, g given, pa float64) error {
	if g.has("ice") != g.has("boil") {
		return misuse("ice=0.3C boil=98.6C", "a calibration needs both readings, ice and boiling")
	}
	if !g.has("ice") && g.has("reading") {
		return misuse("ice=0.3C boil=98.6C", "a reading is corrected by what the probe read in ice water and in boiling water")
	}
	if !g.has("ice") {
		return nil
	}
	c, accept, ok := heat.TwoPoint(g.number("ice"), g.number("boil"), pa)
	if !ok {
		return misuse("ice=0.3C boil=98.6C", "the boiling reading is not above the ice reading")
	}
	a.add("gain", c.Gain, "")
	a.add("offset", c.OffsetC, "K")
	if g.has("reading") {
		a.add("corrected", c.Correct(g.number("reading")), "°C")
	}
	a.say("probe within 3 % and 2 K", map[bool]string{true: "met", false: "not met"}[accept])
	if !accept {
		a.note("replace the probe: it is too far off to be corrected (choice of this project)")
	}
	return nil
}
