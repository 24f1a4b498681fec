package main

import (
	"context"
	"fmt"
	"math"
	"time"

	"flitch/cmd/flitch/internal/app"
	"flitch/cmd/flitch/internal/config"
	"flitch/ingest/mqtt"
)

// Bounds of a trial of the outside broker, proposals: a broker that keeps so much keeps
// more, and a small one takes a while to write it down.
const (
	mostTried     = 20_000 // messages
	trialPatience = 5 * time.Minute
)

// tryOutage finds out whether the outside broker keeps what the probes send while flitch
// is away for so long.
func tryOutage(t terminal, c *config.Config, away time.Duration) error {
	if c.Broker.Mode != config.External {
		return misuse("flitch check without --outage", "--outage is for mode = \"external\": sensors that speak to flitch itself keep what it did not acknowledge, or lose it")
	}
	if away < 0 {
		return misuse("--outage 8h", "--outage %s: is not a time to be away", away)
	}
	rate := perHour(c.Probes)
	if rate == 0 {
		return misuse("flitch check without --outage", "no probe publishes anything")
	}
	n := int(math.Min(mostTried, math.Max(1, math.Ceil(rate*away.Hours()))))
	fmt.Fprintf(t.out, "trying %s with %s, as your probes send in %s\n", c.Broker.URL, count(n, "message"), toTheMinute(float64(n)/rate))
	ctx, stop := context.WithTimeout(context.Background(), trialPatience)
	defer stop()
	b := c.Broker
	kept, err := mqtt.Trial(ctx, mqtt.Config{URL: b.URL, ClientID: b.ClientID, Username: b.User, Password: b.Password.Reveal(), CAFile: b.CAFile,
		CertFile: b.ClientCertificate, KeyFile: b.ClientKey}, n, app.Wall{})
	if err != nil {
		return problem("flitch check, then the broker's own log", "the broker could not be tried: %v", err)
	}
	return judgeOutage(t, kept, rate)
}

// perHour is how many messages the probes send in an hour; two numbers on one topic are
// one message.
func perHour(probes []config.Probe) float64 {
	fastest := map[string]time.Duration{}
	for _, p := range probes {
		if p.ReadOut {
			continue
		}
		if known, ok := fastest[p.Topic]; !ok || p.Interval < known {
			fastest[p.Topic] = p.Interval
		}
	}
	var n float64
	for _, interval := range fastest {
		n += float64(time.Hour) / float64(interval)
	}
	return n
}

func judgeOutage(t terminal, kept mqtt.Kept, rate float64) error {
	const advice = "deploy/mosquitto-flitch.conf for mosquitto: max_queued_messages 0, persistence true; then the same again"
	switch {
	case kept.Forgot:
		return problem(advice, "the broker forgot the session: while flitch is away nothing is kept")
	case kept.Kept == 0:
		return problem("the right to publish and read below "+"CLIENT_ID/trial, then the same again", "the broker kept none of %s", count(kept.Sent, "message"))
	case kept.Kept < kept.Sent:
		return problem(advice, "the broker acknowledged %d messages and kept %d: what your probes send after %s of an outage is lost", kept.Sent, kept.Kept, toTheMinute(float64(kept.Kept)/rate))
	}
	fmt.Fprintf(t.out, "the broker kept all %d, as much as comes in %s; whether it also does over a power cut depends on its persistence\n", kept.Kept, toTheMinute(float64(kept.Kept)/rate))
	return nil
}

// toTheMinute prints a number of hours, to the minute.
func toTheMinute(n float64) string {
	return config.Short(time.Duration(math.Round(n*60)) * time.Minute)
}
