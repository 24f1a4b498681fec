// Package lethality turns a temperature record into credit for killed bacteria,
// and into time spent where bacteria grow.
//
// Every function works on one segment: the straight line between two
// neighbouring readings v1 and v2 (°C), dt apart. The accumulators Sum, Dwell and
// Exposure add segments up without allocating.
//
//	credit:  target.go (rate), organisms.go, segment.go (exact integral), sum.go, dwell.go
//	danger:  zone.go
//	both:    crossing.go (time above, time within, moment of crossing)
//
// Missing data never helps. A gap, a reading that is no number and a negative
// time earn no credit; in the danger zone a gap counts in full when it can touch
// the zone. A result here is a sum by a model; the verdict belongs to the rule.
package lethality
