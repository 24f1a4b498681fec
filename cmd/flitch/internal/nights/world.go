package nights

import (
	"math/rand/v2"
	"strings"
	"time"

	"flitch/ingest/sim"
	"flitch/process"
)

// The shop of the nights. All its numbers are invented.
const (
	alder  = "alder"      // the cure fridge
	birch  = "birch"      // the chill fridge
	kettle = "old-kettle" // the smoker
)

// belly stalls for an hour or two in a smoker at 90 °C.
var belly = sim.Skin{Wet: 0.12, Dry: 0.02, Turn: 1.6, Width: 0.12}

// A shop is the world and what can be done to it.
type shop struct {
	*sim.World
	random         *rand.Rand
	larder         *sim.Room
	alder, birch   *sim.Fridge
	kettle         *sim.Smoker
	slabs          []*sim.Slab
	door           float64  // of alder, 0 or 1, as its switch tells
	mains          float64  // 1 there, 0 not
	out            bool     // the probe of slab A hangs in the smoke
	stuck          *float64 // what the probe of slab A says all the time, °C; nil: it is well
	silent         map[string]bool
	heldBack       map[string]bool // sent later: the wifi is away
	probes         map[string]*sim.Probe
	waiting, ready []process.Reading
}

func newShop(start time.Time, seed uint64) *shop {
	s := &shop{World: sim.NewWorld(start, seed), random: rand.New(rand.NewPCG(seed, 365)), mains: 1,
		silent: map[string]bool{}, heldBack: map[string]bool{}, probes: map[string]*sim.Probe{}}
	s.larder = &sim.Room{Name: "larder", MeanC: 19, SwingC: 3, Warmest: 15 * time.Hour, Humidity: 0.009, Gusts: 0.3}
	s.AddRoom(s.larder)
	s.alder = &sim.Fridge{Name: alder, Room: s.larder, SetC: 2.5, SwingC: 1.6, Jitter: 0.08, Leak: 160 * time.Minute, Cooling: 16,
		Capacity: 40e3, Humidity: 0.0036, DefrostEvery: 8 * time.Hour, DefrostFor: 20 * time.Minute, DefrostHeat: 9}
	s.birch = &sim.Fridge{Name: birch, Room: s.larder, SetC: 2, SwingC: 1.6, Jitter: 0.08, Leak: 180 * time.Minute, Cooling: 20, Capacity: 60e3, Humidity: 0.0036}
	s.AddFridge(s.alder)
	s.AddFridge(s.birch)
	s.kettle = sim.Charcoal(kettle, s.larder)
	s.AddSmoker(s.kettle)
	for _, p := range pieces {
		slab := sim.NewSlab(p.Name, p.ThicknessMM, p.GreenG, 4, belly)
		s.slabs = append(s.slabs, slab)
		s.AddSlab(slab)
	}
	s.addProbes()
	return s
}

// pieces of every batch.
var pieces = []process.Piece{{Name: "A", GreenG: 2240, ThicknessMM: 36}, {Name: "B", GreenG: 2310, ThicknessMM: 38}}

func (s *shop) addProbes() {
	add := func(name, place string, what process.Placement, every, lag time.Duration, noise float64, reads func() float64) *sim.Probe {
		p := &sim.Probe{Placed: process.PlacedProbe{Probe: name, Place: place, Placement: what, Interval: every, Uncertainty: 0.5},
			Topic: name, Unit: sim.Celsius, Shape: sim.Bare, Lag: lag, Noise: noise, Reads: reads}
		s.AddProbe(p)
		s.probes[name] = p
		return p
	}
	cold := []process.StageName{process.StageCure, process.StageDry}
	add("alder-slow", alder, process.Product, 2*time.Minute, 45*time.Minute, 0.05, s.alder.Air).Placed.For = cold
	add("alder-air", alder, process.Air, 2*time.Minute, 2*time.Minute, 0.1, s.alder.Air).Placed.For = cold
	add("alder-door", alder, process.Door, 20*time.Second, 0, 0, func() float64 { return s.door }).Placed.For = cold
	add("alder-mains", alder, process.Power, time.Minute, 0, 0, func() float64 { return s.mains })
	add("birch-air", birch, process.Air, 2*time.Minute, 2*time.Minute, 0.1, s.birch.Air).Placed.For = []process.StageName{process.StageChill}
	add("kettle-chamber", kettle, process.Chamber, 30*time.Second, time.Minute, 0.4, s.kettle.Chamber)
	add("larder-air", "larder", process.Ambient, 5*time.Minute, 2*time.Minute, 0.1, s.larder.Temp)
	for i, slab := range s.slabs {
		core := add("core-"+strings.ToLower(slab.Name), kettle, process.Core, 30*time.Second, 40*time.Second, 0.06, s.reads(i))
		core.Placed.Piece = slab.Name
	}
}

// reads is what the core probe of slab i is in.
func (s *shop) reads(i int) func() float64 {
	return func() float64 {
		if i == 0 && s.out {
			return s.kettle.Chamber()
		}
		return s.slabs[i].Core()
	}
}

// placed is what each probe measures for a batch.
func (s *shop) placed() []process.PlacedProbe {
	var out []process.PlacedProbe
	for _, name := range probeNames {
		out = append(out, s.probes[name].Placed)
	}
	return out
}

var probeNames = []string{"alder-slow", "alder-air", "alder-door", "alder-mains", "birch-air", "kettle-chamber", "larder-air", "core-a", "core-b"}
