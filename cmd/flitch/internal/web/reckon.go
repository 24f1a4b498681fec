package web

import (
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"flitch/cmd/flitch/internal/dosing"
	"flitch/cmd/flitch/internal/quantity"
	"flitch/cmd/flitch/internal/reckon"
)

// A reckonPage is a calculator with its form and its answer, or the list of all.
type reckonPage struct {
	page
	Main, Other []reckon.Calculator // the list
	Calculator  reckon.Calculator
	Title       string
	Fields      []reckonField // asked first
	More        []reckonField // for who knows it
	MoreOpen    bool          // something of them was typed
	Cautions    []string      // of nitrite
	Answer      *reckonAnswer // nil: nothing was asked, or it was refused
	Picture     string        // address; empty: there is none
	Data        string        // address of the same as JSON
	Command     string        // the same on the command line
}

// mainCalculators are those people ask for most, with what each asks first. The others
// are the same form with all of their keys.
var mainCalculators = []struct {
	name  string
	first []string
}{
	{"dose", []string{"green", "nitrite", "ppm", "rule", "method", "cure", "salt-target"}},
	{"cure-time", []string{"thickness", "temp", "skin", "rule", "days"}},
	{"lethality", []string{"temp", "time", "profile", "table", "probe"}},
	{"chill", []string{"core", "air", "thickness", "tau", "option", "left"}},
	{"wet-bulb", []string{"dry", "wet", "rh", "altitude"}},
	{"boiling-point", []string{"altitude", "pressure", "ice", "boil", "reading"}},
}

// reckonRoutes registers the calculators. They are asked by GET, so that a link to an
// answer can be kept; nothing of it is.
func (s *server) reckonRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /reckon", func(w http.ResponseWriter, r *http.Request) {
		s.showReckonings(w, http.StatusOK, s.page(r))
	})
	mux.HandleFunc("GET /reckon/{name}", s.reckon)
	mux.HandleFunc("GET /reckon/{name}/picture.svg", s.reckonPicture)
}

func (s *server) showReckonings(w http.ResponseWriter, status int, p page) {
	out := reckonPage{page: p}
	for _, m := range mainCalculators {
		c, err := reckon.Named(m.name)
		if err != nil {
			s.broken(w, "list the calculators", err)
			return
		}
		out.Main = append(out.Main, c)
	}
	for _, c := range reckon.Calculators() {
		if !slices.ContainsFunc(out.Main, func(m reckon.Calculator) bool { return m.Name == c.Name }) {
			out.Other = append(out.Other, c)
		}
	}
	s.show(w, status, "reckonings.html", out)
}

// reckon shows one calculator, with the answer when something was asked.
func (s *server) reckon(w http.ResponseWriter, r *http.Request) {
	p := s.page(r)
	calc, err := reckon.Named(r.PathValue("name"))
	if err != nil {
		s.wrongReckoning(&p, err)
		s.showReckonings(w, http.StatusNotFound, p)
		return
	}
	pairs := s.typedPairs(calc, r.URL.Query())
	if s.plainDegrees(pairs, r.URL.Query()) {
		http.Redirect(w, r, "/reckon/"+calc.Name+"?"+queryOf(pairs), http.StatusSeeOther)
		return
	}
	out := reckonPage{page: p, Calculator: calc, Title: reckonTitle(calc)}
	if calc.Name == "dose" {
		out.Cautions = dosing.Cautions()
	}
	status := http.StatusOK
	var wrong map[string]*quantity.Complaint
	if len(pairs) > 0 {
		wrong = s.answerPairs(&out, calc, pairs)
	}
	if out.Wrong != "" {
		status = http.StatusUnprocessableEntity
	}
	s.reckonForm(&out, r.URL.Query(), wrong)
	s.show(w, status, "reckon.html", out)
}

// answerPairs asks the calculator, and returns what is wrong by its key.
func (s *server) answerPairs(out *reckonPage, calc reckon.Calculator, pairs []reckon.Pair) map[string]*quantity.Complaint {
	wrong := calc.Wrong(pairs)
	if len(wrong) > 0 {
		out.Wrong = must("err.fields")
		return wrong
	}
	a, err := calc.Answer(pairs)
	if err != nil {
		if c, ok := errors.AsType[*quantity.Complaint](err); ok && calc.Blame(c) != "" {
			out.Wrong = must("err.fields")
			return map[string]*quantity.Complaint{calc.Blame(c): c}
		}
		s.wrongReckoning(&out.page, err)
		return nil
	}
	query, words := queryOf(pairs), []string{"flitch reckon " + calc.Name}
	for _, p := range pairs {
		words = append(words, shellWord(p.Key+"="+p.Text))
	}
	out.Answer = s.reckonAnswer(a, out.Cautions)
	out.Data, out.Command = "/api/reckon/"+calc.Name+"?"+query, strings.Join(words, " ")
	if s.drawReckoning(calc.Name, pairs, 0) != nil {
		out.Picture = "/reckon/" + calc.Name + "/picture.svg?" + query
	}
	return nil
}

func (s *server) wrongReckoning(p *page, err error) {
	if c, ok := errors.AsType[*quantity.Complaint](err); ok {
		p.Wrong, p.Hint = c.What, must("reckon.try", c.Try)
		return
	}
	s.Log.Error("a calculator failed", "error", err)
	p.Wrong = must("err.inside.read")
}

// typedPairs are the fields that were filled in, in the order of the keys. A plain number
// where degrees belong is in those that this browser is shown.
func (s *server) typedPairs(calc reckon.Calculator, typed url.Values) (pairs []reckon.Pair) {
	for _, k := range calc.Keys {
		if text := strings.TrimSpace(typed.Get(k.Name)); text != "" {
			pairs = append(pairs, reckon.Pair{Key: k.Name, Text: s.withDegrees(k, text)})
		}
	}
	return pairs
}

func (s *server) withDegrees(k reckon.Key, text string) string {
	if _, unit, err := quantity.Split(text); k.Read.Degrees == reckon.NoDegrees || err != nil || unit != "" {
		return text
	}
	if s.Site.Fahrenheit {
		return text + "F"
	}
	return text + "C"
}

// plainDegrees reports a number that was taken to be in the degrees of this browser: the
// address is then to say so, because it is kept, and given to others.
func (s *server) plainDegrees(pairs []reckon.Pair, typed url.Values) bool {
	return slices.ContainsFunc(pairs, func(p reckon.Pair) bool { return p.Text != strings.TrimSpace(typed.Get(p.Key)) })
}

func queryOf(pairs []reckon.Pair) string {
	query := url.Values{}
	for _, p := range pairs {
		query.Set(p.Key, p.Text)
	}
	return query.Encode()
}

// shellWord puts what a shell would take for its own between signs.
func shellWord(text string) string {
	if strings.ContainsAny(text, " |;&<>()$`\\\"'*?[]{}!#~") {
		return "'" + strings.ReplaceAll(text, "'", `'\''`) + "'"
	}
	return text
}

// reckonTitle is the name of a calculator for people.
func reckonTitle(c reckon.Calculator) string {
	if title, ok := texts["reckon.title."+c.Name]; ok {
		return title
	}
	return strings.ToUpper(c.Name[:1]) + strings.ReplaceAll(c.Name[1:], "-", " ")
}
