package app

import (
	"context"
	"fmt"
	"slices"
	"time"

	"flitch/cmd/flitch/internal/web"
	"flitch/process"
	"flitch/process/chart"
	"flitch/process/record"
)

// Chart implements api.Reader.
func (r *reader) Chart(ctx context.Context, id string, view chart.View) (chart.Temperatures, error) {
	b, err := r.load(id)
	if err != nil {
		return chart.Temperatures{}, err
	}
	rec := r.said(b)
	rec.Site = web.For(ctx, rec.Site)
	list, err := r.occurrences(b)
	if err != nil {
		return chart.Temperatures{}, err
	}
	for _, o := range list {
		rec.Alarms = append(rec.Alarms, record.Alarm{Occurrence: o})
	}
	drawn := rec.Temperatures(view, nil)
	drawn.Lines, err = r.chart.lines(b, rec.MadeAt, drawn.View.From, drawn.View.To)
	return drawn, err
}

// Drawing implements api.Reader.
func (r *reader) Drawing(ctx context.Context, id, kind string, width int) (chart.Drawing, error) {
	b, err := r.load(id)
	if err != nil {
		return nil, err
	}
	drawn, err := sketcher{r, web.For(ctx, r.site)}.drawing(b, kind, width)
	if drawn == nil && err == nil {
		err = &process.Refusal{What: fmt.Sprintf("there is nothing to draw of the %s of batch %s now", kind, id),
			Hint: "the cure is drawn while a plan with a water content is in cure, the cook when its core was heard for half an hour, the chill once it has begun", NotFound: true}
	}
	return drawn, err
}

// A sketcher draws for one who asks, in the unit that was chosen.
type sketcher struct {
	*reader
	site record.Site
}

// drawing is nil where a batch has nothing of the kind.
func (r sketcher) drawing(b *process.Batch, kind string, width int) (chart.Drawing, error) {
	switch kind {
	case "cure":
		if p, ok := b.CureProfile(); ok {
			return r.profile(b, p, width), nil
		}
	case "cook":
		if f, ok := r.cooks.fan(b); ok {
			return r.fan(b, f, width)
		}
	case "chill":
		if v, ok := b.Chill(r.until(b)); ok {
			return r.chilled(b, v, width)
		}
	}
	return nil, nil
}

// until is now, or when the batch was closed.
func (r *reader) until(b *process.Batch) time.Time {
	_, to := span(b, r.app.clock.Now())
	return to
}

func (r sketcher) profile(b *process.Batch, p process.CureProfile, width int) chart.Profile {
	out := chart.Profile{Title: fmt.Sprintf("Cure inside piece %s of batch %s, estimated by diffusion, as of %s", p.Piece, b.ID, r.site.Stamp(p.NowAt)),
		ThicknessMM: p.ThicknessMM, FirstFace: "face", LastFace: "other face", Through: p.Through, Width: width}
	if p.SkinOn {
		out.FirstFace, out.LastFace = "skin", "flesh face"
	}
	curve := func(name string, at time.Time, c process.CureCurve) chart.Curve {
		return chart.Curve{Name: fmt.Sprintf("%s %s: %.0f %% at the deepest point", name, r.site.Short(at), 100*slices.Min(c.Mid)), Mid: c.Mid, Low: c.Low, High: c.High}
	}
	out.Curves = []chart.Curve{curve("now", p.NowAt, p.Now)}
	if !p.FinishAt.IsZero() {
		out.Curves = append(out.Curves, curve("about", p.FinishAt, p.Finish))
	}
	return out
}

func (r sketcher) fan(b *process.Batch, f process.CookFan, width int) (chart.Drawing, error) {
	out := chart.Fan{Title: fmt.Sprintf("Forecast for the core of piece %s of batch %s, as of %s", f.Piece, b.ID, r.site.Stamp(f.At)), Scale: r.site.Scale(),
		Now: f.At, NowC: f.CoreC, TargetC: f.TargetC, Note: "shaded: 80 % interval, if the chamber stays at " + r.site.Temp(f.ChamberC), Width: width}
	for _, s := range f.Steps {
		out.Steps = append(out.Steps, chart.FanStep(s))
	}
	cores, err := r.cores(b, f.At.Add(-24*time.Hour), f.At)
	for _, l := range cores {
		if l.Probe == f.Probe {
			out.Core = l
		}
	}
	return out, err
}

func (r sketcher) chilled(b *process.Batch, v process.ChillView, width int) (chart.Drawing, error) {
	now := r.until(b)
	out := chart.Chill{Title: fmt.Sprintf("Chill of batch %s, as of %s", b.ID, r.site.Stamp(now)), Scale: r.site.Scale(), Now: now, Open: b.Open(), Width: width}
	from := now
	for _, l := range v.Legs {
		out.Legs = append(out.Legs, chart.Leg{Name: l.Name, FromC: l.FromC, ToC: l.ToC, AtOnce: l.AtOnce, Start: l.Start, Limit: l.Limit, End: l.End})
		if l.Start.Before(from) {
			from = l.Start
		}
	}
	if f := v.Forecast; f != nil {
		out.Forecast = &chart.LegForecast{C: v.ForecastC, At: f.At, Low: f.Low, High: f.High}
	}
	var err error
	out.Cores, err = r.cores(b, from.Add(-24*time.Hour), now.Add(24*time.Hour))
	return out, err
}

// cores are the lines of the cores between two moments.
func (r *reader) cores(b *process.Batch, from, to time.Time) ([]chart.Line, error) {
	lines, err := r.chart.lines(b, r.app.clock.Now(), from, to)
	return slices.DeleteFunc(lines, func(l chart.Line) bool { return l.Placement != process.Core }), err
}

// kinds are the drawings beside the temperatures, in the order of the trade.
var kinds = [...]string{"cure", "cook", "chill"}

// Charts implements web.Reader.
func (r *reader) Charts(_ context.Context, id string) (web.Charts, error) {
	b, err := r.load(id)
	if err != nil {
		return web.Charts{}, err
	}
	out := web.Charts{Batch: b.ID, Product: b.Plan.Title, From: b.Started, To: b.Closed}
	for _, s := range b.Stages {
		out.Stages = append(out.Stages, web.ChartStage{Name: s.Name, From: s.Entered, To: s.Left})
	}
	for _, kind := range kinds {
		d, err := sketcher{r, r.site}.drawing(b, kind, 0)
		if err != nil {
			return web.Charts{}, err
		}
		if d != nil {
			out.Drawings = append(out.Drawings, kind)
		}
	}
	return out, nil
}
