package app

import (
	"context"
	"math"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/web"
	"flitch/process"
	"flitch/process/record"
)

func (s *shop) bench() bench {
	return bench{s.app, &reader{app: s.app, site: record.Site{Zone: time.UTC}, chart: chartDesk{db: s.app.db, open: s.app.engine.IsOpen}}}
}

// A batch goes from its dose to its slices; closed, it can be begun again and compared: what
// it was begun with, what was weighed, and how long the core took.
func TestOneLikeAnotherAndBesideIt(t *testing.T) {
	s := newShop(t)
	s.open()
	d := s.bench()
	asked := process.Dosing{Nitrite: 0.0625, PPM: 156, Rule: "us"}
	first, err := d.Resolve(web.NewRequest{Plan: cooked, Pieces: []process.Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}}, Fridge: "alder", Smoker: "kettle", Cores: map[string]string{"core": "A"}, Asked: &asked})
	if err != nil || first.Asked.Method != "dry" || first.Asked.Product != "bacon" {
		t.Fatalf("%+v, %v", first.Asked, err)
	}
	s.must(process.Command{Kind: process.CommandNew, New: &first})
	s.must(process.Command{Kind: process.CommandDosed, Dosing: &process.Dosing{Portions: []process.DosePortion{{Pieces: []string{"A"}, CureG: 5.7}}}})
	s.must(process.Command{Kind: process.CommandTurned})
	s.enter(cooked, process.StageCook)
	core := 20.0
	s.every(minute, minute, 80*minute, func(time.Duration) { core += 0.5; s.read("chamber", 85); s.read("core", core) })
	s.must(process.Command{Kind: process.CommandWeighed, Rung: process.RungSmoke, Weights: []process.PieceWeight{{Piece: "A", Grams: 1814.4}}})
	s.must(process.Command{Kind: process.CommandWeighed, Rung: process.RungSliced, Weights: []process.PieceWeight{{Grams: 1500}}})
	s.must(process.Command{Kind: process.CommandClose, Text: "for the test"})
	s.must(process.Command{Kind: process.CommandCost, Cost: &process.Cost{Lines: []process.CostLine{{What: process.CostBelly, Amount: 15}}}}) // the bill comes later

	like, err := d.Like(context.Background(), "PS-02")
	if err != nil || like.Plan != cooked || like.Fridge != "alder" || like.Smoker != "kettle" || like.Chill != "" || like.Cores["core"] != "A" ||
		like.Asked == nil || like.Asked.PPM != 156 || like.Asked.Rule != "us" || len(like.Asked.Portions) != 0 {
		t.Fatalf("like %+v, %+v, %v", like, like.Asked, err)
	}
	again, err := d.Resolve(like)
	if err != nil || len(again.Probes) != len(first.Probes) {
		t.Fatalf("%d probes, were %d; %v", len(again.Probes), len(first.Probes), err)
	}
	s.must(process.Command{Kind: process.CommandNew, Batch: "PS-03", New: &again})

	list, err := d.Compare(context.Background(), []string{"PS-02", "PS-03"})
	if err != nil || len(list) != 2 {
		t.Fatal(err)
	}
	done, fresh := list[0], list[1]
	if want := (100/1.8 - 160/9.0 - 20) / 30; !done.Heat[0].Known || math.Abs(done.Heat[0].Hours-want) > 0.1 { // 100 °F from 20 °C at 30 K/h
		t.Errorf("100 °F after %+v h, want %.2f", done.Heat[0], want)
	}
	if done.Heat[3].Known || len(done.PPM) != 1 || math.Abs(done.PPM[0]-157.08) > 0.01 || done.Turns != 1 || len(done.Yield) != 2 || math.Abs(done.Yield[0].Percent()-80) > 1e-9 || done.Closed.IsZero() {
		t.Errorf("%+v", done)
	}
	if kg, known := done.Cost.PerKilogram(); !known || math.Abs(kg-10) > 1e-9 {
		t.Errorf("a kg of slices is %v", kg)
	}
	if fresh.HasCook || fresh.Heat[0].Known || len(fresh.PPM) != 0 || len(fresh.Yield) != 0 {
		t.Errorf("a batch that was just begun has %+v", fresh)
	}
	work, err := d.Work(context.Background(), "PS-03")
	if err != nil || len(work.Lots) != 1 || math.Abs(work.Lots[0].AskedG-5.660928) > 1e-9 || work.CureDays <= 0 || !work.Open || work.CureFrom.IsZero() {
		t.Errorf("%+v, %v", work, err)
	}
	for _, bad := range []func() error{
		func() error { _, err := d.Like(context.Background(), "PS-99"); return err },
		func() error { _, err := d.Work(context.Background(), "PS-99"); return err },
		func() error { _, err := d.Compare(context.Background(), []string{"PS-02", "PS-99"}); return err },
	} {
		if err := bad(); err == nil || !strings.Contains(err.Error(), `there is no batch "PS-99"`) {
			t.Errorf("%v for a batch that is not there", err)
		}
	}
}

// The fridge it cures in and the one it is chilled in are not mixed up.
func TestOneLikeAnotherKeepsTheChillApart(t *testing.T) {
	s := newShop(t)
	s.cfg.Places = append(s.cfg.Places, s.cfg.Places[0])
	s.cfg.Places[2].Name = "birch"
	birch := s.cfg.Probes[0]
	birch.Name, birch.Place, birch.Topic = "birch-slow", "birch", "shop/birch-slow"
	s.cfg.Probes = append(s.cfg.Probes, birch)
	s.open()
	d := s.bench()
	b, err := d.Resolve(web.NewRequest{Plan: raw, Pieces: []process.Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}}, Fridge: "alder", Chill: "birch", Smoker: "kettle"})
	if err != nil {
		t.Fatal(err)
	}
	s.must(process.Command{Kind: process.CommandNew, New: &b})
	if like, err := d.Like(context.Background(), "PS-02"); err != nil || like.Fridge != "alder" || like.Chill != "birch" || like.Smoker != "kettle" {
		t.Errorf("%+v, %v", like, err)
	}
}
