package sim

import (
	"math"
	"testing"
)

// firstRoot solves z*tan(z) = biot on (0, π/2) by bisection.
func firstRoot(biot float64) float64 {
	lo, hi := 0.0, math.Pi/2
	for range 100 {
		if mid := (lo + hi) / 2; mid*math.Tan(mid) < biot {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// One term of the series for a plate cooled alike from both faces:
// θ = C1·exp(-ζ²Fo), C1 = 4 sin ζ/(2ζ + sin 2ζ), good for Fo > 0.2. The anchor is
// the textbook's Bi = 1: ζ = 0.8603, C1 = 1.1191.
func TestSlabFollowsOneTermSeries(t *testing.T) {
	if z := firstRoot(1); math.Abs(z-0.860333589019) > 1e-9 {
		t.Fatalf("the test's own root is wrong: %v", z)
	}
	const startC, airC, mm = 66.0, 3.0, 38.0
	half := mm / 2000
	for _, biot := range []float64{0.3, 1, 3} {
		air := Surroundings{AirC: airC, H: biot * conductivity / half}
		s := NewSlab("A", mm, 2300, startC, Skin{})
		zeta := firstRoot(biot)
		c1 := 4 * math.Sin(zeta) / (2*zeta + math.Sin(2*zeta))
		for i, checked := 0, 0; checked < 4; i++ {
			if i > 100000 {
				t.Fatal("never got there")
			}
			s.step(10, air)
			fourier := diffusivity * float64(i+1) * 10 / (half * half)
			if fourier < 0.3+0.4*float64(checked) {
				continue
			}
			checked++
			want := c1 * math.Exp(-zeta*zeta*fourier)
			if got := (s.Core() - airC) / (startC - airC); math.Abs(got-want) > 0.01*want {
				t.Errorf("Bi %.1f Fo %.2f: θ %.5f, series %.5f", biot, fourier, got, want)
			}
		}
	}
}

// What the slab lost is what the air got.
func TestSlabKeepsItsEnergy(t *testing.T) {
	for _, under := range []Cover{racked, bagged} {
		s := NewSlab("A", 38, 2300, 60, Skin{})
		s.Move(nil, under)
		const dt = 1.0 // short enough for the slab to take it in one piece
		given := 0.0
		for range 5000 {
			s.step(dt, Surroundings{AirC: 3, H: 8})
			given += s.heat * dt // J/m² through one face
		}
		held := density * specificHeat * 0.019 * (60 - s.Mean())
		if math.Abs(given-held) > 1e-3*held {
			t.Errorf("cover %+v: gave %.0f J/m², lost %.0f", under, given, held)
		}
	}
}

func TestSlabComesToRestInItsAir(t *testing.T) {
	s := NewSlab("A", 38, 2300, 60, Skin{})
	for range 12 * 3600 {
		s.step(10, Surroundings{AirC: 3, H: 8, Emissivity: 0.9})
	}
	if d := math.Abs(s.Core() - 3); d > 1e-6 {
		t.Errorf("core %v K from its air", d)
	}
}

func TestSlabInABagFollowsInTwoToThreeHours(t *testing.T) {
	s := NewSlab("A", 38, 2300, 13, Skin{})
	s.Move(nil, bagged)
	hours := 0.0
	for s.Mean() > 3+10*math.Exp(-1) {
		s.step(10, Surroundings{AirC: 3, H: fridgeH})
		hours += 10.0 / 3600
	}
	if hours < 2 || hours > 3 {
		t.Errorf("time constant %.2f h, want 2 to 3", hours)
	}
}

// Surface temperatures of meat that has taken up all the heat it can, found
// outside this package by two independent root finders from the same balance
// (Hyland-Wexler, Chilton-Colburn, radiation from walls at the dry bulb).
func TestWetSurfaceStandsWhereTheBalanceSays(t *testing.T) {
	for _, c := range []struct{ air, water, wet, emissivity, want float64 }{
		{107.2, 0.01, 1, 0, 35.7131039248},
		{107.2, 0.01, 0.3, 0.9, 57.9323031055},
		{107.2, 0.03, 1, 0.9, 47.4429370537},
		{121.1, 0.03, 0.3, 0, 56.7668709594},
		{121.1, 0.08, 0.1, 0.9, 80.9765321529},
		{135, 0.01, 0.05, 0.9, 89.8340286807},
	} {
		s := NewSlab("A", 38, 2300, 20, Skin{Wet: c.wet})
		for range 12 * 360 {
			s.step(10, Surroundings{AirC: c.air, H: 12, Water: c.water, Emissivity: c.emissivity})
		}
		if math.Abs(s.Surface()-c.want) > 1e-2 || math.Abs(s.Core()-c.want) > 2e-2 {
			t.Errorf("%+v: face %.4f, core %.4f", c, s.Surface(), s.Core())
		}
	}
}

// Saturation pressures printed in the ASHRAE tables, Pa.
func TestSaturationPressure(t *testing.T) {
	for c, want := range map[float64]float64{5: 872.6, 25: 3169.7, 50: 12351.3, 100: 101418} {
		if got := saturationPa(c); math.Abs(got-want) > 3e-4*want {
			t.Errorf("%v °C: %.1f Pa, want %.1f", c, got, want)
		}
	}
}

// A stall is flat, lies between 110 and 140 °F in a normal smoker (common
// practice), and ends when the surface has dried.
func TestSlabStallsAndDriesOut(t *testing.T) {
	for _, chamber := range []float64{70, 77, 85} {
		s := NewSlab("A", 38, 2300, 4, skin)
		air := Surroundings{AirC: chamber, H: smokerH, Emissivity: smokerWalls, Water: 0.03}
		var cores []float64 // each minute
		for range 14 * 60 {
			for range 6 {
				s.step(10, air)
			}
			cores = append(cores, s.Core())
		}
		flat, where := math.Inf(1), 0.0
		for i := 60; i+45 < len(cores) && cores[i] < chamber-15; i++ {
			if rise := cores[i+45] - cores[i]; rise < flat {
				flat, where = rise, cores[i]
			}
		}
		t.Logf("chamber %.0f: %.2f K in 45 min at %.1f °C, end %.1f", chamber, flat, where, s.Core())
		if flat > 1 || where < 43.3 || where > 60 {
			t.Errorf("chamber %.0f: flattest 45 min rise %.2f K at %.1f °C", chamber, flat, where)
		}
		if s.Core() < where+4 {
			t.Errorf("chamber %.0f: never left the stall, %.1f °C", chamber, s.Core())
		}
	}
}

// A room-warm wet slab cannot lose more water than it holds, nor heat itself.
func TestSlabInDampColdAirTakesDew(t *testing.T) {
	s := NewSlab("A", 38, 2300, 2, skin)
	s.step(10, Surroundings{AirC: 25, H: 6, Water: 0.015})
	if s.Lost() >= 0 {
		t.Errorf("no dew on a 2 °C slab in air with a dew point of 20 °C: lost %v kg", s.Lost())
	}
}
