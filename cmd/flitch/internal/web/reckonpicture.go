package web

import (
	"bytes"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"
	"time"

	"flitch/cmd/flitch/internal/reckon"
	"flitch/process"
	"flitch/process/chart"
	"flitch/process/series"
)

// Width of a picture, px: between the least and the most that is drawn.
const (
	pictureWidth = 688
	leastWidth   = 300
	mostWidth    = 2400
)

// reckonPicture draws what an answer speaks of.
func (s *server) reckonPicture(w http.ResponseWriter, r *http.Request) {
	calc, err := reckon.Named(r.PathValue("name"))
	if err != nil {
		http.NotFound(w, r)
		return
	}
	width, err := strconv.Atoi(r.URL.Query().Get("width"))
	if err != nil {
		width = pictureWidth
	}
	drawn := s.drawReckoning(calc.Name, s.typedPairs(calc, r.URL.Query()), min(max(width, leastWidth), mostWidth))
	if drawn == nil {
		http.NotFound(w, r)
		return
	}
	var b bytes.Buffer
	if err := drawn.SVG(&b); err != nil {
		s.broken(w, "draw a reckoning", err)
		return
	}
	w.Header().Set("Content-Type", "image/svg+xml")
	w.Header().Set("Cache-Control", "no-store")
	w.Write(b.Bytes()) // the phone may be gone; nobody is left to be told
}

// drawReckoning is nil where there is nothing to draw.
func (s *server) drawReckoning(name string, pairs []reckon.Pair, width int) chart.Drawing {
	switch name {
	case "cure-time":
		if p, ok := reckon.CureProfile(pairs); ok {
			return drawnProfile(p, width)
		}
	case "chill":
		if c, ok := reckon.ChillCourse(pairs); ok {
			return s.drawnCourse(c, width)
		}
	}
	return nil
}

func drawnProfile(p reckon.Profile, width int) chart.Drawing {
	out := chart.Profile{Title: must("reckon.profile"), ThicknessMM: p.ThicknessMM, FirstFace: must("reckon.face"), LastFace: must("reckon.other.face"), Through: p.Through, Width: width}
	if p.SkinOn {
		out.FirstFace, out.LastFace = must("reckon.skin"), must("reckon.flesh")
	}
	for _, c := range p.Curves {
		days, deepest := fmt.Sprintf("%.3g", c.Days), 100*slices.Min(c.Mid)
		name := must("reckon.after", days, deepest)
		if c.Finish {
			name = must("reckon.finish", days, deepest)
		}
		out.Curves = append(out.Curves, chart.Curve{Name: name, Mid: c.Mid, Low: c.Low, High: c.High})
	}
	return out
}

// drawnCourse draws a chill as if it began now: by the clock on the wall people see when
// it has to be down.
func (s *server) drawnCourse(c reckon.Course, width int) chart.Drawing {
	now := s.Clock.Now().UTC().Truncate(time.Minute)
	at := func(h float64) time.Time { return now.Add(time.Duration(h * float64(time.Hour))) }
	out := chart.Chill{Title: must("reckon.course"), Scale: s.Site.Scale(), Now: now, Open: true, Width: width}
	line := new(series.Series)
	for i, h := range c.Hours {
		line.Add(at(h), c.CoreC[i])
	}
	last := at(c.Hours[len(c.Hours)-1])
	out.Cores = []chart.Line{{Placement: process.Core, Piece: must("reckon.core"), Interval: last.Sub(now), From: now, To: last, Readings: line}}
	for i, l := range c.Legs {
		leg := chart.Leg{Name: must("reckon.leg", i+1), FromC: l.FromC, ToC: l.ToC, AtOnce: l.AtOnce, Start: at(l.Start), Limit: at(l.Limit)}
		if !math.IsInf(l.End, 0) {
			leg.End = at(l.End)
		}
		out.Legs = append(out.Legs, leg)
	}
	if !math.IsInf(c.At, 0) && !math.IsInf(c.Late, 0) {
		out.Forecast = &chart.LegForecast{C: c.ToC, At: at(c.At), Low: at(c.Early), High: at(c.Late)}
	}
	return out
}
