package heat

import "math"

const (
	fallWidth  = 0.12 // of the fall about the loss at which a piece dries out, parts of it (choice of this project)
	fallSteps  = 1000 // of the table, for the loss at which it dries out
	fallenLoss = 3    // times that loss: what is wet still is under 1e-7
)

// A falling is a table of how much of what dries is wet still, 1 to 0: a logistic
// curve, each thousandth of the loss at which a piece dries out. Straight lines
// between are within 1e-6 of it; the exponentials themselves would take a third of the
// time of a forecast.
type falling [fallenLoss*fallSteps + 1]float64

func newFalling() *falling {
	f := new(falling)
	for i := range f {
		f[i] = 1 / (1 + math.Exp((float64(i)/fallSteps-1)/fallWidth))
	}
	return f
}

// at is the value for a loss, >= 0, as a part of the loss at which it dries out.
func (f *falling) at(part float64) float64 {
	x := part * fallSteps
	i := int(min(x, fallenLoss*fallSteps-1))
	return max(0, f[i]+(f[i+1]-f[i])*(x-float64(i)))
}
