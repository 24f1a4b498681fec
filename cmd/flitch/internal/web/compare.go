package web

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"flitch/process"
	"flitch/process/record"
)

// mostCompared are as many batches as are put beside each other: proposal.
const mostCompared = 6

// lastCompared are as many as are taken unasked.
const lastCompared = 3

// A comparePage is what the page of the comparison is given beside what all pages are.
type comparePage struct {
	page
	All  []Summary
	IDs  []string
	Rows []compareRow
}

// A compareRow is one number of each batch.
type compareRow struct {
	Label string
	Cells []string
}

func (s *server) compareRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /compare", s.compare)
}

// Chosen reports a batch that is in the table.
func (p comparePage) Chosen(id string) bool { return slices.Contains(p.IDs, id) }

func (s *server) compare(w http.ResponseWriter, r *http.Request) {
	p := comparePage{page: s.page(r)}
	var err error
	if p.All, err = s.Reader.Batches(r.Context()); err != nil {
		s.broken(w, "read the batches", err)
		return
	}
	for _, text := range r.URL.Query()["batches"] {
		for id := range strings.SplitSeq(text, ",") {
			if id = strings.TrimSpace(id); id != "" && !slices.Contains(p.IDs, id) {
				p.IDs = append(p.IDs, id)
			}
		}
	}
	if len(p.IDs) == 0 {
		p.IDs = lastOfAKind(p.All)
	}
	if len(p.IDs) > mostCompared {
		p.Wrong, p.IDs = must("err.compare.many", mostCompared), p.IDs[:mostCompared]
	}
	list, err := s.Batches.Compare(r.Context(), p.IDs)
	status := http.StatusOK
	if err != nil {
		status, p.IDs = s.wrong(&p.page, "compare batches", err), nil
	}
	p.Rows = s.compareRows(list, p.Guest)
	s.show(w, status, "compare.html", p)
}

// lastOfAKind are the newest batches by the plan of the newest one.
func lastOfAKind(all []Summary) (ids []string) {
	for _, b := range all {
		if b.Recipe == all[0].Recipe && len(ids) < lastCompared {
			ids = append(ids, b.ID)
		}
	}
	return ids
}

// compareRows are the rows of the table. What was not measured says so; what it cost is no
// guest's to read.
func (s *server) compareRows(list []Compared, guest bool) (rows []compareRow) {
	add := func(label string, cell func(Compared) string) {
		row := compareRow{Label: label}
		for _, c := range list {
			text := cell(c)
			if text == "" {
				text = string(process.NotMeasured)
			}
			row.Cells = append(row.Cells, text)
		}
		rows = append(rows, row)
	}
	add(must("compare.product"), func(c Compared) string { return c.Product + ", " + c.Recipe })
	add(must("compare.started"), func(c Compared) string { return s.Site.Local(c.Started).Format("2 Jan 2006") })
	add(must("compare.pieces"), piecesText)
	add(must("compare.thick"), thicknessText)
	add(must("compare.days"), func(c Compared) string { return unless(c.CureDays == 0, "%.1f d", c.CureDays) })
	add(must("compare.dose"), doseText)
	add(must("compare.turns"), func(c Compared) string { return fmt.Sprint(c.Turns) })
	for i := range firstOf(list).Heat {
		add(must("compare.heat", s.Site.Temp(firstOf(list).Heat[i].C)), func(c Compared) string { return heatText(c, i) })
	}
	add(must("compare.stall"), stallText)
	for i := range mostLegs(list) {
		add(must("compare.chill", process.ChillName(i)), func(c Compared) string { return chillText(c, i) })
	}
	for _, rung := range process.Ladder() {
		add(must("compare.yield", rung.Words()), func(c Compared) string { return yieldText(c, rung) })
	}
	add(must("compare.rang"), func(c Compared) string { return fmt.Sprint(c.Rang) })
	if !guest {
		add(must("compare.cost"), s.costText)
	}
	add(must("compare.taste"), tasteText)
	return rows
}

func firstOf(list []Compared) (c Compared) {
	if len(list) > 0 {
		c = list[0]
	}
	return c
}

func mostLegs(list []Compared) (n int) {
	for _, c := range list {
		n = max(n, len(c.Chill))
	}
	return n
}

func unless(absent bool, format string, args ...any) string {
	if absent {
		return ""
	}
	return fmt.Sprintf(format, args...)
}

func piecesText(c Compared) string {
	green := 0.0
	for _, p := range c.Pieces {
		green += p.GreenG
	}
	return fmt.Sprintf("%d, %.2f kg", len(c.Pieces), green/1000)
}

func thicknessText(c Compared) string {
	low, high := c.Pieces[0].ThicknessMM, c.Pieces[0].ThicknessMM
	for _, p := range c.Pieces {
		low, high = min(low, p.ThicknessMM), max(high, p.ThicknessMM)
	}
	if low == high {
		return fmt.Sprintf("%.3g mm", low)
	}
	return fmt.Sprintf("%.3g to %.3g mm", low, high)
}

func doseText(c Compared) string {
	if len(c.PPM) == 0 {
		return ""
	}
	low, high, checks := slices.Min(c.PPM), slices.Max(c.PPM), ""
	if c.DoseFails {
		checks = must("compare.dose.fails")
	}
	if high-low < 1 {
		return fmt.Sprintf("%.0f ppm%s", high, checks)
	}
	return fmt.Sprintf("%.0f to %.0f ppm%s", low, high, checks)
}

func heatText(c Compared, i int) string {
	if i >= len(c.Heat) || !c.Heat[i].Known {
		return ""
	}
	return record.Amount(c.Heat[i].Hours, "h")
}

func stallText(c Compared) string {
	switch {
	case !c.HasCook:
		return ""
	case c.Stalled < time.Minute:
		return must("compare.none")
	}
	return record.Span(c.Stalled)
}

func chillText(c Compared, i int) string {
	if i >= len(c.Chill) || c.Chill[i].From.IsZero() {
		return ""
	}
	return record.Amount(c.Chill[i].Sum, c.Chill[i].Unit) + ", " + record.Verdict(c.Chill[i])
}

func yieldText(c Compared, rung process.Rung) string {
	for _, y := range c.Yield {
		if y.Rung == rung {
			return fmt.Sprintf("%.1f %%, %.2f kg", y.Percent(), y.Grams/1000)
		}
	}
	return ""
}

// tasteText is what each taster said.
func tasteText(c Compared) string {
	var cards []string
	for _, t := range c.Tastes {
		cards = append(cards, t.By+": "+t.Words())
	}
	return strings.Join(cards, "; ")
}
