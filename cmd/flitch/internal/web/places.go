package web

import (
	"net/http"
	"time"

	"flitch/process"
	"flitch/process/record"
)

// A Place is a fridge, smoker, freezer or room of the configuration as it stands now.
type Place struct {
	Name    string        `json:"name"`
	Title   string        `json:"title"` // for people
	Kind    process.Where `json:"kind"`
	Batches []string      `json:"batches,omitempty"` // that are in it now
	Probes  []PlaceProbe  `json:"probes"`            // in the order of the configuration
}

// A PlaceProbe is a probe of a place and what is to be thought of its newest value.
type PlaceProbe struct {
	Probe
	C      float64              `json:"c"`   // newest value that was believed, of the time in Heard, as counted: °C, or what its placement is kept in
	Old    bool                 `json:"old"` // longer silent than it is allowed to be; never if a person brings its readings
	Doubts []string             `json:"doubts,omitempty"`
	Vitals []process.KnownVital `json:"-"` // Battery and Signal, those it tells
	Broken []process.Flagged    `json:"-"` // readings that did not count and after which none did
}

// SeePlaceProbe says what is to be thought of a probe now.
func SeePlaceProbe(probe Probe, t *process.PlaceProbe, now time.Time) PlaceProbe {
	p := PlaceProbe{Probe: probe, C: t.Last.Value, Old: !t.Probe.ReadOut && !t.Last.At.IsZero() && t.Old(now)}
	if probe.Failed != nil {
		p.Doubts = append(p.Doubts, must("place.out"))
	}
	if t.Absent.Lasts() {
		p.Doubts = append(p.Doubts, must("place.gone", t.Absent.Words))
	}
	if t.BadClock {
		p.Doubts = append(p.Doubts, must("place.clock"))
	}
	if probe.Unit.Open() {
		p.Doubts = append(p.Doubts, must("unit.asked", probe.Probe))
	}
	for _, f := range t.Flagged {
		if f.Open {
			p.Broken = append(p.Broken, f)
			p.Doubts = append(p.Doubts, record.Reason(f))
		}
	}
	for _, v := range []*process.KnownVital{probe.Battery, probe.Signal} {
		if v != nil {
			p.Vitals = append(p.Vitals, *v)
		}
	}
	return p
}

// Unbelieved reports that something newer was sent than what is believed.
func (p PlaceProbe) Unbelieved() bool { return p.SentAt.After(p.Heard) }

// Low reports a battery or a signal that is at its limit or below.
func (p PlaceProbe) Low(v process.KnownVital) bool { return v.Value <= v.Low }

// placesPage is what the page of places is given beside what all pages are.
type placesPage struct {
	page
	placesNow
}

// placesNow is the part of it that follows by itself.
type placesNow struct {
	At     time.Time
	Look   bool // a guest's link: no way to what guests have no business with
	Places []Place
	Unused int // topics that were heard and of which nothing feeds a probe
}

func (s *server) placeRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /places", func(w http.ResponseWriter, r *http.Request) {
		p := placesPage{page: s.page(r)}
		var err error
		if p.placesNow, err = s.placesNow(r); err != nil {
			s.broken(w, "read the places", err)
			return
		}
		s.show(w, http.StatusOK, "places.html", p)
	})
	mux.HandleFunc("GET /places/now", func(w http.ResponseWriter, r *http.Request) {
		now, err := s.placesNow(r)
		if err != nil {
			s.broken(w, "read the places", err)
			return
		}
		s.show(w, http.StatusOK, "places-now", now)
	})
}

func (s *server) placesNow(r *http.Request) (placesNow, error) {
	now := placesNow{At: s.Clock.Now(), Look: s.page(r).Guest}
	heard, err := s.Reader.Heard(r.Context())
	if err != nil {
		return now, err
	}
	for _, t := range heard.Topics {
		if len(t.Used()) == 0 {
			now.Unused++
		}
	}
	now.Places, err = s.Reader.Places(r.Context())
	return now, err
}

// reads is a value of a probe as people say it.
func (s *server) reads(p Probe, v float64) string {
	switch {
	case p.Placement.IsTemperature():
		return s.Site.Temp(v)
	case p.Placement == process.Door && v == 0:
		return must("place.closed")
	case p.Placement == process.Door:
		return must("place.open")
	}
	return record.Amount(v, record.UnitOf(p.Placement))
}

// kindOf says what a place is.
func kindOf(k process.Where) string {
	switch k {
	case process.WhereFridge:
		return must("place.fridge")
	case process.WhereSmoker:
		return must("place.smoker")
	case process.WhereFreezer:
		return must("place.freezer")
	case process.WhereRoom:
		return must("place.room")
	}
	return string(k)
}
