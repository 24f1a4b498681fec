package scenario

import (
	"fmt"
	"strconv"
	"strings"
)

// Format writes the scenario as Parse reads it, each thing in its one form.
func Format(s *Scenario) string {
	var b strings.Builder
	for _, c := range s.Comments {
		b.WriteString(Comment(c).text(s.clock()) + "\n")
	}
	if len(s.Comments) > 0 {
		b.WriteByte('\n')
	}
	s.formatHead(&b)
	last := ""
	for _, l := range s.Lines {
		kind := "happened"
		switch l.Item.(type) {
		case Expectation:
			kind = "expected"
		case Comment:
			kind = last // stays with what is above it; the first line is none
		}
		if kind != last {
			b.WriteByte('\n')
		}
		last = kind
		b.WriteString(l.Item.text(s.clock()) + "\n")
	}
	return b.String()
}

func (s *Scenario) formatHead(b *strings.Builder) {
	line := func(key, text, unless string) {
		if text != unless {
			fmt.Fprintf(b, "%s %s\n", key, text)
		}
	}
	if s.Title != "" {
		line("scenario", strconv.Quote(s.Title), "")
	}
	line("batch", quoteIf(s.Batch), defaultBatch)
	line("by", quoteIf(s.By), defaultBy)
	line("begins", s.Begins.Format("2006-01-02T15:04:05Z07:00"), "")
	if s.Zone != "" {
		line("zone", path(s.Zone), "")
	}
	line("seed", strconv.FormatUint(s.Seed, 10), strconv.Itoa(defaultSeed))
	line("plan", path(s.Plan), "")
	line("fuel", s.Fuel, defaultFuel)
	for _, q := range s.Persons {
		b.WriteString(q.text() + "\n")
	}
	for _, p := range s.Pieces {
		skin := ""
		if p.SkinOn {
			skin = " skin"
		}
		fmt.Fprintf(b, "piece %s %sg %smm%s\n", p.Name, number(p.GreenG), number(p.ThicknessMM), skin)
	}
	for _, p := range s.Places {
		fmt.Fprintf(b, "%s %s\n", p.Kind, p.Name)
	}
	for _, p := range s.Probes {
		piece, uncertainty := "", ""
		if p.Piece != "" {
			piece = " piece " + p.Piece
		}
		if p.Uncertainty != defaultUncertainty {
			uncertainty = " uncertainty " + number(p.Uncertainty) + "C"
		}
		fmt.Fprintf(b, "probe %s %s in %s%s every %s%s\n", p.Probe, p.Placement, p.Place, piece, spanText(p.Interval), uncertainty)
	}
}

// path writes a name that may hold slashes.
func path(text string) string {
	if isPlain(strings.ReplaceAll(text, "/", "")) && !strings.HasPrefix(text, "#") {
		return text
	}
	return strconv.Quote(text)
}
