package sim

import (
	"math"
	"time"
)

// A Place is somewhere a slab can lie.
type Place interface {
	// Surroundings returns the air in it now.
	Surroundings() Surroundings
}

// A Room is a place nobody controls: a shop, a shed, outdoors.
type Room struct {
	Name     string
	MeanC    float64       // over the day, °C
	SwingC   float64       // half of the difference between warmest and coldest, K
	Warmest  time.Duration // time of day, UTC
	Humidity float64       // kg of water per kg of dry air
	Gusts    float64       // standard deviation of its own wandering, K

	wander drift
	now    float64
}

// Temp returns the temperature now, °C.
func (r *Room) Temp() float64 { return r.now }

// Surroundings of a room: still air, radiation included.
func (r *Room) Surroundings() Surroundings {
	return Surroundings{AirC: r.now, H: roomH, Water: r.Humidity}
}

// roomH is the heat transfer in still air, W/m²K, with radiation in it: the low
// end of 5 to 20 read for chilling hams (Ryland 2006).
const roomH = 6.0

func (r *Room) step(dt float64, at time.Time) {
	day := time.Duration(at.Hour())*time.Hour + time.Duration(at.Minute())*time.Minute + time.Duration(at.Second())*time.Second
	phase := 2 * math.Pi * (day - r.Warmest).Hours() / 24
	r.now = r.MeanC + r.SwingC*math.Cos(phase) + r.wander.step(dt)
}
