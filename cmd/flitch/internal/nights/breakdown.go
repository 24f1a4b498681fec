package nights

import "time"

// quietEnds is how many nights have no fault: two to begin with, and two at the end, in
// which the last one can still be told of.
const quietEnds = 4

// faultToday spreads the faults evenly over the nights between.
func (y *year) faultToday(n int) bool {
	n -= quietEnds / 2
	nights := y.Nights - quietEnds
	return n >= 0 && n < nights && (n+1)*y.Faults/nights > n*y.Faults/nights
}

// breakDown lets something break today, in time or when the batch comes to it.
func (y *year) breakDown(at func(time.Duration, func(*year)), day time.Weekday, cooking bool) kind {
	deck, begins := y.cures, 2*time.Hour+y.upTo(10*time.Hour)
	if cooking {
		deck = y.cooks
	}
	k := deck.draw(day)
	switch {
	case cooking:
		begins = cookAt + k.after + y.upTo(10*time.Minute)
	case k.after > 0:
		begins = k.after + y.upTo(10*time.Minute)
	}
	if k.when == atChill || k.when == atDose {
		y.due = &k
	} else {
		at(begins, func(y *year) { y.breaks(k) })
	}
	return k
}

// begins reports whether a fault was due at this point of the batch, and lets it begin.
func (y *year) begins(point when) bool {
	if y.due == nil || y.due.when != point {
		return false
	}
	k := *y.due
	y.due = nil
	y.breaks(k)
	return true
}

// breaks lets a fault begin now, and plans its end.
func (y *year) breaks(k kind) {
	y.faults = append(y.faults, Fault{Kind: k.name, At: y.Now, Mended: y.Now.Add(k.lasts), kind: k})
	k.breaks(y)
	y.later(k.lasts, k.mends)
}
