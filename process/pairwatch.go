package process

import (
	"math"
	"time"

	"flitch/ingest/signal"
)

const (
	pairFirst  = 24 * time.Hour // what a pair differs by in its first day is its places', and its spread then its own
	pairLeast  = 6              // comparisons of that day, at least (proposal)
	pairQuietK = 0.5            // K that a probe may move in the ten minutes of a comparison (proposal)
)

// A Pair watches whether two probes of one kind in one place drift apart: no rule can say
// which of them is wrong, and the thermometer of an ice bath can. Cores are in different
// meat, and are no pair.
type Pair struct {
	A      string       `json:"a"`
	B      string       `json:"b"`
	Window PairWindow   `json:"window,omitzero"`
	Began  time.Time    `json:"began,omitzero"` // first comparison
	N      int          `json:"n,omitempty"`    // comparisons of the first day, their mean, K, and the sum of squares about it
	Mean   float64      `json:"mean,omitempty"`
	Square float64      `json:"square,omitempty"`
	Drift  signal.Drift `json:"drift,omitzero"`
	OffK   float64      `json:"off_k,omitempty"` // of the newest comparison, from the mean
	Since  time.Time    `json:"since,omitzero"`  // they have drifted; zero: not
	Good   []string     `json:"good,omitempty"`  // those of the two that were checked and found good since
}

// A PairWindow is ten minutes of both.
type PairWindow struct {
	From                     time.Time
	LowA, HighA, LowB, HighB float64
	SumA, SumB               float64
	N                        int
}

func (w *PairWindow) add(a, b float64) {
	if w.N == 0 {
		w.LowA, w.HighA, w.LowB, w.HighB = a, a, b, b
	}
	w.LowA, w.HighA, w.LowB, w.HighB = min(w.LowA, a), max(w.HighA, a), min(w.LowB, b), max(w.HighB, b)
	w.SumA, w.SumB, w.N = w.SumA+a, w.SumB+b, w.N+1
}

func (w *PairWindow) quiet() bool {
	return w.N > 1 && w.HighA-w.LowA <= pairQuietK && w.HighB-w.LowB <= pairQuietK
}

// follow takes what both read at a minute.
func (p *Pair) follow(now time.Time, a, b float64) {
	if p.Window.N == 0 {
		p.Window.From = now
	}
	p.Window.add(a, b)
	if now.Sub(p.Window.From).Minutes() < signal.QuietMin {
		return
	}
	if p.Window.quiet() {
		n := float64(p.Window.N)
		p.compare(now, p.Window.SumA/n-p.Window.SumB/n)
	}
	p.Window = PairWindow{}
}

// compare takes one difference, K: of the first day to learn, then to judge.
func (p *Pair) compare(now time.Time, difference float64) {
	if p.Began.IsZero() {
		p.Began = now
	}
	if p.N < pairLeast || now.Sub(p.Began) < pairFirst {
		p.N++
		step := difference - p.Mean
		p.Mean += step / float64(p.N)
		p.Square += step * (difference - p.Mean)
		return
	}
	p.OffK = difference - p.Mean
	drifted := p.Drift.Add(p.OffK, math.Sqrt(p.Square/float64(p.N-1)))
	switch {
	case !drifted:
		p.Since, p.Good = time.Time{}, nil
	case p.Since.IsZero():
		p.Since = now
	}
}

// checked takes a good check of one of the two. Two that have drifted are compared anew
// when both were found good; two that have not, with the next check of either.
func (p *Pair) checked(probe string) {
	if probe != p.A && probe != p.B {
		return
	}
	if len(p.Good) == 0 || p.Good[0] != probe {
		p.Good = append(p.Good, probe)
	}
	if p.Since.IsZero() || len(p.Good) == 2 {
		*p = Pair{A: p.A, B: p.B}
	}
}

// pair is that of two probes; it is made when they are compared first.
func (p *Place) pair(a, b string) *Pair {
	for i := range p.Pairs {
		if p.Pairs[i].A == a && p.Pairs[i].B == b {
			return &p.Pairs[i]
		}
	}
	p.Pairs = append(p.Pairs, Pair{A: a, B: b})
	return &p.Pairs[len(p.Pairs)-1]
}

// findPairs compares the probes of one kind, and reports those that have drifted apart.
func (p *Place) findPairs(found []Finding) []Finding {
	for i := range p.Probes {
		for j := i + 1; j < len(p.Probes); j++ {
			a, b := &p.Probes[i], &p.Probes[j]
			if kind := a.Probe.Placement; kind != b.Probe.Placement || kind == Core || !kind.IsTemperature() {
				continue
			}
			found = append(found, p.findPair(p.pair(a.Probe.Probe, b.Probe.Probe), a, b))
		}
	}
	return found
}

func (p *Place) findPair(pair *Pair, a, b *PlaceProbe) Finding {
	f := Finding{Measure: MeasurePair, Subject: "probes " + pair.A + " and " + pair.B + " of " + p.Subject(), At: p.Now}
	if !a.heard(p.Now) || !b.heard(p.Now) || p.stuck(a) || p.stuck(b) || a.Sieve.Unit.Open() || b.Sieve.Unit.Open() {
		pair.Window = PairWindow{}
		f.State = Unknown
		return f
	}
	pair.follow(p.Now, a.Last.Value, b.Last.Value)
	if !pair.Since.IsZero() {
		f.Value = max(math.Abs(pair.OffK), signal.LeastSigma)
	}
	return f
}

// drifted reports whether a probe has gone apart from another of its kind.
func (p *Place) drifted(probe string) bool {
	for i := range p.Pairs {
		if d := &p.Pairs[i]; !d.Since.IsZero() && (d.A == probe || d.B == probe) {
			return true
		}
	}
	return false
}
