package api

import (
	"time"

	"github.com/prometheus/client_golang/prometheus"
)

// fleetFigures tell how the copy to the database of many sites goes.
type fleetFigures struct {
	rows   prometheus.Counter
	behind prometheus.Gauge
	since  prometheus.Gauge
	at     prometheus.Gauge
	errors *prometheus.CounterVec // class
}

// Fleet adds the figures of a site that belongs to a fleet. Every class of error is there from
// the beginning, so that a first one is seen as an increase.
func (m *Metrics) Fleet(classes []string) {
	f := &fleetFigures{
		rows:   counter("flitch_fleet_rows_total", "Rows of the input log that the database of many sites has taken."),
		behind: prometheus.NewGauge(prometheus.GaugeOpts{Name: "flitch_fleet_behind_rows", Help: "Numbers of the input log that are not there yet."}),
		since:  prometheus.NewGauge(prometheus.GaugeOpts{Name: "flitch_fleet_behind_seconds", Help: "For how long not all was there; 0: it is."}),
		at:     prometheus.NewGauge(prometheus.GaugeOpts{Name: "flitch_fleet_success_timestamp_seconds", Help: "When all was there last; 0: not since the start."}),
		errors: counters("flitch_fleet_errors_total", "Attempts to send that failed.", "class"),
	}
	for _, c := range classes {
		f.errors.WithLabelValues(c)
	}
	m.registry.MustRegister(f.rows, f.behind, f.since, f.at, f.errors)
	m.fleet = f
}

// FleetTold notes how an attempt to send ended: how many rows are there since the last one, how
// many are not, for how long, when all was there last, and the class of what went wrong; empty:
// nothing did.
func (m *Metrics) FleetTold(sent int, behind int64, since time.Duration, at time.Time, class string) {
	f := m.fleet
	f.rows.Add(float64(sent))
	f.behind.Set(float64(behind))
	f.since.Set(since.Seconds())
	if !at.IsZero() {
		f.at.Set(float64(at.UnixMilli()) / 1000)
	}
	if class != "" {
		f.errors.WithLabelValues(class).Inc()
	}
}
