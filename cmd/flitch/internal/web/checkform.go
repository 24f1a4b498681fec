package web

import (
	"net/url"
	"strings"
	"time"

	"flitch/cmd/flitch/internal/plain"
	"flitch/process"
	"flitch/process/heat"
)

// A checkForm is the form of a check as it was typed, and what is wrong with each field.
type checkForm struct {
	Ice, Boiling, Pressure, Altitude, Reads, Against string
	Text, When                                       string
	Correct, Replaced, AsSent                        bool

	Wrong map[string]string // by name of the field
}

func typedCheck(f url.Values) checkForm {
	get := func(name string) string { return strings.TrimSpace(f.Get(name)) }
	return checkForm{Ice: get("ice"), Boiling: get("boiling"), Pressure: get("pressure"), Altitude: get("altitude"), Reads: get("reads"), Against: get("against"),
		Text: get("text"), When: get("when"), Correct: get("correct") != "", Replaced: get("replaced") != "", AsSent: get("as_sent") != "", Wrong: map[string]string{}}
}

// command makes a command of the form. What is wrong is noted beside its field.
func (s *server) checkCommand(probe, id, by string, f checkForm) process.Command {
	c, err := s.command(entry{ID: id, By: by})
	if err != nil {
		f.Wrong["by"] = err.Error()
	}
	if c.At, err = s.when(f.When, c.At); err != nil {
		f.Wrong["when"] = err.Error()
	}
	c.Text = f.Text
	points := s.points(&c, f)
	if len(points) == 0 && len(f.Wrong) == 0 {
		f.Wrong["ice"] = must("err.check.empty")
	}
	if len(points) > 0 {
		first := points[0]
		c.Check = &process.CheckSaid{Probe: probe, Method: first.Method, ReadC: first.ReadC, TrueC: first.TrueC, PressurePa: first.PressurePa,
			Further: points[1:], Correct: f.Correct, Replaced: f.Replaced, AsSent: f.AsSent}
	}
	s.identify(&c, process.CommandChecked, "-"+probe)
	return c
}

// when is the moment a person chose, by the clock of the house; empty is now.
func (s *server) when(text string, now time.Time) (time.Time, error) {
	if text == "" {
		return now, nil
	}
	at, err := time.ParseInLocation("2006-01-02T15:04", text, s.Site.Local(now).Location())
	if err != nil {
		return now, complaint(must("err.when", text))
	}
	return at.UTC(), nil
}

// points are what was read, in the order ice, boiling water, thermometer.
func (s *server) points(c *process.Command, f checkForm) (list []process.CheckPoint) {
	if f.Ice != "" {
		list = append(list, process.CheckPoint{Method: process.CheckIce, ReadC: s.degrees(f, "ice", f.Ice)})
	}
	switch {
	case f.Boiling != "":
		p := process.CheckPoint{Method: process.CheckBoiling, ReadC: s.degrees(f, "boiling", f.Boiling), PressurePa: air(c, f)}
		p.TrueC, _ = heat.BoilingPoint(p.PressurePa)
		list = append(list, p)
	case f.Pressure != "" || f.Altitude != "":
		f.Wrong["boiling"] = must("err.check.boiling")
	}
	switch {
	case f.Reads != "" && f.Against != "":
		list = append(list, process.CheckPoint{Method: process.CheckCompare, ReadC: s.degrees(f, "reads", f.Reads), TrueC: s.degrees(f, "against", f.Against)})
	case f.Reads != "":
		f.Wrong["against"] = must("err.check.against")
	case f.Against != "":
		f.Wrong["reads"] = must("err.check.reads")
	}
	return list
}

// degrees reads a temperature in the unit of the house, as °C.
func (s *server) degrees(f checkForm, field, text string) float64 {
	v, ok := decimal(text)
	if !ok || v < -273 || v > 1000 {
		f.Wrong[field] = must("err.value", text)
	}
	return s.Site.FromDegrees(v)
}

// decimal reads a number with a point or a comma before its decimals.
func decimal(text string) (float64, bool) { return plain.Number(strings.Replace(text, ",", ".", 1)) }

// air is the pressure where the water boiled, Pa. One by the altitude is noted as such:
// it knows nothing of the weather.
func air(c *process.Command, f checkForm) (pa float64) {
	switch {
	case f.Pressure != "" && f.Altitude != "":
		f.Wrong["altitude"] = must("err.check.both")
	case f.Pressure != "":
		hPa, ok := decimal(f.Pressure)
		if !ok || hPa < 500 || hPa > 1100 {
			f.Wrong["pressure"] = must("err.check.pressure", f.Pressure)
		}
		return hPa * 100
	case f.Altitude == "":
		f.Wrong["pressure"] = must("err.check.air")
	default:
		metres, ok := decimal(f.Altitude)
		pa, known := heat.PressureAt(metres)
		if !ok || !known || metres < -500 || metres > 5000 {
			f.Wrong["altitude"] = must("err.check.altitude", f.Altitude)
			return 0
		}
		c.Text = strings.TrimSuffix("pressure of standard air at "+f.Altitude+" m; "+c.Text, "; ")
		return pa
	}
	return 0
}
