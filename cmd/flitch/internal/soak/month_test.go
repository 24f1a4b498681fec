package soak

import (
	"fmt"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"flitch/ingest/mqtt/mqtttest"
	"flitch/store"
)

// A big house: twenty fridges with ten probes each, each of which sends every second.
const (
	fridges       = 20
	probesOfEach  = 10
	probesOfAll   = fridges * probesOfEach
	bigHouseStart = `[site]
name = "big"
zone = "UTC"
units = "C"
database = "flitch.db"

[page]
listen = %q

[broker]
mode = "embedded"
listen = %q
anonymous = true
`
)

func bigProbe(i int) (name, topic string) {
	return fmt.Sprintf("p-%03d", i), fmt.Sprintf("big/%03d", i)
}

func bigHouse(page, broker string) string {
	var text strings.Builder
	fmt.Fprintf(&text, bigHouseStart, page, broker)
	for i := range fridges {
		fmt.Fprintf(&text, "\n[[place]]\nname = \"fridge-%02d\"\nkind = \"fridge\"\n", i)
	}
	fmt.Fprint(&text, "\n[[place]]\nname = \"old-kettle\"\nkind = \"smoker\"\nfuel = \"charcoal\"\n")
	for i := range probesOfAll {
		name, topic := bigProbe(i)
		measures := []string{"product", "air"}[i%probesOfEach%2]
		fmt.Fprintf(&text, "\n[[probe]]\nname = %q\nplace = \"fridge-%02d\"\nmeasures = %q\ntopic = %q\nvalue = \"/t\"\ntime = \"/at\"\ntime_format = \"unix-ms\"\nunit = \"C\"\ninterval = \"1s\"\n",
			name, i/probesOfEach, measures, topic)
	}
	return text.String()
}

// Two hundred probes, each on a connection of its own, each a reading a second with quality of
// service 1, on the real binary for a minute (FLITCH_SOAK_CLIENTS=60 seconds; less with go test):
// all are acknowledged, soon, stored and evaluated.
func TestTwoHundredClients(t *testing.T) {
	lasts := time.Duration(number(t, "FLITCH_SOAK_CLIENTS", 5)) * time.Second
	folder := t.TempDir()
	prepare(t, folder, bigHouse(mqtttest.FreeAddress(t), mqtttest.FreeAddress(t)))
	d := start(t, folder)
	var acked atomic.Int64
	took := make([][]time.Duration, probesOfAll)
	var all sync.WaitGroup
	began := time.Now()
	for i := range probesOfAll {
		all.Go(func() {
			<-time.After(time.Duration(i) * time.Second / probesOfAll) // they did not all start at once
			took[i] = client(t, d.broker, i, began.Add(lasts), &acked)
		})
	}
	measured, worst := course{}, 0.0
	for tick := time.NewTicker(250 * time.Millisecond); time.Since(began) < lasts; <-tick.C {
		if err := measured.look(d, time.Since(began)); err != nil {
			t.Fatal(err)
		}
		lag := measured["lag"]
		worst = max(worst, lag[len(lag)-1].value)
	}
	all.Wait()
	var answers []time.Duration
	for _, one := range took {
		answers = append(answers, one...)
	}
	if len(answers) == 0 {
		t.Fatal("nothing was acknowledged")
	}
	if !until(t.Context(), time.Minute, func() bool {
		f, err := d.figures()
		return err == nil && int64(f["flitch_intake_stored_total"]) == acked.Load() && f["flitch_inputs_evaluated_total"] >= float64(acked.Load())
	}) {
		t.Errorf("%d were acknowledged, and not all are stored and evaluated", acked.Load())
	}
	line("clients_injected", float64(acked.Load()), "readings", 0)
	atLeast("clients_rate", float64(acked.Load())/lasts.Seconds(), "readings/s", 0.97*probesOfAll)
	line("clients_ack_p50", ms(mqtttest.Quantile(answers, 0.5)), "ms", 100)
	line("clients_ack_p99", ms(mqtttest.Quantile(answers, 0.99)), "ms", 500) // half of the second to the next reading: proposal
	line("clients_lag_worst", worst, "s", 1)
	rss := measured["rss"]
	line("clients_rss", rss[len(rss)-1].value, "MiB", 96) // two hundred connections have their own memory: proposal
	// A few seconds beside other tests say nothing of the rate; each client fails by itself there.
	if rate := float64(acked.Load()) / lasts.Seconds(); lasts >= time.Minute && rate < 0.97*probesOfAll {
		t.Errorf("%.0f readings a second were acknowledged, of %d", rate, probesOfAll)
	}
}

// client sends a reading a second until the end, and returns how long each acknowledgement took.
func client(t *testing.T, broker string, i int, end time.Time, acked *atomic.Int64) (took []time.Duration) {
	name, topic := bigProbe(i)
	raw, err := mqtttest.Dial(broker, name)
	if err != nil {
		t.Error(err)
		return nil
	}
	defer raw.Close()
	tick := time.NewTicker(time.Second)
	defer tick.Stop()
	for n := 0; time.Now().Before(end); n++ {
		at := time.Now()
		err := raw.Send(mqtttest.Packet(topic, payload(2+float64((n+i)%10)/10, at), 1, mqtttest.PacketID(n)))
		if err == nil {
			_, err = raw.Puback(time.Minute)
		}
		if err != nil {
			t.Errorf("%s: %v", name, err)
			return took
		}
		took = append(took, time.Since(at))
		acked.Add(1)
		<-tick.C
	}
	return took
}

// A month of two hundred probes at a second (FLITCH_MONTH_MINUTES=43200; four minutes with go test). Its
// first day (FLITCH_MONTH_DAY, minutes) is stored, sealed and packed by the way of all readings, and
// copied as blocks, with other times and numbers, until the last day begins; the daemon seals the
// copies. In the last day a batch runs: it is stored minute by minute as the intake stores,
// evaluated by the one engine, sealed and packed. Then the real binary starts on it. A kept folder is
// filled once, and looked at again.
func TestAMonthOfTwoHundredProbes(t *testing.T) {
	minutes, day := number(t, "FLITCH_MONTH_MINUTES", 4), time.Duration(number(t, "FLITCH_MONTH_DAY", 1))*time.Minute
	folder := room(t, "month")
	fresh := size(filepath.Join(folder, "flitch.db")) == 0
	prepare(t, folder, bigHouse(mqtttest.FreeAddress(t), mqtttest.FreeAddress(t)))
	y := &year{t: t, folder: folder, history: monthHistory()}
	if fresh {
		y.fillMonth(minutes, day)
	}
	if minutes = minutes / int(day.Minutes()) * int(day.Minutes()); y.rows() < int64(minutes)*60*probesOfAll {
		t.Fatalf("%s holds %d numbers of %d minutes: it was not filled to its end; take it away", folder, y.rows(), minutes)
	}
	line("month_injected", float64(y.rows()), "readings", 0)
	y.sizes("month_as_rows")
	y.packed("month")
	y.sizes("month")
	y.lookMonth(folder)
}

func monthHistory() *history {
	var names []string
	var middle []float64
	for i := range probesOfAll {
		name, _ := bigProbe(i)
		names, middle = append(names, name), append(middle, 2+float64(i%7)/10)
	}
	return newHistory(names, middle, time.Second)
}

func (y *year) fillMonth(minutes int, day time.Duration) {
	y.t.Helper()
	end := time.Now().UTC().Truncate(time.Minute)
	days := int(time.Duration(minutes) * time.Minute / day)
	at := end.Add(-time.Duration(days) * day)
	if days > 1 {
		y.firstDays(at, day, days-1)
	}
	y.lastDay(end.Add(-day), end)
	line("month_days", end.Sub(at).Hours()/24, "days", 0)
}

// firstDays makes one day and copies it.
func (y *year) firstDays(from time.Time, day time.Duration, days int) {
	y.t.Helper()
	y.bulk(from, from.Add(day))
	y.sealed()
	y.packed("month_first")
	db := y.db()
	if err := packRest(y.t.Context(), db); err != nil {
		y.t.Fatal(err)
	}
	rows := db.LastSeq()
	if err := db.Close(); err != nil {
		y.t.Fatal(err)
	}
	began := time.Now()
	copied, err := copyBlocks(filepath.Join(y.folder, "flitch.db"), days-1, rows, day)
	if err != nil {
		y.t.Fatal(err)
	}
	y.t.Logf("%d readings copied %d times as blocks in %s", rows, days-1, time.Since(began).Round(time.Second))
	db = y.db()
	defer db.Close()
	evaluatedSoFar(y.t, db)
	all, err := db.CountReadings()
	if err != nil || all != int64(days*y.stored) || copied != int64((days-1)*y.stored) {
		y.t.Errorf("%d readings were copied and there are %d, want %d days of %d; %v", copied, all, days, y.stored, err)
	}
}

// lastDay feeds a day with a batch.
func (y *year) lastDay(at, end time.Time) {
	y.t.Helper()
	y.sealed()
	y.with(at, func(d *daemon) {
		y.say(d, "MONTH", "new", map[string]any{"new": map[string]any{"plan": "belly-dry-cured-fully-cooked", "fridge": "fridge-00", "smoker": "old-kettle",
			"pieces": []map[string]any{{"name": "A", "green_g": 2268, "thickness_mm": 38}}}})
	})
	began := time.Now()
	y.stored = 0
	y.feed(at, end)
	writing := time.Since(began)
	began = time.Now()
	y.with(end, func(*daemon) {})
	atLeast("month_written", float64(y.stored)/writing.Seconds(), "readings/s", probesOfAll*10) // ten times as fast as they come: proposal
	atLeast("month_evaluated", float64(y.stored)/time.Since(began).Seconds(), "readings/s", probesOfAll*10)
	y.sealed()
}

// lookMonth starts the real binary on it and prints its start, its glance and its memory.
func (y *year) lookMonth(folder string) {
	y.t.Helper()
	d := start(y.t, folder)
	d.timed(y.t, "/healthz", 1)
	line("month_start", time.Since(d.began).Seconds(), "s", startIn)
	var glance []time.Duration
	for range 500 {
		glance = append(glance, d.timed(y.t, "/batches/MONTH/glance", 1000))
	}
	line("month_glance_p50", ms(mqtttest.Quantile(glance, 0.5)), "ms", glanceIn)
	line("month_glance_p99", ms(mqtttest.Quantile(glance, 0.99)), "ms", glanceIn)
	measured := course{}
	if err := measured.look(d, 0); err != nil {
		y.t.Fatal(err)
	}
	line("month_rss", measured["rss"][0].value, "MiB", yearRSS)
	d.stop()
	db, err := store.OpenReadOnly(filepath.Join(folder, "flitch.db"))
	if err != nil {
		y.t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.CheckBlocks(y.t.Context()); err != nil {
		y.t.Error(err)
	}
	latest, err := db.LatestReadings()
	if err != nil || len(latest) != probesOfAll {
		y.t.Errorf("%d probes have a reading, %v", len(latest), err)
	}
}
