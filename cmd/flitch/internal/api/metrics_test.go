package api

import (
	"errors"
	"net/http"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/process"
)

func scrape(t *testing.T, m *Metrics) string {
	t.Helper()
	deps := (&house{}).deps()
	deps.Metrics = m.Handler()
	w := ask(t, New(deps), request(http.MethodGet, "/metrics", ""))
	if w.Code != http.StatusOK {
		t.Fatalf("%d %s", w.Code, w.Body)
	}
	return w.Body.String()
}

func TestFigures(t *testing.T) {
	m := NewMetrics(&house{}, "v0", func() (time.Time, bool) { return night.Add(-90 * time.Second), true })
	m.Heard([]process.Reading{
		{Probe: "needle-1", Measured: night.Add(-20 * time.Second)},
		{Probe: "needle-1", Measured: night.Add(-40 * time.Second)}, // older: does not move the age
		{Probe: "needle-1", Measured: night, Quality: process.Bad},  // not believed: nor does this
	})
	m.Stored(3)
	m.Duplicate(2)
	m.Rejected("no number")
	m.Unmapped()
	m.Doubtful(process.Bad)
	m.StoreFailed()
	m.Committed(3 * time.Millisecond)
	m.Evaluated(5, 1500*time.Millisecond)
	m.EngineFault(errors.New("x"))
	m.AlarmCounts(map[AlarmGroup]int{{alerts.Ring, "active"}: 2})
	m.Sent("phone", alerts.Settlement{Outcome: alerts.Delivered}, time.Second)
	m.LeftOut = func() []ProbeFlags { return []ProbeFlags{{"needle-1", "spike", 4}} }
	text := scrape(t, m)
	for _, want := range []string{
		`flitch_readings_total{probe="needle-1",quality="good"} 2`, `flitch_readings_total{probe="needle-1",quality="bad"} 1`,
		`flitch_reading_age_seconds{probe="needle-1"} 20`, "flitch_intake_stored_total 3", "flitch_intake_duplicates_total 2",
		`flitch_intake_rejected_total{class="no number"} 1`, "flitch_intake_unmapped_total 1", "flitch_intake_store_failures_total 1",
		`flitch_commit_seconds_bucket{le="0.005"} 1`, "flitch_inputs_evaluated_total 5", "flitch_input_lag_seconds 1.5", "flitch_engine_fault 1",
		`flitch_alarms{level="ring",state="active"} 2`, `flitch_messages_total{channel="phone",outcome="delivered"} 1`,
		"flitch_oldest_due_message_seconds 90", `flitch_readings_left_out_total{probe="needle-1",reason="spike"} 4`, `flitch_build_info{go="go`,
	} {
		if !strings.Contains(text, want) {
			t.Errorf("no %s", want)
		}
	}
	m.AlarmCounts(nil)
	m.EngineFault(nil)
	if text = scrape(t, m); strings.Contains(text, "flitch_alarms{") || !strings.Contains(text, "flitch_engine_fault 0") {
		t.Error("an alarm or fault that is over is still told")
	}
}

func TestRejectClassesAreBounded(t *testing.T) {
	m := NewMetrics(&house{}, "v0", nil)
	for i := range 100 {
		m.Rejected(strings.Repeat("x", i))
	}
	text := scrape(t, m)
	if n := strings.Count(text, "flitch_intake_rejected_total{"); n != maxClasses+1 {
		t.Errorf("%d classes, want %d and other", n, maxClasses)
	}
	if !strings.Contains(text, "flitch_oldest_due_message_seconds 0") {
		t.Error("no message is due, and the figure does not say 0")
	}
}
