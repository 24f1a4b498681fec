package engine

import (
	"errors"
	"fmt"

	"flitch/alerts"
	"flitch/process"
)

// CheckPeople refuses a duty, a shelf or a judgement that cannot be, or that nobody known
// signed, and changes nothing.
func (h *House) CheckPeople(c process.Command) error {
	if !h.knows(c) {
		return Stranger(h.policy, c.By)
	}
	return h.checkPeople(c)
}

// checkPeople refuses what cannot be done, and changes nothing.
func (h *House) checkPeople(c process.Command) error {
	switch c.Kind {
	case process.CommandDuty:
		return refusal(new(alerts.People).Take(h.policy, duty(c), c.Typed), "flitch duty --by M.O. --until 07:00")
	case process.CommandJudge:
		err := h.people.Judgeable(judgement(c))
		if errors.Is(err, alerts.ErrNotRung) {
			return &process.Refusal{What: fmt.Sprintf("alarm %d: %v", c.Alarm, err), Hint: "list them with: flitch alarms --all", NotFound: true}
		}
		return refusal(err, "flitch judge 17 useful --by T.V.")
	}
	if _, err := h.shelved(c); err != nil {
		return err
	}
	return refusal(shelf(c).Check(c.Typed), "flitch shelve 17 --until 03:40 --reason loading --by T.V.")
}

func refusal(err error, hint string) error {
	if err == nil {
		return nil
	}
	return &process.Refusal{What: err.Error(), Hint: hint}
}

// takePeople applies a command that was checked; one that no longer fits is left out.
func (h *House) takePeople(c process.Command) {
	if h.checkPeople(c) != nil {
		return
	}
	h.pending.people = true
	text := ""
	switch c.Kind {
	case process.CommandDuty:
		if h.people.Take(h.policy, duty(c), c.Typed) != nil {
			return
		}
		text = fmt.Sprintf("%s has the duty until %s", c.By, h.policy.Clock(c.Until, c.Typed))
	case process.CommandJudge:
		j, err := h.people.Judge(judgement(c))
		if err != nil {
			return
		}
		h.pending.judged = append(h.pending.judged, j)
		text = fmt.Sprintf("alarm %d %s was %s", j.Number, j.Entry, j.Word)
	default:
		text = h.shelve(c)
	}
	h.pending.note(process.JournalLine{At: c.Typed, Kind: string(c.Kind), By: c.By, Text: text})
}

func duty(c process.Command) alerts.Duty { return alerts.Duty{By: c.By, Until: c.Until} }

func judgement(c process.Command) alerts.Judgement {
	return alerts.Judgement{Number: c.Alarm, Word: c.Text, By: c.By, At: c.Typed}
}
