package api

import (
	"bytes"
	"context"
	"crypto/sha256"
	_ "embed"
	"encoding/hex"
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/web"
	"flitch/process"
)

//go:embed answer.html
var answerText string

var answerTemplate = template.Must(template.New("answer").Parse(answerText))

// An answerPage is what the page of a link shows.
type answerPage struct {
	Number  int64
	Alarm   *web.Alarm
	Since   string
	By      string
	Ask     bool   // the button is there
	Done    bool   // it was taken
	Worth   bool   // nobody has to press I am on it any more: what was the ring worth?
	Said    string // what it was worth, by this link
	Refused string // why it was not
	Instead string // what to do now
	id      string // of the command that the link gives
	status  int
	ticket  ticket
}

// answerPath registers the links. Looking at one changes nothing: programs that
// check mail for bad addresses and draw previews look at every one. It takes the
// button.
func (s *server) answerPath(mux *http.ServeMux) {
	if s.Links == nil {
		return
	}
	turn := make(chan struct{}, 1) // one answer at a time: it is looked at, then given
	mux.HandleFunc("GET /a/{token}", func(w http.ResponseWriter, r *http.Request) {
		page, err := s.look(r.Context(), r.PathValue("token"))
		s.showAnswer(w, r, page, err)
	})
	mux.HandleFunc("POST /a/{token}", func(w http.ResponseWriter, r *http.Request) {
		select {
		case turn <- struct{}{}:
		case <-r.Context().Done():
			return
		}
		var page answerPage
		var err error
		r.Body = http.MaxBytesReader(w, r.Body, mostLink)
		if word := r.FormValue("worth"); word != "" {
			page, err = s.worth(r.Context(), r.PathValue("token"), word)
		} else {
			page, err = s.take(r.Context(), r.PathValue("token"))
		}
		<-turn
		s.showAnswer(w, r, page, err)
	})
}

// take answers the alarm. The command's identity comes from the token: were it
// given twice all the same, the engine would know it.
func (s *server) take(ctx context.Context, token string) (answerPage, error) {
	page, err := s.look(ctx, token)
	if err != nil || !page.Ask {
		return page, err
	}
	now := s.Clock.Now().UTC()
	err = s.Commander.Do(ctx, process.Command{ID: page.id, Kind: process.CommandAcknowledge,
		Alarm: page.Number, By: page.By, At: now, Typed: now})
	page.Ask = false
	if no, refused := errors.AsType[*process.Refusal](err); refused {
		return page.refused(no), nil
	}
	page.Done = err == nil
	page.Worth = page.Done && page.rang()
	return page, err
}

// worth says what the ring was worth, by the same link: whoever was woken by it knows, and
// has no password at hand at night. The engine takes one word for each ring.
func (s *server) worth(ctx context.Context, token, word string) (answerPage, error) {
	page, err := s.look(ctx, token)
	if err != nil || !page.Worth {
		return page, err
	}
	now := s.Clock.Now().UTC()
	sum := sha256.Sum256([]byte(token))
	err = s.Commander.Do(ctx, process.Command{ID: "worth-" + hex.EncodeToString(sum[:16]), Kind: process.CommandJudge,
		Alarm: page.Number, By: page.By, Text: word, At: now, Typed: now})
	page.Worth = false
	if no, refused := errors.AsType[*process.Refusal](err); refused {
		return page.refused(no), nil
	}
	if err == nil {
		page.status, page.Refused, page.Said = http.StatusOK, "", word
	}
	return page, err
}

// look finds out whether the token may answer now.
func (s *server) look(ctx context.Context, token string) (answerPage, error) {
	t, ours := s.Links.read(token)
	if !ours {
		return answerPage{}.refuse(http.StatusForbidden, "This link was not made here, or a part of it is missing. Nothing was changed.",
			"Copy all of it out of the message, or answer on the page."), nil
	}
	sum := sha256.Sum256([]byte(token))
	page := answerPage{id: "link-" + hex.EncodeToString(sum[:16]), Number: t.alarm, By: s.Links.by(t), status: http.StatusOK, ticket: t}
	alarms, err := s.Reader.Alarms(ctx)
	if err != nil {
		return page, err
	}
	for _, a := range alarms {
		if a.Number == t.alarm {
			page.Alarm, page.Since = &a, s.Links.clock(a.Since)
			page = s.judge(page)
			page.Worth = !page.Ask && page.rang() && s.Links.lasts(s.Clock.Now(), t)
			return page, nil
		}
	}
	return page.refuse(http.StatusGone, fmt.Sprintf("Alarm %d is long over. Nothing was changed.", t.alarm), ""), nil
}

// judge says what is in the way of an answer: somebody else's, an end, the time.
func (s *server) judge(page answerPage) answerPage {
	a, t := page.Alarm, page.ticket
	given, answered := lastAnswer(a.Occurrence, t.issued, page.id)
	switch {
	case answered:
		return page.refuse(http.StatusConflict, fmt.Sprintf("Alarm %d was already answered by %s at %s. Nothing was changed.",
			a.Number, given.By, s.Links.clock(given.At)), "")
	case !a.Active:
		return page.refuse(http.StatusGone, fmt.Sprintf("Alarm %d is over since %s. Nothing was changed.",
			a.Number, s.Links.clock(a.ClearedAt)), "")
	case !s.Links.lasts(s.Clock.Now(), t):
		return page.refuse(http.StatusGone, fmt.Sprintf("This link is from %s and too old to answer with. Nothing was changed.",
			s.Links.clock(t.issued)), "The alarm still stands: answer on its page, or with the link of a newer message.")
	}
	page.Ask = true
	return page
}

// rang reports whether the alarm came to a ring, of which people say what it was worth.
func (p answerPage) rang() bool { return p.Alarm != nil && p.Alarm.Level == alerts.Ring }

// lastAnswer is the answer that stands, or the latest that was given after a
// message of that time. One that was taken back uses up no link but its own.
func lastAnswer(o alerts.Occurrence, issued time.Time, id string) (alerts.Answer, bool) {
	if !o.AcknowledgedAt.IsZero() {
		return alerts.Answer{At: o.AcknowledgedAt, By: o.AcknowledgedBy}, true
	}
	for _, an := range slices.Backward(o.Answers) {
		if !an.At.Before(issued) && (an.Withdrawn == nil || an.ID == id) {
			return an, true
		}
	}
	return alerts.Answer{}, false
}

func (p answerPage) refuse(status int, what, instead string) answerPage {
	p.status, p.Refused, p.Instead, p.Ask = status, what, instead, false
	return p
}

// refused is what the house said to the answer. What the disk could not take has to be
// given again, so the person is told how.
func (p answerPage) refused(no *process.Refusal) answerPage {
	if no.NotNow {
		return p.refuse(http.StatusServiceUnavailable, sentence(no.What), "The alarm still stands. "+sentence(no.Hint))
	}
	return p.refuse(http.StatusConflict, no.What+". Nothing was changed.", "")
}

func sentence(text string) string {
	if text == "" {
		return ""
	}
	return strings.ToUpper(text[:1]) + text[1:] + "."
}

func (s *server) showAnswer(w http.ResponseWriter, r *http.Request, page answerPage, err error) {
	if err != nil {
		s.Log.Error("answer by link failed", "alarm", page.Number, "error", err) // the path stays out of the log: it may still be of use
		page = page.refuse(http.StatusInternalServerError, "Something went wrong inside flitch. Try again.", "")
	}
	var b bytes.Buffer
	if err := answerTemplate.Execute(&b, page); err != nil {
		s.Log.Error("answer page failed", "error", err)
		http.Error(w, "something went wrong inside flitch", http.StatusInternalServerError)
		return
	}
	h := w.Header()
	h.Set("Content-Type", "text/html; charset=utf-8")
	h.Set("Cache-Control", "no-store")
	h.Set("X-Robots-Tag", "noindex")
	w.WriteHeader(page.status)
	w.Write(b.Bytes()) // the phone may be gone; nobody is left to be told
}
