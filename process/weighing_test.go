package process

import (
	"encoding/json"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"
)

// wantRefusal expects a refusal that names what is wrong, and changes nothing.
func (d *diary) wantRefusal(c Command, want string) {
	d.t.Helper()
	c.Batch, c.By, c.At, c.Typed = d.batch.ID, "T.V.", d.batch.Now, d.batch.Now
	err := Check(d.batch, c, c.Typed)
	if err == nil || !strings.Contains(err.Error(), want) {
		d.t.Errorf("%+v: %v, want a refusal with %q", c, err, want)
	}
}

// The account of the trade: 35 lb skin-on became 28 lb smoked, 22 lb slices, 2.5 lb ends
// and 3.5 lb rind: 80, 62.9, 7.1 and 10 % of green.
func TestTheYieldLadder(t *testing.T) {
	const lb = 453.59237
	d := newDiary(t)
	d.batch.Pieces = []Piece{{Name: "A", GreenG: 20 * lb, ThicknessMM: 38}, {Name: "B", GreenG: 15 * lb, ThicknessMM: 38}}
	all := func(rung Rung, pounds float64) Command {
		return Command{Kind: CommandWeighed, Rung: rung, Weights: []PieceWeight{{Grams: pounds * lb}}}
	}
	d.say(hour, Command{Kind: CommandWeighed, Rung: RungSmoke, Weights: []PieceWeight{{"A", 17 * lb}, {"B", 12 * lb}}})
	d.say(2*hour, Command{Kind: CommandWeighed, Rung: RungSmoke, Pieces: []string{"A"}, Value: 16 * lb}) // weighed again
	d.say(3*hour, all(RungSliced, 22))
	d.say(3*hour, all(RungEnds, 2.5))
	d.say(3*hour, all(RungRind, 3.5))
	d.say(4*hour, Command{Kind: CommandWeighed, Rung: RungCure, Weights: []PieceWeight{{"B", 14 * lb}}})
	want := map[Rung]float64{RungCure: 100 * 14.0 / 15, RungSmoke: 80, RungSliced: 100 * 22 / 35.0, RungEnds: 100 * 2.5 / 35, RungRind: 10}
	got := d.batch.Yield()
	if len(got) != len(want) || got[0].Rung != RungCure || !reflect.DeepEqual(got[0].Pieces, []string{"B"}) {
		t.Fatalf("%+v", got)
	}
	for _, y := range got {
		if math.Abs(y.Percent()-want[y.Rung]) > 1e-9 {
			t.Errorf("%s: %.3f %%, want %.3f", y.Rung, y.Percent(), want[y.Rung])
		}
	}
	d.say(5*hour, all(RungSmoke, 28.5)) // all together, after each
	if y := d.batch.yieldAt(RungSmoke); math.Abs(y.Grams-28.5*lb) > 1e-6 || y.Pieces != nil {
		t.Errorf("%+v", y)
	}
}

// Slices and rind say nothing of how far a piece has dried.
func TestPartsOfAPieceAreNotItsWeight(t *testing.T) {
	d := newDiary(t)
	d.say(hour, Command{Kind: CommandWeighed, Rung: RungCure, Weights: []PieceWeight{{"A", 2100}}})
	d.say(2*hour, Command{Kind: CommandWeighed, Rung: RungRind, Weights: []PieceWeight{{"A", 200}}})
	if w := d.batch.weighings("A"); len(w) != 1 || w[0].Value != 2100 {
		t.Errorf("%+v", w)
	}
}

func TestWeightsAndCountsThatCannotBeAreRefused(t *testing.T) {
	d := newDiary(t)
	d.batch.Pieces = append(d.batch.Pieces, Piece{Name: "B", GreenG: 2268, ThicknessMM: 38})
	weighed := func(rung Rung, w ...PieceWeight) Command {
		return Command{Kind: CommandWeighed, Rung: rung, Weights: w}
	}
	d.wantRefusal(weighed("dried", PieceWeight{"A", 2000}), "no step of the yield")
	d.wantRefusal(weighed(RungCure, PieceWeight{"A", 2000}, PieceWeight{"C", 2000}), `no piece "C"`)
	d.wantRefusal(weighed(RungCure, PieceWeight{"A", 2000}, PieceWeight{"A", 2000}), "weighed twice")
	d.wantRefusal(weighed(RungCure, PieceWeight{"A", 20}), "cannot be the weight")
	d.wantRefusal(weighed(RungRind, PieceWeight{"A", 0}), "cannot be the weight")
	d.wantRefusal(weighed(RungRind, PieceWeight{"A", math.NaN()}), "cannot be the weight")
	d.wantRefusal(weighed(RungSliced, PieceWeight{"A", 22680}), "cannot be the weight")
	d.wantRefusal(weighed("", PieceWeight{"", 4000}), "without its piece")
	d.wantRefusal(Command{Kind: CommandWeighed, Rung: RungCure, Value: 2000, Weights: []PieceWeight{{"A", 2000}}}, "without its piece")
	d.wantRefusal(Command{Kind: CommandCounted, Way: "beside", Value: 2}, "no side of a stage")
	d.wantRefusal(Command{Kind: CommandCounted, Way: WayOut, Stage: StageSmoke, Value: 2}, `not in stage "smoke"`)
	d.say(hour, weighed(RungRind, PieceWeight{"A", 20}))
}

// Counted out of a stage, one is missing at once, whatever the stage; counted into the
// next one it is found.
func TestAPieceIsMissingOutOfAnyStage(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	d.say(s, Command{Kind: CommandCounted, Way: WayOut, Stage: StageCure, Value: 0})
	d.wantSeen(MeasureMissing, s, Known, 1)
	d.say(s+minute, Command{Kind: CommandCounted, Way: WayIn, Value: 1})
	d.wantSeen(MeasureMissing, s+minute, Known, 0)
	if c := d.batch.Counts; c[0].Stage != StageCure || c[0].Way != WayOut || c[1].Stage != StageSmoke {
		t.Errorf("%+v", c)
	}
}

// What was asked at the start holds for the doses, which then need not say it again; grams
// of a recipe are those of their piece.
func TestWhatWasAskedAtTheStartHolds(t *testing.T) {
	d := dosedDiary(t)
	d.batch.Asked = &Dosing{Nitrite: 0.0625, PPM: 156, Rule: "us", Method: "dry", Product: "bacon"}
	lots := d.batch.DoseLots()
	if len(lots) != 2 || math.Abs(lots[0].AskedG-2268*156e-6/0.0625) > 1e-9 || lots[1].Pieces[0] != "B" {
		t.Fatalf("%+v", lots)
	}
	d.dose(hour, Command{Kind: CommandDosed, Dosing: &Dosing{Portions: []DosePortion{{Pieces: []string{"A"}, CureG: 5.7}, {Pieces: []string{"B"}, CureG: 5.5}}}})
	for _, e := range d.batch.DosesInForce() {
		if e.Answer() != Met || e.Said.Nitrite != 0.0625 {
			t.Errorf("%+v", e)
		}
	}
	d = dosedDiary(t)
	d.batch.Plan.Cure.NitritePPM = 120 // of the plan; the recipe goes before it
	d.batch.Asked = &Dosing{Nitrite: 0.0625, Rule: "us", Method: "dry", Product: "bacon",
		Portions: []DosePortion{{Pieces: []string{"A"}, AskedG: 5.7}, {Pieces: []string{"B"}, AskedG: 5.5}}}
	if lots := d.batch.DoseLots(); lots[0].AskedG != 5.7 || lots[1].AskedG != 5.5 {
		t.Errorf("%+v", lots)
	}
	d.dose(hour, Command{Kind: CommandDosed, Dosing: &Dosing{Portions: []DosePortion{{Pieces: []string{"A"}, CureG: 5.7}}}})
	if e := d.batch.Dose("A"); e.AskedG != 5.7 || e.Answer() != Met {
		t.Errorf("%+v", e)
	}
}

// A brine is dosed for all that lie in it.
func TestABrineIsOneLot(t *testing.T) {
	d := dosedDiary(t)
	d.batch.Asked = &Dosing{Nitrite: 0.0625, PPM: 120, Rule: "us", Method: "equilibrium", Product: "bacon", WaterG: 2000}
	lots := d.batch.DoseLots()
	if len(lots) != 1 || strings.Join(lots[0].Pieces, "+") != "A+B" || !(lots[0].AskedG > 8) {
		t.Errorf("%+v", lots)
	}
}

func TestABatchWithAWrongDoseIsNotBegun(t *testing.T) {
	for want, change := range map[string]func(*Dosing){
		"strength of the curing salt is missing": func(a *Dosing) { a.Nitrite = 0 },
		"the strength is 6.25 %":                 func(a *Dosing) { a.Nitrite = 0.000625 },
		"by whose limits":                        func(a *Dosing) { a.Rule = "" },
		"201 ppm is over 200":                    func(a *Dosing) { a.PPM = 201 },
		"nitrate is refused":                     func(a *Dosing) { a.Nitrate = 0.04 },
		"nobody said what":                       func(a *Dosing) { a.PPM = 0 },
		"not in the batch":                       func(a *Dosing) { a.Portions = []DosePortion{{Pieces: []string{"Z"}, AskedG: 5}} },
		"0 g are asked":                          func(a *Dosing) { a.Portions = []DosePortion{{Pieces: []string{"A"}}} },
	} {
		a := Dosing{Nitrite: 0.0625, PPM: 156, Rule: "us", Method: "dry", Product: "bacon"}
		change(&a)
		c := Command{Kind: CommandNew, Batch: "OL-2", By: "T.V.", At: noon, New: &NewBatch{Plan: testPlan(), Pieces: []Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}}, Asked: &a}}
		if err := Check(nil, c, noon); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}

// 12 K an hour from 4 °C: 100 °F after 2.815 h, 145 °F after 4.898 h.
func TestHeatMarksAreOfTheLastCore(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	for m := 0; m <= 350; m++ {
		d.read("chamber", s+minutes(m), 110)
		d.read("core", s+minutes(m), 4+0.2*float64(m))
	}
	marks, ok := d.batch.HeatMarks()
	if !ok || len(marks) != 4 {
		t.Fatalf("%+v", marks)
	}
	for _, m := range marks {
		if want := (m.C - 4) / 12; !m.Known || math.Abs(m.Hours-want) > 0.06 { // medians of a minute come two minutes late at most
			t.Errorf("%.1f °C after %.3f h, want %.3f", m.C, m.Hours, want)
		}
	}
	cold := newDiary(t)
	cook(cold)
	if marks, ok := cold.batch.HeatMarks(); ok || marks[0].Known {
		t.Errorf("a core that never spoke came to %+v", marks)
	}
	// What the marks are made of is kept with a batch that is closed.
	text, err := json.Marshal(d.batch)
	back := new(Batch)
	if err == nil {
		err = json.Unmarshal(text, back)
	}
	again, _ := back.HeatMarks()
	if err != nil || !reflect.DeepEqual(again, marks) {
		t.Errorf("%v: %+v after storage, %+v before", err, again, marks)
	}
}

func minutes(m int) time.Duration { return time.Duration(m) * minute }
