package sim

import (
	"strings"
	"time"

	"flitch/process"
)

// shop is Oddwick Lane Larder in Varrowmere, a two-person counter in a made-up
// town. Every number in it is invented.
type shop struct {
	*World
	larder, shed *Room
	alder, birch *Fridge
	kettle       *Smoker
	slabs        []*Slab
	hot          []*Probe // cores, chamber and shed: on from smoke to the end
}

// pieces of the batch. The thickest is the slowest and is C.
var pieces = [...]process.Piece{
	{Name: "A", GreenG: 2240, ThicknessMM: 37},
	{Name: "B", GreenG: 2310, ThicknessMM: 38},
	{Name: "C", GreenG: 2405, ThicknessMM: 39},
}

// skin of the demo's slabs, chosen so that the smoke stalls at about 57 °C.
var skin = Skin{Wet: 0.18, Dry: 0.02, Turn: 2.7, Width: 0.12}

func newShop(start time.Time, seed uint64) *shop {
	s := &shop{World: NewWorld(start, seed)}
	s.addRooms()
	s.addFridges()
	s.kettle = Charcoal("old-kettle", s.shed)
	s.AddSmoker(s.kettle)
	for _, p := range pieces {
		slab := NewSlab(p.Name, p.ThicknessMM, p.GreenG, 4, skin)
		slab.Move(s.alder, bagged)
		s.slabs = append(s.slabs, slab)
		s.AddSlab(slab)
	}
	s.addProbes()
	return s
}

func (s *shop) addRooms() {
	s.larder = &Room{Name: "larder", MeanC: 22, SwingC: 2, Warmest: 15 * time.Hour, Humidity: 0.010, Gusts: 0.3}
	s.shed = &Room{Name: "shed", MeanC: 25, SwingC: 5, Warmest: 16 * time.Hour, Humidity: 0.011, Gusts: 0.3}
	s.AddRoom(s.larder)
	s.AddRoom(s.shed)
}

func (s *shop) addFridges() {
	s.alder = &Fridge{Name: "alder", Room: s.larder, SetC: 2.7, SwingC: 1.7, Jitter: 0.08,
		Leak: 160 * time.Minute, Cooling: 14, Capacity: 38e3, Humidity: 0.0036,
		DefrostEvery: 8 * time.Hour, DefrostFor: 18 * time.Minute, DefrostHeat: 4}
	s.birch = &Fridge{Name: "birch", Room: s.larder, SetC: 2.4, SwingC: 1.6, Jitter: 0.08,
		Leak: 180 * time.Minute, Cooling: 14, Capacity: 45e3, Humidity: 0.0036}
	s.AddFridge(s.alder)
	s.AddFridge(s.birch)
}

func (s *shop) addProbes() {
	const slow, fast = 5 * time.Minute, 30 * time.Second
	product := probe("alder-product", "alder", process.Product, slow, s.alder.Air)
	product.Lag, product.Noise = 45*time.Minute, 0.03
	product.Placed.For = []process.StageName{process.StageCure, process.StageDry}
	s.AddProbe(product)
	s.AddProbe(probe("alder-air", "alder", process.Air, slow, s.alder.Air))
	birch := probe("birch-air", "birch", process.Air, slow, s.birch.Air)
	birch.Shape = Bare
	birch.Placed.For = []process.StageName{process.StageChill}
	s.AddProbe(birch)
	for _, slab := range s.slabs {
		core := probe("core-"+strings.ToLower(slab.Name), "old-kettle", process.Core, fast, slab.Core)
		core.Placed.Piece, core.Lag, core.Noise = slab.Name, 40*time.Second, 0.06
		s.addHot(core)
	}
	chamber := probe("kettle-chamber", "old-kettle", process.Chamber, fast, s.kettle.Chamber)
	chamber.Unit, chamber.Lag = Fahrenheit, time.Minute
	s.addHot(chamber)
	shed := probe("shed-air", "shed", process.Ambient, slow, s.shed.Temp)
	shed.Shape = Bare
	s.addHot(shed)
}

// addHot adds a probe that is silent until the smoke.
func (s *shop) addHot(p *Probe) {
	s.AddProbe(p)
	p.Silence()
	s.hot = append(s.hot, p)
}

func probe(name, place string, what process.Placement, every time.Duration, reads func() float64) *Probe {
	return &Probe{
		Placed: process.PlacedProbe{Probe: name, Place: place, Placement: what, Interval: every, Uncertainty: 0.5},
		Topic:  "oddwick/" + place + "/" + name,
		Unit:   Celsius, Shape: Object, Noise: 0.08, Lag: 2 * time.Minute, Reads: reads,
	}
}

// move puts every slab into a place.
func (s *shop) move(to Place, under Cover) {
	for _, slab := range s.slabs {
		slab.Move(to, under)
	}
}

// speak switches on the probes of the smoke.
func (s *shop) speak() {
	for _, p := range s.hot {
		p.Speak()
	}
}
