package web

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	"flitch/cmd/flitch/internal/dosing"
	"flitch/cmd/flitch/internal/plain"
	"flitch/cmd/flitch/internal/quantity"
	"flitch/process"
)

// Doses are the cure of the slabs, while the batch lies in it.
type Doses struct {
	Entries []process.DoseEntry `json:"entries"`           // in force, in the order of the slabs
	Missing []string            `json:"missing,omitempty"` // slabs without one
}

// A dosePage is what the page of the doses is given beside what all pages are.
type dosePage struct {
	page
	Work Work
	Dose doseForm
}

// A doseForm is the form of all doses of a batch as it was typed.
type doseForm struct {
	Cure                            []string // of each lot
	PPM, Nitrite, Nitrate           string
	Rule, Method                    string
	Brine, Pickle, Pump, Text, When string

	Wrong map[string]string
}

// Asks reports a dose of which packet, rule and what is asked are still to be said.
func (p dosePage) Asks() bool { return p.Work.Said.Nitrite == 0 || p.Work.Said.Rule == "" }

// Corrects reports that a dose is there already, so that another needs a reason.
func (p dosePage) Corrects() bool { return len(p.Work.Doses) > 0 }

// Open reports a dose that fails its checks: the next stage is then refused.
func (p dosePage) Open() bool {
	return slices.ContainsFunc(p.Work.Doses, func(e process.DoseEntry) bool { return e.Answer() != process.Met })
}

// Curing reports a batch whose doses can still be weighed.
func (p dosePage) Curing() bool { return p.Work.Open && p.Work.Stage == process.StageCure }

func (s *server) doseRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /batches/{id}/doses", func(w http.ResponseWriter, r *http.Request) {
		p := dosePage{page: s.page(r)}
		p.Form.ID = s.NewID()
		s.showDoses(w, r, http.StatusOK, p)
	})
	mux.HandleFunc("POST /batches/{id}/doses", s.dosed)
}

func (s *server) showDoses(w http.ResponseWriter, r *http.Request, status int, p dosePage) {
	var ok bool
	if p.Work, ok = s.work(w, r); ok {
		for len(p.Dose.Cure) < len(p.Work.Lots) {
			p.Dose.Cure = append(p.Dose.Cure, "")
		}
		s.show(w, status, "doses.html", p)
	}
}

// work reads how the pieces of the batch of a request stand; without one it answers.
func (s *server) work(w http.ResponseWriter, r *http.Request) (Work, bool) {
	work, err := s.Batches.Work(r.Context(), r.PathValue("id"))
	if err != nil {
		p := s.page(r)
		status := s.wrong(&p, "read batch "+r.PathValue("id"), err)
		if status == http.StatusUnprocessableEntity {
			status = http.StatusNotFound
		}
		s.showList(w, r, status, p)
		return work, false
	}
	return work, true
}

// dosed takes the doses of all slabs in one command.
func (s *server) dosed(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	p := dosePage{page: s.page(r)}
	if err := r.ParseForm(); err != nil {
		p.Wrong, p.Form.ID = must("err.form"), s.NewID()
		s.showDoses(w, r, http.StatusUnprocessableEntity, p)
		return
	}
	e := typed(r.PostForm)
	p.Form.By, p.Form.ID, p.Dose = e.By, s.NewID(), typedDoses(r.PostForm)
	c := s.doseCommand(r.PathValue("id"), e, &p.Dose, r.PostForm["lot"])
	for _, name := range []string{"rule", "method"} {
		if r.PostForm.Has(name) && strings.TrimSpace(r.PostForm.Get(name)) == "" {
			p.Dose.Wrong[name] = must("err.begin." + name)
		}
	}
	if len(p.Dose.Wrong) > 0 {
		p.Wrong = must("err.fields")
		s.showDoses(w, r, http.StatusUnprocessableEntity, p)
		return
	}
	if err := s.Commander.Do(r.Context(), c); err != nil {
		s.showDoses(w, r, s.wrong(&p.page, "log the doses of "+c.Batch, err), p)
		return
	}
	remember(w, c.By)
	http.Redirect(w, r, batchPath(c.Batch)+"/doses?done", http.StatusSeeOther)
}

func typedDoses(v url.Values) doseForm {
	get := func(name string) string { return strings.TrimSpace(v.Get(name)) }
	f := doseForm{PPM: get("ppm"), Nitrite: get("nitrite"), Nitrate: get("nitrate"), Rule: get("rule"), Method: get("method"),
		Brine: get("brine"), Pickle: get("pickle"), Pump: get("pump"), Text: get("text"), When: get("when"), Wrong: map[string]string{}}
	for _, text := range v["cure"] {
		f.Cure = append(f.Cure, strings.TrimSpace(text))
	}
	return f
}

// doseCommand makes a command of the form. What is wrong is noted beside its field.
func (s *server) doseCommand(id string, e entry, f *doseForm, lots []string) process.Command {
	c, err := s.command(entry{ID: e.ID, Batch: id, By: e.By})
	if err != nil {
		f.Wrong["by"] = err.Error()
	}
	if c.At, err = s.when(f.When, c.At); err != nil {
		f.Wrong["when"] = err.Error()
	}
	d := &process.Dosing{Rule: f.Rule, Method: string(dosing.Methods[f.Method])}
	for i, lot := range lots {
		if i < len(f.Cure) && f.Cure[i] != "" {
			g := f.quantity("cure-"+lot, f.Cure[i], "g", quantity.DoseWeight)
			d.Portions = append(d.Portions, process.DosePortion{Pieces: strings.Split(lot, "+"), CureG: g})
		}
	}
	if len(d.Portions) == 0 && len(lots) > 0 {
		f.Wrong["cure-"+lots[0]] = must("err.dose.none")
	}
	for _, q := range []struct {
		name, text, unit string
		parse            func(string) (float64, error)
		into             *float64
	}{
		{"nitrite", f.Nitrite, "%", quantity.Strength, &d.Nitrite}, {"nitrate", f.Nitrate, "%", quantity.Strength, &d.Nitrate},
		{"ppm", f.PPM, "ppm", quantity.PPM, &d.PPM}, {"brine", f.Brine, "g", quantity.DoseWeight, &d.WaterG},
		{"pickle", f.Pickle, "g", quantity.DoseWeight, &d.PickleG}, {"pump", f.Pump, "%", quantity.Part, &d.Uptake},
	} {
		if q.text != "" {
			*q.into = f.quantity(q.name, q.text, q.unit, q.parse)
		}
	}
	c.Dosing, c.Text = d, f.Text
	s.identify(&c, process.CommandDosed, "")
	return c
}

// quantity reads what was typed; a bare number is in the unit that the form names, and a
// comma stands before its decimals: no dose is in the thousands.
func (f *doseForm) quantity(name, text, unit string, parse func(string) (float64, error)) float64 {
	text = pointed(text)
	if _, bare := plain.Number(text); bare {
		text += unit
	}
	v, err := parse(text)
	if err != nil {
		f.Wrong[name] = err.Error()
	}
	return v
}
