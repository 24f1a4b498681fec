package web

import (
	"net/http"
	"net/url"
	"slices"
	"time"

	"flitch/process"
)

// A Probe is a probe and how it was checked.
type Probe struct {
	Probe     string              `json:"probe"`
	Place     string              `json:"place"`
	Placement process.Placement   `json:"placement"`
	Heard     time.Time           `json:"heard,omitzero"`      // zero: not yet
	Due       time.Time           `json:"due,omitzero"`        // of the next check; zero: none is asked for
	LastGood  *process.ProbeCheck `json:"last_good,omitempty"` // nil: none
	Failed    *process.ProbeCheck `json:"failed,omitempty"`    // nil: it is in use
	Battery   *process.KnownVital `json:"battery,omitempty"`   // of the newest day; nil: it tells none
	Signal    *process.KnownVital `json:"signal,omitempty"`    // the same
	Batches   []string            `json:"batches,omitempty"`   // measured with it since its last good check

	Absent *process.Absence `json:"absent,omitempty"` // its device said that it is gone
	Asks   string           `json:"asks,omitempty"`   // what its device wants a person to know

	Unit    process.UnitAsk   `json:"unit,omitzero"`      // whether it is asked which unit it sends, and what was answered
	LeftOut []process.Flagged `json:"left_out,omitempty"` // readings that did not count, by what its place knows

	Refused   string    `json:"refused,omitempty"` // why its newest message was of no use; empty: a reading came since
	RefusedAt time.Time `json:"refused_at,omitzero"`

	SentC       float64              `json:"sent_c"` // newest value, as sent; the zero time: none yet
	SentAt      time.Time            `json:"sent_at,omitzero"`
	ReadsC      float64              `json:"reads_c"`          // the same with the correction in force, as flitch shows it
	Correction  process.Correction   `json:"correction"`       // in force
	Uncertainty float64              `json:"uncertainty_k"`    // K, by the newest check or as configured
	Checks      []process.ProbeCheck `json:"checks,omitempty"` // the newest two dozen, in the order they happened
}

// Checkable reports whether the probe can be held into ice.
func (p Probe) Checkable() bool { return p.Placement.IsTemperature() }

// Newest are the checks, the newest first.
func (p Probe) Newest() []process.ProbeCheck {
	list := slices.Clone(p.Checks)
	slices.Reverse(list)
	return list
}

// Late reports a check that is past its day.
func (p Probe) Late(now time.Time) bool { return !p.Due.IsZero() && p.Due.Before(now) }

// probePage is what the pages of probes are given beside what all pages are.
type probePage struct {
	page
	Probes []Probe
	Probe  Probe
	Check  checkForm
}

// probeRoutes registers the pages about probes.
func (s *server) probeRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /probes", func(w http.ResponseWriter, r *http.Request) { s.showProbes(w, r, http.StatusOK, s.page(r)) })
	mux.HandleFunc("GET /probes/{name}", func(w http.ResponseWriter, r *http.Request) {
		p := s.page(r)
		p.Form.ID = s.NewID()
		s.showProbe(w, r, http.StatusOK, probePage{page: p})
	})
	mux.HandleFunc("POST /probes/{name}", s.checkProbe)
}

func (s *server) showProbes(w http.ResponseWriter, r *http.Request, status int, p page) {
	all, err := s.Reader.Probes(r.Context())
	if err != nil {
		s.broken(w, "read the probes", err)
		return
	}
	s.show(w, status, "probes.html", probePage{page: p, Probes: all})
}

// showProbe shows one probe with its form and its log.
func (s *server) showProbe(w http.ResponseWriter, r *http.Request, status int, p probePage) {
	all, err := s.Reader.Probes(r.Context())
	if err != nil {
		s.broken(w, "read the probes", err)
		return
	}
	at := slices.IndexFunc(all, func(q Probe) bool { return q.Probe == r.PathValue("name") && q.Checkable() })
	if at < 0 {
		p.Wrong = must("err.probe", r.PathValue("name"))
		s.showProbes(w, r, http.StatusNotFound, p.page)
		return
	}
	p.Probe = all[at]
	s.show(w, status, "probe.html", p)
}

// checkProbe takes the form of a check. What is wrong is said beside its field, and
// what was typed is kept.
func (s *server) checkProbe(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	p := probePage{page: s.page(r)}
	if err := r.ParseForm(); err != nil {
		p.Wrong, p.Form.ID = must("err.form"), s.NewID()
		s.showProbe(w, r, http.StatusUnprocessableEntity, p)
		return
	}
	e := typed(r.PostForm)
	p.Form.By, p.Form.ID, p.Check = e.By, s.NewID(), typedCheck(r.PostForm)
	c := s.checkCommand(r.PathValue("name"), e.ID, e.By, p.Check)
	if len(p.Check.Wrong) > 0 {
		p.Wrong = must("err.fields")
		s.showProbe(w, r, http.StatusUnprocessableEntity, p)
		return
	}
	if err := s.Commander.Do(r.Context(), c); err != nil {
		s.showProbe(w, r, s.wrong(&p.page, "check probe "+r.PathValue("name"), err), p)
		return
	}
	remember(w, c.By)
	http.Redirect(w, r, "/probes/"+url.PathEscape(r.PathValue("name"))+"?done", http.StatusSeeOther)
}
