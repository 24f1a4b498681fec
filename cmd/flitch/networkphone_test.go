package main

import (
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/linktest"
	"flitch/store"
)

// A farPhone is at the far end of a link, and takes every message that comes so far.
type farPhone struct {
	server *httptest.Server
	mu     sync.Mutex
	heard  map[int64][]string // titles by the number of the message
}

func newFarPhone(t *testing.T, link *linktest.Link) *farPhone {
	t.Helper()
	p := &farPhone{heard: map[int64][]string{}}
	p.server = httptest.NewUnstartedServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		var m struct {
			Message int64
			Title   string
		}
		if json.NewDecoder(r.Body).Decode(&m) != nil {
			return // the rest of it was lost
		}
		p.mu.Lock()
		defer p.mu.Unlock()
		p.heard[m.Message] = append(p.heard[m.Message], m.Title)
	}))
	err := link.Inside(func() (err error) {
		p.server.Listener.Close()
		p.server.Listener, err = net.Listen("tcp4", link.Far+":0")
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	p.server.Start()
	t.Cleanup(func() { p.server.CloseClientConnections(); p.server.Close() })
	return p
}

// all is what was heard, copied.
func (p *farPhone) all() map[int64][]string {
	p.mu.Lock()
	defer p.mu.Unlock()
	out := map[int64][]string{}
	for number, titles := range p.heard {
		out[number] = append([]string(nil), titles...)
	}
	return out
}

// messages are all that the daemon ever wanted to say.
func (l *larder) messages() []store.MessageRecord {
	l.t.Helper()
	db, err := store.OpenBeside(filepath.Join(l.dir, "flitch.db"))
	if err != nil {
		l.t.Fatal(err)
	}
	defer db.Close()
	all, err := db.MessagesBetween(0, 1<<40)
	if err != nil {
		l.t.Fatal(err)
	}
	return all
}

// untold says which messages up to a number nobody was told: those that are not delivered and
// not taken up by another one that was, and those of which the daemon says so and the phone does not.
func untold(all []store.MessageRecord, last int64, heard map[int64][]string) (faults []string) {
	instead := map[int64]int64{}
	for _, m := range all {
		if n := len(m.Attempts); m.Status == store.MessageFailed && n > 0 {
			var by int64
			if _, err := fmt.Sscanf(m.Attempts[n-1].Error, "superseded by message %d", &by); err == nil {
				instead[m.ID] = by
			}
		}
	}
	for _, m := range all {
		id := m.ID
		for instead[id] != 0 {
			id = instead[id]
		}
		if m.ID <= last && len(heard[id]) == 0 {
			faults = append(faults, fmt.Sprintf("message %d (%s, %s) was not heard", m.ID, m.Subject, m.Status))
		}
	}
	return faults
}

// underWay is whether an attempt to say something has no end yet: it takes its time on a bad link,
// and the clock of the daemon has to wait for it, or a day passes meanwhile.
func underWay(all []store.MessageRecord) bool {
	for _, m := range all {
		if n := len(m.Attempts); n > 0 && m.Attempts[n-1].Ended.IsZero() {
			return true
		}
	}
	return false
}

// The only phone is at the far end of a bad link, by four ways of which each has its own messages. The
// link then loses everything for an hour. Every message comes, under one number, however often
// the answer to it was lost.
func TestAPhoneBehindABadLink(t *testing.T) {
	t.Parallel()
	chances := badWifi
	chances.Lose = 0.25
	link := linktest.New(t, 6, chances)
	phone := newFarPhone(t, link)
	l := installed(t, t.TempDir())
	for i := range 4 {
		l.amend("\n[[probe]]", "\n[[probe]]", fmt.Sprintf("\n[[channel]]\nname = \"far%d\"\nkind = \"http\"\nlevel = \"tell\"\ndeadline = \"1s\"\nurl = %q\n", i, phone.server.URL))
	}
	m := l.startAt(time.Date(2031, 5, 5, 6, 0, 0, 0, time.UTC))
	m.flitch("batch", "new", "--by", "T.V.", "--id", "PS-02", "--plan", "belly-dry-cured", "--piece", "A:2268g:38mm", "--fridge", "alder", "--smoker", "old-kettle")
	hour := func() {
		for range 60 { // nothing is heard of the fridge, and that is told again and again
			m.move("pass 1m")
		}
	}
	last := int64(0)
	everything := func() {
		var said []store.MessageRecord
		waitFor(t, 2*time.Minute, "there is something new to be said", func() bool { // the evaluation is a moment behind
			if said = l.messages(); len(said) > 0 && said[len(said)-1].ID > last {
				return true
			}
			m.move("pass 1m")
			return false
		})
		last = said[len(said)-1].ID
		waitFor(t, 5*time.Minute, "all that was to be said is", func() bool {
			if now := l.messages(); !underWay(now) {
				if len(untold(now, last, phone.all())) == 0 {
					return true
				}
				m.move("pass 1m") // what waits for another attempt waits by this clock
			}
			return false
		})
	}
	for range sizeOf(t, "FLITCH_LINK_HOURS", 2) {
		hour()
		everything()
	}
	link.Cut()
	hour()
	waitFor(t, time.Minute, "something is lost on the link that is cut", func() bool {
		if link.Counts().Cut > 0 {
			return true
		}
		m.move("pass 1m")
		return false
	})
	link.Mend()
	everything()
	l.kill()
	said, heard := l.messages(), phone.all()
	for _, fault := range delivered(said, heard) {
		t.Error(fault)
	}
	c := link.Counts()
	whole(t, c)
	attempts, again := 0, 0
	for _, m := range said {
		attempts += len(m.Attempts)
		again += max(0, len(heard[m.ID])-1)
	}
	if len(heard) < 8 || attempts <= len(said) {
		t.Errorf("%d messages heard, %d attempts for %d: that proves nothing", len(heard), attempts, len(said))
	}
	for _, m := range said { // the control: a phone that lost one message of those that it was sent
		if len(heard[m.ID]) > 0 && m.ID <= last {
			delete(heard, m.ID)
			break
		}
	}
	if len(untold(said, last, heard)) == 0 {
		t.Error("a message less, and the check does not find it")
	}
	t.Logf("%d faults: %v; %d messages up to the mending, all heard; %d attempts, %d came more than once, under the same number", c.Faults(), c, last, attempts, again)
}

// delivered says where the daemon is wrong about what was heard.
func delivered(said []store.MessageRecord, heard map[int64][]string) (faults []string) {
	known := map[int64]bool{}
	for _, m := range said {
		known[m.ID] = true
		if m.Status == store.MessageDelivered && len(heard[m.ID]) == 0 {
			faults = append(faults, fmt.Sprintf("message %d is said to be delivered, and was not heard", m.ID))
		}
		plain := 0 // the first attempt; it may be the last that comes
		for _, title := range heard[m.ID] {
			if !strings.Contains(title, "(may repeat)") {
				plain++
			}
		}
		if plain > 1 {
			faults = append(faults, fmt.Sprintf("message %d came %d times without saying that it may repeat: %s", m.ID, plain, heard[m.ID]))
		}
		if len(heard[m.ID]) > len(m.Attempts) {
			faults = append(faults, fmt.Sprintf("message %d was heard %d times, and tried %d times", m.ID, len(heard[m.ID]), len(m.Attempts)))
		}
	}
	for number, titles := range heard {
		if !known[number] {
			faults = append(faults, fmt.Sprintf("a message %d that the daemon does not know: %s", number, strings.Join(titles, ", ")))
		}
	}
	return faults
}
