package decode

import (
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// A shape is one case of testdata/payloads, as far as decode has to do with it.
type shape struct {
	keys     map[string]string
	payloads [][]byte
}

// shapes reads the corpus.
func shapes(t testing.TB) (all []shape) {
	t.Helper()
	files, err := filepath.Glob("../../testdata/payloads/*.txt")
	if err != nil || len(files) == 0 {
		t.Fatalf("no payloads: %v", err)
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for line := range strings.Lines(string(text)) {
			line = strings.TrimSuffix(line, "\n")
			mark, rest, _ := strings.Cut(line, " ")
			switch {
			case mark == "==":
				all = append(all, shape{keys: map[string]string{}})
			case len(all) == 0:
			case mark == ">" || mark == "retained>":
				all[len(all)-1].payloads = append(all[len(all)-1].payloads, []byte(rest))
			case mark == ">>":
				payload, err := strconv.Unquote(rest)
				if err != nil {
					t.Fatal(err)
				}
				all[len(all)-1].payloads = append(all[len(all)-1].payloads, []byte(payload))
			case strings.HasPrefix(rest, "= "):
				value := strings.TrimPrefix(rest, "= ")
				if text, err := strconv.Unquote(value); err == nil {
					value = text
				}
				all[len(all)-1].keys[mark] = value
			}
		}
	}
	return all
}

// zone is the zone of that name, UTC if there is none; without a name it is none.
func zone(name string) *time.Location {
	if name == "" {
		return nil
	}
	loc, err := time.LoadLocation(name)
	if err != nil {
		return time.UTC
	}
	return loc
}

// FuzzShape: no payload and no way to read it makes decode panic, hand out what is no
// number or no time, or grow beyond its bounds. Its seeds are all of testdata/payloads.
func FuzzShape(f *testing.F) {
	for _, s := range shapes(f) {
		_, isList := s.keys["each"]
		for _, p := range s.payloads {
			f.Add(p, s.keys["value"], isList, s.keys["each"], s.keys["time"], s.keys["time_format"], s.keys["time_zone"],
				s.keys["backfill"], s.keys["unit_at"], s.keys["decimal"], s.keys["id"], s.keys["id_at"])
		}
	}
	f.Fuzz(func(t *testing.T, payload []byte, value string, isList bool, each, at, format, zoneName, backfill, unitAt, decimal, id, idAt string) {
		field, err := NewField(Spec{Value: value, List: isList, Each: each, Time: at, TimeFormat: format, Zone: zone(zoneName),
			Backfill: backfill, UnitAt: unitAt, Scale: 0.5, Offset: -3, Decimal: decimal, ID: id, IDAt: idAt})
		if err != nil {
			worded(t, err, 4*(len(value)+len(each)+len(at)+len(format)+len(backfill)+len(unitAt)+len(decimal)+len(idAt)))
			return
		}
		doc, err := Open(payload)
		if err != nil {
			refused(t, err, 0)
			return
		}
		if _, err := doc.Meant(&field); err != nil {
			refused(t, err, len(idAt))
		}
		paths := 4 * (len(value) + len(each) + len(at) + len(unitAt))
		if !field.IsList() {
			if s, err := doc.Read(&field); err != nil {
				refused(t, err, paths)
			} else {
				sampled(t, s, &field)
			}
			return
		}
		samples, errs := doc.ReadList(&field)
		if len(samples)+len(errs) > MaxReadings {
			t.Fatalf("%d readings and %d refused", len(samples), len(errs))
		}
		for _, err := range errs {
			refused(t, err, paths)
		}
		for _, s := range samples {
			sampled(t, s, &field)
			if !s.Backfill || s.Device.IsZero() || s.TimeProblem != "" {
				t.Fatalf("a reading of a list: %+v", s)
			}
		}
	})
}

// refused checks a reason: it has a class, and words that are not longer than the paths
// in it allow.
func refused(t *testing.T, err error, paths int) {
	t.Helper()
	if ClassOf(err) == Unknown {
		t.Fatalf("a reason without a class: %v", err)
	}
	worded(t, err, paths)
}

// worded checks that words are there and bounded.
func worded(t *testing.T, err error, more int) {
	t.Helper()
	if n := len(err.Error()); n == 0 || n > 2000+more {
		t.Fatalf("a reason of %d bytes: %.100q", n, err)
	}
}

func sampled(t *testing.T, s Sample, f *Field) {
	t.Helper()
	if math.IsNaN(s.Value) || math.IsInf(s.Value, 0) || math.Abs(s.Sent) > MaxValue {
		t.Fatalf("value %v, sent %v", s.Value, s.Sent)
	}
	if s.Device.IsZero() {
		if f.timed && s.TimeProblem == "" || s.Again != 0 {
			t.Fatalf("neither a time nor a problem: %+v", s)
		}
		return
	}
	if at := s.Device; at.Location() != time.UTC || at.Year() < 1970 || at.Year() > 9999 || at.Nanosecond()%1e6 != 0 {
		t.Fatalf("time %v", at)
	}
	if s.Again != 0 && (f.format != LocalTime || s.Again < 0 || s.Again > 24*time.Hour) {
		t.Fatalf("comes twice: %v, and %v later", s.Device, s.Again)
	}
}

// FuzzLocalTime: an instant that is handed out shows, on the clock of the zone, what
// was sent; and there is no other instant that does.
func FuzzLocalTime(f *testing.F) {
	for _, text := range []string{"2031-10-26T01:30:00", "2031-03-30T01:30:00", "2031-05-02 12:59", "2031-10-26T01:30:00.25", "2031-11-02T01:30:00Z", "9999-12-31T23:59:59", "1970-01-01T00:00:00", "noon"} {
		for _, zone := range []string{"Europe/Lisbon", "America/Chicago", "Australia/Lord_Howe", "Pacific/Apia", "Asia/Kolkata", "UTC", "Africa/Casablanca"} {
			f.Add(text, zone)
		}
	}
	f.Fuzz(func(t *testing.T, text, zoneName string) {
		loc := zone(zoneName)
		if loc == nil {
			return
		}
		at, again, err := local(text, loc)
		if err != nil {
			worded(t, err, len(zoneName))
			return
		}
		shown, ok := wall(text)
		if !ok {
			t.Fatalf("%q was read and is no local time", text)
		}
		shown = shown.Truncate(time.Millisecond)
		const layout = "2006-01-02T15:04:05.000"
		found := map[int64]bool{}
		for _, got := range []time.Time{at, at.Add(again)} {
			found[got.UnixMilli()] = true
			if got.Round(0).In(loc).Format(layout) != shown.Format(layout) && got.Add(-time.Millisecond).In(loc).Format(layout) != shown.Format(layout) {
				t.Fatalf("%q in %s: %v shows %s", text, loc, got, got.In(loc).Format(layout))
			}
		}
		for quarter := -26 * 4; quarter <= 26*4; quarter++ { // every offset there is, and more
			try := shown.Add(-time.Duration(quarter) * 15 * time.Minute)
			if try.In(loc).Format(layout) == shown.Format(layout) && try.UnixMilli() >= 0 && !found[try.UnixMilli()] {
				t.Fatalf("%q in %s: %v shows it, too; got %v and %v later", text, loc, try.UTC(), at, again)
			}
		}
	})
}

// FuzzPointer: a path that is taken finds something or says what is there, whatever the
// document, and what it picks of a list has what it asked for.
func FuzzPointer(f *testing.F) {
	for _, path := range []string{"", "/", "/a/0/b", "/~0~1", "/[a=1]", "/[a=1]/b", "/a/[=]/[b=c=d]", "/[", "/[]", "/[a]", "/~", "a", "/0/00/-1"} {
		f.Add(path, []byte(`{"a":[{"a":1,"b":2},{"a":"1"}],"[a=1]":{"b":3},"":[[1]]}`))
		f.Add(path, []byte(`[{"a":1,"b":{"":[]}},null,3,{"b":"c=d"}]`))
	}
	f.Fuzz(func(t *testing.T, path string, payload []byte) {
		p, err := parsePointer(path)
		if err != nil {
			return
		}
		doc, err := Open(payload)
		if err != nil {
			return
		}
		root, err := doc.json()
		if err != nil {
			return
		}
		if v, err := p.find(root, thePayload); err != nil {
			refused(t, err, 4*len(path))
		} else if len(p.steps) == 0 && v == nil && root != nil {
			t.Fatalf("%q is not the whole", path)
		}
		all, err := p.findAll(root)
		if err != nil {
			refused(t, err, 4*len(path))
			return
		}
		last := step{}
		if n := len(p.steps); n > 0 {
			last = p.steps[n-1]
		}
		for _, e := range all {
			if last.selects && !last.matches(e) {
				t.Fatalf("%q picked %v", path, e)
			}
		}
	})
}
