package app

import (
	"context"
	"fmt"
	"strings"

	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/web"
	"flitch/ingest"
	"flitch/ingest/decode"
	"flitch/ingest/decode/homie"
	"flitch/ingest/decode/sparkplug"
	"flitch/ingest/heard"
	"flitch/ingest/mqtt"
)

// An ear hears beside the intake what goes into it.
type ear struct {
	ingest.Submitter
	list  *heard.List
	clock Clock
}

// Submit implements ingest.Submitter.
func (e ear) Submit(ctx context.Context, m ingest.Message) error {
	e.list.Hear(m.Topic, m.Payload, m.Retained, e.clock.Now())
	return e.Submitter.Submit(ctx, m)
}

func (a *App) ear() ear { return ear{a.intake, a.overheard, a.clock} }

// unmapped hears what no probe reads, at our own broker.
func (a *App) unmapped(topic string, payload []byte) {
	a.metrics.Unmapped()
	a.overheard.Hear(topic, payload, false, a.clock.Now())
}

// overhear listens at an outside broker to what no probe reads.
func (a *App) overhear() (hangUp func() error, err error) {
	conf := a.outsideBroker()
	conf.ClientID += "-ear"
	v, err := mqtt.Overhear(conf, []string{a.cfg.Broker.Overhear}, func(topic string, payload []byte, retained bool) {
		if !a.intake.Reads(topic) { // those come through the intake
			a.metrics.Unmapped()
			a.overheard.Hear(topic, payload, retained, a.clock.Now())
		}
	})
	if err != nil {
		return nil, fmt.Errorf("listen to topics that no probe reads: %w", err)
	}
	return func() error { v.Close(); return nil }, nil
}

// Heard implements web.Reader.
func (r *reader) Heard(context.Context) (web.Heard, error) {
	topics, forgotten := r.app.overheard.Topics()
	out := web.Heard{Forgotten: forgotten, Places: placesOf(r.app.cfg)}
	names := map[string]bool{}
	for _, t := range topics {
		names[t.Name] = true
	}
	for _, t := range topics {
		one := heardTopic(t, names)
		for i := range one.Values {
			one.Values[i].Probe = r.app.fedBy(one.Begin(one.Values[i]))
		}
		out.Topics = append(out.Topics, one)
	}
	return out, nil
}

// fedBy names the probe that reads the number already.
func (a *App) fedBy(n config.NewProbe) string {
	for _, p := range a.cfg.Probes {
		if p.ID != "" && p.IDAt != config.InTopic { // it is the number of one of several sensors
			continue
		}
		topic := p.ReadFrom()
		if p.Protocol == config.Sparkplug {
			topic = p.Topic
		}
		if topic == n.Topic && p.Value == n.Value && p.Each == n.Each && p.Metric == n.Metric {
			return p.Name
		}
	}
	return ""
}

// heardTopic shows the newest message of a topic; names are all that were heard.
func heardTopic(t heard.Topic, names map[string]bool) web.HeardTopic {
	out := web.HeardTopic{Topic: t.Name, Seq: t.Seq, Messages: t.Messages, Last: t.Last, EveryS: t.Every().Seconds(), Retained: t.Retained, Size: t.Size}
	if t.Payload == nil {
		out.Problem = fmt.Sprintf("%d bytes: too long to be shown", t.Size)
		return out
	}
	if words, ok := sparkplug.Show(t.Name, t.Payload); ok {
		if out.Values = metrics(t); len(out.Values) == 0 {
			out.Problem = words
		}
		return out
	}
	device, property := homieDevice(t.Name, names)
	if device && !property {
		out.Problem = "what a Homie device says of itself"
		return out
	}
	found, more, err := decode.Find(t.Payload)
	switch {
	case err != nil:
		out.Problem = err.Error()
	case len(found) == 0:
		out.Problem = "holds no number"
	}
	out.More = more
	for _, f := range found {
		v := web.HeardValue{Found: f}
		if property {
			v.Protocol = config.Homie
		}
		out.Values = append(out.Values, v)
	}
	return out
}

// metrics are the values of a Sparkplug message that have a name and a number.
func metrics(t heard.Topic) (out []web.HeardValue) {
	address, values := sparkplug.Read(t.Name, t.Payload)
	for _, v := range values {
		text := strings.TrimSpace(fmt.Sprintf("%g %s", v.Number, strings.ToValidUTF8(v.Unit, "")))
		out = append(out, web.HeardValue{Protocol: config.Sparkplug, Address: address,
			Found: decode.Found{Pointer: v.Metric, Text: text, Number: v.Number, Kind: decode.FoundNumber}})
	}
	return out
}

// homieDevice reports whether a topic is of a device that speaks Homie, which always
// tells its $state, and whether it is the value of a property.
func homieDevice(topic string, names map[string]bool) (device, property bool) {
	for at := 0; at < len(topic); at++ {
		if topic[at] == '/' && names[topic[:at]+"/$state"] {
			device = true
		}
	}
	_, err := homie.ParseProperty(topic)
	return device, device && err == nil
}
