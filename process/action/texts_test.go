package action

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/process"
	"flitch/process/engine"
	"flitch/process/plans"
)

var noon = time.Date(2031, 4, 7, 12, 0, 0, 0, time.UTC)

const (
	hour   = time.Hour
	minute = time.Minute
	day    = 24 * time.Hour
)

// plainWords are °C and UTC.
type plainWords struct{}

func (plainWords) Temp(c float64) string     { return fmt.Sprintf("%.1f °C", c) }
func (plainWords) Short(at time.Time) string { return at.Format("2 Jan 15:04") }

// A bad batch: everything that can go wrong with one did.
type bad struct {
	t     *testing.T
	house *engine.House
	seq   int64
	log   []process.Reading
}

func (b *bad) take(in process.Input) {
	b.seq++
	in.Seq = b.seq
	b.house.Take(in)
}

func (b *bad) say(after time.Duration, c process.Command) {
	b.t.Helper()
	c.ID, c.Batch, c.At, c.Typed = fmt.Sprint(b.seq), "OL-1", noon.Add(after), noon.Add(after)
	if c.By == "" {
		c.By = "T.V."
	}
	if c.Kind != process.CommandNew && c.Kind != process.CommandChecked {
		if err := process.Check(b.batch(), c, c.Typed); err != nil {
			b.t.Fatal(err)
		}
	}
	b.take(process.Input{Kind: process.InputCommand, At: c.Typed, Command: b.house.Complete(c)})
}

func (b *bad) read(probe string, from, to, every time.Duration, value func(h float64) float64) {
	for at := from; at <= to; at += every {
		r := process.Reading{Probe: probe, Measured: noon.Add(at), Received: noon.Add(at), Value: value((at - from).Hours())}
		b.log = append(b.log, r)
		b.take(process.Input{Kind: process.InputReading, At: r.Received, Reading: r})
	}
}

func (b *bad) batch() *process.Batch { return b.house.Open()[0] }

func flat(v float64) func(float64) float64 { return func(float64) float64 { return v } }

func badBatch(t *testing.T) *bad {
	t.Helper()
	plan, err := plans.BuiltIn("belly-dry-cured-fully-cooked")
	if err != nil {
		t.Fatal(err)
	}
	slow := process.PlacedProbe{Probe: "slow", Place: "alder", Placement: process.Product, Interval: 10 * minute, Uncertainty: 0.5}
	core := process.PlacedProbe{Probe: "core", Place: "kettle", Placement: process.Core, Piece: "A", Interval: minute, Uncertainty: 0.5}
	b := &bad{t: t, house: engine.NewHouse([]*process.Place{process.NewPlace("alder", process.WhereFridge, []process.PlacedProbe{slow}, noon)},
		alerts.Catalogue(alerts.Wood), alerts.Policy{})}
	b.say(0, process.Command{Kind: process.CommandNew, New: &process.NewBatch{Plan: plan, Probes: []process.PlacedProbe{slow, core},
		Pieces: []process.Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}, {Name: "B", GreenG: 2268, ThicknessMM: 38}}}})
	dose := func(after time.Duration, piece string, grams float64, why string) {
		b.say(after, process.Command{Kind: process.CommandDosed, Text: why, Dosing: &process.Dosing{Nitrite: 0.0625, PPM: 156, Rule: "us",
			Portions: []process.DosePortion{{Pieces: []string{piece}, CureG: grams}}}})
	}
	dose(minute, "A", 57, "")
	b.read("slow", 0, 10*hour, 10*minute, flat(3))
	dose(10*hour+10*minute, "A", 5.7, "the point was lost")
	dose(10*hour+20*minute, "B", 5.7, "")
	b.read("slow", 10*hour+30*minute, 13*hour+20*minute, 10*minute, flat(8))
	b.say(13*hour+30*minute, process.Command{Kind: process.CommandDisposition, Disposition: process.HoldForAdvice, Text: "the extension was asked"})
	b.say(13*hour+40*minute, process.Command{Kind: process.CommandChecked, By: "M.O.", Check: &process.CheckSaid{Probe: "slow", Method: process.CheckIce, ReadC: 0.2}})
	b.read("slow", 13*hour+50*minute, 40*hour, 10*minute, flat(1))
	b.say(40*hour, process.Command{Kind: process.CommandTurned})
	b.say(41*hour, process.Command{Kind: process.CommandReading, Placement: process.Product, Value: 3.4, Text: "with bottle"})
	b.read("slow", 42*hour, 7*day, 10*minute, flat(3))
	for _, s := range plan.Stages[1:] {
		if s.Optional {
			continue
		}
		b.say(7*day, process.Command{Kind: process.CommandStage, Stage: s.Name})
		if s.Heat {
			break
		}
	}
	up := func(h float64) float64 { return 61 - 57*math.Exp(-h/4) }
	b.read("core", 7*day, 7*day+6*hour, minute, up)
	b.read("core", 7*day+6*hour+minute, 7*day+7*hour, minute, func(h float64) float64 { return up(6) - 3*h })
	b.read("core", 7*day+7*hour+minute, 7*day+12*hour, minute, func(h float64) float64 { return up(6) - 3 + 3*h })
	b.say(7*day+12*hour, process.Command{Kind: process.CommandReading, Placement: process.Core, Pieces: []string{"A"}, Value: 61.4, Text: "with needle 2"})
	for _, s := range []process.StageName{process.StageRest, process.StageChill} {
		if slices.Contains(b.batch().NextStages(), s) {
			b.say(7*day+12*hour+10*minute, process.Command{Kind: process.CommandStage, Stage: s})
		}
	}
	b.read("core", 7*day+12*hour+11*minute, 8*day+12*hour, minute, func(h float64) float64 { return 2 + 60*math.Exp(-h/4) })
	b.say(8*day+12*hour, process.Command{Kind: process.CommandChecked, By: "M.O.", Check: &process.CheckSaid{Probe: "slow", Method: process.CheckIce, ReadC: 2.8}})
	return b
}

// Every line, filled in for a batch of which the log knows all: what is left blank is a
// person's.
func TestEveryLineIsFilledInFromTheLog(t *testing.T) {
	b := badBatch(t)
	at := func(d time.Duration) time.Time { return noon.Add(d) }
	event := func(entry, subject string, since, cleared time.Duration, worst, limit float64) Event {
		return Event{Entry: entry, Subject: subject, Since: at(since), Cleared: at(cleared), Worst: worst, Limit: limit}
	}
	for _, c := range []struct {
		line, about string
		event       Event
	}{
		{"warm fridge", "C2", event("C2", "fridge alder", 10*hour+30*minute, 13*hour+50*minute, 8, 5)},
		{"cold fridge", "C4", event("C4", "fridge alder", 13*hour+50*minute, 42*hour, 1, 1.1)},
		{"turn missed", "K1", event("K1", "batch OL-1", 24*hour, 40*hour, 40, 24)},
		{"dose off", "K4", event("K4", "piece A of batch OL-1", minute, 10*hour, 1, 1)},
		{"dose missing", "K4", event("K4", "piece B of batch OL-1", hour, 10*hour+20*minute, 2, 1)},
		{"fire out", "H3", event("H3", "batch OL-1", 7*day+6*hour, 7*day+7*hour, 20, 17)},
		{"come-up", "H6", event("H6", "batch OL-1", 7*day+4*hour, 7*day+8*hour, 8, 6)},
		{"probe out", "H11", event("H11", "probe core of batch OL-1", 7*day+hour, 7*day+2*hour, 1, 1)},
		{"not to temperature", "lethality", Event{}},
		{"chill", "L3", event("L3", "batch OL-1", 8*day, 8*day+hour, 8, 6)},
		{"blind", "B2", event("B2", "probe slow of fridge alder", 40*hour+10*minute, 42*hour, 110, 30)},
		{"bad probe", "B9", event("B9", "probe slow of fridge alder", 8*day+12*hour, 8*day+13*hour, 10000, 0)},
	} {
		t.Run(c.line, func(t *testing.T) {
			k := Case{Batch: b.batch(), About: c.about, Event: c.event, Now: at(8*day + 13*hour), Words: plainWords{}, Readings: b.readings}
			if l, _ := k.line(); l.Name != c.line {
				t.Fatalf("the text is %q", l.Name)
			}
			said, ok := Text(k)
			if !ok {
				t.Fatal("no text")
			}
			got := ""
			for _, p := range said.Parts() {
				got += p.Name + ": " + p.Text + "\n"
			}
			if want := wanted[c.line]; got != want {
				t.Errorf("got\n%s\nwant\n%s", got, want)
			}
		})
	}
	if len(wanted) != len(Lines()) || len(wanted) != 12 {
		t.Errorf("%d texts, %d looked at", len(Lines()), len(wanted))
	}
}

func (b *bad) readings(probe string, from, to time.Time, each func(time.Time, float64)) {
	for _, r := range b.log {
		if r.Probe == probe && !r.Measured.Before(from) && !r.Measured.After(to) {
			each(r.Measured, r.Value)
		}
	}
}

// wanted are the texts; __ is a person's.
var wanted = map[string]string{
	"warm fridge":        "cause: Product sensor over 5.0 °C from 7 Apr 22:30 to 8 Apr 01:50 (200 min, peak 8.0 °C). Cause: __.\nunder control: Slabs A, B moved to __ at __, sensor there read __. Batch held from 8 Apr 01:30.\nprevention: Door checked at close of day.\nproduct: Decision: hold for advice by T.V. on the basis of the extension was asked.\n",
	"cold fridge":        "cause: Below 1.1 °C for 28.2 h.\nunder control: \nprevention: \nproduct: Cure days not counted: 0.4. New earliest day 15 Apr 07:19.\n",
	"turn missed":        "cause: Turned after 40.0 h instead of 24.\nunder control: Other side given equal time.\nprevention: \nproduct: Quality note.\n",
	"dose off":           "cause: Slab A: asked 5.7 g, weighed 57.0 g, 1571 ppm. Found after 0 min.\nunder control: Scale checked with __ g weight, read __.\nprevention: \nproduct: __ (washed and re-dosed at 7 Apr 22:10 / held / discarded).\n",
	"dose missing":       "cause: Cure not applied to slab B until 7 Apr 22:20.\nunder control: Clock for this slab starts there.\nprevention: \nproduct: \n",
	"fire out":           "cause: Chamber lost from 14 Apr 18:00 to 14 Apr 19:00. Core 48.3 °C at loss, 45.3 °C lowest, 45.3 °C at relight.\nunder control: Time in 10.0 °C to 54.4 °C in all 9.6 h.\nprevention: \nproduct: __ (cooked on to 60.2 °C / held).\n",
	"come-up":            "cause: Core took 9.6 h from 10.0 °C to 54.4 °C (limit 6 h).\nunder control: House raised to __ at __.\nprevention: \nproduct: Held for evaluation.\n",
	"probe out":          "cause: Core data from 14 Apr 13:00 to 14 Apr 14:00 struck: probe out.\nunder control: Reseated in slab A at 14 Apr 14:00; thermometer needle 2 read 61.4 °C.\nprevention: \nproduct: \n",
	"not to temperature": "cause: Target 65.6 °C not met at planned end.\nunder control: Heating went on until 60.2 °C for 10 min at 15 Apr 00:00, second thermometer 61.4 °C.\nprevention: \nproduct: \n",
	"chill":              "cause: 54.4 °C to 26.7 °C took 3.1 h (limit 5.0 h); 26.7 °C to 7.2 °C took 6.5 h.\nunder control: Ice bath / freezer from __.\nprevention: \nproduct: Batch __ (held / evaluated / discarded).\n",
	"blind":              "cause: No data from 9 Apr 04:10 to 9 Apr 06:00.\nunder control: Hand readings: 9 Apr 05:00 product 3.4 °C.\nprevention: \nproduct: For the sums the warmer end was used.\n",
	"bad probe":          "cause: Instrument slow read 2.8 °C in ice.\nunder control: Out of use. Last good check 8 Apr 01:40 (M.O.).\nprevention: \nproduct: Batches since: OL-1, each reviewed: __.\n",
}

func TestTheTextsHaveTheirLinesInTheCatalogue(t *testing.T) {
	known := map[string]bool{}
	for _, e := range alerts.Catalogue(alerts.Wood) {
		known[e.ID] = true
	}
	clocks := []string{"out-of-cold", "cure", "turn", "come-up", "lethality", "chill A", "chill B", "chill C"}
	for _, l := range Lines() {
		if len(l.Entries)+len(l.Clocks) == 0 || l.Cause == "" {
			t.Errorf("%s is for nothing, or has no cause", l.Name)
		}
		for _, e := range l.Entries {
			if !known[e] {
				t.Errorf("%s: the catalogue has no %s", l.Name, e)
			}
		}
		for _, c := range l.Clocks {
			if !slices.Contains(clocks, c) {
				t.Errorf("%s: no clock is called %s", l.Name, c)
			}
		}
		for _, text := range []string{l.Cause, l.Control, l.Prevention, l.Product} {
			if rest := blank.ReplaceAllString(text, ""); strings.ContainsAny(rest, "{}") {
				t.Errorf("%s: a blank that is none in %q", l.Name, text)
			}
		}
	}
}

// By its clock, without an alarm, the text of a warm fridge has the minutes that lie between
// its times: those of work by hand are not the sensor's.
func TestTheTextOfAClockHasTheNumbersOfItsReadings(t *testing.T) {
	b := badBatch(t)
	said, ok := Text(Case{Batch: b.batch(), About: "out-of-cold", Now: noon.Add(9 * day), Words: plainWords{}, Readings: b.readings})
	if !ok || !strings.HasPrefix(said.Cause, "Product sensor over 4.4 °C from 7 Apr 22:30 to 8 Apr 01:20 (170 min, peak 8.0 °C).") {
		t.Errorf("%+v", said)
	}
	said, _ = Text(Case{Batch: b.batch(), About: "cure", Now: noon.Add(9 * day), Words: plainWords{}})
	if said.Cause != "Below __ for __ h." || strings.Contains(said.Product, "__") {
		t.Errorf("of the cure: %+v", said)
	}
}

// What the log does not know stays a blank, and a fault of no kind fills one in.
func TestWhatIsNotKnownStaysABlank(t *testing.T) {
	b := badBatch(t)
	said, ok := Text(Case{Batch: b.batch(), About: "B2", Event: Event{Entry: "B2", Since: noon}, Now: noon.Add(day), Words: plainWords{}})
	if !ok || said.Cause != "No data from 7 Apr 12:00 to __." || said.Control != "Hand readings: __." {
		t.Errorf("%+v", said)
	}
	if said, ok := Text(Case{Batch: b.batch(), About: "H1", Event: Event{Entry: "H1"}, Now: noon, Words: plainWords{}}); ok || said.Cause != "" || said.About != "H1" {
		t.Errorf("of a line without a text: %+v", said)
	}
}

func TestWhichActionIsAboutWhichDeviation(t *testing.T) {
	for _, c := range []struct {
		about, deviation string
		want             bool
	}{
		{"C2", "out-of-cold", true}, {"out-of-cold", "out-of-cold", true}, {"L3", "chill B", true}, {"H6", "come-up", true},
		{"K4", "dose of A", true}, {"dose of A", "dose of A", true}, {"dose of B", "dose of A", false}, {"C4", "out-of-cold", false}, {"17", "come-up", false},
	} {
		if got := Concerns(c.about, c.deviation); got != c.want {
			t.Errorf("%s about %s: %v", c.about, c.deviation, got)
		}
	}
}
