package decode

import (
	"runtime"
	"strings"
	"testing"
	"time"
)

// What one payload of the largest size may cost, whatever is in it: bytes allocated
// while it is read. Own bound; a board has 512 MB.
const memoryMax = 8 << 20

func TestMemoryIsBounded(t *testing.T) {
	fill := func(piece string) []byte { return []byte(strings.Repeat(piece, (MaxPayload-2)/len(piece))) }
	listed := func(piece string) []byte { return []byte("[" + strings.TrimSuffix(string(fill(piece)), ",") + "]") }
	list := Spec{List: true, Value: "/v", Time: "/t", TimeFormat: "unix"}
	for name, c := range map[string]struct {
		spec    Spec
		payload []byte
	}{
		"numbers":                 {Spec{Value: "/0"}, listed("1,")},
		"empty lists":             {Spec{Value: "/0"}, listed("[],")},
		"empty objects":           {Spec{Value: "/[a=1]/b"}, listed("{},")},
		"short objects":           {Spec{Value: "/[a=1]/b"}, listed(`{"a":2},`)},
		"names":                   {Spec{Value: "/x"}, []byte("{" + strings.TrimSuffix(string(fill(`"":0,`)), ",") + "}")},
		"one long text":           {Spec{}, []byte(`"` + strings.Repeat("x", MaxPayload-2) + `"`)},
		"one long number":         {Spec{}, fill("1")},
		"brackets":                {Spec{Value: "/0"}, fill("[")},
		"list of readings":        {list, listed(`{"t":1,"v":1},`)},
		"list of bad readings":    {list, listed(`{"a":1},`)},
		"list of nothing":         {list, listed("0,")},
		"list of what is escaped": {list, listed("{\"\\u0000\":1},")},
	} {
		f, err := NewField(c.spec)
		if err != nil {
			t.Fatal(err)
		}
		if len(c.payload) > MaxPayload || len(c.payload) < MaxPayload*9/10 {
			t.Fatalf("%s: %d bytes", name, len(c.payload))
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		doc, err := Open(c.payload)
		if err != nil {
			t.Fatal(err)
		}
		if f.IsList() {
			samples, refused := doc.ReadList(&f)
			if len(samples)+len(refused) > MaxReadings {
				t.Errorf("%s: %d readings, %d refused", name, len(samples), len(refused))
			}
		} else if _, err := doc.Read(&f); err != nil && len(err.Error()) > 1000 {
			t.Errorf("%s: a reason of %d bytes", name, len(err.Error()))
		}
		runtime.ReadMemStats(&after)
		if got := after.TotalAlloc - before.TotalAlloc; got > memoryMax {
			t.Errorf("%s: %d bytes allocated", name, got)
		} else {
			t.Logf("%s: %d KiB", name, got>>10)
		}
	}
}

func TestTooManyReadings(t *testing.T) {
	f, err := NewField(Spec{List: true, Value: "/0", Time: "/1", TimeFormat: "unix"})
	if err != nil {
		t.Fatal(err)
	}
	for n, want := range map[int]int{MaxReadings: MaxReadings, MaxReadings + 1: 0} {
		doc, err := Open([]byte("[" + strings.Repeat("[1,1],", n-1) + "[1,1]]"))
		if err != nil {
			t.Fatal(err)
		}
		samples, refused := doc.ReadList(&f)
		if len(samples) != want || (len(refused) == 0) != (want > 0) {
			t.Errorf("%d readings: %d taken, %v", n, len(samples), refused)
		}
		if want == 0 && (ClassOf(refused[0]) != TooLarge || refused[0].Error() != `4001 readings at "": at most 4000 are read from one message`) {
			t.Errorf("reason %v", refused[0])
		}
	}
}

func TestSpecProblems(t *testing.T) {
	lisbon := zone("Europe/Lisbon")
	for _, c := range []struct {
		spec Spec
		want string
	}{
		{Spec{Each: "x"}, `path "x" does not start with a slash: write /x`},
		{Spec{List: true}, "a list of readings needs a time in each of them: say where it is"},
		{Spec{Time: "/t", TimeFormat: "local"}, "a local time needs a zone: name one, such as Europe/Lisbon"},
		{Spec{Time: "/t", Zone: lisbon}, "a zone is only for a local time: leave it out, or write local as the format"},
		{Spec{Backfill: "/b"}, "a flag for stored readings needs a time, and a list needs no flag"},
		{Spec{List: true, Time: "/t", Backfill: "/b"}, "a flag for stored readings needs a time, and a list needs no flag"},
		{Spec{Unit: "C", UnitAt: Behind}, "the unit is either given or read from the payload, not both"},
		{Spec{Unit: "C", UnitAt: "/u"}, "the unit is either given or read from the payload, not both"},
		{Spec{Scale: 1e10}, "scale and offset are numbers up to 1e+09"},
		{Spec{Decimal: ";"}, `decimal sign ";" is not known: write . or ,`},
		{Spec{ID: "x"}, "an id needs a path, and a path of an id an id"},
		{Spec{IDAt: "/id"}, "an id needs a path, and a path of an id an id"},
	} {
		if _, err := NewField(c.spec); err == nil || err.Error() != c.want {
			t.Errorf("%+v: %v, want %s", c.spec, err, c.want)
		}
	}
}

// Every minute of three days around each change of a few zones: what the clock shows is
// read back, and shows as often as it does.
func TestLocalTimesAroundChanges(t *testing.T) {
	for name, around := range map[string]string{
		"Europe/Lisbon": "2031-10-26T01:00:00Z", "Europe/Paris": "2031-03-30T01:00:00Z", "America/Chicago": "2031-11-02T07:00:00Z",
		"Australia/Lord_Howe": "2031-04-05T15:00:00Z", "Pacific/Apia": "2011-12-30T10:00:00Z", "America/St_Johns": "2031-03-09T05:30:00Z",
	} {
		loc, err := time.LoadLocation(name)
		if err != nil {
			t.Fatal(err)
		}
		change, err := time.Parse(time.RFC3339, around)
		if err != nil {
			t.Fatal(err)
		}
		_, before := change.Add(-time.Second).In(loc).Zone()
		if _, after := change.In(loc).Zone(); before == after {
			t.Fatalf("%s does not change at %s", name, around)
		}
		shows := map[string][]time.Time{}
		for m := -36 * 60; m < 36*60; m++ {
			at := change.Add(time.Duration(m) * time.Minute)
			text := at.In(loc).Format("2006-01-02T15:04:05")
			shows[text] = append(shows[text], at)
		}
		for text, want := range shows {
			at, again, err := local(text, loc)
			if err != nil || !at.Equal(want[0]) || !at.Add(again).Equal(want[len(want)-1]) || len(want) > 2 {
				t.Errorf("%s in %s: %v, %v later, %v, want %v", text, name, at, again, err, want)
			}
		}
		for m := -24 * 60; m < 24*60; m++ { // what no clock showed
			text := change.Add(time.Duration(m) * time.Minute).In(time.UTC).Format("2006-01-02T15:04:05")
			if at, _, err := local(text, loc); shows[text] == nil && err == nil && at.Sub(change).Abs() < 35*time.Hour {
				t.Errorf("%s in %s: read as %v", text, name, at)
			}
		}
	}
}
