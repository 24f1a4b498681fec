package engine

import (
	"fmt"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/process"
)

// BenchmarkStandingAlarms is how many standing alarms a second are evaluated: each by a
// new value and by a minute that passes. 10,000 a second are asked for; a shop has a
// dozen.
func BenchmarkStandingAlarms(b *testing.B) {
	const standing, asked = 10_000, 10_000
	board := newBoard(alerts.Catalogue(alerts.Wood), nil)
	findings := make([]process.Finding, standing)
	at := time.Date(2031, 5, 5, 3, 0, 0, 0, time.UTC)
	for i := range findings {
		findings[i] = process.Finding{Measure: process.MeasureFreezer, Subject: fmt.Sprintf("freezer %05d", i), Value: -4}
	}
	events := 0
	do := func(_ alerts.Entry, _ *alerts.Alarm, e []alerts.Event) { events += len(e) }
	minute := func() {
		at = at.Add(time.Minute)
		for i := range findings {
			findings[i].At = at
			board.signal(findings[i], do)
		}
		board.tick(at, do)
	}
	for range 3 * 60 {
		minute()
	}
	if up := len(board.alarms); up != standing || events < standing {
		b.Fatalf("%d alarms and %d events: they do not stand", up, events)
	}
	for b.Loop() {
		minute()
	}
	rate := standing * float64(b.N) / b.Elapsed().Seconds()
	fmt.Printf("bench standing_alarms %.0f alarms/s %d %.2f\n", rate, asked, rate/asked)
}
