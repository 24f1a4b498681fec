package api

import (
	"net/http"
	"regexp"
	"runtime"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"flitch/alerts"
	"flitch/process"
)

// Metrics are the figures for Prometheus, in a registry of their own. Its methods
// are what the loops call their observers.
type Metrics struct {
	registry *prometheus.Registry
	clock    Clock
	due      func() (time.Time, bool)
	LeftOut  func() []ProbeFlags // readings that did not count so far; nil: not known. Asked at each scrape

	readings  *prometheus.CounterVec   // probe, quality
	stored    prometheus.Counter       //
	doubled   prometheus.Counter       //
	rejects   *prometheus.CounterVec   // class
	unmapped  prometheus.Counter       //
	commits   prometheus.Histogram     // s
	failures  prometheus.Counter       //
	evaluated prometheus.Counter       //
	lag       prometheus.Gauge         // s
	stuck     prometheus.Gauge         // 0 or 1
	alarms    *prometheus.GaugeVec     // level, state
	messages  *prometheus.CounterVec   // channel, outcome
	sending   *prometheus.HistogramVec // channel, s
	fleet     *fleetFigures            // nil: this site is alone

	mu      sync.Mutex
	newest  map[string]time.Time // per probe, of the measurement
	classes map[string]bool      // reject classes seen, so that texts cannot flood the registry
}

// maxClasses bounds how many classes of rejects are told apart.
const maxClasses = 20

// NewMetrics returns the figures. Due tells the time at which the oldest unsent
// message was due, and false when there is none; it is asked at each scrape.
func NewMetrics(clock Clock, version string, due func() (time.Time, bool)) *Metrics {
	m := &Metrics{registry: prometheus.NewRegistry(), clock: clock, due: due,
		newest: make(map[string]time.Time), classes: make(map[string]bool)}
	m.intake()
	m.core()
	build := gauges("flitch_build_info", "Always 1; the version is in the labels.", "version", "go")
	build.WithLabelValues(version, runtime.Version()).Set(1)
	live := collectors.GoRuntimeMetricsRule{Matcher: regexp.MustCompile(`^/gc/heap/live:bytes$`)} // without what waits to be collected
	m.registry.MustRegister(build, ages{m}, collectors.NewGoCollector(collectors.WithGoCollectorRuntimeMetrics(live)),
		collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return m
}

func (m *Metrics) intake() {
	m.readings = counters("flitch_readings_total", "Readings on disk.", "probe", "quality")
	m.stored = counter("flitch_intake_stored_total", "Readings that were new and are on disk.")
	m.doubled = counter("flitch_intake_duplicates_total", "Readings that came again and were dropped.")
	m.rejects = counters("flitch_intake_rejected_total", "Values that could not be used.", "class")
	m.unmapped = counter("flitch_intake_unmapped_total", "Messages on topics that no probe reads.")
	m.failures = counter("flitch_intake_store_failures_total", "Commits that failed and were tried again.")
	m.commits = prometheus.NewHistogram(prometheus.HistogramOpts{
		Name: "flitch_commit_seconds", Help: "Time of one intake transaction, with its waits.",
		Buckets: []float64{.0005, .001, .0025, .005, .01, .025, .05, .1, .25, .5, 1, 5},
	})
	m.registry.MustRegister(m.readings, m.stored, m.doubled, m.rejects, m.unmapped, m.failures, m.commits)
}

func (m *Metrics) core() {
	m.evaluated = counter("flitch_inputs_evaluated_total", "Entries of the input log that moved the clocks.")
	m.lag = prometheus.NewGauge(prometheus.GaugeOpts{Name: "flitch_input_lag_seconds", Help: "How old the oldest entry was when it was evaluated, last time."})
	m.stuck = prometheus.NewGauge(prometheus.GaugeOpts{Name: "flitch_engine_fault", Help: "1 while entries cannot be evaluated."})
	m.alarms = gauges("flitch_alarms", "Alarms now.", "level", "state")
	m.messages = counters("flitch_messages_total", "Attempts to tell somebody, by how they ended.", "channel", "outcome")
	m.sending = prometheus.NewHistogramVec(prometheus.HistogramOpts{
		Name: "flitch_message_seconds", Help: "Time of one attempt to tell somebody.",
		Buckets: []float64{.05, .1, .25, .5, 1, 2.5, 5, 10, 30},
	}, []string{"channel"})
	m.registry.MustRegister(m.evaluated, m.lag, m.stuck, m.alarms, m.messages, m.sending)
}

// Handler answers a scrape.
func (m *Metrics) Handler() http.Handler {
	return promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{Registry: m.registry})
}

// Heard counts readings that are on disk and remembers the newest of each probe.
func (m *Metrics) Heard(readings []process.Reading) {
	m.mu.Lock()
	defer m.mu.Unlock()
	for _, r := range readings {
		m.readings.WithLabelValues(r.Probe, r.Quality.String()).Inc()
		if r.Quality != process.Bad && r.Measured.After(m.newest[r.Probe]) {
			m.newest[r.Probe] = r.Measured
		}
	}
}

// Stored counts readings that were new.
func (m *Metrics) Stored(n int) { m.stored.Add(float64(n)) }

// Duplicate counts readings that were known already.
func (m *Metrics) Duplicate(n int) { m.doubled.Add(float64(n)) }

// Rejected counts one value that could not be used.
func (m *Metrics) Rejected(class string) {
	m.mu.Lock()
	if !m.classes[class] && len(m.classes) >= maxClasses {
		class = "other"
	} else {
		m.classes[class] = true
	}
	m.mu.Unlock()
	m.rejects.WithLabelValues(class).Inc()
}

// Unmapped counts one message on a topic that no probe reads.
func (m *Metrics) Unmapped() { m.unmapped.Inc() }

// Committed notes how long one intake transaction took.
func (m *Metrics) Committed(took time.Duration) { m.commits.Observe(took.Seconds()) }

// Doubtful does nothing: Heard counts readings by quality, and by probe too.
func (m *Metrics) Doubtful(process.Quality) {}

// StoreFailed counts one commit that failed.
func (m *Metrics) StoreFailed() { m.failures.Inc() }

// Evaluated notes that entries of the input log were evaluated, and how far the
// oldest of them was behind the clock.
func (m *Metrics) Evaluated(inputs int, lag time.Duration) {
	m.evaluated.Add(float64(inputs))
	m.lag.Set(lag.Seconds())
}

// EngineFault notes that entries cannot be evaluated, or with nil that they can
// again.
func (m *Metrics) EngineFault(err error) {
	m.stuck.Set(0)
	if err != nil {
		m.stuck.Set(1)
	}
}

// AlarmGroup names alarms that are counted together.
type AlarmGroup struct {
	Level alerts.Level
	State string // "pending", "active", "acknowledged", "clearing"
}

// AlarmCounts sets how many alarms there are; groups that are not named are gone.
func (m *Metrics) AlarmCounts(counts map[AlarmGroup]int) {
	m.alarms.Reset()
	for g, n := range counts {
		m.alarms.WithLabelValues(g.Level.String(), g.State).Set(float64(n))
	}
}

// Sent notes one settled attempt to tell somebody.
func (m *Metrics) Sent(channel string, s alerts.Settlement, took time.Duration) {
	m.messages.WithLabelValues(channel, string(s.Outcome)).Inc()
	m.sending.WithLabelValues(channel).Observe(took.Seconds())
}
