package ingest

import (
	"cmp"
	"fmt"
	"strings"
	"sync"
	"time"

	"flitch/ingest/decode"
	"flitch/ingest/decode/homie"
	"flitch/ingest/decode/sparkplug"
	"flitch/process"
)

// The protocols whose own words a Mapping may use. Without one the topic and the
// payload are the sensor's own.
const (
	Homie     = "homie"     // Topic is that of a property
	Sparkplug = "sparkplug" // Topic is group/node or group/node/device, with Metric
)

// rebirthEvery is how long a node of Sparkplug has to answer before it is asked for its
// births again. Proposal: a gateway sends some hundred metrics for it.
const rebirthEvery = time.Minute

// A Said is what the device of a probe told of itself: that it is gone, is back, or
// asks for a person.
type Said struct {
	process.SensorWord
	Back bool
	At   time.Time // arrival
}

// String is the word for a person; empty when it says that nothing is asked for.
func (s Said) String() string {
	switch {
	case s.Gone:
		return s.Probe + ": gone, " + s.Words
	case s.Back:
		return s.Probe + ": back, " + s.Words
	case s.Asks != "":
		return s.Probe + ": asks for a person, " + s.Asks
	}
	return s.Probe + ": asks for nothing"
}

// protocols are the decoders of both, and which probe wants what of them. They have a
// memory: a message is understood by those before it.
type protocols struct {
	mu        sync.Mutex
	homie     *homie.Controller
	sparkplug *sparkplug.Host

	properties map[string]*protocolRoute           // by topic
	metrics    map[sparkplug.Wanted]*protocolRoute // Loose: of a vital
	devices    map[string][]*protocolRoute         // of both, by base topic or name of the source
	asked      map[sparkplug.Source]time.Time      // for births
}

// A protocolRoute is a compiled mapping, and what of it depends on what is announced.
type protocolRoute struct {
	route
	unit   decode.Unit        // to be assumed if none is announced
	words  map[string]float64 // that stand for numbers
	scale  float64
	offset float64
	tell   map[string]metricVital // Sparkplug: by the name of a metric
}

// A metricVital is a battery or a signal that is a metric.
type metricVital struct {
	kind, unit string
	strict     bool // the unit has to be announced: nobody named the metric
}

func newProtocols(mappings []Mapping, tracks map[string]*track) (*protocols, []error) {
	p := &protocols{properties: map[string]*protocolRoute{}, metrics: map[sparkplug.Wanted]*protocolRoute{},
		devices: map[string][]*protocolRoute{}, asked: map[sparkplug.Source]time.Time{}}
	var problems []error
	var wantedProperties []homie.Property
	var wantedMetrics []sparkplug.Wanted
	for _, m := range mappings {
		var err error
		switch m.Protocol {
		case "":
		case Homie:
			wantedProperties, err = p.addHomie(m, wantedProperties)
		case Sparkplug:
			wantedMetrics, err = p.addSparkplug(m, wantedMetrics)
		default:
			err = fmt.Errorf("protocol %q is not known: write %s or %s", m.Protocol, Homie, Sparkplug)
		}
		if err != nil {
			problems = append(problems, fmt.Errorf("topic %q, probe %q: %w", m.Topic, m.Probe.Probe, err))
		}
	}
	for _, routes := range p.devices {
		for _, r := range routes {
			if tracks[r.probe.Probe] == nil {
				tracks[r.probe.Probe] = &track{probe: r.probe.Probe}
			}
			r.track = tracks[r.probe.Probe]
		}
	}
	p.homie, p.sparkplug = homie.New(wantedProperties), sparkplug.NewHost(wantedMetrics)
	return p, problems
}

// compileProtocol checks what both protocols share.
func (m Mapping) compileProtocol() (*protocolRoute, error) {
	unit, err := decode.ParseUnit(m.Unit)
	switch {
	case err != nil:
		return nil, err
	case m.Probe.Probe == "" || !known(m.Probe.Placement):
		return nil, fmt.Errorf("a mapping needs a probe, and placement %q is not known", m.Probe.Placement)
	case unit != decode.AsIs && !m.Probe.Placement.IsTemperature():
		return nil, fmt.Errorf("unit %q is a temperature's, the placement is %s: leave the unit out", m.Unit, m.Probe.Placement)
	case m.Sensor.Converts():
		return nil, fmt.Errorf("a bare sensor is not read by protocol %s: its device sends degrees", m.Protocol)
	case m.Value+m.Time+m.ID+m.IDAt+m.UnitAt+m.Backfill+m.Each != "" || m.List:
		return nil, fmt.Errorf("a mapping of protocol %s has no paths: the protocol says where everything is", m.Protocol)
	}
	return &protocolRoute{route: route{probe: m.Probe, missing: m.Missing}, unit: unit, words: m.Words, scale: cmp.Or(m.Scale, 1), offset: m.Offset}, nil
}

func (p *protocols) addHomie(m Mapping, wanted []homie.Property) ([]homie.Property, error) {
	r, err := m.compileProtocol()
	if err != nil {
		return wanted, err
	}
	property, err := homie.ParseProperty(m.Topic)
	if err != nil {
		return wanted, err
	}
	if p.properties[m.Topic] != nil {
		return wanted, fmt.Errorf("the property feeds probe %q already", p.properties[m.Topic].probe.Probe)
	}
	p.properties[m.Topic] = r
	base := strings.TrimSuffix(m.Topic, "/"+property.Node+"/"+property.Name)
	p.devices[base] = append(p.devices[base], r)
	return append(wanted, property), nil
}

func (p *protocols) addSparkplug(m Mapping, wanted []sparkplug.Wanted) ([]sparkplug.Wanted, error) {
	r, err := m.compileProtocol()
	if err != nil {
		return wanted, err
	}
	source, err := sparkplug.ParseSource(m.Topic)
	if err != nil {
		return wanted, err
	}
	w := sparkplug.Wanted{Source: source, Metric: m.Metric}
	switch {
	case m.Metric == "":
		return wanted, fmt.Errorf("a metric has to be named")
	case p.metrics[w] != nil:
		return wanted, fmt.Errorf("metric %q feeds probe %q already", m.Metric, p.metrics[w].probe.Probe)
	}
	p.metrics[w], r.tell = r, map[string]metricVital{}
	p.devices[source.String()] = append(p.devices[source.String()], r)
	wanted = append(wanted, w)
	for _, v := range m.Vitals {
		r.tell[v.Pointer] = metricVital{v.Kind, v.Unit, v.Loose}
		wanted = append(wanted, sparkplug.Wanted{Source: source, Metric: v.Pointer, Loose: v.Loose})
	}
	return wanted, nil
}

// reads reports whether a message on the topic may tell something.
func (p *protocols) reads(topic string) bool {
	if len(p.devices) == 0 {
		return false
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.homie.Reads(topic) || p.sparkplug.Reads(topic)
}

func (p *protocols) filters() []string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append(p.homie.Filters(), p.sparkplug.Filters()...)
}

// take reads what m tells into it.
func (p *protocols) take(m Message, it *item) {
	if len(p.devices) == 0 {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.homie.Reads(m.Topic) {
		it.mapped = true
		p.takeHomie(p.homie.Take(m.Topic, m.Payload, m.Retained), it)
	}
	if p.sparkplug.Reads(m.Topic) {
		it.mapped = true
		p.takeSparkplug(p.sparkplug.Take(m.Topic, m.Payload, m.Retained), it)
	}
}
