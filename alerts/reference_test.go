package alerts

import (
	"math/rand/v2"
	"slices"
	"testing"
	"time"
)

// reference is the machine once more, as slow and as plain as can be: it keeps every
// sample and asks of the whole list each time. Samples come evenly and can be believed:
// for gaps and doubts there are other tests.
type reference struct {
	e       Entry
	spacing time.Duration
	known   []Signal
	rung    int // known samples when it ended last: half of a sum must be newer
	inside  int // the run inside the clear limit begins no earlier
	active  bool
	trigger int
}

func (r *reference) step(s Signal) (kinds []EventKind) {
	if s.State == Over {
		if r.active {
			kinds = append(kinds, Cleared)
		}
		*r = reference{e: r.e, spacing: r.spacing}
		return kinds
	}
	if r.active && len(r.known) > 0 && r.cleared(s.At, r.known[len(r.known)-1].At.Add(2*r.spacing)) {
		kinds = append(kinds, r.clear())
	}
	r.known = append(r.known, s)
	best := r.met()
	switch {
	case !r.active && best >= 0:
		r.active, r.trigger, r.inside = true, best, len(r.known)
		kinds = append(kinds, Raised)
	case !r.active:
	case best >= 0 && r.e.Triggers[best].Level > r.e.Triggers[r.trigger].Level:
		r.trigger = best
		kinds = append(kinds, Worsened)
	case r.cleared(s.At, s.At):
		kinds = append(kinds, r.clear())
	}
	return kinds
}

func (r *reference) clear() EventKind {
	r.active, r.inside = false, len(r.known)
	r.rung = len(r.known)
	return Cleared
}

// cleared reports whether all samples of the newest run were inside for long enough at
// a time; the run has to be complete by latest.
func (r *reference) cleared(now, latest time.Time) bool {
	begin := len(r.known)
	for begin > r.inside && r.known[begin-1].Value <= r.e.Clear.Limit {
		begin--
	}
	if begin == len(r.known) {
		return false
	}
	due := r.known[begin].At.Add(r.e.Clear.For)
	return !now.Before(due) && !due.After(latest)
}

// met is the loudest trigger that holds at the newest sample, the later of equals.
func (r *reference) met() (best int) {
	best = -1
	newest := r.known[len(r.known)-1]
	for i, t := range r.e.Triggers {
		if newest.Value < t.Limit || best >= 0 && t.Level < r.e.Triggers[best].Level {
			continue
		}
		since, sum, fresh := newest.At, time.Duration(0), time.Duration(0)
		for j := len(r.known) - 2; j >= 0 && r.known[j].Value >= t.Limit; j-- {
			since = r.known[j].At
		}
		for j := range len(r.known) - 1 {
			if from, to := r.known[j].At, r.known[j+1].At; r.known[j].Value >= t.Limit && to.After(newest.At.Add(-t.Window)) {
				if old := newest.At.Add(-t.Window); from.Before(old) {
					from = old
				}
				sum += to.Sub(from)
				if j >= r.rung-1 {
					fresh += to.Sub(from)
				}
			}
		}
		if newest.At.Sub(since) >= t.For || t.Sum > 0 && sum >= t.Sum && fresh >= t.Sum/2 {
			best = i
		}
	}
	return best
}

// even are random signals that come at even times.
func even(r *rand.Rand, spacing time.Duration) []Signal {
	signals := make([]Signal, 40+r.IntN(160))
	value := 5.0
	for i := range signals {
		value += 1.2*r.NormFloat64() + (5-value)*0.15
		signals[i] = Signal{Subject: "fridge alder", At: noon.Add(time.Duration(i) * spacing), Value: value}
		if r.IntN(80) == 0 {
			signals[i].State = Over
		}
	}
	return signals
}

func TestTheMachineIsTheReference(t *testing.T) {
	t.Parallel()
	events := map[EventKind]int{}
	for round := range 20000 {
		r := random(round)
		e := entry(r)
		spacing := []time.Duration{10 * time.Second, time.Minute, 5 * time.Minute}[r.IntN(3)]
		ours, plain := &counter{e: e}, &reference{e: e, spacing: spacing}
		for i, s := range even(r, spacing) {
			var got []EventKind
			for _, ev := range condition(ours.step(s)) {
				got = append(got, ev.Kind)
				events[ev.Kind]++
			}
			if want := plain.step(s); !slices.Equal(got, want) {
				t.Fatalf("round %d, signal %d (%+v): %v, the reference says %v\n%+v", round, i, s, got, want, e)
			}
		}
	}
	for _, kind := range []EventKind{Raised, Worsened, Cleared} {
		if events[kind] < 500 {
			t.Errorf("%s only %d times: this shows nothing", kind, events[kind])
		}
	}
}
