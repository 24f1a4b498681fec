package nights

import (
	"math/rand/v2"
	"slices"
	"time"
)

// A deck is kinds of faults in an order of chance: each comes once before any comes
// again, so that the rare ones come as often as the others.
type deck struct {
	all, left []kind
	last      string
	random    *rand.Rand
}

func newDeck(random *rand.Rand, of ...when) *deck {
	d := &deck{random: random}
	for _, k := range kinds() {
		if slices.Contains(of, k.when) {
			d.all = append(d.all, k)
		}
	}
	return d
}

// draw takes the first that can begin on the day and is not the one that came last.
func (d *deck) draw(day time.Weekday) kind {
	for {
		for i, k := range d.left {
			if k.able(day) && k.name != d.last {
				d.left = slices.Delete(d.left, i, i+1)
				d.last = k.name
				return k
			}
		}
		for _, i := range d.random.Perm(len(d.all)) {
			d.left = append(d.left, d.all[i])
		}
	}
}
