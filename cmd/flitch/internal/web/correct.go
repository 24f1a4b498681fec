package web

import (
	"errors"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"flitch/cmd/flitch/internal/plain"
	"flitch/process"
	"flitch/process/record"
)

// layout of the browser's own field for a day and a time.
const localLayout = "2006-01-02T15:04"

// A correction is the form that corrects an entry, as it was typed.
type correction struct {
	When, Where, Value, Text, Why string
	Chosen                        []string // slabs that were turned
	Strike                        bool
	Wrong                         map[string]string // by name of the field
}

// Has reports whether a slab is chosen.
func (f correction) Has(piece string) bool { return slices.Contains(f.Chosen, piece) }

// Places are what is measured by hand beside cores. One that was typed elsewhere stays.
func (f correction) Places() []string {
	all := []string{string(process.Chamber), string(process.Product), string(process.Air), string(process.WetBulb), string(process.Ambient)}
	if !strings.Contains(f.Where, ":") && !slices.Contains(all, f.Where) {
		all = append(all, f.Where)
	}
	return all
}

// An entryPage is a page about one entry.
type entryPage struct {
	page
	Batch   string
	Entry   record.Entry
	Pieces  []string
	Correct correction
	Mark    string // before the names of the fields of the second form
}

// Again is the page for its second form, whose fields have other names.
func (p entryPage) Again() entryPage {
	p.Mark = "strike-"
	if !p.Correct.Strike {
		p.Correct.Wrong, p.Correct.Why = nil, ""
	}
	return p
}

// A fieldState is what is wrong with a field.
type fieldState struct{ ID, Wrong string }

func fieldIn(f correction, name string) fieldState { return fieldOf(f, "", name) }

func fieldOf(f correction, mark, name string) fieldState {
	if (mark == "") == f.Strike && f.Strike {
		return fieldState{ID: mark + name} // the other form was refused
	}
	return fieldState{mark + name, f.Wrong[name]}
}

// entryAt finds the entry of the address.
func (s *server) entryAt(w http.ResponseWriter, r *http.Request) (p entryPage, ok bool) {
	p = entryPage{page: s.page(r), Batch: r.PathValue("id")}
	list, err := s.Reader.Entries(r.Context(), p.Batch)
	if err != nil {
		s.entriesFailed(w, r, p.Batch, err)
		return p, false
	}
	g, open, err := s.find(r, p.Batch)
	if err != nil {
		s.broken(w, "read batch "+p.Batch, err)
		return p, false
	}
	i := slices.IndexFunc(list, func(e record.Entry) bool { return e.ID == r.PathValue("entry") })
	if i < 0 || !open {
		p.page.Wrong = must("entry.gone", p.Batch)
		s.showList(w, r, http.StatusNotFound, p.page)
		return p, false
	}
	p.Entry, p.Pieces = list[i], g.Pieces
	return p, true
}

func (s *server) showEntry(w http.ResponseWriter, r *http.Request) {
	p, ok := s.entryAt(w, r)
	if !ok {
		return
	}
	p.Correct = s.corrected(p.Entry)
	s.show(w, http.StatusOK, "entry.html", p)
}

// corrected is the form as it opens: with what was entered.
func (s *server) corrected(e record.Entry) correction {
	f := correction{When: s.Site.Local(e.Happened).Format(localLayout), Text: e.Text, Chosen: e.Pieces, Where: e.Piece}
	switch {
	case e.Kind == process.CommandStage:
		f.Text = e.Why
	case e.Kind == process.CommandReading && e.Placement == process.Core:
		f.Where = "core:" + e.Piece
	case e.Kind == process.CommandReading:
		f.Where = string(e.Placement)
	}
	switch {
	case e.Kind == process.CommandReading && e.Placement.IsTemperature():
		f.Value = s.Site.Bare(e.Value)
	case e.Kind == process.CommandReading || e.Kind == process.CommandWeighed || e.Kind == process.CommandCounted:
		f.Value = number(e.Value)
	}
	return f
}

func typedCorrection(f url.Values) correction {
	get := func(name string) string { return strings.TrimSpace(f.Get(name)) }
	return correction{When: get("when"), Where: get("where"), Value: get("value"), Text: get("text"), Why: get("why"), Chosen: f["piece"],
		Strike: get("strike") != "", Wrong: map[string]string{}}
}

// correct strikes an entry out, or puts another in its place.
func (s *server) correct(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	if err := r.ParseForm(); err != nil {
		s.refuse(w, r, entry{}, complaint(must("err.form")))
		return
	}
	p, ok := s.entryAt(w, r)
	if !ok {
		return
	}
	e := typed(r.PostForm)
	p.Correct, p.Form.By = typedCorrection(r.PostForm), e.By
	c := s.correction(p, e)
	if len(p.Correct.Wrong) > 0 {
		s.show(w, http.StatusUnprocessableEntity, "entry.html", p)
		return
	}
	was, err := s.do(r, c)
	if err != nil {
		status := s.wrong(&p.page, "correct an entry of batch "+p.Batch, err)
		s.show(w, status, "entry.html", p)
		return
	}
	remember(w, c.By)
	http.Redirect(w, r, doneAt(batchPath(p.Batch)+"?done", c, was), http.StatusSeeOther)
}

// do has a command done. was is not nil when somebody said the same before.
func (s *server) do(r *http.Request, c process.Command) (was *process.Entered, err error) {
	err = s.Commander.Do(r.Context(), c)
	if no, ok := errors.AsType[*process.Refusal](err); ok && no.Already != nil {
		return no.Already, nil
	}
	return nil, err
}

// correction makes a command of the form; what is wrong is noted beside its field.
func (s *server) correction(p entryPage, e entry) process.Command {
	f, old := p.Correct, p.Entry
	c, err := s.command(entry{ID: e.ID, By: e.By, Batch: p.Batch})
	if err != nil {
		f.Wrong["by"] = err.Error()
	}
	c.Strikes, c.Why = old.ID, f.Why
	if f.Why == "" && c.Typed.Sub(old.Typed) > process.StrikeFreely {
		f.Wrong["why"] = must("err.entry.why")
	}
	if f.Strike {
		s.identify(&c, process.CommandStruck, "")
		return c
	}
	if at := s.Site.Local(old.Happened); f.When == at.Format(localLayout) {
		c.At = old.Happened // the minute was not touched, so the seconds stay
	} else if c.At, err = s.when(f.When, c.At); err != nil {
		f.Wrong["when"] = err.Error()
	}
	c.Text, c.Placement = f.Text, old.Placement
	s.correctedBy(&c, f, old)
	s.identify(&c, old.Kind, "-instead")
	return c
}

func (s *server) correctedBy(c *process.Command, f correction, old record.Entry) {
	switch old.Kind {
	case process.CommandStage:
		c.Stage = process.StageName(old.Text)
	case process.CommandTurned:
		c.Pieces, c.Text = f.Chosen, ""
	case process.CommandNote:
		if f.Text == "" {
			f.Wrong["text"] = must("err.note")
		}
	case process.CommandCounted:
		n, ok := plain.Number(f.Value)
		if !ok || n < 0 || n != math.Trunc(n) {
			f.Wrong["value"] = must("err.count", f.Value)
		}
		c.Value, c.Text = n, ""
	case process.CommandWeighed:
		grams, ok := decimal(f.Value)
		if !ok || grams <= 0 {
			f.Wrong["value"] = must("err.grams", f.Value)
		}
		c.Value, c.Placement = grams, ""
		if f.Where != "" {
			c.Pieces = []string{f.Where}
		}
	case process.CommandReading:
		s.readingCorrected(c, f, old)
	}
}

func (s *server) readingCorrected(c *process.Command, f correction, old record.Entry) {
	v, ok := decimal(f.Value)
	if old.Placement == process.PH {
		if !ok {
			f.Wrong["value"] = must("err.ph", f.Value)
		}
		c.Value = v
		if old.Piece != "" {
			c.Pieces = []string{old.Piece}
		}
		return
	}
	if !ok || v < -273 || v > 1000 {
		f.Wrong["value"] = must("err.value", f.Value)
	}
	c.Value = s.Site.FromDegrees(v)
	if f.Value == s.Site.Bare(old.Value) {
		c.Value = old.Value // not touched: no rounding of what was typed
	}
	placement, piece, _ := strings.Cut(f.Where, ":")
	c.Placement, c.Pieces = process.Placement(placement), nil
	if !c.Placement.IsTemperature() {
		f.Wrong["where"] = must("err.where")
	}
	if piece != "" {
		c.Pieces = []string{piece}
	}
}
