package ingest

import (
	"time"

	"flitch/ingest/decode"
	"flitch/ingest/decode/homie"
	"flitch/ingest/decode/sparkplug"
	"flitch/process"
)

// A Call is a message to send to a device; it is not retained, with quality of service 0.
type Call struct {
	Topic   string
	Payload []byte
	Why     string
}

func (p *protocols) takeHomie(h homie.Heard, it *item) {
	if h.Err != nil {
		it.refuse(h.Err)
	}
	for _, v := range h.Values {
		r := p.properties[v.Property.Topic()]
		if v.Retained {
			it.refuse(retained("Homie tells no times"))
			continue
		}
		s, err := r.valueOf(v.Number, v.Unit, v.IsBool, v.Text, v.Err)
		if err != nil {
			it.refuse(err)
			continue
		}
		s.Doubt = v.Doubt
		it.take(nil, &r.route, s)
	}
	for _, c := range h.Changes {
		it.changed(p.devices[c.Device], c.Gone, c.Words)
	}
	for _, a := range h.Alerts {
		it.asks(p.devices[a.Device], a.ID, a.Text)
	}
	for _, s := range h.Stats {
		kind := map[string]string{homie.Battery: process.VitalBattery, homie.Signal: process.VitalSignal}[s.Name]
		for _, r := range p.devices[s.Device] {
			if kind != "" {
				it.vitals = append(it.vitals, Vital{r.probe.Probe, kind, s.Number})
			}
		}
	}
}

func (p *protocols) takeSparkplug(h sparkplug.Heard, it *item) {
	if h.Err != nil {
		it.refuse(h.Err)
	}
	for _, v := range h.Values {
		if r := p.metrics[sparkplug.Wanted{Source: v.Source, Metric: v.Metric}]; r != nil {
			it.metric(r, v)
		}
		for _, r := range p.devices[v.Source.String()] {
			it.metricTells(r, v)
		}
	}
	for _, c := range h.Changes {
		it.changed(p.devices[c.Source.String()], c.Gone, c.Words)
	}
	if h.Rebirth != nil {
		p.ask(*h.Rebirth, h.Why, it.received, &it.calls)
	}
}

// metric takes one value. What was stored, or stands in a birth, is taken at its own
// time or not at all: at the time of arrival it would pass for fresh.
func (it *item) metric(r *protocolRoute, v sparkplug.Value) {
	s, err := r.valueOf(v.Number, v.Unit, v.IsBool, v.Text, v.Err)
	if err != nil {
		it.refuse(err)
		return
	}
	s.Device, s.TimeProblem, s.Backfill = v.Time, v.TimeWrong, v.Historical || v.Birth
	if s.Backfill && s.Device.IsZero() && s.TimeProblem == "" {
		s.TimeProblem = "a stored value, or one out of a birth, without a time"
	}
	it.take(nil, &r.route, s)
}

// valueOf makes a sample of a value as a protocol read it. A word that the mapping
// declares goes before what the protocol makes of it.
func (r *protocolRoute) valueOf(number float64, unit string, isBool bool, text string, failed error) (decode.Sample, error) {
	if s, ok := r.declared(text); ok {
		return s, nil
	}
	if failed != nil {
		return decode.Sample{}, failed
	}
	return r.sample(number, unit, isBool)
}

// metricTells takes a battery or a signal. One in another unit than the one its limit
// is in tells nothing.
func (it *item) metricTells(r *protocolRoute, v sparkplug.Value) {
	told, ok := r.tell[v.Metric]
	if !ok || v.Err != nil || v.Historical || v.Unit != told.unit && (v.Unit != "" || told.strict) {
		return
	}
	it.vitals = append(it.vitals, Vital{r.probe.Probe, told.kind, v.Number})
}

// changed notes that the device of probes went or is back.
func (it *item) changed(routes []*protocolRoute, gone bool, words string) {
	for _, r := range routes {
		w := process.SensorWord{Probe: r.probe.Probe, Gone: gone, Words: words}
		it.said = append(it.said, Said{SensorWord: w, Back: !gone, At: it.received})
	}
}

// asks notes what the device of probes wants a person to know. The first probe speaks
// for the device.
func (it *item) asks(routes []*protocolRoute, id, text string) {
	if len(routes) > 0 {
		w := process.SensorWord{Probe: routes[0].probe.Probe, Asks: text, Words: id}
		it.said = append(it.said, Said{SensorWord: w, At: it.received})
	}
}

// ask asks a node for its births, at most once in rebirthEvery.
func (p *protocols) ask(node sparkplug.Source, why string, now time.Time, calls *[]Call) {
	if at, before := p.asked[node]; before && now.Sub(at) < rebirthEvery && !now.Before(at) {
		return
	}
	p.asked[node] = now
	*calls = append(*calls, Call{sparkplug.RebirthTopic(node), sparkplug.Rebirth(now), why})
}

// AskForBirths asks every node of Sparkplug that is read for its births. It is for the
// moment a connection to the broker begins: what was sent before is not known.
func (in *Intake) AskForBirths() {
	now := in.clock.Now()
	var calls []Call
	p := in.routes.protocols
	p.mu.Lock()
	for _, node := range p.sparkplug.Nodes() {
		p.ask(node, "connected to the broker", now, &calls)
	}
	p.mu.Unlock()
	in.call(calls)
}

func (in *Intake) call(calls []Call) {
	for _, c := range calls {
		in.opts.Log.Info("asking for a birth", "topic", c.Topic, "why", c.Why)
		in.opts.Call(c)
	}
}
