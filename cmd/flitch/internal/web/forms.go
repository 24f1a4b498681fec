package web

import (
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"unicode/utf8"

	"flitch/process"
)

const (
	initialsCookie = "initials"
	maxInitials    = 8        // characters
	maxID          = 64       // bytes
	maxForm        = 64 << 10 // bytes
)

// An entry is what came in a form, as it was typed.
type entry struct {
	ID, Batch, By, When string
	Stage, Alarm, Back  string // Back: where the form was, "alarm" or empty
	Where, Value, Text  string
	Until               string // of a night or a shelf, time of day
	Unit                string // "alder-slow:F": what a sensor sends now
	Decision            string // what is done after a lost heat
	Field               string // that a complaint is about
	Strikes, Why        string // what is taken back
	Sent                string // path the form went to
}

// A complaint is a mistake in a form, in words for the person.
type complaint string

func (c complaint) Error() string { return string(c) }

// form reads a form, makes a command of it by build, and has it done. The answer
// is a redirect, so that loading the page again does nothing twice.
func (s *server) form(build func(entry, *process.Command) error) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		r.Body = http.MaxBytesReader(w, r.Body, maxForm)
		if err := r.ParseForm(); err != nil {
			s.refuse(w, r, entry{}, complaint(must("err.form")))
			return
		}
		e := typed(r.PostForm)
		e.Sent = r.URL.Path
		command, err := s.command(e)
		if err == nil {
			err = build(e, &command)
		}
		var was *process.Entered
		if err == nil {
			was, err = s.do(r, command)
		}
		if err != nil {
			s.refuse(w, r, e, err)
			return
		}
		remember(w, command.By)
		http.Redirect(w, r, doneAt(after(e), command, was), http.StatusSeeOther)
	}
}

func typed(f url.Values) entry {
	get := func(name string) string { return strings.TrimSpace(f.Get(name)) }
	return entry{
		ID: get("id"), Batch: get("batch"), By: get("by"), When: get("when"),
		Stage: get("stage"), Alarm: get("alarm"), Back: get("back"),
		Where: get("where"), Value: get("value"), Text: get("text"),
		Until: get("until"), Unit: get("unit"), Decision: get("decision"),
		Strikes: get("strikes"), Why: get("why"),
	}
}

// command fills in what all commands have: who, for what, and both times.
func (s *server) command(e entry) (process.Command, error) {
	now := s.Clock.Now().UTC()
	c := process.Command{ID: e.ID, Batch: e.Batch, By: e.By, At: now, Typed: now}
	if e.By == "" || utf8.RuneCountInString(e.By) > maxInitials {
		return c, slip{"by", must("err.initials")}
	}
	var err error
	if c.At, err = s.when(e.When, now); err != nil {
		return c, slip{"when", err.Error()}
	}
	return c, nil
}

// The identity of a command is that of the page it was typed on plus its kind:
// a double tap is one command, and two buttons of one page are two.
func (s *server) identify(c *process.Command, kind process.CommandKind, more string) {
	if c.ID == "" || len(c.ID) > maxID {
		c.ID = s.NewID()
	}
	c.Kind, c.ID = kind, c.ID+"-"+string(kind)+more
}

func (s *server) acknowledge(e entry, c *process.Command) error {
	n, err := strconv.ParseInt(e.Alarm, 10, 64)
	if err != nil || n <= 0 {
		return complaint(must("err.alarm", e.Alarm))
	}
	c.Alarm = n
	s.identify(c, process.CommandAcknowledge, "-"+e.Alarm)
	return nil
}

func (s *server) turned(e entry, c *process.Command) error {
	more := ""
	if e.Back == "home" { // where one page has a button for each batch
		more = "-" + e.Batch
	}
	s.identify(c, process.CommandTurned, more)
	return nil
}

// close ends the batch after its last stage.
func (s *server) close(_ entry, c *process.Command) error {
	s.identify(c, process.CommandClose, "")
	return nil
}

func (s *server) stage(e entry, c *process.Command) error {
	c.Stage, c.Text = process.StageName(e.Stage), e.Text
	s.identify(c, process.CommandStage, "-"+e.Stage)
	return nil
}

func (s *server) reading(e entry, c *process.Command) error {
	placement, piece, _ := strings.Cut(e.Where, ":")
	c.Placement = process.Placement(placement)
	if !c.Placement.IsTemperature() {
		return slip{"where", must("err.where")}
	}
	if piece != "" {
		c.Pieces = []string{piece}
	}
	// A comma is a decimal point for half of the world, and never a thousands
	// mark in a temperature.
	v, ok := decimal(e.Value)
	if !ok || v < -273 || v > 1000 {
		return slip{"value", must("err.value", e.Value)}
	}
	c.Value, c.Text = s.Site.FromDegrees(v), e.Text
	s.identify(c, process.CommandReading, "")
	return nil
}

func (s *server) note(e entry, c *process.Command) error {
	if e.Text == "" {
		return slip{"text", must("err.note")}
	}
	c.Text = e.Text
	s.identify(c, process.CommandNote, "")
	return nil
}

// unit answers which unit a sensor sends now.
func (s *server) unit(e entry, c *process.Command) error {
	probe, unit, ok := strings.Cut(e.Unit, ":")
	if !ok || probe == "" {
		return complaint(must("err.unit", e.Unit))
	}
	c.Batch, c.Unit = "", &process.UnitSaid{Probe: probe, Unit: unit} // said of the sensor, not of one batch
	s.identify(c, process.CommandUnit, "-"+e.Unit)
	return nil
}

// refuse shows the page again with what was wrong and what had been typed.
func (s *server) refuse(w http.ResponseWriter, r *http.Request, e entry, err error) {
	p := s.page(r)
	p.Form, p.Form.ID = e, s.NewID()
	if m, ok := errors.AsType[slip](err); ok {
		p.Form.Field, p.Marks = m.field, marks{e.Sent, m}
	}
	status := s.wrong(&p, "take a command for batch "+e.Batch, err)
	switch {
	case e.Back == "alarm":
		s.showAlarm(w, r, status, e.Alarm, p)
	case e.Batch != "" && e.Back == "":
		s.showBatch(w, r, status, e.Batch, p)
	default:
		s.showList(w, r, status, p)
	}
}

// wrong puts into the page what was wrong and returns the status of the answer.
func (s *server) wrong(p *page, doing string, err error) (status int) {
	var refusal *process.Refusal
	var said complaint
	var atField slip
	switch {
	case errors.As(err, &atField):
		p.Wrong = atField.text
	case errors.As(err, &refusal):
		p.Wrong, p.Hint = refusal.What, pageHint(refusal.Hint)
		if refusal.NotNow {
			return http.StatusServiceUnavailable
		}
	case errors.As(err, &said):
		p.Wrong = string(said)
	default:
		s.Log.Error("command failed", "doing", doing, "error", err)
		p.Wrong = must("err.inside")
		return http.StatusInternalServerError
	}
	return http.StatusUnprocessableEntity
}

// remember keeps the initials for the next tap on the same phone. They are no
// secret and no proof.
func remember(w http.ResponseWriter, by string) {
	http.SetCookie(w, &http.Cookie{
		Name: initialsCookie, Value: url.QueryEscape(by), Path: "/", MaxAge: 30 * 24 * 3600,
		HttpOnly: true, SameSite: http.SameSiteLaxMode,
	})
}

// after is the page to show when a command was taken: the one it came from.
func after(e entry) string {
	switch {
	case e.Back == "alarm":
		return "/alarms/" + url.PathEscape(e.Alarm) + "?done"
	case e.Batch != "" && e.Back == "":
		return batchPath(e.Batch) + "?done"
	}
	return "/batches?done"
}

func batchPath(id string) string { return "/batches/" + url.PathEscape(id) }

func alarmPath(number int64) string { return "/alarms/" + strconv.FormatInt(number, 10) }
