package web

import (
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"time"

	"flitch/process"
)

// Charts is what there is to draw of one batch, open or closed.
type Charts struct {
	Batch    string
	Product  string
	From     time.Time
	To       time.Time // zero: open
	Stages   []ChartStage
	Drawings []string // beside the temperatures: cure, cook, chill
}

// A ChartStage is one stage that was entered.
type ChartStage struct {
	Name process.StageName
	From time.Time
	To   time.Time // zero: it goes on
}

// chartHours are the spans offered back from now.
var chartHours = [...]int{3, 6, 24}

// A choice is one link to a part of the batch.
type choice struct {
	Words  string
	Query  template.URL // of the chart's page, made here; empty: the whole batch
	Chosen bool

	picture template.URL // the part as the picture asks for it; begins with &
	follows bool         // it ends now
}

// A chartPage is what the page of charts is given.
type chartPage struct {
	page
	Charts
	Choices []choice
	Shown   []shown
	Part    string       // in words
	Query   template.URL // of the picture, without its width; begins with &
	Follows bool         // it ends now, so it is drawn anew
}

// A shown is one drawing beside the temperatures.
type shown struct{ Kind, Title, Caption string }

var drawings = map[string]shown{
	"cure":  {"cure", must("chart.cure"), must("chart.cure.caption")},
	"cook":  {"cook", must("chart.cook"), must("chart.cook.caption")},
	"chill": {"chill", must("chart.chill"), must("chart.chill.caption")},
}

func (s *server) charts(w http.ResponseWriter, r *http.Request) {
	id := r.PathValue("id")
	c, err := s.Reader.Charts(r.Context(), id)
	var no *process.Refusal
	switch {
	case errors.As(err, &no) && no.NotFound:
		s.missing(w, r, id)
		return
	case err != nil:
		s.broken(w, "read the charts of "+id, err)
		return
	}
	p := chartPage{page: s.page(r), Charts: c}
	for _, kind := range c.Drawings {
		p.Shown = append(p.Shown, drawings[kind])
	}
	if !p.choose(r.URL.Query()) {
		p.Wrong, p.Hint = must("chart.no.part"), must("chart.no.part.hint")
	}
	s.show(w, http.StatusOK, "chart.html", p)
}

// choose reads which part is wanted, and lists all. ok is false when there is no such
// part; the whole batch is shown then.
func (p *chartPage) choose(q url.Values) (ok bool) {
	p.Choices = p.choices()
	wanted := ""
	for _, name := range []string{"stage", "hours"} {
		if v := q.Get(name); v != "" && wanted == "" {
			wanted = name + "=" + v
		}
	}
	i := slices.IndexFunc(p.Choices, func(c choice) bool { return string(c.Query) == wanted })
	c := &p.Choices[max(i, 0)]
	c.Chosen = true
	p.Part, p.Query, p.Follows = c.Words, c.picture, c.follows
	return i >= 0
}

// choices are the whole batch, each stage that was more than passed by, and the last hours
// of one that is open.
func (p *chartPage) choices() []choice {
	open := p.To.IsZero()
	out := []choice{{Words: must("chart.all"), follows: open}}
	for i, s := range p.Stages {
		if !s.To.IsZero() && s.To.Sub(s.From) < time.Minute {
			continue
		}
		c := choice{Words: p.named(i), Query: template.URL("stage=" + strconv.Itoa(i+1)), picture: template.URL("&from=" + s.From.UTC().Format(time.RFC3339)), follows: open}
		if !s.To.IsZero() {
			c.picture += template.URL("&to=" + s.To.UTC().Format(time.RFC3339))
			c.follows = false
		}
		out = append(out, c)
	}
	for _, h := range chartHours {
		if query := template.URL("hours=" + strconv.Itoa(h)); open {
			out = append(out, choice{Words: must("chart.hours", h), Query: query, picture: "&" + query, follows: true})
		}
	}
	return out
}

// named is the name of stage i, with which time it is where it was entered before.
func (p *chartPage) named(i int) string {
	n := 0
	for _, s := range p.Stages[:i+1] {
		if s.Name == p.Stages[i].Name {
			n++
		}
	}
	if n == 1 {
		return string(p.Stages[i].Name)
	}
	return fmt.Sprintf("%s (%d)", p.Stages[i].Name, n)
}
