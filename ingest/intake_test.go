package ingest_test

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"

	"flitch/ingest"
	"flitch/ingest/decode"
	"flitch/process"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// A message nobody can use is kept, with the reason, and acknowledged.
func TestUnusableIsKeptAndAcknowledged(t *testing.T) {
	s, a, c := newShelf(t), &acks{}, &counts{}
	in := start(t, s, mappings(), ingest.Options{Observe: c})
	long := strings.Repeat("x", 70<<10)
	for i, payload := range []string{"unavailable", "", "\xff\xfe", long} {
		in.submit(t, "alder/slow", payload, a.of(i))
	}
	if err := in.Stop(); err != nil {
		t.Fatal(err)
	}
	if got := a.list(); len(got) != 4 {
		t.Errorf("acknowledged %v", got)
	}
	kept, err := s.Rejections(10)
	if err != nil || len(kept) != 4 {
		t.Fatalf("%d kept: %v", len(kept), err)
	}
	reasons := map[string]int{}
	for _, r := range kept {
		reasons[r.Reason] = r.Size
		if len(r.Raw) > 1024 || r.Topic != "alder/slow" || r.Received.IsZero() {
			t.Errorf("kept %q %v, %d bytes", r.Topic, r.Received, len(r.Raw))
		}
	}
	for _, want := range []string{
		`payload is "unavailable", not a number`, "payload is empty", "payload is not text (not UTF-8)",
		"payload of 71680 bytes: at most 65536 are read",
	} {
		if _, ok := reasons[want]; !ok {
			t.Errorf("no rejection says %q: %v", want, reasons)
		}
	}
	if reasons["payload of 71680 bytes: at most 65536 are read"] != 71680 {
		t.Error("size of the whole payload is lost")
	}
	if want := map[string]int{"not a number": 1, "no value": 1, "not text": 1, "too large": 1}; fmt.Sprint(c.rejected) != fmt.Sprint(want) {
		t.Errorf("counted %v", c.rejected)
	}
}

// A value that cannot be a measurement is a reading all the same: kept, marked bad.
func TestBadIsKept(t *testing.T) {
	s, c := newShelf(t), &counts{}
	maps := mappings()
	maps[0].Unit, maps[0].Missing = "F", []float64{300}
	in := start(t, s, maps, ingest.Options{Observe: c})
	for _, payload := range []string{"38.9", "-196.6", "185", "300", "250"} {
		in.submit(t, "alder/slow", payload, nil)
	}
	if err := in.Stop(); err != nil {
		t.Fatal(err)
	}
	rows := s.Series(t, "alder-slow")
	if len(rows) != 5 {
		t.Fatalf("%d rows", len(rows))
	}
	if r := rows[0]; r.Quality != process.Good || r.Reason != "" || r.Raw != "" || r.Value < 3.83 || r.Value > 3.84 {
		t.Errorf("38.9 °F: %+v", r)
	}
	for i, want := range []string{
		1: "-127 °C: one-wire sensor not connected",
		2: "85 °C: one-wire sensor has just started",
		3: "300 means no measurement for this probe",
		4: "121.111 is outside -40 to 60 °C for a product probe",
	} {
		if r := rows[i]; want != "" && (r.Quality != process.Bad || r.Reason != want || r.Raw == "") {
			t.Errorf("row %d: %+v, want %q", i, r, want)
		}
	}
	if c.bad != 4 || c.stored != 5 {
		t.Errorf("counted %+v", c)
	}
}

// What comes again after a restart is absorbed, whether its time is the newest or
// long past; a reading that is really new is not.
func TestRedeliveryAfterRestartIsAbsorbed(t *testing.T) {
	s, now := newShelf(t), time.Now()
	payload := func(i int) string {
		return fmt.Sprintf(`{"t":%d,"at":%d}`, i, now.Add(time.Duration(i-20)*time.Second).UnixMilli())
	}
	first := start(t, s, mappings(), ingest.Options{})
	for i := range 10 {
		first.submit(t, "kettle/core", payload(i), nil)
	}
	if err := first.Stop(); err != nil {
		t.Fatal(err)
	}
	c, a := &counts{}, &acks{}
	second := start(t, s, mappings(), ingest.Options{Observe: c})
	for i := range 11 { // all again, and one more
		second.submit(t, "kettle/core", payload(i), a.of(i))
	}
	second.submit(t, "kettle/core", payload(3), a.of(11)) // once more, in the same batch
	if err := second.Stop(); err != nil {
		t.Fatal(err)
	}
	rows := s.Series(t, "core-a")
	if len(rows) != 11 {
		t.Fatalf("%d rows, want 11", len(rows))
	}
	for i, r := range rows {
		if r.Value != float64(i) || r.Quality != process.Good || !r.Device.Equal(r.Measured) {
			t.Errorf("row %d: %+v", i, r)
		}
	}
	if c.stored != 1 || c.dup != 11 || len(a.list()) != 12 {
		t.Errorf("stored %d, duplicates %d, acknowledged %d", c.stored, c.dup, len(a.list()))
	}
}

// A copy that the broker had kept is of unknown age: without a time it is refused.
func TestRetainedCopies(t *testing.T) {
	s, c := newShelf(t), &counts{}
	in := start(t, s, mappings(), ingest.Options{Observe: c})
	old := time.Now().Add(-time.Hour).UnixMilli()
	for topic, payload := range map[string]string{
		"alder/slow": "3.9", "kettle/core": fmt.Sprintf(`{"t":40,"at":%d}`, old),
	} {
		err := in.Submit(context.Background(), ingest.Message{Topic: topic, Payload: []byte(payload), Retained: true})
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := in.Stop(); err != nil {
		t.Fatal(err)
	}
	if rows := s.Series(t, "alder-slow"); len(rows) != 0 {
		t.Errorf("stored as fresh: %+v", rows)
	}
	kept, err := s.Rejections(10)
	if err != nil || len(kept) != 1 || kept[0].Reason != "retained copy of unknown age: the payload carries no time" {
		t.Errorf("kept %+v %v", kept, err)
	}
	if rows := s.Series(t, "core-a"); len(rows) != 1 || rows[0].Measured.UnixMilli() != old || rows[0].Reason != "late" {
		t.Errorf("with a time: %+v", rows)
	}
	if c.rejected["retained"] != 1 {
		t.Errorf("counted %v", c.rejected)
	}
}

// One payload feeds several probes; a dead one does not silence the others.
func TestSeveralMappingsOnOneTopic(t *testing.T) {
	s, c, a := newShelf(t), &counts{}, &acks{}
	in := start(t, s, []ingest.Mapping{
		{Topic: "kettle", Probe: probe("core-a", process.Core), Spec: decode.Spec{Value: "/core/0"}},
		{Topic: "kettle", Probe: probe("core-b", process.Core), Spec: decode.Spec{Value: "/core/1"}},
		{Topic: "kettle", Probe: probe("grate", process.Chamber), Spec: decode.Spec{Value: "/grate"}},
	}, ingest.Options{Observe: c})
	in.submit(t, "kettle", `{"core":[61.2,null],"grate":107}`, a.of(0))
	in.submit(t, "kettle", "hello", a.of(1))
	if err := in.Stop(); err != nil {
		t.Fatal(err)
	}
	if a, b, g := s.Series(t, "core-a"), s.Series(t, "core-b"), s.Series(t, "grate"); len(a) != 1 || len(b) != 0 || len(g) != 1 {
		t.Errorf("%d, %d, %d rows", len(a), len(b), len(g))
	}
	kept, err := s.Rejections(10)
	if err != nil || len(kept) != 2 {
		t.Fatalf("%d rejections, want one for each message: %v", len(kept), err)
	}
	for _, r := range kept {
		if r.Reason != `"/core/1" is null` && !strings.HasPrefix(r.Reason, `payload "hello" is not JSON`) || strings.Contains(r.Reason, "\n") {
			t.Errorf("reason %q", r.Reason)
		}
	}
	if len(a.list()) != 2 || c.rejected["no value"] != 1 || c.rejected["not json"] != 3 {
		t.Errorf("acknowledged %v, counted %v", a.list(), c.rejected)
	}
}

// An unmapped topic is counted and acknowledged in its turn, never stored.
func TestUnmappedTopics(t *testing.T) {
	s, c, a := newShelf(t), &counts{}, &acks{}
	in := start(t, s, mappings(), ingest.Options{Observe: c})
	if in.Reads("birch/air") || !in.Reads("alder/slow") || !slices.Equal(in.Topics(), []string{"alder/slow", "kettle/core"}) {
		t.Error("topics read:", in.Topics())
	}
	in.submit(t, "alder/slow", "3.9", a.of(0))
	in.submit(t, "birch/air", "5.1", a.of(1))
	in.submit(t, "alder/slow", "4.0", a.of(2))
	if err := in.Stop(); err != nil {
		t.Fatal(err)
	}
	if got := a.list(); !slices.Equal(got, []int{0, 1, 2}) {
		t.Errorf("acknowledged %v", got)
	}
	if kept, _ := s.Rejections(10); len(kept) != 0 || c.unmapped != 1 || c.stored != 2 {
		t.Errorf("kept %v, counted %+v", kept, c)
	}
}

func TestMappingProblems(t *testing.T) {
	p := probe("alder-slow", process.Product)
	_, err := ingest.New(nil, wall{}, []ingest.Mapping{
		{Topic: "a/#", Probe: p},
		{Topic: "", Probe: p},
		{Topic: "b", Probe: p, Spec: decode.Spec{Value: "t"}},
		{Topic: "c", Probe: p, Spec: decode.Spec{Unit: "R"}},
		{Topic: "d", Probe: probe("x", "lid")},
		{Topic: "e", Probe: probe("rh", process.Humidity), Spec: decode.Spec{Unit: "F"}},
	}, ingest.Options{})
	if err == nil {
		t.Fatal("taken")
	}
	for _, want := range []string{
		`topic "a/#", probe "alder-slow": the wildcard # is not read: write + for one part`,
		`topic "", probe "alder-slow": a mapping needs both`,
		`topic "b", probe "alder-slow": path "t" does not start with a slash: write /t`,
		`topic "c", probe "alder-slow": unit "R" is not known: write C, F or K`,
		`topic "d", probe "x": placement "lid" is not known`,
		`topic "e", probe "rh": unit "F" is a temperature's, the placement is humidity: leave the unit out`,
	} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("not reported: %s\n%v", want, err)
		}
	}
}
