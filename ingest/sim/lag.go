package sim

import "math"

// lag is a first-order delay: a bottle of glycol in a fridge, the metal of a core
// probe. tau is its time constant, s; zero passes the input through.
type lag struct {
	tau float64
	in  float64 // input at the end of the last step
	out float64
}

// start puts the lag at rest at v.
func (l *lag) start(v float64) { l.in, l.out = v, v }

// step advances by dt, s, while the input moves on a straight line to in, and
// returns the output. It is exact for that input, by the solution of
// dT/dt = (Ta - T)/tau with Ta = Ta0 + s*t:
// T' = Ta0 + s(dt - tau) + (T - Ta0 + s*tau)*exp(-dt/tau).
func (l *lag) step(dt, in float64) float64 {
	if l.tau <= 0 {
		l.start(in)
		return in
	}
	slope := (in - l.in) / dt
	l.out = l.in + slope*(dt-l.tau) + (l.out-l.in+slope*l.tau)*math.Exp(-dt/l.tau)
	l.in = in
	return l.out
}
