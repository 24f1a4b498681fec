package soak

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/app"
	"flitch/cmd/flitch/internal/config"
	"flitch/ingest/mqtt/mqtttest"
	"flitch/store"
)

// Limits of a database with a year in it, as they were asked.
const (
	startIn  = 1.0  // s, from the start of the process to the first evaluation
	glanceIn = 20.0 // ms
	chartIn  = 15.0 // ms
	yearRSS  = 64.0 // MiB
)

// number is a size from the environment, else the usual.
func number(t testing.TB, name string, usual int) int {
	t.Helper()
	text := os.Getenv(name)
	if text == "" {
		return usual
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 {
		t.Fatalf("%s=%q: write a whole number, 1 or more", name, text)
	}
	return n
}

// room is a folder for big files: FLITCH_SOAK_FOLDER, kept, or one that goes with the test.
func room(t testing.TB, name string) string {
	t.Helper()
	if folder := os.Getenv("FLITCH_SOAK_FOLDER"); folder != "" {
		folder = filepath.Join(folder, name)
		if err := os.MkdirAll(folder, 0o700); err != nil {
			t.Fatal(err)
		}
		return folder
	}
	return t.TempDir()
}

// A year of twelve probes at five seconds in the database (FLITCH_YEAR_ROWS=75700000; less
// with go test), two closed batches in it and one running: the real binary starts, answers
// the glance and the chart of seven days, and stays small.
func TestAYearInTheDatabase(t *testing.T) {
	rows := number(t, "FLITCH_YEAR_ROWS", 240_000)
	folder := room(t, "year")
	page, broker := mqtttest.FreeAddress(t), mqtttest.FreeAddress(t)
	fresh := size(filepath.Join(folder, "flitch.db")) == 0
	prepare(t, folder, houseText(page, broker, "http://127.0.0.1:9/ring", "5s"))
	y := &year{t: t, folder: folder, span: time.Duration(rows/12) * 5 * time.Second, history: yearHistory()}
	if fresh {
		y.fill()
	}
	y.sealed()
	line("year_injected", float64(y.rows()), "readings", 0)
	y.sizes("year_as_rows")
	y.packed("year")
	y.sizes("year")
	measureYear(t, folder, "year")
}

func yearHistory() *history {
	var names []string
	var middle []float64
	for i, s := range sensors() {
		names, middle = append(names, s.name), append(middle, []float64{3, 2.5, 2, 2, 88, 92}[min(i, 5)])
	}
	return newHistory(names, middle, 5*time.Second)
}

// A year is a database in the making.
type year struct {
	*history
	t      *testing.T
	folder string
	span   time.Duration
	stored int
}

// fill writes the span that ends now: two batches that are closed in it, and one that runs in
// its last seven days and a half.
func (y *year) fill() {
	end := time.Now().UTC().Truncate(time.Minute)
	first := end.Add(-y.span).Truncate(time.Minute)
	running := end.Add(-min(180*time.Hour, y.span/3).Truncate(time.Minute))
	closed := min(9*24*time.Hour, y.span/8).Truncate(time.Minute)
	began := time.Now()
	at := first
	for i, begins := range []time.Time{first.Add(y.span / 4).Truncate(time.Minute), first.Add(y.span / 2).Truncate(time.Minute)} {
		y.bulk(at, begins)
		id := fmt.Sprintf("YEAR-%d", i+1)
		y.with(begins, func(d *daemon) { y.begin(d, id) })
		y.feed(begins, begins.Add(closed))
		at = begins.Add(closed)
		y.with(at, func(d *daemon) { y.close(d, id) })
	}
	y.bulk(at, running)
	y.with(running, func(d *daemon) { y.begin(d, "YEAR-3") })
	y.feed(running, end)
	y.with(end, func(*daemon) {})
	took := time.Since(began)
	y.t.Logf("%d readings written, evaluated in part, in %s", y.stored, took.Round(time.Second))
}

func (y *year) db() *store.DB {
	y.t.Helper()
	db, err := store.Open(filepath.Join(y.folder, "flitch.db"))
	if err != nil {
		y.t.Fatal(err)
	}
	return db
}

// bulk writes a time without a batch, evaluated long ago.
func (y *year) bulk(from, to time.Time) {
	db := y.db()
	defer db.Close()
	began := time.Now()
	n := y.write(y.t, db, from, to, 24_000)
	evaluatedSoFar(y.t, db)
	y.stored += n
	y.t.Logf("%d readings from %s, %.0f a second", n, from.Format(time.DateOnly), float64(n)/time.Since(began).Seconds())
}

// feed writes a time with a batch as a daemon that runs does.
func (y *year) feed(from, to time.Time) {
	db := y.db()
	defer db.Close()
	y.stored += y.live(y.t, db, from, to)
}

// with runs the one daemon, its clock at a time, until all is evaluated and said.
func (y *year) with(at time.Time, say func(*daemon)) {
	y.t.Helper()
	cfg, err := config.Load(filepath.Join(y.folder, "flitch.toml"))
	if err != nil {
		y.t.Fatal(err)
	}
	a, err := app.New(cfg, app.Options{Clock: app.NewStepped(at), Version: "soak", Log: silent})
	if err != nil {
		y.t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- a.Run(ctx) }()
	if err := a.Settle(y.t.Context()); err != nil {
		y.t.Error(err)
	}
	say(&daemon{page: a.Address()})
	if err := a.Settle(y.t.Context()); err != nil {
		y.t.Error(err)
	}
	stop()
	if err := <-done; err != nil {
		y.t.Error(err)
	}
}

func (y *year) say(d *daemon, id, kind string, more map[string]any) {
	y.t.Helper()
	var said tally
	body := map[string]any{"kind": kind, "batch": id, "by": "T.V."}
	for key, v := range more {
		body[key] = v
	}
	if !d.tell(y.t.Context(), &said, body) {
		y.t.Fatalf("%s %s: %v", id, kind, said.why.Load())
	}
}

func (y *year) begin(d *daemon, id string) {
	y.say(d, id, "new", map[string]any{"new": newBatch})
}

func (y *year) close(d *daemon, id string) {
	d.stages(y.t.Context(), time.Millisecond, id, func(kind string, more map[string]any) bool { y.say(d, id, kind, more); return true })
	y.say(d, id, "disposition", map[string]any{"disposition": "discard", "text": "made of numbers"})
	y.say(d, id, "close", map[string]any{"text": "for the soak"})
}

// sealed lets the daemon seal all that is in the log, as it does every ten minutes of a year.
func (y *year) sealed() {
	y.t.Helper()
	began, from := time.Now(), int64(0)
	y.with(time.Now(), func(*daemon) {
		db, err := store.OpenReadOnly(filepath.Join(y.folder, "flitch.db"))
		if err != nil {
			y.t.Fatal(err)
		}
		defer db.Close()
		whole := db.LastSeq()
		if s, ok, err := db.LastSeal(); err == nil && ok {
			from = s.Seal.To
		}
		ok := until(y.t.Context(), time.Hour, func() bool {
			s, found, err := db.LastSeal()
			return err == nil && found && s.Seal.To >= whole-100
		})
		if !ok {
			y.t.Error("the year was not sealed in an hour")
		}
		if n := float64(whole - from); n > 1e5 {
			line("year_seals", n/time.Since(began).Seconds(), "rows/s", 0)
		}
	})
}

// rows is how many numbers of the log were given out: readings, and a few others.
func (y *year) rows() int64 {
	y.t.Helper()
	db, err := store.OpenReadOnly(filepath.Join(y.folder, "flitch.db"))
	if err != nil {
		y.t.Fatal(err)
	}
	defer db.Close()
	return db.LastSeq()
}

// sizes prints what a reading takes on the disk, all of the database counted.
func (y *year) sizes(run string) {
	n, bytes := float64(y.rows()), size(filepath.Join(y.folder, "flitch.db"))
	line(run+"_rows", n, "rows", 0)
	line(run+"_database", bytes/mib, "MiB", 0)
	line(run+"_bytes_per_reading", bytes/n, "B", 0)
}

// flood publishes a reading of each probe now, and returns when they are acknowledged.
func flood(t testing.TB, d *daemon, raw *mqtttest.Raw, n *int) {
	t.Helper()
	now := time.Now()
	packets := make([][]byte, 0, 12)
	for i, s := range sensors() {
		packets = append(packets, mqtttest.Packet(s.topic(), payload(s.value(time.Duration(*n)*time.Second, false), now), 1, mqtttest.PacketID(i)))
	}
	*n++
	if err := raw.Flood(packets, 1000); err != nil {
		t.Fatal(err)
	}
}
