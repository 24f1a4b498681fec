package nights

import (
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"flitch/ingest/sim"
	"flitch/process"
)

// The shop of the nights. All its numbers are invented.
const (
	alder  = "alder"      // the cure fridge
	birch  = "birch"      // the chill fridge
	cedar  = "cedar"      // the freezer
	kettle = "old-kettle" // the smoker
	aunt   = "tin-aunt"   // the other one
)

const (
	alderC    = 2.5   // set point of the cure fridge, °C
	birchC    = 2.0   // of the chill fridge, °C
	cooling   = 16.0  // of the cure fridge's compressor, K/h
	weak      = 3.0   // of the same when its gas is gone, K/h
	signalDBm = -71.0 // of the board of the cure fridge
	cookPower = 190.0 // of the smoker, K over the room
)

// belly stalls for an hour or two in a smoker at 90 °C.
var belly = sim.Skin{Wet: 0.12, Dry: 0.02, Turn: 1.6, Width: 0.12}

// A shop is the world and what can be done to it.
type shop struct {
	*sim.World
	random         *rand.Rand
	larder         *sim.Room
	alder, birch   *sim.Fridge
	cedar          *sim.Fridge
	kettle, aunt   *sim.Smoker
	slabs          []*sim.Slab
	door           float64            // of alder, 0 or 1, as its switch tells
	mains          float64            // 1 there, 0 not
	out            bool               // the probe of slab A hangs in the smoke
	says           map[string]float64 // what probes say all the time, whatever they are in
	from1970       bool               // the clock of alder's board has begun again and stands
	battery        float64            // of that board, %
	signal         float64            // the same, dBm
	damp           float64            // by which the loft is damper than it should be, points
	steam          float64            // wet bulb of the other smoker, °C
	drySock        bool               // of that wet bulb
	silent         map[string]bool
	heldBack       map[string]bool // sent later: the wifi is away
	probes         map[string]*sim.Probe
	last           map[string]float64 // what each said last
	waiting, ready []process.Reading
}

func newShop(start time.Time, seed uint64) *shop {
	s := &shop{World: sim.NewWorld(start, seed), random: rand.New(rand.NewPCG(seed, 365)), mains: 1, battery: 100, steam: steamC, signal: signalDBm,
		says: map[string]float64{}, last: map[string]float64{}, silent: map[string]bool{}, heldBack: map[string]bool{}, probes: map[string]*sim.Probe{}}
	s.larder = &sim.Room{Name: "larder", MeanC: 19, SwingC: 3, Warmest: 15 * time.Hour, Humidity: 0.009, Gusts: 0.3}
	s.AddRoom(s.larder)
	s.alder = &sim.Fridge{Name: alder, Room: s.larder, SetC: alderC, SwingC: 1.6, Jitter: 0.08, Leak: 160 * time.Minute, Cooling: cooling,
		Capacity: 40e3, Humidity: 0.0036, DefrostEvery: 8 * time.Hour, DefrostFor: 20 * time.Minute, DefrostHeat: 9}
	s.birch = &sim.Fridge{Name: birch, Room: s.larder, SetC: birchC, SwingC: 1.6, Jitter: 0.08, Leak: 180 * time.Minute, Cooling: 20, Capacity: 60e3, Humidity: 0.0036}
	s.cedar = &sim.Fridge{Name: cedar, Room: s.larder, SetC: -19, SwingC: 2, Jitter: 0.1, Leak: 300 * time.Minute, Cooling: 20, Capacity: 60e3, Humidity: 0.0007}
	s.AddFridge(s.alder)
	s.AddFridge(s.birch)
	s.AddFridge(s.cedar)
	s.kettle = sim.Charcoal(kettle, s.larder)
	s.kettle.Power = cookPower
	s.AddSmoker(s.kettle)
	s.aunt = sim.Electric(aunt, s.larder)
	s.AddSmoker(s.aunt)
	for _, p := range pieces {
		slab := sim.NewSlab(p.Name, p.ThicknessMM, p.GreenG, 4, belly)
		s.slabs = append(s.slabs, slab)
		s.AddSlab(slab)
	}
	s.addProbes()
	s.smokerBoard(false)
	s.auntBoard(false)
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
	add("alder-mains", alder, process.Power, time.Minute, 0, 0, func() float64 { return s.mains }).Placed.For = cold
	add("birch-air", birch, process.Air, 2*time.Minute, 2*time.Minute, 0.1, s.birch.Air).Placed.For = []process.StageName{process.StageChill}
	add("cedar-air", cedar, process.Air, 5*time.Minute, 2*time.Minute, 0.1, s.cedar.Air)
	add("kettle-chamber", kettle, process.Chamber, 30*time.Second, time.Minute, 0.4, s.kettle.Chamber)
	add("larder-air", "larder", process.Ambient, 5*time.Minute, 2*time.Minute, 0.1, s.larder.Temp)
	add("aunt-chamber", aunt, process.Chamber, 30*time.Second, time.Minute, 0.1, s.aunt.Chamber)
	add("aunt-wet", aunt, process.WetBulb, 30*time.Second, time.Minute, 0.1, s.wetBulb)
	add("loft-rh", "loft", process.Humidity, 5*time.Minute, 2*time.Minute, 0.8, func() float64 { return loftRH + s.damp })
	for i, slab := range s.slabs {
		core := add("core-"+strings.ToLower(slab.Name), kettle, process.Core, 30*time.Second, 40*time.Second, 0.06, s.reads(i))
		core.Placed.Piece = slab.Name
	}
}

// smokerBoard switches the board of the smoker, which is on from the morning of a cook
// to the end of the chill.
func (s *shop) smokerBoard(on bool) {
	for _, name := range []string{"kettle-chamber", "core-a", "core-b"} {
		if on {
			s.probes[name].Speak()
		} else {
			s.probes[name].Silence()
		}
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

// placed is what each probe measures; bellies lie in three of the places.
func (s *shop) placed() (all, ofBelly []process.PlacedProbe) {
	for _, name := range probeNames {
		placed := s.probes[name].Placed
		all = append(all, placed)
		if !slices.Contains([]string{cedar, aunt, "loft"}, placed.Place) {
			ofBelly = append(ofBelly, placed)
		}
	}
	return all, ofBelly
}

var probeNames = []string{"alder-slow", "alder-air", "alder-door", "alder-mains", "birch-air", "kettle-chamber", "larder-air",
	"core-a", "core-b", "cedar-air", "aunt-chamber", "aunt-wet", "loft-rh"}
