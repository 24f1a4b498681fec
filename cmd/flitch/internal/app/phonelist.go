package app

import (
	"context"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"flitch/alerts"
	"flitch/alerts/outbox"
	"flitch/alerts/push"
	"flitch/cmd/flitch/internal/api"
	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/signin"
	"flitch/process"
	"flitch/process/engine"
	"flitch/store"
)

// Bounds of what a person types, in characters, and of the list: proposals.
const (
	longestPhone  = 40
	longestPerson = 8
	mostPhones    = 20 // of one channel; each is a goroutine and a message more
)

// addPhone puts the browser of a phone on the list and sends it a first message,
// so that the person sees at once whether it rings. The error is a
// *process.Refusal when the page sent something wrong.
func (a *App) addPhone(ctx context.Context, n api.NewPhone) (_ int64, err error) {
	if n.By, err = signin.Sign(ctx, strings.TrimSpace(n.By)); err != nil {
		return 0, err
	}
	c, p, err := a.readPhone(n)
	if err != nil {
		return 0, err
	}
	a.phones.Lock()
	defer a.phones.Unlock()
	replaced, err := a.replaced(p)
	if err != nil {
		return 0, err
	}
	err = a.db.Update(func(tx *store.Tx) error {
		for _, old := range replaced {
			if _, _, err := tx.RemovePhone(old.ID, laneOf(old.Channel, old.ID), p.Added); err != nil {
				return err
			}
		}
		if p.ID, err = tx.AddPhone(p); err != nil {
			return err
		}
		if err := tx.AppendJournal(process.JournalLine{At: p.Added, Kind: "phone added", By: p.Person, Text: phoneText(p) + " rings for " + p.Channel}); err != nil {
			return err
		}
		_, err := tx.Enqueue(greeting(p))
		return err
	})
	if err != nil {
		return 0, a.notChanged(err)
	}
	a.log.Info("phone added", "phone", p.ID, "name", p.Name, "person", p.Person, "channel", p.Channel)
	for _, old := range append(replaced, p) { // the same browser may have come with new keys
		a.outbox.Shut(laneOf(old.Channel, old.ID))
		a.faults.Clear(engine.FaultPhone + laneOf(old.Channel, old.ID))
	}
	a.faults.Clear(engine.FaultPhone + p.Channel)
	if err := a.openPhone(c, p); err != nil {
		return 0, err
	}
	a.outbox.Wake()
	return p.ID, nil
}

// readPhone checks what a page sent.
func (a *App) readPhone(n api.NewPhone) (c config.Channel, p store.Phone, err error) {
	c, ok := pushChannel(a.cfg, n.Channel)
	p = store.Phone{Channel: n.Channel, Person: strings.TrimSpace(n.By), Name: strings.TrimSpace(n.Name), Added: a.clock.Now()}
	switch {
	case !ok:
		return c, p, &process.Refusal{What: fmt.Sprintf("%q is not a channel that phones can be added to", n.Channel), Hint: "load the page again"}
	case !plain(p.Person, longestPerson):
		return c, p, &process.Refusal{What: "nobody said whose phone it is", Hint: fmt.Sprintf("type your initials, at most %d characters", longestPerson)}
	case !plain(p.Name, longestPhone):
		return c, p, &process.Refusal{What: "the phone has no name", Hint: fmt.Sprintf("type what it is called in the house, at most %d characters", longestPhone)}
	}
	if err := a.stranger(p.Person); err != nil {
		return c, p, err
	}
	browser, err := push.NewBrowser(n.Subscription.Endpoint, n.Subscription.Keys.Public, n.Subscription.Keys.Secret, c.Text["server"])
	if err != nil {
		return c, p, &process.Refusal{What: err.Error(), Hint: "press the button on the page of flitch, in the browser of the phone"}
	}
	p.Endpoint, p.Public, p.Secret = browser.Endpoint, browser.Public, browser.Secret
	return c, p, nil
}

// stranger refuses initials that are nobody's of the configuration, if it names anybody.
func (a *App) stranger(by string) error {
	if p := policy(a.cfg); len(p.Persons) > 0 && !p.Knows(by) {
		return engine.Stranger(p, by)
	}
	return nil
}

// plain reports whether text is there, short enough and without odd characters.
func plain(text string, most int) bool {
	odd := func(r rune) bool { return !unicode.IsPrint(r) }
	return text != "" && utf8.ValidString(text) && utf8.RuneCountInString(text) <= most && !strings.ContainsFunc(text, odd)
}

// replaced lists the ended entries that the new one takes the place of: those of
// the same person's phone of that name. It refuses one phone too many.
func (a *App) replaced(p store.Phone) (old []store.Phone, err error) {
	all, err := a.db.Phones()
	if err != nil {
		return nil, err
	}
	others := 0
	for _, q := range all {
		switch {
		case q.Channel != p.Channel || q.Endpoint == p.Endpoint:
		case !q.Ended.IsZero() && q.Person == p.Person && q.Name == p.Name:
			old = append(old, q)
		default:
			others++
		}
	}
	if others >= mostPhones {
		return nil, &process.Refusal{What: fmt.Sprintf("%d phones ring for %s already", others, p.Channel), Hint: "take one off the list first"}
	}
	return old, nil
}

// greeting is the first message to a phone.
func greeting(p store.Phone) alerts.Message {
	return alerts.Message{Kind: alerts.TestRing, Level: alerts.Ring, Channel: laneOf(p.Channel, p.ID), Due: p.Added,
		Subject: "This phone rings for flitch", Body: "Nothing is wrong. This is how a ring will reach " + p.Person + "; is it loud enough to wake you?"}
}

// removePhone takes a phone off the list.
func (a *App) removePhone(ctx context.Context, id int64, by string) error {
	by, err := signin.Sign(ctx, strings.TrimSpace(by))
	if err != nil {
		return err
	}
	if !plain(by, longestPerson) {
		return &process.Refusal{What: "nobody said this", Hint: fmt.Sprintf("type your initials, at most %d characters", longestPerson)}
	}
	if err := a.stranger(by); err != nil {
		return err
	}
	a.phones.Lock()
	defer a.phones.Unlock()
	p, err := a.phone(id)
	if err != nil {
		return err
	}
	if p.Person != by { // whoever takes another's phone away takes care of who is rung instead
		if err := signin.May(ctx, signin.Curer); err != nil {
			return err
		}
	}
	lane, now := laneOf(p.Channel, id), a.clock.Now()
	err = a.db.Update(func(tx *store.Tx) error {
		if _, found, err := tx.RemovePhone(id, lane, now); err != nil || !found {
			return err
		}
		return tx.AppendJournal(process.JournalLine{At: now, Kind: "phone removed", By: by, Text: phoneText(p) + " rings no more for " + p.Channel})
	})
	if err != nil {
		return a.notChanged(err)
	}
	a.log.Info("phone removed", "phone", id, "name", p.Name, "by", by, "channel", p.Channel)
	a.outbox.Shut(lane)
	a.faults.Clear(engine.FaultPhone + lane)
	return a.engine.Report(ctx, engine.FaultPhone+lane, false) // also when the fault is from before a restart
}

// phone finds a phone on the list.
func (a *App) phone(id int64) (store.Phone, error) {
	all, err := a.db.Phones()
	if err != nil {
		return store.Phone{}, err
	}
	for _, p := range all {
		if p.ID == id {
			return p, nil
		}
	}
	return store.Phone{}, &process.Refusal{What: fmt.Sprintf("there is no phone %d on the list", id), Hint: "load the page again", NotFound: true}
}

// A mortal channel notes when whoever it leads to is no more.
type mortal struct {
	outbox.Channel
	gone func(lane, why string)
}

// Send implements outbox.Channel.
func (c mortal) Send(ctx context.Context, m alerts.Message) (string, error) {
	receipt, err := c.Channel.Send(ctx, m)
	if refusal, ok := err.(*alerts.SendError); ok && refusal.Gone {
		c.gone(c.Name(), refusal.Text)
	}
	return receipt, err
}

// phoneGone ends a phone whose browser has given up its subscription: it was
// uninstalled, its data were cleared, or permission was taken back. That the
// message did not get through is told like any other failure.
func (a *App) phoneGone(lane, why string) {
	_, id := channelOf(lane)
	p, err := a.phone(id)
	if err != nil {
		a.log.Error("a phone that is gone is not on the list", "channel", lane, "error", err)
		return
	}
	now := a.clock.Now()
	err = a.db.Update(func(tx *store.Tx) error {
		if ended, err := tx.EndPhone(id, now, why); err != nil || !ended {
			return err
		}
		return tx.AppendJournal(process.JournalLine{At: now, Kind: "phone ended", By: "flitch", Text: phoneText(p) + " rings no more: " + why})
	})
	if err != nil {
		a.log.Error("the end of a phone is not stored, it will be seen again", "phone", id, "error", err)
		return
	}
	a.log.Warn("phone ended", "phone", id, "name", p.Name, "person", p.Person, "channel", p.Channel, "why", why)
}
