package broker

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/mochi-mqtt/server/v2/packets"
)

// under lists all topics of up to three levels of three words.
func under() (all []string) {
	words := []string{"a", "b", "c"}
	for _, x := range words {
		all = append(all, x)
		for _, y := range words {
			all = append(all, x+"/"+y)
			for _, z := range words {
				all = append(all, x+"/"+y+"/"+z)
			}
		}
	}
	return all
}

// matches is MQTT 3.1.1, 4.7.1, level by level, as plainly as it can be written.
func matches(filter, topic string) bool {
	f, t := strings.Split(filter, "/"), strings.Split(topic, "/")
	for i, level := range f {
		if level == "#" {
			return true
		}
		if i >= len(t) || level != "+" && level != t[i] {
			return false
		}
		if i == len(t)-1 && i == len(f)-2 && f[i+1] == "#" {
			return true // the level above
		}
	}
	return len(f) == len(t)
}

// Every pair of filters of up to three levels: one covers another exactly when it
// matches all that the other matches.
func TestCoversAsTheStandardSays(t *testing.T) {
	levels := []string{"a", "b", "+"}
	filters := []string{"#"}
	for _, x := range levels {
		filters = append(filters, x, x+"/#")
		for _, y := range levels {
			filters = append(filters, x+"/"+y, x+"/"+y+"/#")
		}
	}
	topics := under()
	n := 0
	for _, rule := range filters {
		for _, filter := range filters {
			want := true
			for _, topic := range topics {
				want = want && (!matches(filter, topic) || matches(rule, topic))
			}
			if got := covers(rule, filter); got != want {
				t.Errorf("%s covers %s: %t, want %t", rule, filter, got, want)
			}
			n++
		}
		for _, topic := range topics {
			if got, want := covers(rule, topic), matches(rule, topic); got != want {
				t.Errorf("%s matches %s: %t, want %t", rule, topic, got, want)
			}
		}
	}
	if n < 500 {
		t.Fatalf("%d pairs", n)
	}
}

func TestRightsOfUsers(t *testing.T) {
	none := func(string) bool { return false }
	r := &rights{own: func(topic string) bool { return topic == "flitch/state" }, reads: none, users: map[string]User{
		"fridge": {Publish: []string{"larder/alder/#"}, Subscribe: []string{}},
		"lamp":   {Publish: []string{}, Subscribe: []string{"flitch/#"}},
		"old":    {},
	}}
	for _, c := range []struct {
		user, topic string
		write, want bool
	}{
		{"fridge", "larder/alder/bottle", true, true},
		{"fridge", "larder/kettle/core", true, false},
		{"old", "larder/kettle/core", true, true},
		{"old", "larder/alder/bottle", true, false}, // it is the fridge's
		{"old", "flitch/state", true, false},
		{"lamp", "lamp/state", true, false},
		{"lamp", "flitch/alarms/#", false, true},
		{"lamp", "#", false, false},
		{"lamp", "$share/all/flitch/alarm", false, true},
		{"lamp", "$share/all/larder/#", false, false},
		{"fridge", "flitch/alarm", false, false},
		{"old", "#", false, true},
		{"old", "$SYS/#", false, false},
		{"old", "$share/all/$SYS/#", false, false},
	} {
		got := r.subscribe(c.user, c.topic)
		if c.write {
			got = r.publish(c.user, c.topic)
		}
		if got != c.want {
			t.Errorf("%s, %s, write %t: %t, want %t", c.user, c.topic, c.write, got, c.want)
		}
	}
	if free := (&rights{own: none, reads: none}); !free.publish("", "any") || !free.subscribe("", "#") {
		t.Error("without users something is refused")
	}
}

// On the long run a client gets its rate, after a pause a burst, and large packets cost
// more.
func TestBucket(t *testing.T) {
	now := time.Date(2031, 5, 5, 6, 0, 0, 0, time.UTC)
	b := newBucket(100, now)
	began, sent := now, 0
	for ; sent < 5000; sent++ {
		now = now.Add(b.take(now, 60))
	}
	if took, want := now.Sub(began), 45*time.Second; took < want-time.Second || took > want+time.Second {
		t.Errorf("%d packets at 100 a second, 500 of them at once, took %s, want %s", sent, took, want)
	}
	now = now.Add(time.Hour)
	for i := range 500 {
		if wait := b.take(now, 60); wait != 0 {
			t.Fatalf("packet %d after a pause waits %s", i, wait)
		}
	}
	if wait := b.take(now, 2<<20); wait < 5*time.Second || wait > 6*time.Second {
		t.Errorf("2 MiB wait %s", wait)
	}
	b.take(now.Add(-24*time.Hour), 60)
	if wait := b.take(now.Add(-24*time.Hour), 60); wait > 6*time.Second {
		t.Errorf("after the clock was set back: %s", wait)
	}
}

// What is kept stays within its room, whatever is published: what does not fit is not kept,
// and nothing older is left in its place. Room that is given up is there again.
func TestRetainedMessagesAreBounded(t *testing.T) {
	told := 0
	r := newRetained(10_000, func() { told++ })
	keep := func(topic string, size int) {
		r.keep(packets.Packet{FixedHeader: packets.FixedHeader{Type: packets.Publish, Retain: true}, TopicName: topic, Payload: make([]byte, size)})
	}
	for i := range 1000 {
		keep(fmt.Sprint("flood/", i), 100)
	}
	if n := len(r.matching("flood/#")); n == 0 || n > 10_000/356 || told == 0 || r.room < 0 {
		t.Errorf("%d kept, told %d times, room %d", n, told, r.room)
	}
	own := packets.Packet{FixedHeader: packets.FixedHeader{Type: packets.Publish, Retain: true}, TopicName: "flitch/alarm", Payload: make([]byte, 9000)}
	if r.put(own, true); len(r.matching("flitch/#")) != 1 {
		t.Error("a flood keeps flitch from telling its alarms")
	}
	keep("flitch/alarm", 0)
	for i := range 1000 {
		keep(fmt.Sprint("flood/", i), 0)
	}
	if n := len(r.matching("#")); n != 0 || r.room != 10_000 {
		t.Errorf("after all was taken back: %d kept, room %d", n, r.room)
	}
	for range 100 {
		keep("lamp", 5000)
	}
	keep("lamp", 20_000)
	if n := len(r.matching("#")); n != 0 || r.room != 10_000 {
		t.Errorf("too large a successor: %d kept, room %d", n, r.room)
	}
}
