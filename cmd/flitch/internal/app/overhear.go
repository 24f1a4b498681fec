package app

import (
	"context"
	"fmt"

	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/web"
	"flitch/ingest"
	"flitch/ingest/decode"
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
	used := map[string]string{} // topic and pointer -> probe
	for _, p := range r.app.cfg.Probes {
		if p.ID == "" || p.IDAt == config.InTopic { // else it is the number of one of several sensors
			used[p.ReadFrom()+"\x00"+p.Value] = p.Name
		}
	}
	topics, forgotten := r.app.overheard.Topics()
	out := web.Heard{Forgotten: forgotten, Places: placesOf(r.app.cfg)}
	for _, t := range topics {
		out.Topics = append(out.Topics, heardTopic(t, used))
	}
	return out, nil
}

func heardTopic(t heard.Topic, used map[string]string) web.HeardTopic {
	out := web.HeardTopic{Topic: t.Name, Seq: t.Seq, Messages: t.Messages, Last: t.Last, EveryS: t.Every().Seconds(), Retained: t.Retained, Size: t.Size}
	if t.Payload == nil {
		out.Problem = fmt.Sprintf("%d bytes: too long to be shown", t.Size)
		return out
	}
	if words, ok := sparkplug.Show(t.Name, t.Payload); ok {
		out.Problem = words // its numbers are no text that could be pointed at
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
		out.Values = append(out.Values, web.HeardValue{Found: f, Probe: used[t.Name+"\x00"+f.Pointer]})
	}
	return out
}
