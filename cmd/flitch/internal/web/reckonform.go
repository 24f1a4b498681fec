package web

import (
	"fmt"
	"net/url"
	"slices"
	"strings"

	"flitch/cmd/flitch/internal/quantity"
	"flitch/cmd/flitch/internal/reckon"
)

// A reckonField is one key of a calculator as a field of its form.
type reckonField struct {
	Key     string
	Label   string
	Value   string // as it was typed
	Example string
	Without string   // what happens when it stays empty
	Choices []string // nil: it is typed
	Needed  bool
	Wrong   string
}

// reckonForm makes the fields, with what was typed and what is wrong with it.
func (s *server) reckonForm(out *reckonPage, typed url.Values, wrong map[string]*quantity.Complaint) {
	first := out.Calculator.KeyNames()
	for _, m := range mainCalculators {
		if m.name == out.Calculator.Name {
			first = m.first
		}
	}
	for _, k := range out.Calculator.Keys {
		f := s.reckonField(out.Calculator.Name, k, strings.TrimSpace(typed.Get(k.Name)))
		if c := wrong[k.Name]; c != nil {
			f.Wrong = c.What + ". " + must("reckon.try", strings.TrimPrefix(c.Try, k.Name+"="))
		}
		if slices.Contains(first, k.Name) {
			out.Fields = append(out.Fields, f)
			continue
		}
		out.More = append(out.More, f)
		out.MoreOpen = out.MoreOpen || f.Value != "" || f.Wrong != ""
	}
	slices.SortStableFunc(out.Fields, func(a, b reckonField) int { return slices.Index(first, a.Key) - slices.Index(first, b.Key) })
}

func (s *server) reckonField(calculator string, k reckon.Key, value string) reckonField {
	f := reckonField{Key: k.Name, Value: value, Needed: k.Needed, Choices: k.Read.Choices, Example: s.inOurDegrees(k, k.Read.Example)}
	f.Label = strings.ToUpper(k.Help[:1]) + k.Help[1:]
	if own, ok := texts["reckon.label."+calculator+"."+k.Name]; ok {
		f.Label = own
	}
	if sample, err := text("reckon.sample." + calculator + "." + k.Name); err == nil {
		f.Example = sample
	}
	switch k.Read.Degrees {
	case reckon.Temperature:
		f.Label += ", " + s.Site.Degree()
	case reckon.Difference:
		f.Label += ", " + map[bool]string{true: "°F", false: "K"}[s.Site.Fahrenheit]
	}
	if k.Taken != "" {
		f.Without = must("reckon.without", s.inOurDegrees(k, k.Taken), s.textInDegrees(k.Basis))
	}
	return f
}

// inOurDegrees is a value that stands for an example, in the degrees of this browser.
func (s *server) inOurDegrees(k reckon.Key, text string) string {
	switch k.Read.Degrees {
	case reckon.Temperature:
		if c, err := quantity.ExactTemperature(text); err == nil && s.Site.Fahrenheit {
			return fmt.Sprintf("%.4gF", s.Site.Degrees(c))
		}
	case reckon.Difference:
		if kelvin, err := quantity.Difference(text); err == nil && s.Site.Fahrenheit {
			return fmt.Sprintf("%.2gF", kelvin*1.8)
		}
	}
	return text
}
