package main

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"flitch/cmd/flitch/internal/app"
	"flitch/cmd/flitch/internal/config"
	"flitch/ingest/decode"
	"flitch/process"
)

type probeTryCommand struct {
	Payload  string `arg:"" help:"What the sensor sends; - reads it from the standard input."`
	Topic    string `help:"Topic it comes on; may be left out when all probes have the same." placeholder:"TOPIC"`
	Retained bool   `help:"As a copy that the broker had kept."`
	Arrives  string `help:"When it arrives; now when left out." placeholder:"2026-10-25T01:30:00+01:00"`
	Config   string `help:"Configuration to read." default:"flitch.toml" placeholder:"FILE"`
}

// Help shows an example.
func (probeTryCommand) Help() string {
	return "Shows which probes read a message, and what they would take from it. Nothing is stored, and no daemon has to run." +
		"\n\nExample:\n\n    flitch probe try --topic larder/alder/bottle '{\"temperature\":3.4}'"
}

// Run prints the readings, then why values would be refused.
func (c probeTryCommand) Run(t terminal) error {
	loaded, err := config.Load(c.Config)
	if err != nil {
		return unreadable(c.Config, err)
	}
	if c.Topic, err = c.topic(loaded); err != nil {
		return err
	}
	payload, err := c.payload(t)
	if err != nil {
		return err
	}
	now := t.now()
	if c.Arrives != "" {
		if now, err = time.Parse(time.RFC3339, c.Arrives); err != nil {
			return misuse("--arrives "+t.now().Format(time.RFC3339), "--arrives %s: is not a time", c.Arrives)
		}
	}
	tried, err := app.TryMessage(loaded, c.Topic, payload, c.Retained, now)
	switch {
	case err != nil:
		return err
	case !tried.Read:
		return problem("--topic with one of "+strings.Join(topics(loaded), ", "), "no probe reads topic %q", c.Topic)
	case !tried.Meant:
		return problem("the id and id_at of the probe", "no probe on topic %q reads messages of this sensor", c.Topic)
	}
	table := tabwriter.NewWriter(t.out, 0, 0, 2, ' ', 0)
	for _, r := range tried.Readings {
		when := "measured on arrival"
		if !r.Device.IsZero() && r.Device.Equal(r.Measured) {
			when = "measured " + r.Measured.In(loaded.Site.Zone).Format("2006-01-02 15:04:05 -07:00")
		}
		fmt.Fprintf(table, "%s\t%s\t%s\t%s\n", r.Probe, valueOf(r, loaded), when, doubtOf(r))
	}
	if err := table.Flush(); err != nil {
		return err
	}
	for _, why := range tried.Refused {
		fmt.Fprintln(t.out, "refused:", why)
	}
	for _, told := range tried.Told {
		fmt.Fprintln(t.out, "told:", told)
	}
	if len(tried.Readings)+len(tried.Told) == 0 && c.ofProtocol(loaded) {
		return problem("the message that announces or describes it first, or unit = \"C\" in the probe", "nothing can be taken from it alone")
	}
	if len(tried.Readings)+len(tried.Told) == 0 {
		return problem("the keys of the probe: "+hintOf(payload), "nothing can be taken from it")
	}
	return nil
}

// ofProtocol reports whether a probe of a protocol reads the topic: what such a message
// means depends on those before it.
func (c probeTryCommand) ofProtocol(loaded *config.Config) bool {
	return slices.ContainsFunc(loaded.Probes, func(p config.Probe) bool { return p.Protocol != "" && p.Reads(c.Topic) })
}

// topic is the one that is meant.
func (c probeTryCommand) topic(loaded *config.Config) (string, error) {
	if c.Topic != "" {
		return c.Topic, nil
	}
	all := topics(loaded)
	if len(all) > 1 || strings.Contains(all[0], "+") {
		return "", misuse("--topic with one of "+strings.Join(all, ", "), "on which topic")
	}
	return all[0], nil
}

func topics(loaded *config.Config) (all []string) {
	for _, p := range loaded.Probes {
		if topic := p.ReadFrom(); !slices.Contains(all, topic) {
			all = append(all, topic)
		}
	}
	slices.Sort(all)
	return all
}

func (c probeTryCommand) payload(t terminal) ([]byte, error) {
	if c.Payload != "-" {
		return []byte(c.Payload), nil
	}
	if t.in == nil {
		return nil, misuse("the payload itself instead of -", "there is no standard input")
	}
	return io.ReadAll(io.LimitReader(t.in, decode.MaxPayload+1))
}

// valueOf is the value in the unit of the site.
func valueOf(r process.Reading, loaded *config.Config) string {
	at := slices.IndexFunc(loaded.Probes, func(p config.Probe) bool { return p.Name == r.Probe })
	switch measures := loaded.Probes[at].Measures; {
	case measures.IsTemperature() && loaded.Site.Units == "F":
		return fmt.Sprintf("%.1f °F", r.Value*9/5+32)
	case measures.IsTemperature():
		return fmt.Sprintf("%.1f °C", r.Value)
	case measures == process.Humidity:
		return fmt.Sprintf("%.1f %%", r.Value)
	case measures == process.Weight:
		return fmt.Sprintf("%.0f g", r.Value)
	case measures == process.Power:
		return fmt.Sprintf("%g W", r.Value)
	}
	return fmt.Sprintf("%g", r.Value)
}

func doubtOf(r process.Reading) string {
	if r.Quality == process.Good {
		return ""
	}
	return r.Quality.String() + ": " + r.Reason
}

// hintOf names what the payload has to be pointed at.
func hintOf(payload []byte) string {
	found, _, err := decode.Find(payload)
	if err != nil || len(found) == 0 {
		return "value, each, time, unit_at, decimal"
	}
	var all []string
	for _, f := range found {
		if f.Kind == decode.FoundNumber && f.Pointer != "" && len(all) < 8 {
			all = append(all, fmt.Sprintf("value = %q", f.Pointer))
		}
	}
	if len(all) == 0 {
		return "value, each, time, unit_at, decimal"
	}
	return strings.Join(all, " or ")
}
