package record

import (
	"strings"
	"testing"
	"time"

	"flitch/alerts"
)

// A person is told once one of their ways took it, and since then; a channel that is
// nobody's speaks for itself; that it is over is no telling.
func TestTellings(t *testing.T) {
	at := time.Date(2031, 2, 5, 2, 0, 0, 0, time.UTC)
	m := func(kind alerts.EventKind, channel, who string, outcome alerts.Outcome, minute int, why string) Message {
		line := Message{Kind: kind, Channel: channel, Outcome: outcome, Error: why, At: at.Add(time.Duration(minute) * time.Minute)}
		if who != "" {
			line.Who = strings.Fields(who)
		}
		return line
	}
	for want, messages := range map[string][]Message{
		"":                      {m(alerts.Cleared, "tv", "T.V.", alerts.Delivered, 0, "")},
		"T.V. being sent":       {m(alerts.Raised, "tv", "T.V.", "", 0, "")},
		"T.V. being sent: 503":  {m(alerts.Raised, "tv", "T.V.", alerts.RetryAt, 0, "503")},
		"T.V. not reached: 404": {m(alerts.Raised, "tv", "T.V.", alerts.RetryAt, 0, "503"), m(alerts.Repeated, "tv", "T.V.", alerts.Failed, 1, "404")},
		"T.V. told at 02:01":    {m(alerts.Raised, "mail", "T.V.", alerts.Failed, 0, "404"), m(alerts.Raised, "tv", "T.V.", alerts.Delivered, 1, ""), m(alerts.Repeated, "tv", "T.V.", alerts.RetryAt, 9, "503")},
		"M.O. told at 02:03; T.V. told at 02:03; siren being sent": {m(alerts.Raised, "shared", "M.O. T.V.", alerts.Delivered, 3, ""), m(alerts.Raised, "siren", "", "", 3, "")},
	} {
		var got []string
		for _, telling := range Tellings(messages) {
			got = append(got, telling.Words(func(at time.Time) string { return at.Format("15:04") }))
		}
		if strings.Join(got, "; ") != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
