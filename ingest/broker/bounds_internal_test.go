package broker

import (
	"fmt"
	"runtime"
	"strings"
	"testing"

	"github.com/mochi-mqtt/server/v2/packets"
)

// What a level of a topic takes in the library's tree is not more than it is counted for.
func TestALevelTakesNoMoreThanItCounts(t *testing.T) {
	const topics, deep = 200, 150
	heap := func() uint64 {
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return m.HeapAlloc
	}
	r := newRetained(1<<30, func() { t.Error("full") })
	before := heap()
	for i := range topics {
		r.keep(packets.Packet{FixedHeader: packets.FixedHeader{Type: packets.Publish, Retain: true},
			TopicName: fmt.Sprintf("%d%s", i, strings.Repeat("/", deep-1)), Payload: []byte("x")})
	}
	took := (heap() - before) / (topics * deep)
	runtime.KeepAlive(r)
	if took > keptLevel {
		t.Errorf("a level takes %d bytes and counts %d", took, keptLevel)
	}
	if counted := 1<<30 - r.room; counted < topics*deep*keptLevel {
		t.Errorf("%d counted", counted)
	}
	t.Logf("a level takes %d bytes", took)
}

func TestWhichStreamsGoOn(t *testing.T) {
	for _, c := range []struct {
		name string
		b    string
		ok   bool
	}{
		{"a packet and another", "\x10\x02ab\xc0\x00\xc0\x00", true},
		{"a long PUBLISH", "\x30\xff\xff\x7f", true},
		{"a long CONNECT", "\x10\xff\xff\x7f", false},
		{"a CONNECT just long enough", "\x10\x80\x80\x04", true},
		{"a byte more", "\x10\x81\x80\x04", false},
		{"a length of five bytes", "\x30\xff\xff\xff\xff\x01", false},
		{"in the second packet", "\xc0\x00\x82\xff\xff\x7f", false},
	} {
		var whole, bytewise frames
		if err := whole.pass([]byte(c.b)); (err == nil) != c.ok {
			t.Errorf("%s: %v", c.name, err)
		}
		var err error
		for i := 0; i < len(c.b) && err == nil; i++ {
			err = bytewise.pass([]byte{c.b[i]})
		}
		if (err == nil) != c.ok {
			t.Errorf("%s, a byte at a time: %v", c.name, err)
		}
	}
}

// The frames of a stream are the same however it is cut.
func FuzzFrames(f *testing.F) {
	f.Add([]byte("\x10\x02ab\xc0\x00\x30\x05\x00\x01axy\x82\xff\xff\x7f"), uint8(3))
	f.Add([]byte("\x30\xff\xff\xff\xff\x01"), uint8(1))
	f.Fuzz(func(t *testing.T, b []byte, step uint8) {
		var whole, cut frames
		want := whole.pass(b)
		var got error
		for rest := b; len(rest) > 0 && got == nil; {
			n := min(int(step)+1, len(rest))
			got = cut.pass(rest[:n])
			rest = rest[n:]
		}
		if (want == nil) != (got == nil) || want == nil && whole != cut {
			t.Errorf("whole %v %+v, cut %v %+v", want, whole, got, cut)
		}
		if whole.body < 0 || whole.length > 268435455 {
			t.Errorf("%+v", whole)
		}
	})
}
