package app

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"time"

	"flitch/alerts"
)

// tries is how far apart two tries to send a message are at most, and soon how late a minute
// may be told.
const (
	tries = 5*minute + 45*time.Second
	soon  = 90 * time.Second
)

// judge says what of the promises was broken in a night that has passed.
func (b *bubble) judge(n night) (broken []string) {
	fail := func(form string, args ...any) { broken = append(broken, fmt.Sprintf(form, args...)) }
	if n.phone == "" {
		n.phone = toThePhone
	}
	for way, want := range map[*bubbleWay]string{b.phone: n.phone, b.wall: n.wall} {
		if got := strings.Join(b.heard(n, way), ", "); !onTime(got, want) {
			fail("the %s was told\n  %s\nwant\n  %s", way.name, got, want)
		}
		broken = append(broken, b.oncePerMessage(n, way)...)
	}
	broken = append(broken, b.lost()...)
	broken = append(broken, b.linked(n)...)
	last := b.copies[0] // a start makes one if there is none
	for _, at := range append(b.copies[1:], b.machine.truth()) {
		if since := at.Sub(last) - n.gone; since > b.cfg.Backup.Every+testLook {
			fail("no backup for %v", since)
		}
		last = at
	}
	if len(b.copies) > 4 {
		fail("%d backups in a night", len(b.copies))
	}
	return append(broken, b.ordered()...)
}

// onTime compares what was told with what was to be: a minute of the week may be told up to
// soon late, because who looks first at a clock that has stepped is chance.
func onTime(got, want string) bool {
	all, due := strings.Split(got, ", "), strings.Split(want, ", ")
	for i := range min(len(all), len(due)) {
		at, was := weekMinute(all[i]), weekMinute(due[i])
		if all[i][:4] == due[i][:4] && at.Sub(was) >= 0 && at.Sub(was) <= soon && !was.IsZero() {
			all[i] = due[i][:len("Mon 15:04")] + all[i][len("Mon 15:04"):]
		}
	}
	return slices.Equal(all, due)
}

// weekMinute is the time of a line such as "Mon 15:04 K3 raised"; zero of one that is late.
func weekMinute(line string) time.Time {
	if len(line) < len("Mon 15:04") {
		return time.Time{}
	}
	at, err := time.Parse("15:04", line[len("Mon "):len("Mon 15:04")])
	if err != nil {
		return time.Time{}
	}
	return at
}

// linked tries the links of the messages of an alarm that stands: the newest answers, an older
// one if it is young enough.
func (b *bubble) linked(n night) (broken []string) {
	want := http.StatusOK
	if n.tooOld {
		want = http.StatusGone
	}
	doses := slices.DeleteFunc(b.wall.taken(), func(d delivery) bool { return d.Entry != "K4" })
	if got := b.answers(doses[0].link()); got != want {
		broken = append(broken, fmt.Sprintf("in the morning the link of the evening is answered with %d, want %d", got, want))
	}
	if got := b.answers(doses[len(doses)-1].link()); got != http.StatusOK {
		broken = append(broken, fmt.Sprintf("the newest link is answered with %d", got))
	}
	return broken
}

// heard are the messages of the dose, the cure, the clock and the morning that arrived, in the
// times of the house; late ones without.
func (b *bubble) heard(n night, w *bubbleWay) (lines []string) {
	for _, d := range w.taken() {
		house := n.house(b, d.at)
		when := house.In(b.cfg.Site.Zone).Format("Mon 15:04")
		late := house.Sub(d.Due) > soon
		if late {
			when = "late"
		}
		line := fmt.Sprintf("%s %s %s", when, d.Entry, d.Kind)
		switch {
		case d.Kind == alerts.Digest:
			line = when + " summary"
		case d.Entry[0] != 'K' && d.Entry != "B6m" && d.Entry != "B3f":
			continue
		}
		at := len(lines)
		for late && at > 0 && strings.HasPrefix(lines[at-1], "late") && lines[at-1] > line { // what came late came in any order
			at--
		}
		lines = slices.Insert(lines, at, line)
	}
	return lines
}

// oncePerMessage wants each message once, what was late soon after both could hear again, and
// never a storm.
func (b *bubble) oncePerMessage(n night, w *bubbleWay) (broken []string) {
	all, ids := w.taken(), map[int64]bool{}
	hears := b.machine.origin.Add(max(bothBack, happens+n.gone))
	for i, d := range all {
		if ids[d.ID] {
			broken = append(broken, fmt.Sprintf("message %d came to the %s twice", d.ID, w.name))
		}
		ids[d.ID] = true
		if n.house(b, d.at).Sub(d.Due) > soon && d.at.Sub(hears) > tries {
			broken = append(broken, fmt.Sprintf("%s %s came to the %s %v after that could hear", d.Entry, d.Kind, w.name, d.at.Sub(hears)))
		}
		if i >= 12 && d.at.Sub(all[i-12].at) < 10*minute {
			broken = append(broken, fmt.Sprintf("%s: more than twelve messages in ten minutes", w.name))
		}
	}
	return broken
}

// lost looks for messages that did not get through, and were not overtaken by a newer one that
// says more.
func (b *bubble) lost() (broken []string) {
	all, err := b.app.db.MessagesBetween(0, 1<<40)
	if err != nil {
		return []string{err.Error()}
	}
	for _, m := range all {
		last := m.Attempts[len(m.Attempts)-1]
		if last.Outcome != alerts.Delivered && !strings.HasPrefix(last.Error, "superseded by ") {
			broken = append(broken, fmt.Sprintf("%s %s to the %s: %s %s", m.Entry, m.Kind, m.Channel, last.Outcome, last.Error))
		}
	}
	return broken
}

// ordered wants the log to run forwards.
func (b *bubble) ordered() []string {
	inputs, err := b.app.db.NextInputs(0, 1e6)
	if err != nil || len(inputs) < 200 {
		return []string{fmt.Sprintf("%d inputs, %v", len(inputs), err)}
	}
	for i, in := range inputs[1:] {
		if in.At.Before(inputs[i].At) || in.At.Sub(b.machine.origin).Abs() > 3*day {
			return []string{fmt.Sprintf("input %d is of %v, the one before it of %v", in.Seq, in.At, inputs[i].At)}
		}
	}
	return nil
}

// answers is how the page answers the link of a message now.
func (b *bubble) answers(link string) int {
	w := httptest.NewRecorder()
	r := httptest.NewRequest(http.MethodGet, strings.TrimPrefix(link, b.cfg.Page.Link), nil)
	r.Host = "localhost:8411"
	b.app.page.server.Handler.ServeHTTP(w, r)
	return w.Code
}
