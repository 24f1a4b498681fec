package heat

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// There and back: air from its wet bulb is the air again, hot or cold, high or low.
func TestWetBulbAndBack(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		pressure, _ := PressureAt(rapid.Float64Range(-100, 4000).Draw(rt, "altitude"))
		air := Air{DryC: rapid.Float64Range(3, 200).Draw(rt, "dry"), PressurePa: pressure}
		top, _ := MaxRH(air.DryC, pressure)
		pv := saturation(air.DryC) / 100 * top * rapid.Float64Range(0.02, 0.98).Draw(rt, "part")
		air.Humidity = humidityOf(pv, pressure)
		wet, ok := air.WetBulb()
		if !ok || wet > air.DryC {
			rt.Fatalf("%+v: wet bulb %v %v", air, wet, ok)
		}
		if math.Abs(wet) < 1 {
			return // ice or water, either may be
		}
		back, ok := AirOfWetBulb(air.DryC, wet, pressure)
		if !ok || math.Abs(back.Humidity-air.Humidity) > 1e-9*(1+air.Humidity) {
			rt.Fatalf("%+v came back as %+v %v", air, back, ok)
		}
		dew, ok := air.DewPoint()
		if !ok || dew > wet+1e-6 {
			rt.Fatalf("dew point %v above wet bulb %v", dew, wet)
		}
	})
}

// A psychrometer by another law: that of the WMO (from memory) finds 0.8 % less
// vapour at 30/25 °C and 4.6 % less at 40/20 °C, as it is known to. The two are not
// to be mixed.
func TestPsychrometerOfTheWMO(t *testing.T) {
	for _, c := range []struct{ dry, wet, less float64 }{{30, 25, 0.8}, {40, 20, 4.6}} {
		air, ok := AirOfWetBulb(c.dry, c.wet, SeaLevelPa)
		if !ok {
			t.Fatal("no air")
		}
		e := 611.2*math.Exp(17.62*c.wet/(243.12+c.wet)) - 6.53e-4*(1+0.000944*c.wet)*SeaLevelPa*(c.dry-c.wet)
		near(t, "per cent less vapour", 100*(1-e/air.VapourPa()), c.less, 0.051)
	}
}

func TestSaturatedAir(t *testing.T) {
	for _, dry := range []float64{-20, 0.5, 20, 60, 95} {
		air, ok := AirOfRH(dry, 100, SeaLevelPa)
		if !ok {
			t.Fatalf("no saturated air at %v °C", dry)
		}
		near(t, "wet bulb", number(air.WetBulb()), dry, 1e-6)
		near(t, "dew point", number(air.DewPoint()), dry, 1e-6)
		near(t, "humidity", number(air.RH()), 100, 1e-9)
	}
}

// Quoted figures: a hot smoker cannot be more than half humid, the exact wet bulb
// where the short formula is wrong, and dry air has a wet bulb too.
func TestQuotedAir(t *testing.T) {
	near(t, "highest RH at 121.1 °C", number(MaxRH(121.1, SeaLevelPa)), 49.3, 0.06)
	near(t, "highest RH at 60 °C", number(MaxRH(60, SeaLevelPa)), 100, 0)
	near(t, "short formula", number(StullWetBulb(30, 50)), 22.297, 5e-4)
	air, _ := AirOfRH(30, 50, SeaLevelPa)
	near(t, "exact", number(air.WetBulb()), 22.005, 5e-4)
	hot := Air{DryC: 121.1, Humidity: 0.02, PressurePa: SeaLevelPa}
	near(t, "smoker", number(hot.WetBulb()), 41.9, 0.05)
	near(t, "smoker's RH", number(hot.RH()), 1.5, 0.05)
	hot.Humidity = 0
	if wet, ok := hot.WetBulb(); !ok || wet < 25 || wet > 40 {
		t.Errorf("wet bulb in dry air of 121.1 °C: %v %v", wet, ok)
	}
}

func TestNoSuchAir(t *testing.T) {
	nan := math.NaN()
	for name, ok := range map[string]bool{
		"RH over 100":           second(AirOfRH(20, 100.1, SeaLevelPa)),
		"RH under 0":            second(AirOfRH(20, -1, SeaLevelPa)),
		"RH unknown":            second(AirOfRH(20, nan, SeaLevelPa)),
		"RH that would boil":    second(AirOfRH(121.1, 49.4, SeaLevelPa)),
		"no pressure":           second(AirOfRH(20, 50, nan)),
		"endless pressure":      second(AirOfRH(20, 50, math.Inf(1))),
		"over 200 °C":           second(Saturation(200.1)),
		"under -100 °C":         second(Saturation(-100.1)),
		"wet over dry":          second(AirOfWetBulb(20, 20.1, SeaLevelPa)),
		"wet over boiling":      second(AirOfWetBulb(135, 101, SeaLevelPa)),
		"wet too low":           second(AirOfWetBulb(40, 10, SeaLevelPa)),
		"fog":                   second(Air{DryC: 20, Humidity: 0.05, PressurePa: SeaLevelPa}.WetBulb()),
		"humidity unknown":      second(Air{DryC: 20, Humidity: nan, PressurePa: SeaLevelPa}.WetBulb()),
		"short formula, hot":    second(StullWetBulb(50.1, 50)),
		"short formula, cold":   second(StullWetBulb(-20.1, 50)),
		"short formula, dry":    second(StullWetBulb(20, 4)),
		"short formula, no RH":  second(StullWetBulb(20, nan)),
		"above the air":         second(PressureAt(11001)),
		"altitude unknown":      second(PressureAt(nan)),
		"steam of no pressure":  second(BoilingPoint(600)),
		"steam over critical":   second(BoilingPoint(23e6)),
		"highest RH, unknown":   second(MaxRH(nan, SeaLevelPa)),
		"dew point of dry air":  second(Air{DryC: 20, PressurePa: SeaLevelPa}.DewPoint()),
		"humidity of no number": second(Air{DryC: nan, Humidity: 0.01, PressurePa: SeaLevelPa}.RH()),
	} {
		if ok {
			t.Errorf("%s: answered", name)
		}
	}
}

func second[T any](_ T, ok bool) bool { return ok }

// A probe that is far off is computed but not accepted.
func TestCalibrationRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		ice, boil  float64
		accept, ok bool
	}{
		"good":         {0.3, 99.8, true, true},
		"ice far off":  {2.1, 102, false, true},
		"gain too low": {0, 104, false, true},
		"gain high":    {0, 96, false, true},
		"swapped":      {99, 0, false, false},
		"unknown":      {math.NaN(), 100, false, false},
		"endless":      {0, math.Inf(1), false, false},
	} {
		if _, accept, ok := TwoPoint(c.ice, c.boil, SeaLevelPa); accept != c.accept || ok != c.ok {
			t.Errorf("%s: accepted %v, computed %v, want %v, %v", name, accept, ok, c.accept, c.ok)
		}
	}
}

// Without radiation a wet surface is at the wet bulb within 1 K; a dry one is at the
// temperature of the air.
func TestSurfaceEnds(t *testing.T) {
	for _, dry := range []float64{60, 107.2, 135} {
		s := Surface{Air: Air{DryC: dry, Humidity: 0.02, PressurePa: SeaLevelPa}, H: 12, Wet: 1, WallC: dry}
		wet, _ := s.Air.WetBulb()
		near(t, "wet surface", number(s.Temperature()), wet, 1)
		s.Wet = 0
		near(t, "dry surface", number(s.Temperature()), dry, 1e-9)
		s.Inward = 120
		near(t, "heat into the meat", number(s.Temperature()), dry-10, 1e-9)
	}
}

// Whatever the smoker, the balance that comes out balances, and a wetter surface is
// not warmer.
func TestSurfaceBalances(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := Surface{
			Air: Air{DryC: rapid.Float64Range(20, 200).Draw(rt, "dry"), Humidity: rapid.Float64Range(0.004, 0.5).Draw(rt, "W"), PressurePa: SeaLevelPa},
			H:   rapid.Float64Range(2, 60).Draw(rt, "h"), Wet: rapid.Float64Range(0, 1).Draw(rt, "wet"),
			Emission: rapid.Float64Range(0, 1).Draw(rt, "emission"), WallC: rapid.Float64Range(20, 200).Draw(rt, "wall"),
		}
		ts, ok := s.Temperature()
		if !ok {
			rt.Fatalf("%+v: no balance", s)
		}
		boil, _ := saturatedAt(SeaLevelPa)
		if boil-ts < 1e-6 {
			return // it boils: the flow of water has no bound there, and no slope
		}
		f, slope := s.surplus(ts)
		if math.Abs(f/slope) > 1e-8 {
			rt.Fatalf("%+v: %v W/m² left at %v °C", s, f, ts)
		}
		e := 1e-4
		up, _ := s.surplus(ts + e)
		down, _ := s.surplus(ts - e)
		if d := (up - down) / (2 * e); boil-ts > 1 && math.Abs(d-slope) > 1e-4*math.Abs(slope) {
			rt.Fatalf("%+v: slope %v, by differences %v", s, slope, d)
		}
	})
}

func TestNoSuchSurface(t *testing.T) {
	good := Surface{Air: Air{DryC: 110, Humidity: 0.02, PressurePa: SeaLevelPa}, H: 12, Wet: 0.3, WallC: 110}
	if _, ok := good.Temperature(); !ok {
		t.Fatal("no temperature for a plain surface")
	}
	for name, change := range map[string]func(*Surface){
		"no convection": func(s *Surface) { s.H = 0 }, "wetter than wet": func(s *Surface) { s.Wet = 1.1 },
		"unknown": func(s *Surface) { s.WallC = math.NaN() }, "all heat goes inside": func(s *Surface) { s.Inward = 1e5 },
		"endless": func(s *Surface) { s.Inward = math.Inf(-1) }, "shiny": func(s *Surface) { s.Emission = -0.1 },
	} {
		s := good
		change(&s)
		if tC, ok := s.Temperature(); ok {
			t.Errorf("%s: %v °C", name, tC)
		}
	}
}
