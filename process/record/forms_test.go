package record

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/process"
	"flitch/process/cure"
)

// whole is the sample with something for every form: a plan, doses, checks, weights, a
// pack. The chill is over.
func whole(t *testing.T) *Record {
	t.Helper()
	r := sample(t)
	start := r.Head.Started
	r.Plan = process.Plan{
		Stages: []process.StagePlan{{Name: process.StageCure, Where: process.WhereFridge, Cold: true}, {Name: process.StageSmoke, Where: process.WhereSmoker, Heat: true, SetC: 82},
			{Name: process.StageChill, Where: process.WhereFridge}, {Name: process.StagePack, Where: process.WhereRoom}},
		Keep: process.KeepRule{Days: 7, Rule: "a week at 4 °C", Source: "a chart"},
	}
	met := []cure.Check{{Name: "most nitrite", Answer: cure.Met, Rule: "us", Source: "a sheet"}}
	r.Doses = []process.DoseEntry{
		{At: start, Typed: start, By: "TV", Pieces: []string{"A"}, CureG: 5.9, AskedG: 5.7, PPM: 162, Said: process.Dosing{Nitrite: 0.0625}, Checks: met},
		{At: start, Typed: start.Add(time.Hour), By: "MO", Why: "typed wrongly", Pieces: []string{"A"}, CureG: 5.7, AskedG: 5.7, PPM: 156, Said: process.Dosing{Nitrite: 0.0625}, Checks: met},
	}
	good := process.ProbeCheck{CheckSaid: process.CheckSaid{Probe: "needle-1", Method: process.CheckIce, ReadC: 0.3}, At: start, Typed: start, By: "TV"}
	r.Data[2].Checks, r.Data[2].LastGood = []process.ProbeCheck{good}, &good
	r.Stages = append(r.Stages, Stage{Name: process.StagePack, Entered: at("08:20"), Typed: at("08:20"), By: "MO"})
	r.Stages[2].Left = at("08:20")
	r.Entries = append(r.Entries,
		Entry{Kind: process.CommandTurned, Happened: start.Add(time.Hour), Typed: start.Add(3 * time.Hour), By: "TV", Text: "all pieces"},
		Entry{Kind: process.CommandReading, Happened: start.Add(10 * time.Minute), Typed: start.Add(10 * time.Minute), By: "TV", Placement: process.Core, Piece: "B", Value: 3.1},
		Entry{Kind: process.CommandWeighed, Happened: at("08:25"), Typed: at("08:25"), By: "MO", Placement: process.Weight, Piece: "A", Value: 1996},
		Entry{Kind: process.CommandCounted, Happened: at("08:10"), Typed: at("08:10"), By: "MO", Text: "2 pieces of 2, in chill"})
	r.Happenings = append(r.Happenings, process.Happening{Name: "door-open", Probe: "alder-slow", From: start.Add(30 * time.Minute), To: start.Add(32 * time.Minute), Detected: start.Add(31 * time.Minute)})
	r.Alarms[0].Judged = &alerts.Judgement{Number: 7, Word: "useful", By: "TV"}
	r.Site.Currency = "EUR"
	said := func(what process.CostKind, amount float64) process.CostHeld {
		return process.CostHeld{CostLine: process.CostLine{What: what, Amount: amount}, At: at("08:26"), By: "MO"}
	}
	ends := said("", 6.5)
	r.Cost = process.CostSum{Lines: []process.CostHeld{said(process.CostBelly, 72.1), said(process.CostBags, 4)}, Ends: &ends, SlicedG: 2000}
	r.Entries = append(r.Entries, Entry{Kind: process.CommandCost, Happened: at("08:26"), Typed: at("08:26"), By: "MO", Text: "belly 72.10, bags 4.00, ends worth 6.50"})
	return r
}

// shown is a form as text: a line a row, cells apart by bars, lines of a cell by strokes.
func shown(f Form) (out []string) {
	line := func(cells []string) {
		out = append(out, strings.ReplaceAll(strings.Join(cells, " | "), "\n", " / "))
	}
	if !f.Facts && len(f.Rows) > 0 {
		line(f.Columns)
	}
	for _, row := range f.Rows {
		var cells []string
		for _, c := range row {
			cells = append(cells, c.Text)
		}
		line(cells)
	}
	if len(f.Rows) == 0 && !f.Graph {
		out = append(out, f.None)
	}
	return append(out, f.Notes...)
}

func TestForms(t *testing.T) {
	for _, c := range []struct {
		name string
		part part
		want string
	}{
		{"receiving", receiving, `
Piece | Taken in | Product | Weight g | Thickness mm | Skin | Temperature °C | By
A | Tue 17 Nov 2026 21:00 CET | Dry-cured belly bacon | 2268 | 38 | off |  | TV
B | Tue 17 Nov 2026 21:00 CET | Dry-cured belly bacon | 2310 | 41 | off | 3.1 | TV
Not recorded: supplier and lot, accepted or refused.`},
		{"curing", curingLog, `
Pieces | Green g | Cure weighed g | Cure asked g | Nitrite in it % | Ingoing nitrite ppm | Checks | Put on | By
A | 2268 | 5.9 | 5.7 | 6.25 | 162 | most nitrite: met | Tue 17 Nov 2026 21:00 CET | TV / an entry typed later holds
A | 2268 | 5.7 | 5.7 | 6.25 | 156 | most nitrite: met | Tue 17 Nov 2026 21:00 CET | MO / typed Tue 17 Nov 2026 22:00 CET / typed wrongly
Not recorded: lot of the cure, salt and sugar asked and weighed.
most nitrite: us; a sheet.
Recipe: belly-dry-cure, version 3.`},
		{"turns", turnLog, `
Turned | Pieces | Since the one before | By
Tue 17 Nov 2026 22:00 CET | all pieces | 60 min | TV / typed Wed 18 Nov 2026 00:00 CET
Out of the cure: Tue 17 Nov 2026 23:00 CET.`},
		{"cooler", coolerLog, `
Day | Place, probe | Min °C | Max °C | Mean °C | Min above 4.4 °C | Min above 7.2 °C | Min without data | Door, defrost
Tue 17 Nov 2026 | alder / alder-slow | 3.0 | 3.8 | 3.4 | 0 | 0 | 0 | 1 × door, by the air
Wed 18 Nov 2026 | alder / alder-slow | 3.0 | 3.5 | 3.2 | 0 | 0 | 0 | `},
		{"thermal", thermalLog, `
Stage | House | In | Out | Set °C | Lowest °C | Mean °C | Highest °C | Core A at its end °C | Core B at its end °C | By
smoke | old-kettle | Tue 17 Nov 2026 23:00 CET | Wed 18 Nov 2026 09:00 CET | 82.0 | 1.8 | 70.6 | 85.0 | 71.2 | 65.7 | TV`},
		{"by hand", handReadings, `
Read | What | Piece | Value | With, note | By | Typed
Wed 18 Nov 2026 04:30 CET | core | A | 46.5 °C | second thermometer | TV | Wed 18 Nov 2026 04:52 CET
Tue 17 Nov 2026 21:10 CET | core | B | 3.1 °C |  | TV |`},
		{"cooling", coolingLog, `
Piece | End of heat | Core then °C | Into the cold | At 26.7 °C | At 7.2 °C | At 4.4 °C
A | Wed 18 Nov 2026 09:00 CET | 71.2 | Wed 18 Nov 2026 09:00 CET | not measured | not measured | not measured
B | Wed 18 Nov 2026 09:00 CET | 65.7 | Wed 18 Nov 2026 09:00 CET | not measured | not measured | not measured
chill A: running, 30 min of at most 1 h 30 min; 54.4 to 26.7 °C in at most 1 h 30 min
Put into the cold by: MO`},
		{"calibration", calibrationLog, `
Instrument | Place | Checked | Method | Read °C | True °C | Within 2 °F | What it came to | By
needle-1 | old-kettle | Tue 17 Nov 2026 21:00 CET | ice | 0.3 | 0.0 | yes | read 0.3 °C in ice, where it was 0.0 °C: within 1.1 K | TV
No good check is known of: alder-slow, kettle-grate, needle-2.`},
		{"corrective action", correctiveActions, `
No. | About | Cause | Under control | Prevention | Product | Done, by
1 | H3 | Chamber lost from 02:00 to 03:50: ash had blocked the grate. Core 46.5 °C at loss. | Relit at 03:31, house back at 82 °C at 03:50. | missing | Held for evaluation <with the numbers>. | Wed 18 Nov 2026 07:50 CET / typed Wed 18 Nov 2026 07:52 CET / TV / not complete: prevention`},
		{"deviations", deviationsOf, `
No. | What | From | To | Worst | Limit | Outcome
1 | come-up over its limit | Wed 18 Nov 2026 05:10 CET | Wed 18 Nov 2026 06:20 CET | 7 h 10 min | 6 h | hold for advice / corrective action no. 1 / open: corrective action without prevention`},
		{"dispositions", dispositionsOf, `
Decided | What | Pieces | Basis | Deviations decided on | By
Wed 18 Nov 2026 08:00 CET | hold for advice | A, B | come-up over 6 h | come-up | TV`},
		{"signatures", signatures, `
Made by | 
Date, time | 
Reviewed by | MO / so far; the chill is not over
Date, time | Wed 18 Nov 2026 09:00 CET`},
		{"entries", entriesOf, `
Happened | What | By | Typed
Wed 18 Nov 2026 04:30 CET | reading: 64.5 °C by hand, core A / second thermometer / corrected by`},
		{"packing", packing, `
Lot | OL-31-09
Packed | Wed 18 Nov 2026 09:20 CET
Stage pack entered by | MO
Counted | 2 pieces of 2, in chill, MO, Wed 18 Nov 2026 09:10 CET
Weighed A | 1996.0 g, MO, Wed 18 Nov 2026 09:25 CET
Use by, by the plan | Wed 25 Nov 2026
Not recorded: packs and their net weights, label checked (name, ingredients, keep cold, cook before eating, handling, use by).`},
		{"pre-shipment", preShipment, `
Batch | OL-31-09
Records | lines in Receiving log: 2, Curing log: 2, Curing log: turns: 1, Cooler log: 2, Thermal processing log: 1, Readings by hand: 2, Cooling log: 2, Calibration log: 1, Corrective action log: 1, Dispositions: 1, Packing and label: 6
Clocks | 1 met, 1 not met, 1 not measured, 1 running
Deviations | 1, of them 1 open or held
Reviewed | MO, Wed 18 Nov 2026 09:00 CET / so far; the chill is not over
Records looked at | `},
		{"yield", yieldLadder, `
Piece | Weighed | Stage | Weight g | Of green %
A | Tue 17 Nov 2026 21:00 CET | green | 2268 | 100.0
A | Wed 18 Nov 2026 09:25 CET | pack | 1996 | 88.0
B | Tue 17 Nov 2026 21:00 CET | green | 2310 | 100.0`},
		{"cost", costOf, `
What | Amount EUR | Entered | By
belly | 72.10 | Wed 18 Nov 2026 09:26 CET | MO
bags | 4.00 | Wed 18 Nov 2026 09:26 CET | MO
sum | 76.10 |  | 
ends are worth, taken off | 6.50 | Wed 18 Nov 2026 09:26 CET | MO
a kg of slices | 34.80 |  | 
a lb of slices | 15.79 |  | 
Not recorded: cure, wood or power.
Slices: 2.00 kg, by the yield ladder.`},
		{"hours", hoursTo, `
Piece | To 37.8 °C | To 48.9 °C | To 54.4 °C | To 62.8 °C | Highest °C | Stall
A | 2 h 35 min | 3 h 50 min | 6 h 55 min | 8 h 10 min | 71.2 | from 18 Nov 00:00 CET, not over
B | 3 h 50 min | 6 h 50 min | 7 h 45 min | 9 h 20 min | 65.7 | none was seen`},
		{"rings", wokeMe, `
Raised | What | Worst | Answered | Said of it
Wed 18 Nov 2026 03:20 CET | Smoker cold / smoker old-kettle | a difference of 41.0 °C | MO, Wed 18 Nov 2026 03:24 CET, taken back Wed 18 Nov 2026 03:29 CET by MO: cannot leave / TV, Wed 18 Nov 2026 03:31 CET | useful, TV`},
		{"keeping", keeping, `
Before eating | Not fully cooked: cook it through before eating.
Keep | a week at 4 °C
 | a chart
Use by | Wed 25 Nov 2026, kept as said here`},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := whole(t)
			if c.name == "hours" {
				r.Happenings[1].From = at("23:00").Add(-24 * time.Hour)
			}
			s, err := r.study()
			if err != nil {
				t.Fatal(err)
			}
			got := strings.Join(shown(c.part(s)[0]), "\n")
			if want := strings.TrimPrefix(c.want, "\n"); !strings.HasPrefix(got, want) {
				t.Errorf("the form says\n%s\nwant it to begin\n%s", got, want)
			}
		})
	}
}

// A batch of which nothing is known has every form for every reader, and invents nothing.
func TestFormsOfNothing(t *testing.T) {
	for _, reader := range Readers() {
		p, err := (&Record{MadeAt: at("08:30"), Head: Head{Started: at("08:30")}}).Paper(reader)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range p.Forms {
			if len(f.Rows) == 0 && f.None == "" && !f.Graph {
				t.Errorf("%s: the form %q says nothing at all", reader, f.Title)
			}
			for _, row := range f.Rows {
				if !f.Facts && len(row) != len(f.Columns) {
					t.Errorf("%s: %q has %d columns and a row of %d", reader, f.Title, len(f.Columns), len(row))
				}
			}
		}
	}
	if _, err := (&Record{}).Paper("the cat"); err == nil {
		t.Error("a record for the cat was made")
	}
}

func TestEveryFormHasItsSheet(t *testing.T) {
	for _, reader := range Readers() {
		p, err := whole(t).Paper(reader)
		if err != nil {
			t.Fatal(err)
		}
		seen := map[string]bool{"Readings": true, "About": true, "Temperatures data": true}
		for _, f := range p.Forms {
			if seen[f.Name] || f.Name == "" || len(f.Name) > 31 || strings.ContainsAny(f.Name, `/\?*[]:`) {
				t.Errorf("%s: %q is no name for a sheet, or there twice", reader, f.Name)
			}
			seen[f.Name] = true
		}
	}
}

// A customer gets nothing of what goes on inside.
func TestTheCustomersPageHasNoInternals(t *testing.T) {
	r := whole(t)
	r.Clocks[1].Name, r.Clocks[1].Rule = process.ClockComeUp, "10 to 54.4 °C in at most 6 h"
	p, err := r.Paper(Customer)
	if err != nil {
		t.Fatal(err)
	}
	page := string(written(t, p.HTML))
	for _, inside := range []string{"needle-1", "alder", "TV", "relit", "phone-tv", "no such mailbox", "no core readings", "trade article", "<svg"} {
		if strings.Contains(page, inside) {
			t.Errorf("the page of a customer says %q", inside)
		}
	}
	for _, want := range []string{"not fully cooked", ">not met<", "cook it through", "Wed 25 Nov 2026", "156 ppm"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page of a customer does not say %q", want)
		}
	}
}

// Minutes above a limit are those of a line between readings.
func TestMinutesAboveALimit(t *testing.T) {
	for _, c := range []struct{ from, to, want float64 }{{3, 4, 0}, {5, 6, 1}, {4, 5, 0.6}, {5, 4, 0.6}, {4.4, 4.4, 0}, {4.5, 4.5, 1}} {
		if got := above(c.from, c.to, 4.4); got < c.want-1e-9 || got > c.want+1e-9 {
			t.Errorf("from %g to %g: %g of it above 4.4, want %g", c.from, c.to, got, c.want)
		}
	}
}

// What was said as a batch began is a remark; only a later stage is entered "all the same".
func TestTheRemarkOfANewBatchIsNoReason(t *testing.T) {
	r := sample(t)
	r.Stages[0].Why, r.Stages[1].Why = "the warm shed", "in a hurry"
	texts := []string{string(written(t, r.HTML))}
	p, err := r.Paper(Inspector)
	if err != nil {
		t.Fatal(err)
	}
	texts = append(texts, fmt.Sprint(p.Forms))
	for _, text := range texts {
		if !strings.Contains(text, "the warm shed") || strings.Contains(text, "all the same: the warm shed") || !strings.Contains(text, "all the same: in a hurry") {
			t.Error("the remark of the new batch is missing, or is a reason")
		}
	}
}
