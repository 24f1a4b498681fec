package ingest

import (
	"errors"
	"maps"
	"slices"
	"strings"
)

// A directory finds the routes of a topic.
type directory struct {
	exact  map[string][]route
	wild   map[string][]route // by filter, a + in it
	filter []string           // of wild, in the order given
	tracks map[string]*track  // by probe

	protocols *protocols
}

// newDirectory compiles the mappings. All problems are reported at once.
func newDirectory(mappings []Mapping) (*directory, error) {
	d := &directory{exact: map[string][]route{}, wild: map[string][]route{}, tracks: map[string]*track{}}
	var problems []error
	for _, m := range mappings {
		if m.Protocol != "" {
			continue
		}
		r, topic, err := m.compile()
		if err != nil {
			problems = append(problems, err)
			continue
		}
		if d.tracks[r.probe.Probe] == nil {
			d.tracks[r.probe.Probe] = &track{probe: r.probe.Probe}
		}
		r.track = d.tracks[r.probe.Probe]
		d.add(topic, r)
	}
	var more []error
	d.protocols, more = newProtocols(mappings, d.tracks)
	return d, errors.Join(append(problems, more...)...)
}

func (d *directory) add(topic string, r route) {
	if !strings.Contains(topic, "+") {
		d.exact[topic] = append(d.exact[topic], r)
		return
	}
	if d.wild[topic] == nil {
		d.filter = append(d.filter, topic)
	}
	d.wild[topic] = append(d.wild[topic], r)
}

// of returns the routes of a topic, in the order given where it can be told.
func (d *directory) of(topic string) []route {
	found := d.exact[topic]
	for _, f := range d.filter {
		if covers(f, topic) {
			found = append(slices.Clip(found), d.wild[f]...)
		}
	}
	return found
}

// reads reports whether any mapping reads the topic.
func (d *directory) reads(topic string) bool {
	if len(d.exact[topic]) > 0 || d.protocols.reads(topic) {
		return true
	}
	return slices.ContainsFunc(d.filter, func(f string) bool { return covers(f, topic) })
}

// topics returns what to subscribe to, sorted. What another filter covers is left
// out: a broker may send a message once for each filter that it fits (MQTT 3.1.1,
// 3.3.5).
func (d *directory) topics() []string {
	wild := slices.Clone(d.filter)
	all := append(slices.Collect(maps.Keys(d.exact)), d.filter...)
	for _, f := range d.protocols.filters() {
		all = append(all, f)
		if strings.Contains(f, "+") {
			wild = append(wild, f)
		}
	}
	all = slices.DeleteFunc(all, func(topic string) bool {
		return slices.ContainsFunc(wild, func(f string) bool { return f != topic && covers(f, topic) })
	})
	slices.Sort(all)
	return slices.Compact(all)
}

// covers reports whether filter fits everything that topic, a topic or a filter
// itself, fits. A + at the start does not fit the broker's own topics, which start
// with $ (MQTT 3.1.1, 4.7.2).
func covers(filter, topic string) bool {
	if strings.HasPrefix(filter, "+") && strings.HasPrefix(topic, "$") {
		return false
	}
	for {
		f, restF, moreF := strings.Cut(filter, "/")
		t, restT, moreT := strings.Cut(topic, "/")
		if f != "+" && f != t || moreF != moreT {
			return false
		}
		if !moreF {
			return true
		}
		filter, topic = restF, restT
	}
}
