package web

import (
	"net/http"
	"strings"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/ingest/decode"
	"flitch/process"
)

// Heard is what arrives by MQTT, used or not.
type Heard struct {
	Topics    []HeardTopic `json:"topics"` // in order of the alphabet
	Places    []PlaceName  `json:"places"`
	Forgotten int64        `json:"forgotten"` // topics, for want of room
}

// A PlaceName is a place that a probe can be in.
type PlaceName struct {
	Name  string `json:"name"`
	Title string `json:"title"`
	Kind  string `json:"kind"`
}

// A HeardTopic is the newest message of one topic.
type HeardTopic struct {
	Topic    string       `json:"topic"`
	Seq      int64        `json:"seq"`           // of its newest message; it only grows
	Messages int64        `json:"messages"`      // since the start; copies the broker had kept are not counted
	Last     time.Time    `json:"last,omitzero"` // zero: only a kept copy came
	EveryS   float64      `json:"every_s"`       // mean, s; 0: not known
	Retained bool         `json:"retained"`      // the newest is a copy that the broker had kept, of unknown age
	Size     int          `json:"size"`          // bytes
	Problem  string       `json:"problem"`       // why there are no values; empty: there are
	More     int          `json:"more"`          // values that are not listed
	Values   []HeardValue `json:"values"`
}

// A HeardValue is one value of a message.
type HeardValue struct {
	decode.Found
	Probe    string `json:"probe"`              // that it feeds; empty: none
	Protocol string `json:"protocol,omitempty"` // of a device that speaks one of config's
	Address  string `json:"address,omitempty"`  // with Sparkplug: who sent it; Pointer is the metric then
}

// Begin is a new probe of a value, as far as the message tells: what it is and where
// is missing, and a time that a person has to choose.
func (t HeardTopic) Begin(v HeardValue) config.NewProbe {
	switch v.Protocol {
	case config.Homie:
		return config.NewProbe{Protocol: v.Protocol, Topic: t.Topic}
	case config.Sparkplug:
		return config.NewProbe{Protocol: v.Protocol, Topic: v.Address, Metric: v.Pointer}
	}
	return config.NewProbe{Topic: t.Topic, Each: v.Each, Value: v.Within(), UnitAt: v.UnitAt, Decimal: v.Decimal}
}

// Numbers are the values that a new probe can be made of.
func (t HeardTopic) Numbers() (free []HeardValue) {
	for _, v := range t.Values {
		if v.Probe == "" && v.Kind != decode.FoundTime {
			free = append(free, v)
		}
	}
	return free
}

// Used are the values that feed a probe.
func (t HeardTopic) Used() (used []HeardValue) {
	for _, v := range t.Values {
		if v.Probe != "" {
			used = append(used, v)
		}
	}
	return used
}

// Times are what can be the time of a value: with the readings of a list, what each of
// them has.
func (t HeardTopic) Times(of HeardValue) (times []HeardValue) {
	for _, v := range t.Values {
		if v.Kind == decode.FoundTime && v.Each == of.Each && of.Protocol == "" {
			times = append(times, v)
		}
	}
	return times
}

// steps are the intervals that boards are set to, s. Common practice, no source.
var steps = [...]float64{1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600}

// Interval suggests how often a reading is to be expected, in the words of the
// configuration: what was seen, as a step that is at most a tenth shorter; a minute
// when nothing was seen.
func (t HeardTopic) Interval() string {
	if t.EveryS == 0 {
		return time.Minute.String()
	}
	for _, step := range steps {
		if t.EveryS <= 1.1*step {
			return (time.Duration(step) * time.Second).String()
		}
	}
	return (time.Duration(t.EveryS) * time.Second).Round(time.Hour).String()
}

// heardPage is what the page of what arrives is given beside what all pages are.
type heardPage struct {
	page
	Heard    Heard
	Measures []process.Placement
	Probe    config.NewProbe // as it was typed, when it was refused
	Added    bool
}

func (s *server) heardRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /heard", func(w http.ResponseWriter, r *http.Request) {
		s.showHeard(w, r, http.StatusOK, heardPage{page: s.page(r)})
	})
	if s.AddProbe != nil {
		mux.HandleFunc("POST /heard", s.addProbe)
	}
}

func (s *server) showHeard(w http.ResponseWriter, r *http.Request, status int, p heardPage) {
	var err error
	if p.Heard, err = s.Reader.Heard(r.Context()); err != nil {
		s.broken(w, "read what was heard", err)
		return
	}
	p.Measures = process.Placements()
	s.show(w, status, "heard.html", p)
}

// addProbe takes the form of a new probe. Its answer loads again by itself, when
// flitch has started anew.
func (s *server) addProbe(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	p := heardPage{page: s.page(r)}
	err := r.ParseForm()
	if err != nil {
		err = complaint(must("err.form"))
	}
	if err == nil {
		get := func(name string) string { return strings.TrimSpace(r.PostForm.Get(name)) }
		p.Form.By = get("by")
		p.Probe = config.NewProbe{Name: get("name"), Place: get("place"), Measures: get("measures"), Topic: r.PostForm.Get("topic"),
			Value: r.PostForm.Get("value"), Unit: get("unit"), UnitAt: get("unit_at"), Decimal: get("decimal"), Interval: get("interval")}
		p.Probe.Protocol, p.Probe.Metric, p.Probe.Each = get("protocol"), r.PostForm.Get("metric"), r.PostForm.Get("each")
		if strings.HasPrefix(p.Probe.Unit, "/") { // the message says it
			p.Probe.Unit, p.Probe.UnitAt = "", p.Probe.Unit
		}
		p.Probe.TimeFormat, p.Probe.Time, _ = strings.Cut(r.PostForm.Get("time"), " ")
		err = s.AddProbe(r.Context(), p.Probe, p.Form.By)
	}
	if err != nil {
		status := s.wrong(&p.page, "add a probe", err)
		s.showHeard(w, r, status, p)
		return
	}
	remember(w, p.Form.By)
	p.Added = true
	w.Header().Set("Refresh", "4; url=/heard")
	s.showHeard(w, r, http.StatusOK, p)
}
