package web

import (
	"strconv"
	"time"

	"flitch/process"
)

// A Night is who is told of what: who has it, and what is hidden from people.
type Night struct {
	Persons []string  // initials, in the order they are called; empty: nobody is named in the configuration
	By      string    // who has the night; empty: nobody has taken it
	Until   time.Time // of By
	Shelves []Shelved // the one that ends first comes first
}

// A Shelved alarm goes on being followed and recorded, and nobody is told.
type Shelved struct {
	Entry   string // line of the catalogue
	Subject string
	By      string
	Reason  string
	Until   time.Time
	Out     bool // it is being mended
}

// duty takes the night until a time of day.
func (s *server) duty(e entry, c *process.Command) (err error) {
	s.identify(c, process.CommandDuty, "")
	c.Until, err = s.ahead(e.Until, c.Typed)
	return err
}

// shelve hides one alarm until a time of day.
func (s *server) shelve(e entry, c *process.Command) error {
	n, err := strconv.ParseInt(e.Alarm, 10, 64)
	if err != nil || n <= 0 {
		return complaint(must("err.alarm", e.Alarm))
	}
	c.Alarm, c.Text = n, e.Text
	s.identify(c, process.CommandShelve, "-"+e.Alarm)
	c.Until, err = s.ahead(e.Until, c.Typed)
	return err
}

// judge says what a ring was worth.
func (s *server) judge(e entry, c *process.Command) error {
	n, err := strconv.ParseInt(e.Alarm, 10, 64)
	if err != nil || n <= 0 {
		return complaint(must("err.alarm", e.Alarm))
	}
	c.Alarm, c.Text = n, e.Text
	s.identify(c, process.CommandJudge, "-"+e.Alarm)
	return nil
}

// ahead is the next time that the clock on the wall shows a time of day.
func (s *server) ahead(text string, now time.Time) (time.Time, error) {
	of, err := time.Parse("15:04", text)
	if err != nil {
		return time.Time{}, slip{"until", must("err.until", text)}
	}
	local := s.Site.Local(now)
	at := time.Date(local.Year(), local.Month(), local.Day(), of.Hour(), of.Minute(), 0, 0, local.Location())
	if !at.After(now) {
		at = time.Date(local.Year(), local.Month(), local.Day()+1, of.Hour(), of.Minute(), 0, 0, local.Location())
	}
	return at.UTC(), nil
}
