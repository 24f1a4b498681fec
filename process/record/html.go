package record

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"time"

	"flitch/process"
)

//go:embed record.html
var page string

//go:embed record.css
var css string

var sheetOf = template.Must(template.New("record").Funcs(template.FuncMap{
	"verdict":  Verdict,
	"estimate": Estimate,
	"sum":      Sum,
	"span":     Span,
	"percent":  Percent,
}).Parse(page))

// HTML writes one page that needs nothing from outside: the words, the chart and
// the way they are printed on A4 are all in it.
func (r *Record) HTML(w io.Writer) error {
	known, err := r.study()
	if err != nil {
		return fmt.Errorf("record %s: %w", r.Head.Batch, err)
	}
	var picture, forms bytes.Buffer
	if err := r.Temperatures(View{}, known.lines).SVG(&picture); err != nil {
		return err
	}
	for _, part := range logs {
		for _, f := range part(known) {
			if err := paperOf.ExecuteTemplate(&forms, "form", f); err != nil {
				return fmt.Errorf("record %s: write HTML: %w", r.Head.Batch, err)
			}
		}
	}
	err = sheetOf.Execute(w, sheetData{
		Record:      known.Record,
		Style:       template.CSS(css + formsCSS),
		Picture:     template.HTML(picture.Bytes()), // ours: every text in it was escaped when drawn
		Forms:       template.HTML(forms.Bytes()),
		Fingerprint: known.fingerprint,
		Always:      r.cautions(),
	})
	if err != nil {
		return fmt.Errorf("record %s: write HTML: %w", r.Head.Batch, err)
	}
	return nil
}

type sheetData struct {
	*Record
	Style       template.CSS
	Picture     template.HTML
	Forms       template.HTML
	Fingerprint string
	Always      []string
}

func (d sheetData) Stamp(t time.Time) string { return d.Site.Stamp(t) }

// Typed says when an entry was typed, if that was not when it happened.
func (d sheetData) Typed(happened, typed time.Time) string {
	return typedLater(d.Site, happened, typed)
}

// Reading writes what was read by hand; other entries have no number.
func (d sheetData) Reading(e Entry) string {
	if e.Kind != process.CommandReading && e.Kind != process.CommandWeighed {
		return ""
	}
	return d.Site.Value(e.Placement, e.Value)
}

// StruckOut says in words that an entry was struck out.
func (d sheetData) StruckOut(s *Strike) string { return s.Words(d.Stamp) }

// InPlaceOf says what an entry stands in the place of, or nothing.
func (d sheetData) InPlaceOf(e Entry) string {
	for _, old := range d.Entries {
		if old.Struck != nil && old.Struck.Instead && old.Struck.ID == e.ID {
			return "stands in the place of the line typed " + d.Stamp(old.Typed)
		}
	}
	return ""
}

// AlarmValue writes a number of an alarm in its own unit.
func (d sheetData) AlarmValue(a Alarm, v float64) string { return d.Site.Quantity(v, a.Unit) }
