package sim

import "time"

// tick is the step of the world. All events and samples fall on whole ticks after
// the start, so that the same run comes out however it is cut.
const tick = 10 * time.Second

// A World is the places, slabs and probes of a cure room, and a time.
type World struct {
	seed    uint64
	started time.Time
	now     time.Time
	rooms   []*Room
	fridges []*Fridge
	smokers []*Smoker
	slabs   []*Slab
	probes  []*Probe
	said    []Sample
}

// NewWorld returns an empty world at the start, with the seed of all its noise.
func NewWorld(start time.Time, seed uint64) *World {
	return &World{seed: seed, started: start.UTC(), now: start.UTC()}
}

// Now returns the time of the world.
func (w *World) Now() time.Time { return w.now }

// AddRoom adds a room. Rooms come before what stands in them.
func (w *World) AddRoom(r *Room) {
	r.wander = drift{rng: source(w.seed, "room "+r.Name), sd: r.Gusts, tau: 1800}
	r.step(0, w.now)
	w.rooms = append(w.rooms, r)
}

// AddFridge adds a fridge, at rest at its set point.
func (w *World) AddFridge(f *Fridge) {
	f.start(w.seed)
	w.fridges = append(w.fridges, f)
}

// AddSmoker adds a smoker, cold.
func (w *World) AddSmoker(s *Smoker) {
	s.start(w.seed)
	w.smokers = append(w.smokers, s)
}

// AddSlab adds a slab, already in its first place.
func (w *World) AddSlab(s *Slab) { w.slabs = append(w.slabs, s) }

// AddProbe adds a probe, at rest in what it reads. Its interval is rounded up to
// whole ticks, at least one.
func (w *World) AddProbe(p *Probe) {
	ticks := max(1, (p.Placed.Interval+tick-1)/tick)
	p.Placed.Interval = ticks * tick
	p.start(w.seed)
	w.probes = append(w.probes, p)
}

// Advance lets the world run up to the last whole tick that is not after to. It
// never runs backwards.
func (w *World) Advance(to time.Time) {
	for next := w.now.Add(tick); !next.After(to); next = next.Add(tick) {
		w.now = next
		w.step(tick.Seconds())
		w.sample()
	}
}

func (w *World) step(dt float64) {
	for _, r := range w.rooms {
		r.step(dt, w.now)
	}
	for _, f := range w.fridges {
		f.step(dt, w.load(f))
	}
	for _, s := range w.smokers {
		s.step(dt)
	}
	for _, s := range w.slabs {
		if s.place != nil {
			s.step(dt, s.place.Surroundings())
		}
	}
	for _, p := range w.probes {
		p.lag.step(dt, p.Reads())
	}
}

// load is the heat the slabs in a fridge gave to its air in the last step, W.
func (w *World) load(f *Fridge) float64 {
	sum := 0.0
	for _, s := range w.slabs {
		if s.place == Place(f) {
			sum += s.heat * s.AreaM
		}
	}
	return sum
}

func (w *World) sample() {
	for _, p := range w.probes {
		if !p.silent && w.now.Sub(w.started)%p.Placed.Interval == 0 {
			w.said = append(w.said, p.sample(w.now))
		}
	}
}

// Samples returns what the probes said since the last call, in the order of time,
// and forgets it.
func (w *World) Samples() []Sample {
	said := w.said
	w.said = nil
	return said
}
