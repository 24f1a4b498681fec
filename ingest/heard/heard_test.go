package heard

import (
	"bytes"
	"fmt"
	"testing"
	"time"
)

var noon = time.Date(2031, 5, 5, 12, 0, 0, 0, time.UTC)

func TestTheNewestMessageOfEachTopic(t *testing.T) {
	var l List
	payload := []byte(`{"t":1}`)
	l.Hear("shed/b", []byte("kept"), true, noon)
	l.Hear("shed/a", payload, false, noon)
	l.Hear("shed/a", []byte(`{"t":2}`), false, noon.Add(20*time.Second))
	payload[0] = 'x' // the caller's slice is his own
	l.Hear("shed/a", []byte(`{"t":3}`), false, noon.Add(30*time.Second))
	topics, forgotten := l.Topics()
	if len(topics) != 2 || forgotten != 0 {
		t.Fatalf("%+v", topics)
	}
	a, b := topics[0], topics[1]
	if a.Name != "shed/a" || string(a.Payload) != `{"t":3}` || a.Messages != 3 || a.Every() != 15*time.Second || a.Seq != 4 {
		t.Errorf("a: %+v, every %s", a, a.Every())
	}
	// A copy the broker had kept tells nothing of when or how often.
	if !b.Retained || b.Messages != 0 || b.Every() != 0 || !b.Last.IsZero() {
		t.Errorf("b: %+v", b)
	}
}

func TestTheListIsBounded(t *testing.T) {
	var l List
	l.Hear("old", []byte("1"), false, noon)
	l.Hear("new", []byte("1"), false, noon)
	l.Hear("old", []byte("2"), false, noon)
	for i := range MaxTopics - 1 {
		l.Hear(fmt.Sprint("flood/", i), bytes.Repeat([]byte("x"), MaxKept+1), false, noon)
	}
	l.Hear("", []byte("1"), false, noon)
	l.Hear(string(bytes.Repeat([]byte("n"), maxName+1)), []byte("1"), false, noon)
	topics, forgotten := l.Topics()
	if len(topics) != MaxTopics || forgotten != 1 {
		t.Fatalf("%d topics, %d forgotten", len(topics), forgotten)
	}
	for _, topic := range topics {
		switch {
		case topic.Name == "new":
			t.Error("the one not heard of for longest had to go")
		case topic.Name != "old" && (topic.Payload != nil || topic.Size != MaxKept+1):
			t.Errorf("%s keeps %d of %d bytes", topic.Name, len(topic.Payload), topic.Size)
		}
	}
}
