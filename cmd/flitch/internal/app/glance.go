package app

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/web"
	"flitch/process"
	"flitch/process/record"
)

// A glancer puts together all the page says about one batch.
type glancer struct {
	batch  *process.Batch
	places []*process.Place
	now    time.Time
	site   record.Site
	alarms []web.Alarm // of the house, newest first
	cooks  *cookDesk
	today  func(t *process.Track, aboveC float64) *web.Today // nil: not known
}

func (g glancer) glance() web.Glance {
	b := g.batch
	out := web.Glance{Batch: b.ID, Product: b.Plan.Title, Class: b.Plan.Class, At: g.now, Stage: g.stage(),
		Clocks: doubted(b, g.now, g.places, g.site), Held: b.Holds(g.now), Forecasts: g.forecasts(), Next: g.next(), Fridge: g.fridge(), Chamber: g.chamber(), Doses: doses(b), Wood: g.wood(),
		Questions: g.questions(), LeftOut: leftOut(b, g.places, g.now)}
	for _, p := range b.Pieces {
		out.Pieces = append(out.Pieces, p.Name)
	}
	if cores := g.slabs(); len(cores) > 0 {
		out.Slowest, out.Slabs = &cores[0], cores[1:]
	}
	g.addAlarms(&out)
	return out
}

// questions are those about the units of the probes of the batch.
func (g glancer) questions() (out []web.Question) {
	for _, t := range g.batch.Tracks {
		if p := probeIn(g.places, t.Probe.Probe); p != nil && p.Sieve.Unit.Open() {
			out = append(out, web.Question{Probe: t.Probe.Probe, Ask: p.Sieve.Unit})
		}
	}
	return out
}

// addAlarms fills in the alarms that concern the batch and the one word.
func (g glancer) addAlarms(out *web.Glance) {
	for _, a := range g.alarms {
		if !concerns(g.batch, a.Subject) || a.RaisedAt.Before(g.batch.Started) {
			continue
		}
		if out.LastAlarm == nil {
			out.LastAlarm = &a
		}
		if a.Active {
			out.Alarms = append(out.Alarms, a)
		}
	}
	slices.SortStableFunc(out.Alarms, func(a, b web.Alarm) int { return int(b.Level) - int(a.Level) })
	out.State = web.Fine
	for _, a := range out.Alarms {
		if s := stateOf(a); worse(s, out.State) {
			out.State, out.Since, out.Why = s, a.Since, a.Title+": "+a.Subject
			if at := g.lastOf(a.Subject); s == web.Blind && !at.IsZero() {
				out.Since = at
			}
		}
	}
	if out.State == web.Fine {
		g.lookCloser(out)
	}
}

func stateOf(a web.Alarm) web.State {
	switch {
	case a.Entry == "B1" || a.Entry == "B2":
		return web.Blind
	case a.Level == alerts.Ring && a.AcknowledgedAt.IsZero() && a.Shelf == nil:
		return web.Now
	case a.Level >= alerts.Tell || a.Entry == "B2u": // a question that a person has to answer
		return web.Look
	}
	return web.Fine
}

// order is from best to worst.
var order = [...]web.State{web.Fine, web.Look, web.Blind, web.Now}

func worse(a, b web.State) bool {
	return slices.Index(order[:], a) > slices.Index(order[:], b)
}

// sortGlances puts the batch that needs a person most in front.
func sortGlances(list []web.Glance) {
	slices.SortStableFunc(list, func(a, b web.Glance) int {
		return slices.Index(order[:], b.State) - slices.Index(order[:], a.State)
	})
}

func (g glancer) number(t *process.Track) web.Number {
	n := web.Number{Known: t.Samples > 0, C: t.Last.Value, At: t.Last.At, Old: t.Old(g.now)}
	n.Rate, n.HasRate = t.RatePerHour()
	if t.OutOfUse() {
		n.Doubt = process.OutOfUse
	}
	return n
}

// slabs are the cores, coldest first, once the fire was lit.
func (g glancer) slabs() []web.Slab {
	var out []web.Slab
	stage := g.batch.Stage()
	if !g.batch.Heated() {
		return nil
	}
	for _, t := range g.batch.CoreTracks() {
		out = append(out, web.Slab{Piece: t.Probe.Piece, Probe: t.Probe.Probe, Core: g.number(t), HasTarget: stage.CoreC > 0, TargetC: stage.CoreC})
	}
	if !stage.Heat { // chilling: the warmest is the slow one
		slices.Reverse(out)
	}
	return out
}

func (g glancer) chamber() *web.Chamber {
	stage := g.batch.Stage()
	t := g.batch.TrackOf(process.Chamber)
	if t == nil {
		t = g.awaited(process.Chamber)
	}
	if stage.Where != process.WhereSmoker || t == nil {
		return nil
	}
	return &web.Chamber{Place: t.Probe.Place, Air: g.number(t), SetC: stage.SetC}
}

func (g glancer) stage() web.Stage {
	s := g.batch.Stage()
	out := web.Stage{Name: s.Name, Entered: g.batch.StageEntered(), Prompt: s.Prompt, Ends: g.ends(s), Button: true, Heat: s.Heat}
	if next := g.batch.NextStages(); len(next) > 0 {
		out.Next, out.Instead = next[0], next[1:]
	}
	return out
}

func (g glancer) ends(s process.StagePlan) string {
	var parts []string
	if s.CoreC > 0 {
		parts = append(parts, "every core at "+g.site.Temp(s.CoreC))
	}
	if s.Hours > 0 {
		parts = append(parts, "at "+g.site.Short(g.batch.StageEntered().Add(time.Duration(s.Hours*float64(time.Hour)))))
	}
	if s.Button {
		parts = append(parts, "your word")
	}
	return strings.Join(parts, ", and ")
}

// next is the next thing a person does.
func (g glancer) next() *web.Task {
	s := g.batch.Stage()
	if s.Name == process.StageCure && g.batch.Plan.Turn.EveryHours > 0 {
		every := time.Duration(g.batch.Plan.Turn.EveryHours * float64(time.Hour))
		return &web.Task{What: "turn every slab", By: g.batch.TurnedAt().Add(every), Kind: process.CommandTurned}
	}
	if s.Prompt == "" {
		return nil
	}
	task := &web.Task{What: s.Prompt, Kind: process.CommandStage}
	if s.Hours > 0 {
		task.By = g.batch.StageEntered().Add(time.Duration(s.Hours * float64(time.Hour)))
	}
	return task
}

func (g glancer) forecasts() []web.Forecast {
	var out []web.Forecast
	if f, ok := g.batch.ChillForecast(g.now); ok {
		out = append(out, web.Forecast{What: g.chillText(f), At: f.At, Give: f.High.Sub(f.At), Warn: f.At.After(f.Limit)})
	}
	if f, ok := g.passes(); ok {
		out = append(out, f)
	}
	if f, ok := g.cooks.slowest(g.batch); ok {
		out = append(out, web.Forecast{What: fmt.Sprintf("last core, slab %s, at %s", f.Piece, g.site.Temp(f.TargetC)), At: f.At, Low: f.Low, High: f.High, Open: f.High.IsZero()})
	}
	if f, ok := g.batch.CureFinish(g.now); ok {
		out = append(out, web.Forecast{What: "cure likely through by diffusion, slowest piece", At: f.At, Give: f.High.Sub(f.At)})
	}
	for _, f := range g.batch.DryingForecasts() {
		what := fmt.Sprintf("slab %s dry enough by weight", f.Piece)
		if f.Hardening {
			what += ", drying ever slower: the surface may have closed"
		}
		out = append(out, web.Forecast{What: what, At: f.At, Low: f.Low, High: f.High})
	}
	return out
}

// chillText says when the leg has to end, and what air would still make it.
func (g glancer) chillText(f process.ChillOutlook) string {
	text := fmt.Sprintf("%s ends (limit %s", process.ChillName(f.Leg), g.site.Short(f.Limit))
	switch {
	case !f.At.After(f.Limit) || math.IsNaN(f.AirC):
		return text + ")"
	case f.AirC < process.HopelessAirC:
		return text + "; no air makes it now: ice water)"
	}
	return text + "; air at " + g.site.Temp(f.AirC) + " would make it)"
}

// fridge is the cold place of this stage, or outside one the place of the cure.
func (g glancer) fridge() *web.Fridge {
	product, air := g.batch.FridgeNow()
	main := product
	if main == nil {
		main = air
	}
	if main == nil {
		main = g.awaited(process.Product, process.Air)
	}
	if main == nil {
		return nil
	}
	estimate := ""
	if product == nil {
		estimate = g.estimate(main.Probe.Place)
	}
	f := &web.Fridge{Estimate: estimate, Place: main.Probe.Place, Product: g.number(main), AboveC: g.batch.Plan.Cold.AboveC,
		AboveMin: main.Cold.Minutes, TurnsWanted: g.batch.Stage().Name == process.StageCure}
	if g.today != nil {
		f.Today = g.today(main, f.AboveC)
	}
	if air != nil && main != air {
		n := g.number(air)
		f.Air = &n
	}
	if n := len(g.batch.Turns); n > 0 {
		f.LastTurn, f.LastTurnBy = g.batch.Turns[n-1].At, g.batch.Turns[n-1].By
	}
	return f
}

// awaited is a probe that the batch needs now and that has told nothing yet: its place is
// shown with no reading, and not left out.
func (g glancer) awaited(placements ...process.Placement) *process.Track {
	for _, p := range placements {
		for _, t := range g.batch.Tracks {
			if _, to, ok := g.batch.Wanted(t); ok && to.IsZero() && t.Probe.Placement == p {
				return t
			}
		}
	}
	return nil
}

// estimate says what lies in a fridge that has no slow sensor, by its air.
func (g glancer) estimate(place string) string {
	for _, p := range g.places {
		if p.Name != place {
			continue
		}
		e, ok := p.ProductEstimate()
		if !ok {
			return ""
		}
		text := "by the air, what is inside is at about " + g.site.Temp(e.ProductC)
		switch {
		case e.ProductC >= e.LimitC:
			text += ", over " + g.site.Temp(e.LimitC)
		case e.Reaches:
			text += fmt.Sprintf(" and at %s in %s", g.site.Temp(e.LimitC), record.Amount(e.Minutes, "min"))
		}
		return text
	}
	return ""
}
