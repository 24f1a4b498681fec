package web

import (
	"net/http"
	"net/url"
	"slices"
	"time"

	"flitch/process"
)

// soon is how long before its day a check of a probe is something to do. (proposal)
const soon = 24 * time.Hour

// A home is all batches in the order of a day: what to do, the fridges, the batches.
type home struct {
	Tasks   []homeTask
	Fridges []Fridge
	Curing  []Glance // the farthest first
	Others  []Glance // the one that needs most first
}

// A homeTask is something to do, with the way to say or do it.
type homeTask struct {
	Task
	Batch    string // empty: of the house
	Do, Href string // words and way of its button, where Kind has none of its own
}

// homeOf puts the house together. Holds, due probes and prompts are tasks; what rings is under the
// alarms.
func homeOf(list []Glance, probes []Probe, alarms []Alarm, now time.Time) home {
	var h home
	for _, g := range list {
		if g.Next != nil {
			h.Tasks = append(h.Tasks, homeTask{*g.Next, g.Batch, must("home.open", g.Batch), batchPath(g.Batch)})
		}
		if len(g.Held) > 0 {
			h.Tasks = append(h.Tasks, homeTask{Task{What: must("home.held", joined(g.Held))}, g.Batch, must("home.held.do"), papersPath(g.Batch) + "#disposition"})
		}
		if g.Fridge != nil && !slices.ContainsFunc(h.Fridges, func(f Fridge) bool { return f.Place == g.Fridge.Place }) {
			h.Fridges = append(h.Fridges, *g.Fridge)
		}
		if g.Stage.Name == process.StageCure {
			h.Curing = append(h.Curing, g)
		} else {
			h.Others = append(h.Others, g)
		}
	}
	for _, p := range probes {
		if !p.Due.IsZero() && p.Due.Before(now.Add(soon)) {
			h.Tasks = append(h.Tasks, homeTask{Task{What: must("home.check", p.Probe, p.Place), By: p.Due}, "", must("home.check.do"), "/probes/" + url.PathEscape(p.Probe)})
		}
	}
	for _, a := range alarms {
		if slices.Contains(prompts, a.Entry) && a.AcknowledgedAt.IsZero() {
			h.Tasks = append(h.Tasks, homeTask{Task{What: a.Title + ": " + a.Subject}, "", must("home.alarm"), alarmPath(a.Number)})
		}
	}
	slices.SortStableFunc(h.Tasks, soonest)
	slices.SortStableFunc(h.Curing, func(a, b Glance) int { return int(1000 * (curedDays(b) - curedDays(a))) })
	return h
}

// prompts are the alarms that ask for something to be done in the day: a cure that is
// through by the rule, a dose, what is to be used soon, a battery. Turns and probes are
// tasks by themselves.
var prompts = []string{"K3", "K4", "L5", "B4"}

// soonest puts what has no time last.
func soonest(a, b homeTask) int {
	switch {
	case a.By.IsZero() && b.By.IsZero():
		return 0
	case a.By.IsZero():
		return 1
	case b.By.IsZero():
		return -1
	}
	return a.By.Compare(b.By)
}

// cureOf is the clock of the cure; nil: the plan has none.
func cureOf(g Glance) *process.Clock {
	for i := range g.Clocks {
		if g.Clocks[i].Name == process.ClockCure && g.Clocks[i].Limit > 0 {
			return &g.Clocks[i]
		}
	}
	return nil
}

func curedDays(g Glance) float64 {
	if c := cureOf(g); c != nil {
		return c.Sum
	}
	return 0
}

// toReview are the closed batches that nobody has read since.
func toReview(closed []Summary) (out []Summary) {
	for _, b := range closed {
		if b.Waits {
			out = append(out, b)
		}
	}
	return out
}

// fire is the batch whose fire is lit, if it is the only one: its page is home then.
func fire(list []Glance) (lit *Glance) {
	for i := range list {
		if !list[i].Stage.Heat {
			continue
		}
		if lit != nil {
			return nil
		}
		lit = &list[i]
	}
	return lit
}

// homeRoutes registers home and the bedside view.
func (s *server) homeRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /home", func(w http.ResponseWriter, r *http.Request) {
		p := s.page(r)
		if err := s.fillHome(r, &p); err != nil {
			s.broken(w, "read the batches and alarms", err)
			return
		}
		s.show(w, http.StatusOK, "home.html", p)
	})
	mux.HandleFunc("GET /batches/{id}/bedside", func(w http.ResponseWriter, r *http.Request) { s.showGlance(w, r, "bedside.html") })
	mux.HandleFunc("GET /batches/{id}/bedside/now", func(w http.ResponseWriter, r *http.Request) { s.showGlance(w, r, "bedsidenow.html") })
	mux.HandleFunc("POST /wood", s.form(s.wood))
	mux.HandleFunc("POST /quiet", s.form(s.quiet))
	mux.HandleFunc("POST /decide", s.form(s.decide))
}

// fillHome reads what home shows and follows.
func (s *server) fillHome(r *http.Request, p *page) (err error) {
	if p.List, err = s.Reader.Glances(r.Context()); err != nil {
		return err
	}
	alarms, err := s.Reader.Alarms(r.Context())
	if err != nil {
		return err
	}
	for _, a := range alarms {
		if a.Active {
			p.Alarms = append(p.Alarms, a)
		}
	}
	slices.SortStableFunc(p.Alarms, func(a, b Alarm) int { return int(b.Level) - int(a.Level) })
	probes, err := s.Reader.Probes(r.Context())
	p.Home = homeOf(p.List, probes, p.Alarms, p.Now)
	return err
}

// showGlance shows a batch by a template that wants its glance, alone or in a page.
func (s *server) showGlance(w http.ResponseWriter, r *http.Request, name string) {
	g, found, err := s.find(r, r.PathValue("id"))
	switch {
	case err != nil:
		s.broken(w, "read a glance", err)
	case !found:
		s.missing(w, r, r.PathValue("id"))
	case name == "bedside.html":
		p := s.page(r)
		p.Glance = g
		s.show(w, http.StatusOK, name, p)
	default:
		s.show(w, http.StatusOK, name, g)
	}
}

// wood says that wood was added: a note in fixed words.
func (s *server) wood(_ entry, c *process.Command) error {
	c.Text = process.NoteWood
	s.identify(c, process.CommandNote, "-wood")
	return nil
}
