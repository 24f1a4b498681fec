package sparkplug

import (
	"fmt"
	"maps"
	"slices"

	"flitch/ingest/decode"
)

// bdSeqName is the metric that ties a death to its birth (6.4.19, 6.4.25).
const bdSeqName = "bdSeq"

// A node is an edge node with those of its devices that are wanted.
type node struct {
	self    Source
	members map[string]*member // by device; "" is the node itself
	seq     uint64             // of the last message
	hasSeq  bool
	bdSeq   uint64 // of the birth in force
	hasBD   bool
}

func newNode(self Source) *node {
	return &node{self: self, members: map[string]*member{"": newMember(self)}}
}

func (n *node) want(w Wanted) {
	m := n.members[w.Source.Device]
	if m == nil {
		m = newMember(w.Source)
		n.members[w.Source.Device] = m
	}
	if w.Loose {
		m.loose = append(m.loose, w.Metric)
	} else if w.Metric != "" {
		m.wanted[w.Metric] = true
	}
}

// each calls do for every member, the node first.
func (n *node) each(do func(*member)) {
	for _, device := range slices.Sorted(maps.Keys(n.members)) {
		do(n.members[device])
	}
}

// nodeBirth begins a session: devices are to follow with births of their own, and
// until then nothing of them is believed (4.3.1).
func (n *node) nodeBirth(p payload) (h Heard) {
	n.seq, n.hasSeq = p.seq, p.hasSeq
	n.bdSeq, n.hasBD = deathNumber(p)
	n.each(func(m *member) {
		if m.source.Device != "" {
			m.died()
		}
	})
	own := n.members[""]
	own.born(p)
	h.Changes = append(h.Changes, Change{Source: own.source, Words: "Sparkplug NBIRTH"})
	h.Values = born(n.values(own, p))
	return h
}

// deviceBirth is also read when the birth of the node was missed.
func (n *node) deviceBirth(from Source, p payload) (h Heard) {
	n.follow(p, &h)
	m := n.members[from.Device]
	if m == nil {
		return h
	}
	m.born(p)
	h.Changes = append(h.Changes, Change{Source: from, Words: "Sparkplug DBIRTH"})
	h.Values = born(n.values(m, p))
	if n.members[""].life != alive {
		n.ask(&h, "the birth of its node was not heard")
	}
	return h
}

// nodeDeath ends the session if it belongs to it. The will of an earlier connection
// may come after the birth of the next one; its number tells (6.4.25). One that
// cannot be told apart is taken for true: it costs a birth, the other costs a night.
func (n *node) nodeDeath(p payload) (h Heard) {
	number, told := deathNumber(p)
	if told && n.hasBD && number != n.bdSeq {
		return h
	}
	n.hasSeq, n.hasBD = false, false
	n.each(func(m *member) {
		m.died()
		h.Changes = append(h.Changes, Change{Source: m.source, Gone: true, Words: "its node is gone (Sparkplug NDEATH)"})
	})
	return h
}

func (n *node) deviceDeath(from Source, p payload) (h Heard) {
	n.follow(p, &h)
	if m := n.members[from.Device]; m != nil {
		m.died()
		h.Changes = append(h.Changes, Change{Source: from, Gone: true, Words: "its node no longer reaches it (Sparkplug DDEATH)"})
	}
	return h
}

// data takes the values of NDATA and DDATA.
func (n *node) data(from Source, p payload) (h Heard) {
	n.follow(p, &h)
	m := n.members[from.Device]
	if m == nil {
		return h
	}
	if m.life == dead {
		why := "data of a " + m.source.String() + " that died, and was not born since"
		h.Err = problem(decode.NoBirth, why+": a new birth is asked for")
		n.ask(&h, why)
		return h
	}
	h.Values = n.values(m, p)
	for _, x := range p.metrics {
		if x.name == "" && x.hasAlias && !m.resolves(x.alias) {
			n.unresolved(m, x.alias, &h)
			break // one is enough to ask for all
		}
	}
	return h
}

// resolves reports whether it is known which metric an alias stands for.
func (m *member) resolves(alias uint64) bool { return m.life == alive && !m.doubt && m.knows(alias) }

// unresolved refuses values whose names are not known, and asks for a birth.
func (n *node) unresolved(m *member, alias uint64, h *Heard) {
	why := fmt.Sprintf("unknown alias %d: no birth of %s was heard that names it", alias, m.source)
	if m.doubt {
		why = fmt.Sprintf("alias %d cannot be trusted: a message of %s was lost, and it may have been a birth", alias, n.self)
	}
	h.Err = problem(decode.NoBirth, why+": a new birth is asked for")
	n.ask(h, why)
}

// follow keeps the sequence, which all messages of a node but its death share. After
// a gap no alias is believed until a birth, for the lost message may have been one.
func (n *node) follow(p payload, h *Heard) {
	if !p.hasSeq {
		return
	}
	want := (n.seq + 1) % 256
	if n.hasSeq && p.seq != want && p.seq != n.seq { // the same once more is a redelivery
		n.each(func(m *member) { m.doubt = true })
		n.ask(h, fmt.Sprintf("message number %d came where %d was due", p.seq, want))
	}
	n.seq, n.hasSeq = p.seq, true
}

func (n *node) ask(h *Heard, why string) {
	h.Rebirth = &n.self
	if h.Why == "" {
		h.Why = why
	}
}

// values picks the wanted metrics out of a message.
func (n *node) values(m *member, p payload) (out []Value) {
	for _, x := range p.metrics {
		name := m.match(x.name)
		if x.name == "" && x.hasAlias && m.resolves(x.alias) {
			name = m.names[x.alias]
		}
		if name != "" {
			out = append(out, x.valueOf(m.source, name, p.time, m.facts[name]))
		}
	}
	return out
}

// born marks values of a birth.
func born(values []Value) []Value {
	for i := range values {
		values[i].Birth = true
	}
	return values
}

// deathNumber finds the bdSeq of a message.
func deathNumber(p payload) (number uint64, told bool) {
	for _, x := range p.metrics {
		if x.name == bdSeqName && x.kind == wholeValue && !x.null {
			return x.whole, true
		}
	}
	return 0, false
}
