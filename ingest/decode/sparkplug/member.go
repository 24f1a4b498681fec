package sparkplug

import (
	"slices"
	"strings"
)

// facts are what a birth says of a metric.
type facts struct {
	datatype uint32
	unit     string
}

// The life of a member.
type life uint8

const (
	unheard life = iota // nothing was heard of it since the start
	alive               // born
	dead                // it died, or its node was born and it was not yet
)

// A member is the node itself or one of its devices.
type member struct {
	source  Source
	wanted  map[string]bool // names of metrics
	loose   []string        // last parts of names
	life    life
	doubt   bool              // a message was lost since its birth, which may have been another birth
	names   map[uint64]string // of the wanted metrics, by alias
	aliases []uint64          // all of its birth, sorted
	facts   map[string]facts  // of the wanted metrics
}

func newMember(s Source) *member { return &member{source: s, wanted: map[string]bool{}} }

// born takes a birth.
func (m *member) born(p payload) {
	m.life, m.doubt = alive, false
	m.names, m.facts, m.aliases = map[uint64]string{}, map[string]facts{}, nil
	for _, x := range p.metrics {
		if x.hasAlias {
			m.aliases = append(m.aliases, x.alias)
		}
		name := m.match(x.name)
		if name == "" {
			continue
		}
		m.facts[name] = facts{x.datatype, x.properties.unit}
		if x.hasAlias {
			m.names[x.alias] = name
		}
	}
	slices.Sort(m.aliases)
}

// match is the name by which a metric is wanted; empty: it is not.
func (m *member) match(name string) string {
	if m.wanted[name] {
		return name
	}
	last := name[strings.LastIndexByte(name, '/')+1:]
	for _, l := range m.loose {
		if strings.EqualFold(l, last) {
			return l
		}
	}
	return ""
}

// died forgets what the birth gave.
func (m *member) died() {
	m.life, m.doubt = dead, false
	m.names, m.facts, m.aliases = nil, nil, nil
}

// knows reports whether the birth gave the alias to any metric.
func (m *member) knows(alias uint64) bool {
	_, found := slices.BinarySearch(m.aliases, alias)
	return found
}
