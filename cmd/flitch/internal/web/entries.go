package web

import (
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"flitch/alerts"
	"flitch/process"
	"flitch/process/record"
)

// newestEntries is how many entries the page of a batch shows; the rest has a page.
const newestEntries = 5

// An entered list is what people said of a batch, the newest first.
type entered struct {
	Batch   string
	List    []record.Entry
	Count   int
	InPlace map[string]bool // by ID: stands where another was corrected
	closed  bool
}

// May reports whether an entry can be corrected on the page.
func (l entered) May(e record.Entry) bool { return !l.closed && correctable(e) }

// correctable leaves out what was stored before entries had names. The stage that came
// with the batch is refused with what to do instead.
func correctable(e record.Entry) bool { return e.ID != "" && e.Struck == nil }

// A said thing is what the person has just entered, as the page comes back.
type said struct {
	ID, Words, By string
	At            time.Time
	Free          bool  // it may be taken back without a reason
	Left          int64 // for how long still, ms
	Already       bool  // somebody else had said it
	Struck        bool
	Batch, Back   string
	Alarm         int64
}

func (s *server) entryRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /batches/{id}/entries", s.showEntries)
	mux.HandleFunc("GET /batches/{id}/entries/{entry}", s.showEntry)
	mux.HandleFunc("POST /batches/{id}/entries/{entry}", s.correct)
	mux.HandleFunc("POST /strike", s.form(s.strike))
}

// strike takes back what was just said, of a batch or of an alarm.
func (s *server) strike(e entry, c *process.Command) error {
	c.Strikes, c.Why = e.Strikes, e.Why
	s.identify(c, process.CommandStruck, "")
	return nil
}

// entriesOf reads what was said of a batch; most is how many are shown, 0 all.
func (s *server) entriesOf(r *http.Request, batch string, most int) (entered, error) {
	list, err := s.Reader.Entries(r.Context(), batch)
	if err != nil {
		return entered{}, err
	}
	out := entered{Batch: batch, List: slices.Clone(list), Count: len(list), InPlace: map[string]bool{}}
	for _, e := range list {
		if e.Struck != nil && e.Struck.Instead {
			out.InPlace[e.Struck.ID] = true
		}
	}
	slices.Reverse(out.List)
	if most > 0 {
		out.List = out.List[:min(most, len(out.List))]
	}
	return out, nil
}

func (s *server) showEntries(w http.ResponseWriter, r *http.Request) {
	p, id := s.page(r), r.PathValue("id")
	var err error
	if p.Entered, err = s.entriesOf(r, id, 0); err != nil {
		s.entriesFailed(w, r, id, err)
		return
	}
	_, open, err := s.find(r, id)
	if err != nil {
		s.broken(w, "read batch "+id, err)
		return
	}
	p.Entered.closed = !open
	s.recall(r, &p, id)
	s.show(w, http.StatusOK, "entries.html", p)
}

// entriesFailed answers for a batch that is not there, or a fault of ours.
func (s *server) entriesFailed(w http.ResponseWriter, r *http.Request, id string, err error) {
	var p page
	if s.wrong(&p, "read the entries of batch "+id, err) == http.StatusInternalServerError {
		http.Error(w, must("err.inside.read"), http.StatusInternalServerError)
		return
	}
	s.missing(w, r, id)
}

// recall puts into the page what the person has just entered.
func (s *server) recall(r *http.Request, p *page, batch string) {
	id := r.URL.Query().Get("done")
	if p.Wrong != "" {
		id = p.Form.Strikes // the form that was refused stays, and what it is about
	}
	if id == "" || p.Form.Back == "alarm" && p.Wrong != "" {
		return // the page of an alarm has such a form of its own
	}
	home := ""
	if batch == "" { // of all batches: which it was stands beside it
		if batch = r.URL.Query().Get("batch"); batch != "" {
			home = "home"
		}
	}
	found := s.saidOfBatch(r, id, batch)
	if found == nil {
		found = s.saidOfAlarm(r, id, batch)
	}
	if found == nil {
		return
	}
	found.ID, found.Batch = id, batch
	if found.Back == "" {
		found.Back = home
	}
	found.Already = r.URL.Query().Has("already")
	left := process.StrikeFreely - s.Clock.Now().Sub(found.At)
	found.Free, found.Left = !found.Already && !found.Struck && left > 0, left.Milliseconds()
	p.Said = found
}

func (s *server) saidOfBatch(r *http.Request, id, batch string) *said {
	if batch == "" {
		return nil
	}
	list, err := s.Reader.Entries(r.Context(), batch)
	if err != nil {
		s.Log.Error("what was entered could not be read", "batch", batch, "error", err)
	}
	for _, e := range list {
		if e.ID == id {
			return &said{Words: s.entryWords(e), By: e.By, At: e.Typed, Struck: e.Struck != nil}
		}
	}
	return nil
}

func (s *server) saidOfAlarm(r *http.Request, id, batch string) *said {
	list, err := s.Reader.Alarms(r.Context())
	if err != nil {
		s.Log.Error("the alarms could not be read", "error", err)
	}
	back := ""
	if strings.HasPrefix(r.URL.Path, "/alarms/") {
		back = "alarm"
	}
	for _, a := range list {
		for _, an := range a.Answers {
			if an.ID == id {
				return &said{Words: must("said.acknowledge", a.Number, a.Title), By: an.By, At: an.At, Struck: an.Withdrawn != nil, Alarm: a.Number, Back: back}
			}
		}
		if a.Shelf != nil && a.Shelf.ID == id {
			return &said{Words: must("said.shelve", a.Number, a.Title), By: a.Shelf.By, At: a.Shelf.At, Alarm: a.Number, Back: back}
		}
	}
	return nil
}

// entryWords is an entry in a few words, in the degrees of this browser.
func (s *server) entryWords(e record.Entry) string {
	switch e.Kind {
	case process.CommandStage:
		return must("said.stage", e.Text)
	case process.CommandTurned:
		if len(e.Pieces) == 0 {
			return must("said.turned.all")
		}
		return must("said.turned", strings.Join(e.Pieces, ", "))
	case process.CommandReading:
		return withText(must("said.reading", strings.TrimSpace(string(e.Placement)+" "+e.Piece), s.Site.Value(e.Placement, e.Value)), e.Text)
	case process.CommandWeighed:
		return withText(must("said.weighed", e.Piece, s.Site.Value(e.Placement, e.Value)), e.Text)
	case process.CommandCounted:
		return must("said.counted", e.Text)
	case process.CommandNote:
		return must("said.note", e.Text)
	}
	return strings.TrimSpace(string(e.Kind) + " " + e.Text)
}

func withText(words, text string) string {
	if text == "" {
		return words
	}
	return words + "; " + text
}

// later says when an entry was typed, if that was not when it happened.
func (s *server) later(e record.Entry) string {
	if e.Typed.Sub(e.Happened).Abs() < time.Minute {
		return ""
	}
	return must("entry.typed", s.short(e.Typed))
}

// struckWords are by whom, when and why; that it was comes before, in capitals.
func (s *server) struckWords(k *record.Strike) string {
	_, words, _ := strings.Cut(k.Words(s.short), " by ")
	return must("entry.by", words)
}

// standing is the answer of an alarm that can be taken back, or nil.
func standing(a Alarm) *alerts.Answer {
	n := len(a.Answers)
	if n == 0 || a.AcknowledgedAt.IsZero() || a.Answers[n-1].ID == "" || a.Answers[n-1].Withdrawn != nil {
		return nil
	}
	return &a.Answers[n-1]
}

// A backing is a form that takes something back, on the page of an alarm.
type backing struct {
	Page     page
	ID, Does string
}

// Slip is what is wrong with the initials of this form.
func (b backing) Slip() besideField {
	if b.Page.Form.Strikes != b.ID {
		return besideField{}
	}
	return b.Page.Marks.In("/strike", "by")
}

// undone reports whether the page offers to take such a command back, and so has to know
// which it was.
func undone(c process.Command) bool {
	switch c.Kind {
	case process.CommandStage, process.CommandTurned, process.CommandReading, process.CommandWeighed, process.CommandCounted,
		process.CommandNote, process.CommandAcknowledge, process.CommandShelve, process.CommandStruck:
		return true
	}
	return false
}

// doneAt is where the page goes when a command was taken: done names what is shown with a
// button to take it back; already, that somebody else had said it.
func doneAt(to string, c process.Command, was *process.Entered) string {
	if c.Batch != "" && strings.HasPrefix(to, "/batches?") && undone(c) {
		to = "/batches?batch=" + url.QueryEscape(c.Batch) + "&done"
	}
	switch {
	case was != nil && was.Kind == process.CommandStruck:
		return to + "=" + url.QueryEscape(c.Strikes)
	case was != nil:
		return to + "=" + url.QueryEscape(was.ID) + "&already"
	case !undone(c):
		return to
	case c.Kind == process.CommandStruck:
		return to + "=" + url.QueryEscape(c.Strikes)
	}
	return to + "=" + url.QueryEscape(c.ID)
}

func entryPath(batch, id string) string { return batchPath(batch) + "/entries/" + url.PathEscape(id) }

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// entryWordFunctions are the functions of the templates that show what was entered.
func (s *server) entryWordFunctions() template.FuncMap {
	return template.FuncMap{
		"said":      s.entryWords,
		"entryPath": entryPath,
		"newid":     s.NewID,
		"later":     s.later,
		"struck":    s.struckWords,
		"standing":  standing,
		"backing":   func(p page, id, does string) backing { return backing{p, id, does} },
		"field":     fieldIn,
		"fieldOf":   fieldOf,
	}
}
