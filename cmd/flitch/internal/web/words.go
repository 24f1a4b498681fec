package web

import (
	"fmt"
	"html/template"
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"

	"flitch/ingest/decode"
	"flitch/process"
	"flitch/process/record"
)

// words are the functions the templates use.
func (s *server) words() template.FuncMap {
	return template.FuncMap{
		"t":        text,
		"temp":     s.Site.Temp,
		"bare":     s.Site.Bare,
		"rate":     s.Site.Rate,
		"degree":   s.Site.Degree,
		"short":    s.short,
		"stamp":    s.Site.Stamp,
		"day":      func(at time.Time) string { return s.Site.Local(at).Format("Mon 2 Jan 2006") },
		"arrow":    arrow,
		"verdict":  record.Verdict,
		"sum":      record.Sum,
		"percent":  record.Percent,
		"amount":   record.Amount,
		"share":    share,
		"alarmed":  func(a Alarm, v float64) string { return s.Site.Quantity(v, a.Unit) },
		"temper":   func() func(float64) string { return s.Site.Temp },
		"leftout":  s.Site.LeftOut,
		"shelved":  s.shelved,
		"told":     s.told,
		"nearest":  nearest,
		"first":    first,
		"span":     func(from, to time.Time) string { return record.Span(to.Sub(from)) },
		"lasting":  record.Span,
		"units":    unitsOf,
		"measure":  measureOf,
		"seconds":  func(s float64) time.Duration { return time.Duration(s * float64(time.Second)) },
		"before":   time.Time.Before,
		"millis":   time.Time.UnixMilli,
		"checked":  func(k process.ProbeCheck) string { return k.WordsIn(s.Site.Temp, s.difference) },
		"kelvin":   s.difference,
		"asksSame": func(g Glance) bool { return g.Next != nil && g.Next.What == g.Stage.Prompt },

		"differences": s.differences,
		"comeup":      comeUp,
		"turning":     func(g Glance) bool { return g.Stage.Name == process.StageCure },
		"waiting":     waiting,
		"curing":      cureOf,
		"cureday":     cureDay,
		"moment":      s.moment,
		"reading":     s.readingWords,
		"apart":       s.apart,
		"left":        left,
		"rule":        s.rule,
		"over":        above,
		"minutes":     minutes,
		"less":        func(a, b float64) float64 { return a - b },
		"reckoned":    reckonTitle,
		"toReview":    toReview,
		"number1":     func(i int) int { return i + 1 },
		"asOf":        func(p Probe, now time.Time) probeNow { return probeNow{p, now} },
		"age":         func(n Number, now time.Time) aged { return aged{n, now} },
		"kind":        kindOf,
		"reads":       s.reads,
		"seen":        func(p PlaceProbe, now time.Time) placeNow { return placeNow{p, now} },
		"beside":      func(field string, all map[string]string) besideField { return besideField{field, all[field]} },
		"whoOf":       func(p page, path string) whoOf { return whoOf{p, p.Marks.In(path, "by")} },
	}
}

// short leaves the day out when it is today, by the clock of the batches.
func (s *server) short(at time.Time) string {
	today, day := s.Site.Local(s.Clock.Now()), s.Site.Local(at)
	if today.Year() == day.Year() && today.YearDay() == day.YearDay() {
		return day.Format("15:04 MST")
	}
	return s.Site.Short(at)
}

// shelved says what hides an alarm from people, or nothing.
func (s *server) shelved(a Alarm) string {
	if a.Shelf == nil {
		return ""
	}
	return must("shelved", a.Shelf.Words(s.short))
}

// told says whom an alarm went to, and who was reached.
func (s *server) told(a Alarm) string { return a.ToldWords(s.short) }

// aged is a number together with the moment from which its age counts.
type aged struct {
	Number
	Now time.Time
}

// difference is K in the unit of the house.
func (s *server) difference(k float64) string {
	if s.Site.Fahrenheit {
		return fmt.Sprintf("%.1f °F", k*1.8)
	}
	return fmt.Sprintf("%.1f K", k)
}

var kelvins = regexp.MustCompile(`(\d+(?:\.\d+)?) K\b`)

// differences turns the K of a text, which the core writes, into the unit of this browser.
func (s *server) differences(text string) string {
	if !s.Site.Fahrenheit {
		return text
	}
	return kelvins.ReplaceAllStringFunc(text, func(found string) string {
		k, err := strconv.ParseFloat(strings.TrimSuffix(found, " K"), 64)
		if err != nil {
			return found
		}
		return s.difference(k)
	})
}

// probeNow is a probe together with the moment it is looked at.
type probeNow struct {
	Probe
	Now time.Time
}

// besideField is what is wrong with one field of a form; an empty text: nothing.
type besideField struct{ Field, Text string }

// placeNow is the same of a probe of a place.
type placeNow struct {
	PlaceProbe
	Now time.Time
}

// arrow shows the direction of a rate in K per hour. Half a degree an hour
// counts as level. (proposal)
func arrow(rate float64) string {
	switch {
	case rate >= 0.5:
		return "↑"
	case rate <= -0.5:
		return "↓"
	}
	return "→"
}

// nearest is nil when no clock runs.
func nearest(g Glance) *process.Clock {
	if c, ok := g.Nearest(); ok {
		return &c
	}
	return nil
}

// first is nil when no alarm is open.
func first(alarms []Alarm) *Alarm {
	if len(alarms) == 0 {
		return nil
	}
	return &alarms[0]
}

// comeUp is the running come-up clock, or nil.
func comeUp(g Glance) *process.Clock {
	for i := range g.Clocks {
		if c := &g.Clocks[i]; c.Name == process.ClockComeUp && c.Running {
			return c
		}
	}
	return nil
}

// waiting is the loudest alarm that nobody has, or nil.
func waiting(alarms []Alarm) *Alarm {
	for i := range alarms {
		if alarms[i].AcknowledgedAt.IsZero() {
			return &alarms[i]
		}
	}
	return nil
}

// cureDay is "day 4 of 6": the days that were warm enough to count, as the clock has them.
func cureDay(c process.Clock) string {
	if c.Sum >= c.Limit {
		return must("home.day.over", record.Sum(c))
	}
	return must("home.day", int(c.Sum)+1, c.Limit)
}

// share is how much of its limit a clock has used, 0 to 100.
func share(c process.Clock) int {
	if c.Limit <= 0 {
		return 0
	}
	return int(math.Min(math.Max(c.Sum/c.Limit*100, 0), 100))
}

// A read is what a value is in one unit.
type read struct{ Unit, Text string }

// unitsOf shows what a number would be in each unit, so that a person sees which is
// meant.
func unitsOf(f decode.Found) []read {
	if f.Kind == decode.FoundNothing {
		return []read{{string(decode.Celsius), "°C"}, {string(decode.Fahrenheit), "°F"}, {string(decode.Kelvin), "K"}}
	}
	inC := func(u decode.Unit, sign string) read {
		return read{string(u), fmt.Sprintf("%s: %.4g %s is %.1f °C", sign, f.Number, sign, u.ToCelsius(f.Number))}
	}
	return []read{{string(decode.Celsius), fmt.Sprintf("°C: %.4g °C", f.Number)}, inC(decode.Fahrenheit, "°F"), inC(decode.Kelvin, "K")}
}

// measureOf says what a probe of a placement measures.
func measureOf(p process.Placement) string {
	switch p {
	case process.Core:
		return must("measures.core")
	case process.Chamber:
		return must("measures.chamber")
	case process.Product:
		return must("measures.product")
	case process.Air:
		return must("measures.air")
	case process.WetBulb:
		return must("measures.wet")
	case process.Humidity:
		return must("measures.humidity")
	case process.Weight:
		return must("measures.weight")
	case process.Door:
		return must("measures.door")
	case process.Power:
		return must("measures.power")
	case process.Ambient:
		return must("measures.ambient")
	}
	return string(p)
}
