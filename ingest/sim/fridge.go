package sim

import (
	"math/rand/v2"
	"time"
)

// A Fridge is one body of air that a compressor cools. Air and walls are one,
// which makes it slower than the air of a real fridge after a door opening and
// about right over an hour.
type Fridge struct {
	Name     string
	Room     *Room
	SetC     float64       // middle of the thermostat's band, °C
	SwingC   float64       // width of that band, K; 2 to 4 °F is usual
	Leak     time.Duration // time constant towards the room, doors shut
	Cooling  float64       // of the running compressor, K/h of air, the leak not taken off
	Capacity float64       // of air and walls, J/K
	Humidity float64       // kg of water per kg of dry air
	Jitter   float64       // of the thermostat from cycle to cycle, K

	DefrostEvery time.Duration // zero: never
	DefrostFor   time.Duration
	DefrostHeat  float64 // K/h of air

	rng     *rand.Rand
	air     float64
	running bool
	dead    bool    // no mains
	gap     float64 // how far the door is open, 0 to 1
	turn    float64 // temperature at which the compressor next switches
	since   float64 // s since the last defrost began
}

// doorTau is the time constant of the air towards the room through a door wide
// open, s. From memory.
const doorTau = 120.0

// fridgeH is the heat transfer in a fridge, W/m²K, radiation included: within the
// 5 to 20 read for chilling hams (Ryland 2006).
const fridgeH = 8.0

// Air returns the air temperature, °C.
func (f *Fridge) Air() float64 { return f.air }

// Running reports whether the compressor runs.
func (f *Fridge) Running() bool { return f.running }

// Surroundings of a slab on a shelf.
func (f *Fridge) Surroundings() Surroundings {
	return Surroundings{AirC: f.air, H: fridgeH, Water: f.Humidity}
}

// Door opens the door by gap: 0 shut, 1 wide open, 0.01 ajar.
func (f *Fridge) Door(gap float64) { f.gap = min(max(gap, 0), 1) }

// Mains switches the power on or off.
func (f *Fridge) Mains(on bool) { f.dead = !on }

// Set turns the dial to c, °C.
func (f *Fridge) Set(c float64) { f.SetC = c; f.nextTurn() }

// start puts the air at the set point, compressor at rest.
func (f *Fridge) start(seed uint64) {
	f.rng = source(seed, "fridge "+f.Name)
	f.air = f.SetC
	f.since = f.DefrostFor.Seconds() // the first defrost is a full period away
	f.nextTurn()
}

// step advances by dt, s, with loadW of heat coming from what lies inside.
func (f *Fridge) step(dt, loadW float64) {
	inward := (f.Room.Temp() - f.air) * (1/f.Leak.Seconds() + f.gap/doorTau)
	rate := inward + loadW/f.Capacity
	switch {
	case f.dead:
	case f.defrosting(dt):
		rate += f.DefrostHeat / 3600
	case f.running:
		rate -= f.Cooling / 3600
	}
	f.air += rate * dt
	f.thermostat()
}

// defrosting counts on and reports whether the heater is on instead of the
// compressor.
func (f *Fridge) defrosting(dt float64) bool {
	if f.DefrostEvery <= 0 {
		return false
	}
	f.since += dt
	if f.since >= f.DefrostEvery.Seconds() {
		f.since -= f.DefrostEvery.Seconds()
	}
	return f.since < f.DefrostFor.Seconds()
}

func (f *Fridge) thermostat() {
	if f.running && f.air <= f.turn || !f.running && f.air >= f.turn {
		f.running = !f.running
		f.nextTurn()
	}
}

// nextTurn chooses where the thermostat switches next. No two cycles are the same.
func (f *Fridge) nextTurn() {
	half := f.SwingC/2 + f.Jitter*f.rng.NormFloat64()
	if f.running {
		half = -half
	}
	f.turn = f.SetC + half
}
