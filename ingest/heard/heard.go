// Package heard remembers the newest message of every topic that arrives, used or
// not, so that a person can pick the number of a new probe from what is there.
//
// It is bounded in topics and bytes, forgets with the process, and is no part of the
// way of a reading: a message is heard here beside being stored.
package heard

import (
	"bytes"
	"slices"
	"strings"
	"sync"
	"time"
)

// Bounds, proposals: a shop with every board twice, and payloads of a few hundred
// bytes each. Together at most 2 MiB.
const (
	MaxTopics = 256
	MaxKept   = 8 << 10 // bytes of a payload
	maxName   = 512     // bytes of a topic; longer ones are not kept
)

// A Topic is what is known of one topic.
type Topic struct {
	Name     string
	Seq      int64 // of its newest message among all; it only grows
	Messages int64 // since the first; copies that the broker had kept are not counted
	First    time.Time
	Last     time.Time
	Retained bool   // the newest is a copy that the broker had kept, of unknown age
	Size     int    // of the newest payload, bytes
	Payload  []byte // the newest, at most MaxKept bytes; nil when it is longer
}

// Every is the mean time between two messages; 0 when fewer than two came.
func (t Topic) Every() time.Duration {
	if t.Messages < 2 {
		return 0
	}
	return t.Last.Sub(t.First) / time.Duration(t.Messages-1)
}

// A List is what was heard. The zero value is ready. Its methods may be called from
// several goroutines.
type List struct {
	mu        sync.Mutex
	topics    map[string]*Topic
	seq       int64
	forgotten int64
}

// Hear takes a message that arrived at that time. The payload is copied.
func (l *List) Hear(topic string, payload []byte, retained bool, at time.Time) {
	if topic == "" || len(topic) > maxName {
		return
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	t := l.take(topic)
	l.seq++
	t.Seq, t.Retained, t.Size, t.Payload = l.seq, retained, len(payload), nil
	if len(payload) <= MaxKept {
		t.Payload = bytes.Clone(payload)
	}
	if retained {
		return
	}
	if t.Messages == 0 {
		t.First = at
	}
	t.Messages++
	t.Last = at
}

// LastOf is when a topic was heard last; zero: never, as far as is remembered.
func (l *List) LastOf(topic string) time.Time {
	l.mu.Lock()
	defer l.mu.Unlock()
	if t := l.topics[topic]; t != nil {
		return t.Last
	}
	return time.Time{}
}

// take returns the entry of a topic. When there are too many, the one that was not
// heard of for longest goes.
func (l *List) take(topic string) *Topic {
	if t := l.topics[topic]; t != nil {
		return t
	}
	if l.topics == nil {
		l.topics = map[string]*Topic{}
	}
	if len(l.topics) >= MaxTopics {
		oldest := ""
		for name, t := range l.topics {
			if oldest == "" || t.Seq < l.topics[oldest].Seq {
				oldest = name
			}
		}
		delete(l.topics, oldest)
		l.forgotten++
	}
	t := &Topic{Name: topic}
	l.topics[topic] = t
	return t
}

// Topics returns every topic in order of the alphabet, and how many were forgotten
// for want of room.
func (l *List) Topics() (topics []Topic, forgotten int64) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, t := range l.topics {
		topics = append(topics, *t)
	}
	slices.SortFunc(topics, func(a, b Topic) int { return strings.Compare(a.Name, b.Name) })
	return topics, l.forgotten
}
