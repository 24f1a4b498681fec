package sim

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
)

// source returns a generator of its own for the named thing, so that adding one
// more probe does not change what all the others say.
func source(seed uint64, name string) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(name)) // never fails, by its documentation
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// drift is noise that wanders: an Ornstein-Uhlenbeck process with standard
// deviation sd and correlation time tau, s. Gusts and flaring coals look like it.
type drift struct {
	rng *rand.Rand
	sd  float64
	tau float64
	x   float64
}

// step advances the noise by dt, s, and returns it. The update is exact for any dt.
func (d *drift) step(dt float64) float64 {
	if d.sd == 0 {
		return 0
	}
	keep := math.Exp(-dt / d.tau)
	d.x = keep*d.x + d.sd*math.Sqrt(1-keep*keep)*d.rng.NormFloat64()
	return d.x
}
