package process

import (
	"fmt"
	"math"
)

// LeastUncertaintyK is the least that a probe is ever taken to be uncertain by after a
// check at three points, K (science table of the project).
const LeastUncertaintyK = 0.3

// A Correction makes what is believed of what a probe sends: Gain·sent + OffsetC. The
// zero value changes nothing.
type Correction struct {
	Gain         float64 `json:"gain,omitempty"`          // 0 counts as 1
	OffsetC      float64 `json:"offset_c,omitempty"`      // °C
	UncertaintyK float64 `json:"uncertainty_k,omitempty"` // found at a third point; 0: the configured one stands
}

func (c Correction) gain() float64 {
	if c.Gain == 0 {
		return 1
	}
	return c.Gain
}

// Of is the temperature of what was sent, °C.
func (c Correction) Of(sentC float64) float64 { return c.gain()*sentC + c.OffsetC }

// Sent is what was sent for a temperature, °C: the way back.
func (c Correction) Sent(tC float64) float64 { return (tC - c.OffsetC) / c.gain() }

// None reports a correction that changes nothing.
func (c Correction) None() bool { return c.gain() == 1 && c.OffsetC == 0 }

// Words is the correction as a sum to do again.
func (c Correction) Words() string {
	if c.None() {
		return "as sent"
	}
	sign := "+"
	if c.OffsetC < 0 {
		sign = "−"
	}
	if c.gain() == 1 {
		return fmt.Sprintf("sent %s %.3f °C", sign, math.Abs(c.OffsetC))
	}
	return fmt.Sprintf("%.5f × sent %s %.3f °C", c.gain(), sign, math.Abs(c.OffsetC))
}
