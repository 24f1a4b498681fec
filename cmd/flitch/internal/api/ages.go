package api

import (
	"maps"
	"time"

	"github.com/prometheus/client_golang/prometheus"
)

// ages are the figures that grow by themselves. They are computed when asked
// for: a gauge that nobody moves would look fresh for ever.
type ages struct{ *Metrics }

var (
	readingAge = prometheus.NewDesc("flitch_reading_age_seconds", "Since the newest believed reading of the probe was measured.", []string{"probe"}, nil)
	leftOut    = prometheus.NewDesc("flitch_readings_left_out_total", "Readings on disk that did not count, or are in doubt, by reason.", []string{"probe", "reason"}, nil)
	dueAge     = prometheus.NewDesc("flitch_oldest_due_message_seconds", "How long the oldest unsent message has been due; 0 when there is none.", nil, nil)
)

// Describe names the figures.
func (a ages) Describe(out chan<- *prometheus.Desc) {
	out <- readingAge
	out <- dueAge
	out <- leftOut
}

// Collect computes them.
func (a ages) Collect(out chan<- prometheus.Metric) {
	now := a.clock.Now()
	a.mu.Lock()
	newest := maps.Clone(a.newest)
	a.mu.Unlock()
	for probe, at := range newest {
		out <- prometheus.MustNewConstMetric(readingAge, prometheus.GaugeValue, now.Sub(at).Seconds(), probe)
	}
	if a.LeftOut != nil {
		for _, f := range a.LeftOut() {
			out <- prometheus.MustNewConstMetric(leftOut, prometheus.CounterValue, float64(f.Count), f.Probe, f.Reason)
		}
	}
	var waiting time.Duration
	if a.due != nil {
		if at, some := a.due(); some {
			waiting = max(now.Sub(at), 0)
		}
	}
	out <- prometheus.MustNewConstMetric(dueAge, prometheus.GaugeValue, waiting.Seconds())
}

func counter(name, help string) prometheus.Counter {
	return prometheus.NewCounter(prometheus.CounterOpts{Name: name, Help: help})
}

func counters(name, help string, labels ...string) *prometheus.CounterVec {
	return prometheus.NewCounterVec(prometheus.CounterOpts{Name: name, Help: help}, labels)
}

func gauges(name, help string, labels ...string) *prometheus.GaugeVec {
	return prometheus.NewGaugeVec(prometheus.GaugeOpts{Name: name, Help: help}, labels)
}

// A ProbeFlags is how many readings of a probe did not count for one reason.
type ProbeFlags struct {
	Probe, Reason string
	Count         int64
}
