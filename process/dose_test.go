package process

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"
)

// dosedDiary is a batch of a plan that asks for doses, with two slabs.
func dosedDiary(t *testing.T) *diary {
	d := newDiary(t)
	d.batch.Plan.Cure.Dosed, d.batch.Plan.Cure.Method, d.batch.Plan.Cure.Product = true, "dry", "bacon"
	d.batch.Pieces = append(d.batch.Pieces, Piece{Name: "B", GreenG: 2200, ThicknessMM: 38})
	return d
}

// said is a dose of one slab, by the strong curing salt of the trade and the US rule.
func said(piece string, grams, asked float64) Command {
	return Command{Kind: CommandDosed, Dosing: &Dosing{Nitrite: 0.0625, PPM: 156, Rule: "us",
		Portions: []DosePortion{{Pieces: []string{piece}, CureG: grams, AskedG: asked}}}}
}

func (d *diary) dose(after time.Duration, c Command) {
	d.t.Helper()
	d.say(after, Complete(d.batch, c))
}

// doses returns the newest finding about each slab.
func (d *diary) doses() (faults map[string]float64, over map[string]bool) {
	faults, over = map[string]float64{}, map[string]bool{}
	for _, f := range d.found {
		if f.Measure == MeasureDose {
			faults[f.Subject[6:7]], over[f.Subject[6:7]] = f.Value, f.State == Over
		}
	}
	return faults, over
}

// 156 ppm of 2268 g by 6.25 % nitrite are 5.66 g: 2268 x 156e-6 / 0.0625, as in the
// worked examples of the US handbook.
func TestADoseIsHeldAgainstWhatWasAskedAndTheCap(t *testing.T) {
	for _, c := range []struct {
		name           string
		grams, asked   float64
		ppm            float64
		want           Verdict
		complains, not string
	}{
		{"as asked", 5.7, 0, 157.08, Met, "", "not met"},
		{"4.9 % over", 5.94, 0, 163.69, Met, "", "not met"},
		{"5.1 % over", 5.95, 0, 163.97, NotMet, "weigh it again", "cap"},
		{"5.1 % under", 5.37, 0, 147.98, NotMet, "weigh it again", "cap"},
		{"the recipe is over the cap", 7.4, 7.4, 203.92, NotMet, "over the cap", "weigh it again"},
		{"at the cap", 7.25, 7.25, 199.79, Met, "", "not met"},
		{"a comma", 57, 5.7, 1570.77, NotMet, "ten times: a decimal point", ""},
		{"a comma the other way", 0.57, 5.7, 15.71, NotMet, "a tenth: a decimal point", "over the cap"},
		{"pounds for kilograms", 12.5, 0, 344.47, NotMet, "pounds of meat taken for kilograms", ""},
	} {
		d := dosedDiary(t)
		d.dose(minute, said("A", c.grams, c.asked))
		e := d.batch.Dose("A")
		if e == nil || e.Answer() != c.want || math.Abs(e.PPM-c.ppm) > 0.01 {
			t.Errorf("%s: %+v, want %s and %.2f ppm", c.name, e, c.want, c.ppm)
			continue
		}
		if text := e.Text(); !strings.Contains(text, c.complains) || c.not != "" && strings.Contains(text, c.not) {
			t.Errorf("%s: %s", c.name, text)
		}
	}
}

func TestADoseThatFailsKeepsTheBatchInItsCure(t *testing.T) {
	d := dosedDiary(t)
	d.dose(minute, said("A", 57, 5.7))
	d.dose(minute, said("B", 5.5, 0))
	leave := Command{Kind: CommandStage, Stage: StageRinse, By: "T.V.", At: noon.Add(2 * minute)}
	err := Check(d.batch, leave, leave.At)
	var no *Refusal
	if !errors.As(err, &no) || !strings.Contains(no.What, "A: 57 g of curing salt weighed, 5.7 g asked") || !strings.Contains(no.What, "decimal point") ||
		strings.Contains(no.What, "B:") || !strings.Contains(no.Hint, "--text") {
		t.Fatalf("leaving: %v", err)
	}
	if v := d.batch.Verdict(d.batch.Now); v != Held {
		t.Errorf("the batch is %q", v)
	}
	again := said("A", 5.7, 0)
	again.By, again.At = "T.V.", noon.Add(3*minute)
	if err := Check(d.batch, again, again.At); err == nil || !strings.Contains(err.Error(), "57 g, typed 2031-04-07T12:01:00Z by T.V.") {
		t.Errorf("a correction without a reason: %v", err)
	}
	again.Text = "typed wrongly"
	d.dose(3*minute, again)
	if err := Check(d.batch, leave, leave.At.Add(minute)); err != nil {
		t.Errorf("after the correction: %v", err)
	}
	if len(d.batch.Doses) != 3 || d.batch.Dose("A").Why != "typed wrongly" || len(d.batch.DosesInForce()) != 2 {
		t.Errorf("doses %+v", d.batch.Doses)
	}
	if faults, _ := d.doses(); faults["A"] != 0 || faults["B"] != 0 {
		t.Errorf("found %v", faults)
	}
}

func TestAPersonMayGoOnWithAReason(t *testing.T) {
	d := dosedDiary(t)
	d.dose(minute, said("A", 57, 5.7))
	d.say(2*minute, Command{Kind: CommandStage, Stage: StageRinse, Text: "thrown out with the bag, B goes on"})
	if s := d.batch.Stages[1]; s.Why != "thrown out with the bag, B goes on" || s.By != "T.V." {
		t.Errorf("stage %+v", s)
	}
	if _, over := d.doses(); !over["A"] || !over["B"] {
		t.Error("what cannot be mended any more still asks")
	}
	if v := d.batch.Verdict(d.batch.Now); v != Held {
		t.Errorf("a reason made the batch %q", v)
	}
}

// Who logs no dose at all is asked once, when the cure is left.
func TestWhoLogsNoDoses(t *testing.T) {
	leave := func(d *diary, after time.Duration, why string) error {
		return Check(d.batch, Command{Kind: CommandStage, Stage: StageRinse, By: "T.V.", At: noon.Add(after), Text: why}, noon.Add(after))
	}
	d := dosedDiary(t)
	if err := leave(d, 59*minute, ""); err != nil {
		t.Errorf("entered late for what comes after: %v", err)
	}
	if err := leave(d, 5*day, ""); err == nil || !strings.Contains(err.Error(), "A, B: no cure was logged") {
		t.Errorf("left without a dose: %v", err)
	}
	if err := leave(d, 5*day, "weighed, not logged"); err != nil {
		t.Errorf("with a reason: %v", err)
	}
	d.batch.Plan.Cure.Dosed = false
	if err := leave(d, 5*day, ""); err != nil {
		t.Errorf("a plan that asks for no dose: %v", err)
	}
	d.dose(5*day+minute, Command{Kind: CommandDosed, Dosing: said("A", 5.7, 0).Dosing})
	if err := leave(d, 5*day+minute, ""); err == nil || !strings.Contains(err.Error(), "B: no cure was logged") {
		t.Errorf("one of two has its dose: %v", err)
	}
}

func TestASlabWithoutItsDoseIsFound(t *testing.T) {
	d := dosedDiary(t)
	d.tick(day)
	if faults, _ := d.doses(); len(faults) != 0 {
		t.Fatalf("nobody logs doses, and %v", faults)
	}
	d.dose(day+minute, said("A", 5.7, 0))
	d.tick(day + 30*minute)
	if faults, _ := d.doses(); faults["B"] != 0 {
		t.Errorf("half an hour is not over: %v", faults)
	}
	d.tick(day + 31*minute)
	if faults, _ := d.doses(); faults["A"] != 0 || faults["B"] != DoseMissing {
		t.Errorf("found %v", faults)
	}
	d.dose(2*day, Command{Kind: CommandDosed, Dosing: &Dosing{Portions: []DosePortion{{Pieces: []string{"B"}, CureG: 5.5}}}})
	if faults, _ := d.doses(); faults["B"] != 0 {
		t.Errorf("found %v", faults)
	}
	if e := d.batch.Dose("B"); e.Said.Nitrite != 0.0625 || e.Said.Rule != "us" || math.Abs(e.AskedG-5.4912) > 1e-4 {
		t.Errorf("what was said of the batch before: %+v", e)
	}
}

// The clock is that of the slab dosed last; typed late or in time, it is the same.
func TestTheCureCountsFromTheLastDose(t *testing.T) {
	inTime := dosedDiary(t)
	inTime.dose(0, said("A", 5.7, 0))
	inTime.line("slow", 0, day, 5*minute, 4, 4)
	if c := inTime.clock(ClockCure); len(c.Uncertain) == 0 || !strings.Contains(c.Uncertain[0], "no dose was logged for B") {
		t.Errorf("clock %+v", c)
	}
	inTime.dose(day+2*minute, said("B", 5.5, 0))
	inTime.line("slow", day+5*minute, 6*day, 5*minute, 4, 4)
	inTime.want(ClockCure, 5-2.0/1440, Running)
	if sum := inTime.clock(ClockCure).Sum; math.Abs(sum-(5-2.0/1440)) > 1e-6 { // to the minute
		t.Errorf("%.6f days", sum)
	}

	late := dosedDiary(t)
	late.dose(0, said("A", 5.7, 0))
	late.line("slow", 0, 6*day, 5*minute, 4, 4)
	if v := late.clock(ClockCure).Verdict; v != NotMeasured {
		t.Errorf("nobody knows whether the cure of B began: %q", v)
	}
	c := Complete(late.batch, said("B", 5.5, 0))
	c.Batch, c.By, c.At, c.Typed = "OL-1", "T.V.", noon.Add(day+2*minute), noon.Add(6*day)
	late.take(Input{Kind: InputCommand, At: c.Typed, Command: c})
	if !late.batch.NeedsRecount {
		t.Fatal("a dose in the past leaves the sums as they were")
	}
	start := late.log[0]
	start.Command.New = &NewBatch{Plan: late.batch.Plan, Pieces: late.batch.Pieces, Probes: start.Command.New.Probes}
	fresh := Recount(start, byEventTime(late.log[1:]))
	a, b := inTime.clock(ClockCure), fresh.Clocks(inTime.batch.Now)[0]
	if math.Abs(a.Sum-b.Sum) > 1e-9 || !a.From.Equal(b.From) {
		t.Errorf("in time %+v\nlate %+v", a, b)
	}
}

func TestDosesThatAreRefused(t *testing.T) {
	for want, spoil := range map[string]func(*Dosing){
		"without a weight":              func(d *Dosing) { d.Portions = nil },
		"no piece \"Q\"":                func(d *Dosing) { d.Portions[0].Pieces = []string{"Q"} },
		"without its piece":             func(d *Dosing) { d.Portions[0].Pieces = nil },
		"no such dose":                  func(d *Dosing) { d.Portions[0].CureG = math.NaN() },
		"0 g weighed":                   func(d *Dosing) { d.Portions[0].CureG = 0 },
		"strength":                      func(d *Dosing) { d.Nitrite = 0 },
		"0.0625 % nitrite is held":      func(d *Dosing) { d.Nitrite = 0.000625 },
		"by whose limits":               func(d *Dosing) { d.Rule = "" },
		"unknown rule \"mars\"":         func(d *Dosing) { d.Rule = "mars" },
		"nobody said what was asked":    func(d *Dosing) { d.PPM = 0 },
		"how the cure gets in":          func(d *Dosing) { d.Method = "" },
		"water of the brine is 0, want": func(d *Dosing) { d.Method = "equilibrium" },
	} {
		d := dosedDiary(t)
		d.batch.Plan.Cure.Method = ""
		c := said("A", 5.7, 0)
		c.By, c.At, c.Dosing.Method = "T.V.", noon, "dry"
		spoil(c.Dosing)
		err := Check(d.batch, c, noon)
		if no := new(Refusal); !errors.As(err, &no) || !strings.Contains(err.Error(), want) || no.Hint == "" {
			t.Errorf("got %v, want %q", err, want)
		}
	}
}

// Bacon that is pumped gets 120 ppm, no more and no less: 96 g of 6.25 % in 5 kg of
// pickle at 10 % pump are 96 x 0.0625 / (5000 / 0.1).
func TestADoseOfAPickle(t *testing.T) {
	for grams, want := range map[float64]Verdict{96: Met, 88: NotMet, 104: NotMet} {
		d := dosedDiary(t)
		c := said("A", 0, 0)
		c.Dosing.Method, c.Dosing.PickleG, c.Dosing.Uptake, c.Dosing.PPM = "pumped", 5000, 0.1, 120
		c.Dosing.Portions[0] = DosePortion{Pieces: []string{"A", "B"}, CureG: grams}
		d.dose(minute, c)
		if e := d.batch.Dose("A"); e == nil || e.Answer() != want || math.Abs(e.PPM-grams*1.25) > 1e-6 {
			t.Errorf("%g g: %+v", grams, e)
		}
	}
}

// Two slabs in one brine: the dose counts on meat and pickle together.
func TestADoseOfABrine(t *testing.T) {
	d := dosedDiary(t)
	c := said("A", 0, 0)
	c.Dosing.Method, c.Dosing.WaterG, c.Dosing.Rule = "equilibrium", 2000, NoRule
	c.Dosing.Portions[0] = DosePortion{Pieces: []string{"A", "B"}, CureG: 16.2}
	d.dose(minute, c)
	e := d.batch.Dose("B")
	// (4468 g of meat + 2000 g of water + 16.2 g) x ppm = 16.2 g x 0.0625
	if want := 16.2 * 0.0625 / (4468 + 2000 + 16.2) * 1e6; e == nil || math.Abs(e.PPM-want) > 1e-6 || e.Answer() != Met || d.batch.Dose("A").PPM != e.PPM {
		t.Errorf("dose %+v, want %.4f ppm", e, want)
	}
}
