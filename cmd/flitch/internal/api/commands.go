package api

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strings"
	"time"

	"flitch/process"
)

// maxBody bounds the body of a command, bytes.
const maxBody = 64 << 10

// maxName bounds the id of a command and the name of its batch, bytes: wherever they are kept they
// are looked for, and an index holds no text of any length. The page takes no longer id either, and
// no batch has a longer name.
const maxName = 64

// A commandBody is a command as it is sent. It has no time of typing: that is
// the daemon's to say.
type commandBody struct {
	ID        string                `json:"id"`
	Kind      process.CommandKind   `json:"kind"`
	Batch     string                `json:"batch"`
	By        string                `json:"by"`
	At        *time.Time            `json:"at"` // RFC 3339; absent: now, or of a correction as before
	Stage     process.StageName     `json:"stage"`
	Pieces    []string              `json:"pieces"`
	Placement process.Placement     `json:"placement"`
	Value     *float64              `json:"value"` // °C, g, pH or pieces, by kind
	Text      string                `json:"text"`
	Strikes   string                `json:"strikes"` // ID of an earlier command: struck out, or by one of its kind corrected
	Why       string                `json:"why"`     // it is; within a minute it may be left out
	Alarm     int64                 `json:"alarm"`
	Rung      process.Rung          `json:"rung"`    // weighed: of the yield ladder
	Way       process.Way           `json:"way"`     // counted: in or out
	Weights   []process.PieceWeight `json:"weights"` // weighed: several pieces at once, in place of value
	Entry     string                `json:"entry"`   // shelved before it came
	Of        string                `json:"of"`
	Until     *time.Time            `json:"until"` // RFC 3339; end of a duty or a shelf
	Dosing    *process.Dosing       `json:"dosing"`
	Check     *process.CheckSaid    `json:"check"`
	Unit      *process.UnitSaid     `json:"unit"` // what a sensor sends now, when that is asked
	Taste     *process.Taste        `json:"taste"`
	Cost      *process.Cost         `json:"cost"`
	New       *NewRequest           `json:"new"`

	Action      *process.ActionSaid `json:"action"`      // the four parts of a corrective action
	Disposition process.Disposition `json:"disposition"` // of "pieces", or of all; "text" says why
}

func (s *server) command(w http.ResponseWriter, r *http.Request) {
	var body commandBody
	if status, err := readBody(w, r, &body); err != nil {
		s.refuse(w, status, err.Error(), `send one JSON object such as {"kind":"turned","batch":"OL-31-04","by":"TV"}`)
		return
	}
	command, err := s.build(body)
	if err == nil {
		err = s.Commander.Do(r.Context(), command)
	}
	if no, ok := errors.AsType[*process.Refusal](err); ok && no.Already != nil {
		s.reply(w, http.StatusOK, accepted{true, s.before(*no.Already), no.Already.ID, true})
		return
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.reply(w, http.StatusOK, accepted{true, s.taken(command), command.ID, false})
}

// An accepted command was taken, or somebody said the same before.
type accepted struct {
	OK      bool   `json:"ok"`
	Message string `json:"message"`
	ID      string `json:"id"`                // of the entry that stands
	Already bool   `json:"already,omitempty"` // somebody said it before, and that stands
}

// before says who said the same a moment ago.
func (s *server) before(e process.Entered) string {
	if e.Kind == process.CommandStruck {
		return fmt.Sprintf("%s took that back at %s; it stays on the record", e.By, s.until(e.Typed))
	}
	return fmt.Sprintf("%s entered that at %s; one entry stands", e.By, s.until(e.Typed))
}

// readBody decodes one JSON object and nothing after it.
func readBody(w http.ResponseWriter, r *http.Request, into any) (status int, err error) {
	text, err := io.ReadAll(http.MaxBytesReader(w, r.Body, maxBody))
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err == nil {
		err = d.Decode(into)
	}
	if name, found := twice(text); err == nil && found {
		err = fmt.Errorf("field %q is there twice", name)
	}
	if err == nil {
		if _, more := d.Token(); !errors.Is(more, io.EOF) {
			err = errors.New("there is something after the JSON object")
		}
	}
	var tooLong *http.MaxBytesError
	var wrongType *json.UnmarshalTypeError
	switch {
	case err == nil:
		return 0, nil
	case errors.As(err, &tooLong):
		return http.StatusRequestEntityTooLarge, fmt.Errorf("the body is longer than %d bytes", maxBody)
	case errors.As(err, &wrongType):
		return http.StatusBadRequest, fmt.Errorf("field %q: a JSON %s is not what belongs there", wrongType.Field, wrongType.Value)
	case errors.Is(err, io.EOF):
		return http.StatusBadRequest, errors.New("the body is empty")
	}
	return http.StatusBadRequest, fmt.Errorf("the body is not a command: %s", strings.TrimPrefix(err.Error(), "json: "))
}

// build makes a command of the body: what is missing and known here is filled
// in, the rest is judged where the batch is known.
func (s *server) build(b commandBody) (process.Command, error) {
	now := s.Clock.Now().UTC()
	c := process.Command{
		ID: b.ID, Kind: b.Kind, Batch: b.Batch, By: b.By, At: now, Typed: now,
		Stage: b.Stage, Pieces: b.Pieces, Placement: b.Placement, Text: b.Text, Alarm: b.Alarm, Entry: b.Entry, Of: b.Of, Dosing: b.Dosing, Check: b.Check, Unit: b.Unit, Rung: b.Rung, Way: b.Way, Weights: b.Weights, Taste: b.Taste, Cost: b.Cost,
		Strikes: b.Strikes, Why: b.Why, Action: b.Action, Disposition: b.Disposition,
	}
	switch {
	case b.At != nil:
		c.At = b.At.UTC()
	case b.Strikes != "":
		c.At = time.Time{} // a correction keeps its time where no other is named
	}
	if b.Until != nil {
		c.Until = b.Until.UTC().Truncate(time.Millisecond)
	}
	if b.Value != nil {
		c.Value = *b.Value
	}
	if c.ID == "" {
		c.ID = s.NewID()
	}
	if err := complete(b); err != nil {
		return c, err
	}
	if b.New == nil {
		return c, nil
	}
	full, err := s.Batches.Resolve(*b.New)
	c.New = &full
	return c, err
}

// commandKinds are those that a person says; the others are flitch's own.
var commandKinds = []process.CommandKind{process.CommandNew, process.CommandStage, process.CommandTurned, process.CommandReading,
	process.CommandWeighed, process.CommandCounted, process.CommandDosed, process.CommandNote, process.CommandTasted, process.CommandCost, process.CommandClose, process.CommandAcknowledge, process.CommandStruck,
	process.CommandDuty, process.CommandShelve, process.CommandOut, process.CommandJudge, process.CommandChecked, process.CommandUnit,
	process.CommandAction, process.CommandDisposition, process.CommandReviewed}

// complete refuses what can be seen to be wrong without knowing any batch.
func complete(b commandBody) error {
	switch {
	case !slices.Contains(commandKinds, b.Kind):
		return &process.Refusal{What: fmt.Sprintf("kind %q is no command", b.Kind), Hint: fmt.Sprintf("one of %v", commandKinds)}
	case len(b.ID) > maxName:
		return &process.Refusal{What: fmt.Sprintf("the id has %d bytes", len(b.ID)), Hint: fmt.Sprintf(`an "id" has at most %d bytes: leave it out, and one is made, or send a UUID`, maxName)}
	case len(b.Batch) > maxName:
		return &process.Refusal{What: fmt.Sprintf("the name of the batch has %d bytes, and no batch has one of more than %d", len(b.Batch), maxName), Hint: `"batch" is the name of one: GET /api/batches lists them`}
	case b.At != nil && b.At.IsZero():
		return &process.Refusal{What: "the year 1 is not when this happened", Hint: `write "at" like 2026-11-18T02:14:00Z, or leave it out for now`}
	case b.By == "":
		return &process.Refusal{What: "nobody said this", Hint: `add "by" with your initials`}
	case b.Kind == process.CommandStruck && b.Strikes == "":
		return &process.Refusal{What: "nothing is named to take back", Hint: `add "strikes" with the id of an entry, of GET /api/batches/{id}`}
	case b.Why != "" && b.Strikes == "":
		return &process.Refusal{What: "a reason to strike something out, and nothing to strike out", Hint: `add "strikes", or leave "why" out`}
	case b.Kind == process.CommandNew && b.New == nil:
		return &process.Refusal{What: "a new batch without a description", Hint: `add "new" with plan, pieces, fridge, smoker and cores`}
	case b.Kind != process.CommandNew && b.New != nil:
		return &process.Refusal{What: fmt.Sprintf("%q with a description of a new batch", b.Kind), Hint: `leave "new" out, or set "kind" to "new"`}
	case b.Kind == process.CommandReading && b.Value == nil:
		return &process.Refusal{What: "a hand reading without a number", Hint: `add "value", in °C, or of a pH as it is`}
	case b.Kind == process.CommandCounted && b.Value == nil:
		return &process.Refusal{What: "a count without a number", Hint: `add "value", the number of pieces`}
	case b.Kind != process.CommandChecked && b.Check != nil:
		return &process.Refusal{What: fmt.Sprintf("%q with a check of a probe", b.Kind), Hint: `leave "check" out, or set "kind" to "checked"`}
	case b.Kind != process.CommandUnit && b.Unit != nil:
		return &process.Refusal{What: fmt.Sprintf("%q with a unit of a probe", b.Kind), Hint: `leave "unit" out, or set "kind" to "unit"`}
	case b.Kind != process.CommandDosed && b.Dosing != nil:
		return &process.Refusal{What: fmt.Sprintf("%q with a dose of cure", b.Kind), Hint: `leave "dosing" out, or set "kind" to "dosed"`}
	case b.Kind != process.CommandAction && b.Action != nil:
		return &process.Refusal{What: fmt.Sprintf("%q with a corrective action", b.Kind), Hint: `leave "action" out, or set "kind" to "corrective-action"`}
	case b.Kind != process.CommandDisposition && b.Disposition != "":
		return &process.Refusal{What: fmt.Sprintf("%q with a disposition", b.Kind), Hint: `leave "disposition" out, or set "kind" to "disposition"`}
	case b.Kind == process.CommandWeighed && b.Value == nil && len(b.Weights) == 0:
		return &process.Refusal{What: "a weighing without a number", Hint: `add "value", in g, or "weights"`}
	}
	return nil
}

// taken says what was taken.
func (s *server) taken(c process.Command) string {
	switch c.Kind {
	case process.CommandNew:
		return fmt.Sprintf("batch %s started by %s", c.Batch, c.By)
	case process.CommandStage:
		return fmt.Sprintf("batch %s: stage %s entered by %s", c.Batch, c.Stage, c.By)
	case process.CommandStruck:
		return fmt.Sprintf("taken back by %s; it stays on the record", c.By)
	case process.CommandAcknowledge:
		return fmt.Sprintf("alarm %d: %s is on it", c.Alarm, c.By)
	case process.CommandDuty:
		return fmt.Sprintf("%s has the duty until %s", c.By, s.until(c.Until))
	case process.CommandShelve, process.CommandOut:
		name := strings.TrimSpace(c.Entry + " of " + c.Of)
		if c.Entry == "" {
			name = fmt.Sprintf("alarm %d", c.Alarm)
		}
		return fmt.Sprintf("%s: hidden until %s by %s", name, s.until(c.Until), c.By)
	case process.CommandChecked:
		return fmt.Sprintf("check of probe %s logged, said %s", c.Check.Probe, c.By)
	case process.CommandUnit:
		return fmt.Sprintf("probe %s sends °%s, said %s; what it said meanwhile is counted by that", c.Unit.Probe, c.Unit.Unit, c.By)
	case process.CommandJudge:
		return fmt.Sprintf("alarm %d: %s, said %s", c.Alarm, c.Text, c.By)
	case process.CommandAction:
		return actionTaken(c)
	case process.CommandDisposition:
		return fmt.Sprintf("batch %s: %s, said %s", c.Batch, c.Disposition, c.By)
	}
	if c.Strikes != "" {
		return fmt.Sprintf("batch %s: %s corrected by %s; the old line stays on the record, struck out", c.Batch, c.Kind, c.By)
	}
	return fmt.Sprintf("batch %s: %s entered by %s", c.Batch, c.Kind, c.By)
}

// actionTaken says what a corrective action still lacks.
func actionTaken(c process.Command) string {
	text := fmt.Sprintf("batch %s: corrective action about %s entered by %s", c.Batch, c.Action.About, c.By)
	if lacks := c.Action.Missing(); len(lacks) > 0 {
		text += "; the deviation stays open without " + strings.Join(lacks, ", ")
	}
	return text
}

// until is a time to come as the people of the house have it.
func (s *server) until(t time.Time) string {
	zone := s.Zone
	if zone == nil {
		zone = time.UTC
	}
	return t.In(zone).Format("Mon 2 Jan 15:04 MST")
}
