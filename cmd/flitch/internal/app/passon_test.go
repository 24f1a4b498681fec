package app

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/killpoint"
	"flitch/store"
)

// backupPhone adds a way that is used when another has failed.
func (s *shop) backupPhone(name string) *testPhone {
	p := newTestPhone()
	s.t.Cleanup(p.server.Close)
	s.cfg.Channels = append(s.cfg.Channels, config.Channel{Name: name, Kind: "http", Level: "tell", Deadline: 5 * time.Second, Backup: true,
		Text: map[string]string{"url": p.server.URL}, Secrets: map[string]config.Secret{}})
	return p
}

// A ring that is late goes on through a backup, and through no second one because flitch
// was started again, nor when it is given up.
func TestALateRingGoesOnOnce(t *testing.T) {
	s := newShop(t)
	first, second := s.backupPhone("first"), s.backupPhone("second")
	s.open()
	s.begin(raw)
	s.phone.answer(http.StatusServiceUnavailable)
	warm := func(time.Duration) { s.read("slow", 9); s.say("shop/spare", "9") }
	s.every(minute, 0, 24*minute, warm)
	if heard := first.heard(); !slices.Equal(heard, []string{"C2 raised ring"}) {
		t.Fatalf("the backup heard %q", heard)
	}
	s.close()
	s.open()
	s.every(minute, 25*minute, 32*minute, warm)
	s.phone.answer(http.StatusBadRequest)
	s.every(minute, 33*minute, 44*minute, warm)
	again := func(heard string) bool { return heard == "C2 raised ring" }
	if one, two := first.heard(), second.heard(); slices.ContainsFunc(append(one, two...), again) {
		t.Errorf("it went on once more: the first backup heard %q, the second %q", one, two)
	}
	all, err := s.app.db.MessagesOf(1)
	if err != nil || len(all) < 2 || all[0].Channel != "phone" || all[0].Status != store.MessageFailed || len(all[0].Attempts) < 5 {
		t.Errorf("messages %+v, %v: that shows nothing", all, err)
	}
}

// A message that a phone refuses for good goes on, whenever flitch is killed about it: it is
// failed and has what replaces it, or is sent again.
func TestARefusalGoesOnThoughKilled(t *testing.T) {
	whole := newRefusal(t, 0)
	whole.examine()
	seen := whole.count.Seen()
	from := slices.Index(seen, "send POST")
	if from < 0 || len(seen)-from < 15 {
		t.Fatalf("points %q", seen)
	}
	kills, stride := 0, sizeFrom(t, killStride, 5)
	for n := from + 1; n <= len(seen); n += stride {
		r := newRefusal(t, n)
		r.examine()
		if r.count.Killed() != "" {
			kills++
		}
	}
	t.Logf("%d kills", kills)
	if want := (len(seen) - from) / stride; kills < want/2 {
		t.Errorf("%d kills, want about %d", kills, want)
	}
}

// A refusal is a tale of one message that waits at the start, for a phone that is no more;
// the phone of the tale is its backup.
type refusal struct {
	*tale
	id int64
}

func newRefusal(t *testing.T, n int) *refusal {
	t.Helper()
	count := killpoint.NewCount(n)
	r := &refusal{tale: newTale(t, count, nil)}
	gone := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		if !count.Here("a message on its way") {
			w.WriteHeader(http.StatusGone)
		}
	}))
	t.Cleanup(gone.Close)
	text, err := os.ReadFile(r.config())
	if err != nil {
		t.Fatal(err)
	}
	both := strings.Replace(string(text), "name = \"phone\"\n", "name = \"phone\"\nbackup = true\n", 1) +
		fmt.Sprintf("[[channel]]\nname = \"old\"\nkind = \"http\"\nurl = %q\n", gone.URL)
	if err := os.WriteFile(r.config(), []byte(both), 0o600); err != nil {
		t.Fatal(err)
	}
	db, err := store.Open(r.database())
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	err = db.Update(func(tx *store.Tx) (err error) {
		r.id, err = tx.Enqueue(alerts.Message{Alarm: 9, Kind: alerts.Raised, Entry: "C1", Level: alerts.Tell, Channel: "old",
			Subject: "Fridge a little warm", Body: "Do first: shut the door.", Due: dawn})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// examine tells it, and looks at what became of the message: failed, and told by one other.
func (r *refusal) examine() {
	r.t.Helper()
	r.tell([]step{r.at(0)})
	at := r.count.Killed()
	_ = r.life.end() // it may be killed on its way out
	r.life.bury(r.cut == 0 && r.count.Killed() != "")
	db, err := store.Open(r.database())
	if err != nil {
		r.t.Fatal(err)
	}
	defer db.Close()
	all, err := db.MessagesOf(9)
	if err != nil || len(all) != 2 || all[0].ID != r.id || all[0].Status != store.MessageFailed ||
		all[1].Channel != "phone" || all[1].Status != store.MessageDelivered {
		r.t.Errorf("killed before %q: messages %+v, %v", at, all, err)
	}
	got := r.phone.all()
	for _, m := range got {
		if m.title() != "Fridge a little warm" || m.Message != all[len(all)-1].ID {
			r.t.Errorf("killed before %q: the backup has %+v", at, m)
		}
	}
	if len(got) < 1 || len(got) > 2 || len(got) == 2 && got[1].Title == got[1].title() {
		r.t.Errorf("killed before %q: the backup has %+v", at, got)
	}
}
