package sim

import "time"

// A Smoker is one body of hot air with a fire under a controller. The slabs in it
// take no heat from the air: the fire is large enough to make up for them.
type Smoker struct {
	Name    string
	Room    *Room
	Tau     time.Duration // time constant towards the room with the fire out
	Power   float64       // K above the room at full fire, in the long run
	FireLag time.Duration // from draught to heat
	Gust    float64       // standard deviation of the air around its mean, K
	Water   float64       // kg of water per kg of dry air

	set    float64
	lit    bool
	lid    bool
	burn   float64 // 0 to 1
	memory float64 // the integral of the controller, 0 to 1
	air    float64
	gust   drift
}

// Charcoal returns a house of sheet steel with a charcoal fire and a fan. The
// time constant of a house with its fire out is 20 to 40 min for sheet steel,
// from memory.
func Charcoal(name string, room *Room) *Smoker {
	return &Smoker{Name: name, Room: room, Tau: 30 * time.Minute, Power: 190,
		FireLag: 6 * time.Minute, Gust: 1.2, Water: 0.03}
}

// Electric returns an electric cabinet: quicker to answer, steadier, drier.
func Electric(name string, room *Room) *Smoker {
	return &Smoker{Name: name, Room: room, Tau: 25 * time.Minute, Power: 140,
		FireLag: time.Minute, Gust: 0.4, Water: 0.015}
}

// The controller is invented: proportional and integral, with the integral held
// while the fan is at a stop. It overshoots by a few kelvin, as they do.
const (
	draughtPerK = 0.02
	resetS      = 1500.0
	lidTau      = 150.0 // s, towards the room with the lid open; from memory
	smokerH     = 12.0  // convective, W/m²K
	smokerWalls = 0.9   // emissivity of meat and sooty walls together
)

// Light lights the fire; Quench lets it go out; Set gives the controller its set
// point, °C; Lid opens or shuts the lid.
func (s *Smoker) Light()        { s.lit = true }
func (s *Smoker) Quench()       { s.lit = false }
func (s *Smoker) Set(c float64) { s.set = c }
func (s *Smoker) Lid(open bool) { s.lid = open }

// Chamber returns the temperature at the grate, °C.
func (s *Smoker) Chamber() float64 { return s.air + s.gust.x }

// Surroundings of a slab on the grate.
func (s *Smoker) Surroundings() Surroundings {
	return Surroundings{AirC: s.Chamber(), H: smokerH, Emissivity: smokerWalls, Water: s.Water}
}

func (s *Smoker) start(seed uint64) {
	s.air = s.Room.Temp()
	s.gust = drift{rng: source(seed, "smoker "+s.Name), sd: s.Gust, tau: 240}
}

func (s *Smoker) step(dt float64) {
	s.burn += (s.draught(dt) - s.burn) * dt / s.FireLag.Seconds()
	out := s.Room.Temp() - s.air
	rate := (out + s.Power*s.burn) / s.Tau.Seconds()
	if s.lid {
		rate += out / lidTau
	}
	s.air += rate * dt
	s.gust.sd = s.Gust * s.burn // a cold house has no gusts
	s.gust.step(dt)
}

// draught is the fan, 0 to 1; none when the fire is out.
func (s *Smoker) draught(dt float64) float64 {
	if !s.lit {
		s.memory = 0
		return 0
	}
	off := s.set - s.air
	want := draughtPerK*off + s.memory
	if want > 0 && want < 1 {
		s.memory += draughtPerK * off * dt / resetS
	}
	return min(max(want, 0), 1)
}
