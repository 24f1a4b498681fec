package web

import (
	"net/http"
	"net/url"
	"strings"

	"flitch/cmd/flitch/internal/plain"
	"flitch/process"
)

// endsField is the field of what the ends are worth, beside those of the kinds of cost.
const endsField = "ends"

// A costPage is what the page of the cost is given beside what all pages are.
type costPage struct {
	page
	Work   Work
	Typed  map[string]string // by name of the field
	Bad    map[string]string // what is wrong, by name of the field
	Labels map[string]string // of the fields
	money  func(float64) string
}

// Fields are the names of the fields, in their order.
func (p costPage) Fields() (names []string) {
	for _, kind := range process.CostKinds() {
		names = append(names, string(kind))
	}
	return append(names, endsField)
}

// costLabel names a field, and the currency where there is one.
func (s *server) costLabel(field string) string {
	if s.Site.Currency == "" {
		return must("cost." + field)
	}
	return must("cost.in", must("cost."+field), s.Site.Currency)
}

// A costRow is one line of what stands.
type costRow struct{ What, Amount, By string }

// Rows are what stands: each kind, the sum, and what slices cost.
func (p costPage) Rows() (rows []costRow) {
	c := p.Work.Cost
	for _, l := range c.Lines {
		rows = append(rows, costRow{must("cost." + string(l.What)), p.money(l.Amount), l.By})
	}
	ends := costRow{What: must("cost.ends"), Amount: must("cost.unvalued")}
	if c.Ends != nil {
		ends.Amount, ends.By = p.money(c.Ends.Amount), c.Ends.By
	}
	return append(rows, costRow{What: must("cost.sum"), Amount: p.money(c.Sum())}, ends,
		costRow{What: must("cost.kg"), Amount: p.known(c.PerKilogram())}, costRow{What: must("cost.lb"), Amount: p.known(c.PerPound())})
}

func (p costPage) known(v float64, known bool) string {
	if !known {
		return string(process.NotMeasured)
	}
	return p.money(v)
}

// Stands reports that something was said.
func (p costPage) Stands() bool { return len(p.Work.Cost.Lines) > 0 || p.Work.Cost.Ends != nil }

func (s *server) costRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /batches/{id}/cost", func(w http.ResponseWriter, r *http.Request) {
		p := costPage{page: s.page(r)}
		p.Form.ID = s.NewID()
		s.showCost(w, r, http.StatusOK, p)
	})
	mux.HandleFunc("POST /batches/{id}/cost", s.costed)
}

func (s *server) showCost(w http.ResponseWriter, r *http.Request, status int, p costPage) {
	var ok bool
	p.money, p.Labels = s.money, map[string]string{}
	for _, name := range p.Fields() {
		p.Labels[name] = s.costLabel(name)
	}
	if p.Work, ok = s.work(w, r); ok {
		s.show(w, status, "cost.html", p)
	}
}

func (s *server) costed(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	p := costPage{page: s.page(r), Typed: map[string]string{}, Bad: map[string]string{}}
	if err := r.ParseForm(); err != nil {
		p.Wrong, p.Form.ID = must("err.form"), s.NewID()
		s.showCost(w, r, http.StatusUnprocessableEntity, p)
		return
	}
	e := typed(r.PostForm)
	p.Form.By, p.Form.ID = e.By, s.NewID()
	c, err := s.command(entry{ID: e.ID, Batch: r.PathValue("id"), By: e.By})
	if err != nil {
		p.Bad["by"] = err.Error()
	}
	c.Cost = p.read(r.PostForm)
	s.identify(&c, process.CommandCost, "")
	if len(p.Bad) > 0 {
		p.Wrong = must("err.fields")
		s.showCost(w, r, http.StatusUnprocessableEntity, p)
		return
	}
	if err := s.Commander.Do(r.Context(), c); err != nil {
		s.showCost(w, r, s.wrong(&p.page, "take the cost of "+c.Batch, err), p)
		return
	}
	remember(w, c.By)
	http.Redirect(w, r, batchPath(c.Batch)+"/cost?done", http.StatusSeeOther)
}

// read reads the amounts. A comma is refused: people write thousands with it too.
func (p costPage) read(v url.Values) *process.Cost {
	c := new(process.Cost)
	for _, name := range p.Fields() {
		text := strings.TrimSpace(v.Get(name))
		if p.Typed[name] = text; text == "" {
			continue
		}
		amount, ok := plain.Number(text)
		if !ok || !(amount >= 0 && amount <= process.MaxCost) {
			p.Bad[name] = must("err.cost", text)
			continue
		}
		if name == endsField {
			c.Ends = &amount
			continue
		}
		c.Lines = append(c.Lines, process.CostLine{What: process.CostKind(name), Amount: amount})
	}
	if len(c.Lines) == 0 && c.Ends == nil && len(p.Bad) == 0 {
		p.Bad[p.Fields()[0]] = must("err.cost.none")
	}
	return c
}

// money is an amount with the currency of the house.
func (s *server) money(amount float64) string {
	return strings.TrimSpace(process.Money(amount) + " " + s.Site.Currency)
}

// costText is what a batch cost, and its slices.
func (s *server) costText(c Compared) string {
	if len(c.Cost.Lines) == 0 {
		return must("compare.cost.none")
	}
	parts := []string{must("compare.cost.sum", s.money(c.Cost.Sum()))}
	kg, known := c.Cost.PerKilogram()
	if lb, _ := c.Cost.PerPound(); known {
		parts = append(parts, must("compare.cost.slices", s.money(kg), s.money(lb)))
	} else {
		parts = append(parts, must("compare.cost.unsliced"))
	}
	if c.Cost.Ends != nil {
		parts = append(parts, must("compare.cost.ends"))
	}
	return strings.Join(parts, "; ")
}
