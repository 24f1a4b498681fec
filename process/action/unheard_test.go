package action

import (
	"strings"
	"testing"
	"time"

	"flitch/process"
	"flitch/process/plans"
)

// spoken is a text as one piece.
func spoken(t *testing.T, c Case) string {
	t.Helper()
	said, ok := Text(c)
	if !ok {
		t.Fatal("no text")
	}
	got := ""
	for _, p := range said.Parts() {
		got += p.Name + ": " + p.Text + "\n"
	}
	return got
}

// freshBatch is one of a single piece of which nothing but its begin is known.
func freshBatch(t *testing.T) *process.Batch {
	t.Helper()
	plan, err := plans.BuiltIn("belly-dry-cured-fully-cooked")
	if err != nil {
		t.Fatal(err)
	}
	return process.Start(process.Input{Command: process.Command{ID: "1", Batch: "OL-2", Kind: process.CommandNew, At: noon, Typed: noon, By: "T.V.",
		New: &process.NewBatch{Plan: plan, Pieces: []process.Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}}}}})
}

// unheard are the causes and what brought it under control of lines that did not ring, of a
// batch of which nothing is known and of one of which all is. The numbers that stay are those
// of the plan, and of the log where they do not depend on an alarm.
var unheard = []struct{ line, entry, fresh, bad string }{
	{"warm fridge", "C2",
		"cause: Product sensor over __ from __ to __ (__ min, peak __). Cause: __.\nunder control: Slabs A moved to __ at __, sensor there read __. Batch held from __.\nprevention: Door checked at close of day.\nproduct: Decision: __ by __ on the basis of __.\n",
		"cause: Product sensor over __ from __ to __ (__ min, peak __). Cause: __.\nunder control: Slabs A, B moved to __ at __, sensor there read __. Batch held from 8 Apr 01:30.\nprevention: Door checked at close of day.\nproduct: Decision: hold for advice by T.V. on the basis of the extension was asked.\n"},
	{"cold fridge", "C4",
		"cause: Below __ for __ h.\nunder control: \nprevention: \nproduct: Cure days not counted: 2.0. New earliest day 16 Apr 12:00.\n",
		"cause: Below __ for __ h.\nunder control: \nprevention: \nproduct: Cure days not counted: 0.4. New earliest day 15 Apr 07:19.\n"},
	{"turn missed", "K1",
		"cause: Turned after __ h instead of 24.\nunder control: Other side given equal time.\nprevention: \nproduct: Quality note.\n",
		"cause: Turned after 40.0 h instead of 24.\nunder control: Other side given equal time.\nprevention: \nproduct: Quality note.\n"},
	{"dose missing", "K4",
		"cause: Cure not applied to slab A until __.\nunder control: Clock for this slab starts there.\nprevention: \nproduct: \n",
		"cause: Cure not applied to slab __ until __.\nunder control: Clock for this slab starts there.\nprevention: \nproduct: \n"},
	{"fire out", "H3",
		"cause: Chamber lost from __ to __. Core __ at loss, __ lowest, __ at relight.\nunder control: Time in 10.0 °C to 54.4 °C in all __ h.\nprevention: \nproduct: __ (cooked on to __ / held).\n",
		"cause: Chamber lost from __ to __. Core __ at loss, __ lowest, __ at relight.\nunder control: Time in 10.0 °C to 54.4 °C in all 9.6 h.\nprevention: \nproduct: __ (cooked on to __ / held).\n"},
	{"come-up", "H6",
		"cause: Core took __ h from 10.0 °C to 54.4 °C (limit 6 h).\nunder control: House raised to __ at __.\nprevention: \nproduct: Held for evaluation.\n",
		"cause: Core took 9.6 h from 10.0 °C to 54.4 °C (limit 6 h).\nunder control: House raised to __ at __.\nprevention: \nproduct: Held for evaluation.\n"},
	{"probe out", "H11",
		"cause: Core data from __ to __ struck: probe out.\nunder control: Reseated in slab A at __; thermometer __ read __.\nprevention: \nproduct: \n",
		"cause: Core data from __ to __ struck: probe out.\nunder control: Reseated in slab __ at __; thermometer needle 2 read 61.4 °C.\nprevention: \nproduct: \n"},
	{"not to temperature", "H5",
		"cause: Target 65.6 °C not met at planned end.\nunder control: Heating went on until __ for __ min at __, second thermometer __.\nprevention: \nproduct: \n",
		"cause: Target 65.6 °C not met at planned end.\nunder control: Heating went on until 60.2 °C for 10 min at 15 Apr 00:00, second thermometer 61.4 °C.\nprevention: \nproduct: \n"},
	{"chill", "L3",
		"cause: __ to __ took __ h (limit __); __ to __ took __ h.\nunder control: Ice bath / freezer from __.\nprevention: \nproduct: Batch __ (held / evaluated / discarded).\n",
		"cause: 54.4 °C to 26.7 °C took 3.1 h (limit 5.0 h); 26.7 °C to 7.2 °C took 6.5 h.\nunder control: Ice bath / freezer from __.\nprevention: \nproduct: Batch __ (held / evaluated / discarded).\n"},
	{"blind", "B2",
		"cause: No data from __ to __.\nunder control: Hand readings: __.\nprevention: \nproduct: For the sums the warmer end was used.\n",
		"cause: No data from __ to __.\nunder control: Hand readings: __.\nprevention: \nproduct: For the sums the warmer end was used.\n"},
	{"bad probe", "B9",
		"cause: Instrument __ read __ in __.\nunder control: Out of use. Last good check __.\nprevention: \nproduct: Batches since: __, each reviewed: __.\n",
		"cause: Instrument __ read __ in __.\nunder control: Out of use. Last good check __.\nprevention: \nproduct: Batches since: __, each reviewed: __.\n"},
}

func TestALineThatDidNotRingHasNoNumbers(t *testing.T) {
	b := badBatch(t)
	for _, c := range unheard {
		k := Case{Batch: freshBatch(t), About: c.entry, Event: Event{Entry: c.entry}, Now: noon.Add(2 * day), Words: plainWords{},
			Readings: func(string, time.Time, time.Time, func(time.Time, float64)) {}}
		if l, _ := k.line(); l.Name != c.line {
			t.Errorf("%s: the text is %q", c.line, l.Name)
		}
		if got := spoken(t, k); got != c.fresh {
			t.Errorf("%s, of a new batch: %q", c.line, got)
		}
		k.Batch, k.Now, k.Readings = b.batch(), noon.Add(8*day+13*hour), b.readings
		if got := spoken(t, k); got != c.bad {
			t.Errorf("%s, of a bad batch: %q", c.line, got)
		}
	}
	if len(unheard)+1 != len(Lines()) { // the twelfth is that of a dose, below
		t.Errorf("%d texts, %d looked at", len(Lines()), len(unheard)+1)
	}
}

// A single piece that was dosed has a dose, whether its line rang or not.
func TestADoseThatDidNotRingIsNotMissing(t *testing.T) {
	b := freshBatch(t)
	b.Doses = []process.DoseEntry{{Pieces: []string{"A"}, AskedG: 5.7, CureG: 57, PPM: 1571, At: noon, Typed: noon.Add(minute)}}
	got := spoken(t, Case{Batch: b, About: "K4", Event: Event{Entry: "K4"}, Now: noon.Add(day), Words: plainWords{}})
	if want := "cause: Slab A: asked 5.7 g, weighed 57.0 g, 1571 ppm. Found after 1 min.\n"; !strings.HasPrefix(got, want) {
		t.Errorf("%q", got)
	}
}

// While an alarm stands its end is not known; how long it lasts, and what was measured, is
// that so far.
func TestAnAlarmThatStandsHasNoEnd(t *testing.T) {
	b := badBatch(t)
	for _, c := range []struct {
		event Event
		want  string
	}{
		{Event{Entry: "C2", Since: noon, Worst: 8, Limit: 5}, "Product sensor over 5.0 °C from 7 Apr 12:00 to __ (12300 min, peak 8.0 °C). Cause: __."},
		{Event{Entry: "C4", Since: noon, Worst: 1, Limit: 1.1}, "Below 1.1 °C for 205.0 h."},
		{Event{Entry: "K1", Since: noon.Add(6 * day), Worst: 40, Limit: 24}, "Turned after __ h instead of 24."},
		{Event{Entry: "H3", Since: noon.Add(7*day + 6*hour), Worst: 20, Limit: 17}, "lost from 14 Apr 18:00 to __. Core 48.3 °C at loss, 45.3 °C lowest, __ at relight."},
	} {
		k := Case{Batch: b.batch(), About: "7", Event: c.event, Now: noon.Add(8*day + 13*hour), Words: plainWords{}, Readings: b.readings}
		if said, _ := Text(k); !strings.Contains(said.Cause, c.want) {
			t.Errorf("%s: %q", c.event.Entry, said.Cause)
		}
	}
}
