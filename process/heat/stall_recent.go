package heat

// Recent31 holds the newest 31 readings in order of time.
type Recent31 struct {
	At [31]Sample
	N  int
}

// Recent71 holds the newest 71 readings in order of time.
type Recent71 struct {
	At [71]Sample
	N  int
}

func (r *Recent31) push(s Sample) { r.N = push(r.At[:], r.N, s) }
func (r *Recent71) push(s Sample) { r.N = push(r.At[:], r.N, s) }

func (r *Recent31) last() Sample { return r.At[r.N-1] }
func (r *Recent71) last() Sample { return r.At[r.N-1] }

// push appends to a full array by dropping its oldest; it returns the new number.
func push(at []Sample, n int, s Sample) int {
	if n == len(at) {
		copy(at, at[1:])
		n--
	}
	at[n] = s
	return n + 1
}

func (r *Recent71) since(from float64) []Sample { return since(r.At[:r.N], from) }

// slope is the Theil-Sen slope of all readings held.
func (r *Recent31) slope() (Slope, bool) {
	var room [31 * 30 / 2]float64
	return theilSen(r.At[:r.N], room[:])
}

// slopeSince is the Theil-Sen slope of the readings from a minute on.
func (r *Recent71) slopeSince(from float64) (Slope, bool) {
	recent := r.since(from)
	if len(recent) > 31 {
		recent = recent[len(recent)-31:]
	}
	var room [31 * 30 / 2]float64
	return theilSen(recent, room[:])
}
