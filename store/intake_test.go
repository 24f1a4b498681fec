package store

import (
	"bytes"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"flitch/ingest/decode"
	"flitch/process"
)

// TestReadingsComeBackAsTheyWere stores one reading of every kind. Want is empty
// when the reading is to come back as it is.
func TestReadingsComeBackAsTheyWere(t *testing.T) {
	at := noon
	late := at.Add(-3 * time.Minute)
	long := strings.Repeat("é", decode.MaxRaw)
	cases := []struct {
		name  string
		give  process.Reading
		want  func(*process.Reading)
		marks int
	}{
		{name: "device time believed", give: process.Reading{Measured: late, Device: late, Received: at, Value: 3.5}},
		{name: "no device time", give: process.Reading{Measured: at, Received: at, Value: 3.5}},
		{name: "device time equals arrival", give: process.Reading{Measured: at, Device: at, Received: at}, marks: 1},
		{name: "no device time, measured before arrival", give: process.Reading{Measured: late, Received: at}, marks: 1},
		{name: "device time not believed", give: process.Reading{Measured: at, Received: at, Device: time.Unix(30, 0).UTC(),
			Quality: process.Suspect, Reason: "device clock is in 1970", Raw: `{"t":30}`}, marks: 1},
		{name: "bad, sentinel", give: process.Reading{Measured: at, Received: at, Value: -127,
			Quality: process.Bad, Reason: "-127 is what this sensor says when it is unplugged", Raw: "-127"}, marks: 1},
		{name: "not a number", give: process.Reading{Measured: at, Received: at, Value: math.NaN(),
			Quality: process.Bad, Reason: "not a number", Raw: "nan"}, marks: 1},
		{name: "infinite", give: process.Reading{Measured: at, Received: at, Value: math.Inf(1), Quality: process.Bad}, marks: 1},
		{name: "whole number", give: process.Reading{Measured: at, Received: at, Value: 4}},
		{name: "before 1970", give: process.Reading{Measured: time.Unix(-5, 0).UTC(), Device: time.Unix(-5, 0).UTC(), Received: at}},
		{name: "finer than a millisecond", give: process.Reading{Measured: at.Add(1500 * time.Microsecond), Received: at.Add(1500 * time.Microsecond)},
			want: func(r *process.Reading) {
				r.Measured, r.Received = at.Add(time.Millisecond), at.Add(time.Millisecond)
			}},
		{name: "raw text too long", give: process.Reading{Measured: at, Received: at, Quality: process.Bad, Raw: "x" + long, Reason: "x" + long},
			want: func(r *process.Reading) {
				r.Raw = "x" + long[:decode.MaxRaw-2] // not in the middle of an é
				r.Reason = r.Raw
			}, marks: 1},
		{name: "odd name", give: process.Reading{Probe: "fridge/älder ' \" ; --", Measured: at, Received: at}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			db := newDB(t)
			if c.give.Probe == "" {
				c.give.Probe = "alder"
			}
			commit(t, db, c.give)
			want := c.give
			if c.want != nil {
				c.want(&want)
			}
			for via, got := range everyWay(t, db, want.Probe) {
				if !sameReading(got, want) {
					t.Errorf("%s:\n got %+v\nwant %+v", via, got, want)
				}
			}
			if n := count(t, db, "reading_marks"); n != c.marks {
				t.Errorf("%d marks, want %d", n, c.marks)
			}
		})
	}
}

// everyWay reads the only reading of probe by each method that returns readings.
func everyWay(t *testing.T, db *DB, probe string) map[string]process.Reading {
	t.Helper()
	got := map[string]process.Reading{"NextInputs": inputs(t, db)[0].Reading}
	got["LatestReadings"] = must[map[string]process.Reading](t)(db.LatestReadings())[probe]
	err := db.EachReading([]string{probe}, time.Time{}, time.Time{}, func(_ int64, r process.Reading) error {
		got["EachReading"] = r
		return nil
	})
	if err != nil || len(got) != 3 {
		t.Fatalf("EachReading: %v, %v", got, err)
	}
	return got
}

func sameReading(a, b process.Reading) bool {
	if math.IsNaN(a.Value) && math.IsNaN(b.Value) {
		a.Value, b.Value = 0, 0
	}
	return a == b
}

func count(t testing.TB, db *DB, table string) int {
	t.Helper()
	var n int
	if err := db.reader.QueryRow("SELECT count(*) FROM " + table).Scan(&n); err != nil {
		t.Fatal(err)
	}
	return n
}

// TestEveryGroupSizeIsStored covers each way the statements of 1 to 64 combine.
func TestEveryGroupSizeIsStored(t *testing.T) {
	db := newDB(t)
	total := 0
	for _, n := range []int{1, 2, 3, 7, 31, 63, 64, 65, 127, 128, 200, 1000} {
		done := commit(t, db, plains(total, n)...)
		total += n
		if want := (Committed{Stored: n, LastSeq: int64(total)}); done != want {
			t.Errorf("group of %d: %+v, want %+v", n, done, want)
		}
	}
	if n := must[int64](t)(db.CountReadings()); n != int64(total) {
		t.Errorf("%d readings, want %d", n, total)
	}
	for i, in := range inputs(t, db) {
		want := plain(fmt.Sprintf("probe-%d", i%12), i)
		if in.Seq != int64(i+1) || in.Reading != want {
			t.Fatalf("input %d: %+v, want reading %+v", i, in, want)
		}
	}
}

func TestDuplicatesAreDroppedAndCounted(t *testing.T) {
	db := newDB(t)
	first := plains(0, 100)
	commit(t, db, first...)

	again := commit(t, db, first...)
	if want := (Committed{Duplicates: 100, LastSeq: 100}); again != want {
		t.Errorf("all again: %+v, want %+v", again, want)
	}
	changed := first[7] // the first word stands
	changed.Value, changed.Quality, changed.Reason = 99, process.Suspect, "late"
	mixed := commit(t, db, changed, plain("new", 1), plain("new", 1))
	if mixed.Stored != 1 || mixed.Duplicates != 2 {
		t.Errorf("mixed: %+v, want 1 stored, 2 duplicates", mixed)
	}
	got := inputs(t, db)
	if len(got) != 101 || got[7].Reading != first[7] || got[100].Seq > mixed.LastSeq {
		t.Errorf("%d inputs, eighth %+v, last %d (LastSeq %d)", len(got), got[7].Reading, got[100].Seq, mixed.LastSeq)
	}
	if n := count(t, db, "reading_marks WHERE quality <> 0"); n != 0 {
		t.Errorf("%d marks of duplicates were kept", n)
	}
}

func TestEmptyIntake(t *testing.T) {
	db := newDB(t)
	commit(t, db, plains(0, 5)...)
	if done := commit(t, db); done != (Committed{LastSeq: 5}) {
		t.Errorf("%+v, want LastSeq 5 and nothing else", done)
	}
}

// TestFailedIntakeChangesNothing makes the insert fail half-way, in the file and
// not in a mock, and looks at all that is kept in memory.
func TestFailedIntakeChangesNothing(t *testing.T) {
	path := newPath(t)
	db := open(t, path)
	commit(t, db, plains(0, 3)...)
	trap := `CREATE TRIGGER trap BEFORE INSERT ON readings WHEN NEW.value = 666 BEGIN SELECT RAISE (ABORT, 'trap'); END`
	if _, err := db.writer.Exec(trap); err != nil {
		t.Fatal(err)
	}
	bad := plain("new probe", 400)
	bad.Value = 666
	if _, err := db.CommitIntake(append(plains(3, 130), bad), []decode.Rejection{{Topic: "x"}}); err == nil {
		t.Fatal("no error")
	}
	if got := len(inputs(t, db)); got != 3 || db.LastSeq() != 3 || count(t, db, "probes") != 3 || count(t, db, "rejections") != 0 {
		t.Errorf("after the failure: %d inputs, LastSeq %d", got, db.LastSeq())
	}
	if _, err := db.writer.Exec("DROP TRIGGER trap"); err != nil {
		t.Fatal(err)
	}
	done := commit(t, db, plain("other new probe", 1), plain("new probe", 1))
	if done.Stored != 2 || done.LastSeq != 5 {
		t.Errorf("after the repair: %+v, want 2 stored, LastSeq 5", done)
	}
	latest := must[map[string]process.Reading](t)(db.LatestReadings())
	for _, name := range []string{"new probe", "other new probe"} {
		if latest[name] != plain(name, 1) {
			t.Errorf("%s: %+v", name, latest[name])
		}
	}
}

func TestRejectionsAreKeptBounded(t *testing.T) {
	db := newDB(t)
	big := decode.Rejection{Topic: strings.Repeat("t", 3000), Received: noon, Raw: bytes.Repeat([]byte{0xff}, 5000), Size: 5000, Reason: "not JSON"}
	if _, err := db.CommitIntake(nil, []decode.Rejection{big, {Topic: "empty", Reason: "no payload"}}); err != nil {
		t.Fatal(err)
	}
	got := must[[]decode.Rejection](t)(db.Rejections(10))
	if len(got) != 2 || got[0].Topic != "empty" || !got[0].Received.IsZero() {
		t.Fatalf("got %+v, want the empty one first", got)
	}
	if b := got[1]; len(b.Topic) != decode.MaxRaw || len(b.Raw) != decode.MaxRaw || b.Size != 5000 || !b.Received.Equal(noon) || b.Reason != "not JSON" {
		t.Errorf("big one: topic %d bytes, raw %d bytes, %+v", len(b.Topic), len(b.Raw), b)
	}
	for _, c := range []struct {
		from, to time.Duration
		want     int
	}{{0, time.Millisecond, 1}, {-time.Hour, 0, 0}, {time.Millisecond, time.Hour, 0}} {
		if n := must[int](t)(db.RejectedBetween(noon.Add(c.from), noon.Add(c.to))); n != c.want {
			t.Errorf("%d rejected in [%v, %v), want %d", n, c.from, c.to, c.want)
		}
	}
	many := make([]decode.Rejection, 4000)
	for i := range many {
		many[i] = decode.Rejection{Topic: "t", Reason: fmt.Sprint(i), Received: noon}
	}
	for range 3 {
		if _, err := db.CommitIntake(nil, many); err != nil {
			t.Fatal(err)
		}
	}
	if n := count(t, db, "rejections"); n != maxRejections {
		t.Errorf("%d kept, want %d", n, maxRejections)
	}
	if c := must[Counts](t)(db.Counts()); c.Rejected != 12002 {
		t.Errorf("counted %d, want 12002", c.Rejected)
	}
	if newest := must[[]decode.Rejection](t)(db.Rejections(1)); newest[0].Reason != "3999" {
		t.Errorf("newest is %q", newest[0].Reason)
	}
}

func TestEachReadingIsInOrderOfTime(t *testing.T) {
	db := newDB(t)
	commit(t, db, plain("core", 30), plain("core", 10), plain("air", 20), plain("air", 10), plain("other", 15))
	type seen struct {
		seq   int64
		probe string
		s     int
	}
	read := func(from, to time.Time, probes ...string) (all []seen) {
		t.Helper()
		err := db.EachReading(probes, from, to, func(seq int64, r process.Reading) error {
			all = append(all, seen{seq, r.Probe, int(r.Measured.Sub(noon).Seconds())})
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		return all
	}
	after := func(s int) time.Time { return noon.Add(time.Duration(s) * time.Second) }
	cases := []struct {
		name     string
		from, to time.Time
		probes   []string
		want     []seen
	}{
		{"all, ties by number", time.Time{}, time.Time{}, []string{"air", "core"}, []seen{{2, "core", 10}, {4, "air", 10}, {3, "air", 20}, {1, "core", 30}}},
		{"start in, end out", after(10), after(30), []string{"core"}, []seen{{2, "core", 10}}},
		{"end just after", after(11), after(31), []string{"core"}, []seen{{1, "core", 30}}},
		{"named twice", time.Time{}, time.Time{}, []string{"other", "other"}, []seen{{5, "other", 15}}},
		{"unknown probe", time.Time{}, time.Time{}, []string{"nobody"}, nil},
		{"no probes", time.Time{}, time.Time{}, nil, nil},
	}
	for _, c := range cases {
		if got := read(c.from, c.to, c.probes...); fmt.Sprint(got) != fmt.Sprint(c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
	stop := errors.New("enough")
	if err := db.EachReading([]string{"core"}, time.Time{}, time.Time{}, func(int64, process.Reading) error { return stop }); err != stop {
		t.Errorf("error of fn came back as %v", err)
	}
}

// TestNothingIsSorted reads the query plans: a sort would hold a whole series, or
// the whole log, in memory, and a scan of a table would grow with the years.
func TestNothingIsSorted(t *testing.T) {
	db := newDB(t)
	series, args := seriesQuery([]string{"a", "b", "c"}, noon.UnixMilli(), noon.UnixMilli())
	for query, args := range map[string][]any{series: args, logQuery: {0, 10}} {
		steps := must[[]string](t)(list(db, "plan", scanPlan, "EXPLAIN QUERY PLAN "+query, args...))
		plan := strings.Join(steps, "\n")
		if !strings.Contains(plan, "MERGE (UNION ALL)") || strings.Contains(plan, "TEMP B-TREE") || strings.Contains(plan, "SCAN") {
			t.Errorf("plan of %s:\n%s", query, plan)
		}
	}
}

func scanPlan(rows *sql.Rows) (detail string, err error) {
	var id, parent, unused int
	err = rows.Scan(&id, &parent, &unused, &detail)
	return detail, err
}

func TestHasReading(t *testing.T) {
	db := newDB(t)
	commit(t, db, plain("alder", 1))
	for _, c := range []struct {
		probe string
		s     int
		want  bool
	}{{"alder", 1, true}, {"alder", 2, false}, {"other", 1, false}} {
		if got := must[bool](t)(db.HasReading(c.probe, plain(c.probe, c.s).Measured)); got != c.want {
			t.Errorf("%s at %d s: %v, want %v", c.probe, c.s, got, c.want)
		}
	}
}

func TestNewestDeviceTimes(t *testing.T) {
	db := newDB(t)
	at := noon.Add(time.Hour)
	none := process.Reading{Probe: "none", Measured: at, Received: at}
	unbelieved := process.Reading{Probe: "mixed", Measured: at, Received: at, Device: time.Unix(9, 0).UTC(), Quality: process.Suspect, Reason: "clock"}
	late := plain("late", 50)
	late.Quality, late.Reason = process.Suspect, "late"
	exact := process.Reading{Probe: "exact", Measured: at, Received: at, Device: at}
	commit(t, db, plain("good", 60), plain("good", 30), plain("mixed", 20), unbelieved, none, late, exact)
	got := must[map[string]time.Time](t)(db.NewestDeviceTimes())
	want := map[string]time.Time{"good": noon.Add(time.Minute), "mixed": noon.Add(20 * time.Second), "late": noon.Add(50 * time.Second), "exact": at}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("got %v\nwant %v", got, want)
	}
}

func TestLatestReadings(t *testing.T) {
	db := newDB(t)
	if got := must[map[string]process.Reading](t)(db.LatestReadings()); len(got) != 0 {
		t.Errorf("empty database: %v", got)
	}
	bad := plain("core", 31)
	bad.Quality, bad.Reason = process.Bad, "out of range"
	commit(t, db, plain("core", 30), bad, plain("core", 10), plain("air", 1))
	want := map[string]process.Reading{"core": bad, "air": plain("air", 1)}
	if got := must[map[string]process.Reading](t)(db.LatestReadings()); fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("got %v\nwant %v", got, want)
	}
}
