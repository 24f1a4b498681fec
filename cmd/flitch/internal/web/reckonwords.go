package web

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"flitch/cmd/flitch/internal/reckon"
	"flitch/process/record"
)

// A reckonAnswer is an answer in words. What each number rests on is a line of Basis.
type reckonAnswer struct {
	Lines       []reckonLine
	Basis       []string
	Uncertainty string
	Taken       []string // what nobody typed
	Marks       []string // from memory, assumptions, common practice
	Notes       []string
}

// A reckonLine is one number or one word.
type reckonLine struct {
	What, Says string
	Hint       string // what to look at
	Verdict    bool   // it is met, not met, not measured or held
	Basis      int    // which line of Basis it rests on, from 1
}

// verdicts are all that there are.
var verdicts = []string{"met", "not met", "not measured", "held"}

// reckonAnswer puts an answer into words. Cautions are said once, above the form.
func (s *server) reckonAnswer(a reckon.Answer, cautions []string) *reckonAnswer {
	out := &reckonAnswer{Uncertainty: s.textInDegrees(a.Uncertainty)}
	for _, r := range a.Results {
		rule, source := r.Rule, r.Source
		if rule == "" && source == "" {
			rule, source = a.Model, a.Source
		}
		if rule == "" {
			rule = must("reckon.no.rule")
		}
		basis := s.textInDegrees(must("reckon.basis", rule, source))
		at := slices.Index(out.Basis, basis)
		if at < 0 {
			out.Basis = append(out.Basis, basis)
			at = len(out.Basis) - 1
		}
		out.Lines = append(out.Lines, reckonLine{What: s.textInDegrees(r.Name), Says: s.resultWords(r), Hint: r.Hint, Verdict: slices.Contains(verdicts, r.Text), Basis: at + 1})
	}
	for _, t := range a.Taken {
		out.Taken = append(out.Taken, s.textInDegrees(must("reckon.taken.line", t.Key, t.Value, t.Basis)))
	}
	for _, m := range a.Marks {
		out.Marks = append(out.Marks, s.textInDegrees(m))
	}
	for _, n := range a.Notes {
		beside := func(r reckon.Result) bool { return r.Hint != "" && strings.Contains(n, r.Hint) }
		if !slices.Contains(cautions, n) && !slices.ContainsFunc(a.Results, beside) {
			out.Notes = append(out.Notes, s.textInDegrees(n))
		}
	}
	return out
}

// resultWords is a number as people read it.
func (s *server) resultWords(r reckon.Result) string {
	if r.Value == nil {
		return s.textInDegrees(r.Text)
	}
	v := *r.Value
	switch unit, of, _ := strings.Cut(r.Unit, " "); {
	case r.Unit == "°C":
		return s.Site.Temp(v)
	case r.Unit == "K":
		return s.difference(v)
	case unit == "of": // equilibrium, ingoing, green weight
		return fmt.Sprintf("%.3g %% of %s", 100*v, of)
	case r.Unit == "d":
		return fmt.Sprintf("%.3g d", v)
	case r.Unit == "min" && v >= 120:
		return fmt.Sprintf("%s (%.4g min)", record.Span(time.Duration(v*float64(time.Minute))), v)
	}
	return strings.TrimSpace(fmt.Sprintf("%.4g %s", v, r.Unit))
}

var (
	celsius = regexp.MustCompile(`(-?\d+(?:\.\d+)?)( to | and | or )?(-?\d+(?:\.\d+)?)? °C`)
	both    = regexp.MustCompile(`(-?\d+(?:\.\d+)?) °C \((-?\d+(?:\.\d+)? °F)\)`)
)

// degreed is a rule of a plan in the degrees of this browser; one that names °F itself is
// left as its author wrote it.
func (s *server) degreed(rule string) string {
	if strings.Contains(rule, "°F") {
		return rule
	}
	return s.textInDegrees(rule)
}

// textInDegrees turns the temperatures of a text, which the models write in °C, into the
// degrees of this browser. Where both stand there, it is left as it is.
func (s *server) textInDegrees(text string) string {
	if !s.Site.Fahrenheit || both.MatchString(text) {
		return text
	}
	turn := func(number string) string {
		c, err := strconv.ParseFloat(number, 64)
		if err != nil {
			return number
		}
		return strconv.FormatFloat(math.Round(s.Site.Degrees(c)*10)/10, 'f', -1, 64)
	}
	return celsius.ReplaceAllStringFunc(text, func(found string) string {
		parts := celsius.FindStringSubmatch(found)
		if parts[2] == "" {
			return turn(parts[1]+parts[3]) + " °F"
		}
		return turn(parts[1]) + parts[2] + turn(parts[3]) + " °F"
	})
}
