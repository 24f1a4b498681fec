package app

import (
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/alerts/push/pushtest"
	"flitch/cmd/flitch/internal/api"
	"flitch/cmd/flitch/internal/config"
	"flitch/process/engine"
	"flitch/store"
)

// pushShop is a shop with a channel of kind push, and the push service behind it.
func pushShop(t *testing.T) (*shop, *pushtest.Service) {
	return patientShop(t, 5*time.Second)
}

// patientShop gives up an attempt to ring a phone after a time. What is changed in
// its configuration is changed before the start.
func patientShop(t *testing.T, patience time.Duration, change ...func(*config.Config)) (*shop, *pushtest.Service) {
	t.Helper()
	s, service := newShop(t), pushtest.NewService()
	t.Cleanup(service.Server.Close)
	s.cfg.Page.Link = "https://localhost:8411"
	s.cfg.Channels = append(s.cfg.Channels, pushChannelFor(service, patience))
	for _, c := range change {
		c(s.cfg)
	}
	s.open()
	service.Key = s.app.ringing().SenderKey
	return s, service
}

func pushChannelFor(service *pushtest.Service, patience time.Duration) config.Channel {
	return config.Channel{Name: "push", Kind: kindPush, Level: "tell", Deadline: patience,
		Text: map[string]string{"contact": "tv@plover-shed.example", "server": service.Server.URL}, Secrets: map[string]config.Secret{}}
}

// asks is what the page of a phone sends when its button was pressed.
func asks(service *pushtest.Service, name string, b *pushtest.Browser) api.NewPhone {
	n := api.NewPhone{Channel: "push", By: "T.V.", Name: name}
	n.Subscription.Endpoint = service.Subscribe(name, b)
	n.Subscription.Keys.Public, n.Subscription.Keys.Secret = b.P256dh(), b.Auth()
	return n
}

// send posts to the page under test and returns what it answered.
func (s *shop) send(path string, body any) (status int, answer string) {
	s.t.Helper()
	text, err := json.Marshal(body)
	if err != nil {
		s.t.Fatal(err)
	}
	resp, err := http.Post(s.app.Address()+path, "application/json", bytes.NewReader(text))
	if err != nil {
		s.t.Fatal(err)
	}
	defer resp.Body.Close()
	said, err := io.ReadAll(resp.Body)
	if err != nil {
		s.t.Fatal(err)
	}
	return resp.StatusCode, string(said)
}

// addPhone adds a phone and takes its greeting.
func (s *shop) addPhone(service *pushtest.Service, name string) {
	s.t.Helper()
	if status, said := s.send("/api/phones", asks(service, name, pushtest.NewBrowser())); status != http.StatusOK {
		s.t.Fatalf("adding %s: %d %s", name, status, said)
	}
	s.settle()
	if got := service.Got(name); len(got) != 1 || !strings.Contains(got[0].Title, "This phone rings") {
		s.t.Fatalf("%s was greeted with %+v; faults %q", name, got, service.Faults())
	}
}

// fridgeWarm lets the fridge of a batch be warm, minute by minute.
func (s *shop) fridgeWarm(from, to time.Duration) {
	s.t.Helper()
	s.every(minute, from, to, func(time.Duration) { s.read("slow", 9); s.say("shop/spare", "9") })
}

func titles(notices []pushtest.Notice) (out []string) {
	for _, n := range notices {
		out = append(out, n.Title)
	}
	return out
}

func (s *shop) journal(kind string) (lines []string) {
	s.t.Helper()
	all, err := s.app.db.Journal("")
	if err != nil {
		s.t.Fatal(err)
	}
	for _, l := range all {
		if l.Kind == kind {
			lines = append(lines, l.By+": "+l.Text)
		}
	}
	if err := s.app.db.VerifyJournal(); err != nil {
		s.t.Error(err)
	}
	return lines
}

// Every phone that was added rings by itself, with the link to answer with, which
// answers for the person whose phone it is.
func TestStoryPhonesRingByWebPush(t *testing.T) {
	s, service := pushShop(t)
	s.addPhone(service, "grey")
	s.addPhone(service, "red")
	s.begin(raw)
	s.fridgeWarm(0, 21*minute)
	links := map[string]bool{}
	for _, name := range []string{"grey", "red"} {
		got := service.Got(name)
		if len(got) != 1 || !strings.HasPrefix(got[0].Title, "RING") || !got[0].Ring || got[0].Tag != "alarm-1" || strings.Contains(got[0].Text, "://") {
			t.Fatalf("%s has %+v, want one ring", name, got)
		}
		if service.Header(name).Get("Urgency") != "high" {
			t.Errorf("headers %v", service.Header(name))
		}
		links[got[0].Link] = true
		if status, body := s.follow(http.MethodGet, strings.Replace(got[0].Link, "https:", "http:", 1)); status != http.StatusOK || !strings.Contains(body, "I am on it") {
			t.Errorf("the link leads to %d %s", status, body)
		}
	}
	if len(links) != 2 {
		t.Errorf("links %v: each phone has its own", links)
	}
	for link := range links {
		s.follow(http.MethodPost, strings.Replace(link, "https:", "http:", 1))
		break
	}
	list, err := s.app.db.Occurrences(store.OccurrenceFilter{Limit: 1})
	if err != nil || len(list) != 1 || len(list[0].Answers) != 1 || list[0].Answers[0].By != "T.V." {
		t.Errorf("answered %+v, %v", list, err)
	}
	if faults := service.Faults(); len(faults) > 0 {
		t.Errorf("the push service found wrong: %q", faults)
	}
	if lines := s.journal("phone added"); len(lines) != 2 || lines[0] != "T.V.: phone 1 (grey, T.V.) rings for push" {
		t.Errorf("journal %q", lines)
	}
	info, err := os.Stat(s.cfg.Site.Database + ".push.key")
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("key file: %v, %v", info, err)
	}
}

// One phone's service fails: the others ring at once, the failed one is tried
// again, and the record says of each what became of it.
func TestStoryOnePhoneFailsAndTheOthersRing(t *testing.T) {
	s, service := pushShop(t)
	s.addPhone(service, "grey")
	s.addPhone(service, "red")
	service.Answer("grey", http.StatusServiceUnavailable)
	s.begin(raw)
	s.fridgeWarm(0, 21*minute)
	if got := service.Got("red"); len(got) != 1 {
		t.Fatalf("red has %q, want one ring", titles(got))
	}
	if got := service.Got("grey"); len(got) != 0 {
		t.Fatalf("grey has %q", titles(got))
	}
	service.Answer("grey", 0)
	s.fridgeWarm(22*minute, 28*minute)
	if got := service.Got("grey"); len(got) != 1 || got[0].Tag != "alarm-1" {
		t.Errorf("grey has %q once its service was back", titles(got))
	}
	all, err := s.app.db.MessagesOf(1)
	if err != nil {
		t.Fatal(err)
	}
	attempts := map[string]int{}
	for _, m := range all {
		if m.Status == store.MessageDelivered {
			attempts[m.Channel] += len(m.Attempts)
		}
	}
	if attempts["push/1"] < 2 || attempts["push/2"] != 1 || attempts["phone"] != 1 || attempts["push"] != 0 {
		t.Errorf("attempts %v", attempts)
	}
}

// A browser that has given up its subscription ends: that is journaled, told the
// other way, shown until a person has seen to it, and survives a restart.
func TestStoryAPhoneThatIsGone(t *testing.T) {
	s, service := pushShop(t)
	s.addPhone(service, "grey")
	s.addPhone(service, "red")
	service.Answer("grey", http.StatusGone)
	s.begin(raw)
	s.fridgeWarm(0, 40*minute)
	if heard := s.phone.heard(); !slices.ContainsFunc(heard, func(h string) bool { return strings.HasPrefix(h, "B7 raised") }) {
		t.Errorf("the other way heard %q, no word of the phone that is gone", heard)
	}
	if lines := s.journal("phone ended"); len(lines) != 1 || !strings.Contains(lines[0], "phone 1 (grey, T.V.) rings no more: answered 410 Gone") {
		t.Errorf("journal %q", lines)
	}
	before := len(service.Got("red"))
	if before == 0 {
		t.Error("the other phone did not ring")
	}
	s.close()
	s.open()
	phones, err := s.app.db.Phones()
	if err != nil || len(phones) != 2 || phones[0].Ended.IsZero() || !phones[1].Ended.IsZero() {
		t.Fatalf("phones %+v, %v", phones, err)
	}
	part := engine.FaultPhone + "push/1"
	if list := s.app.faults.List(); len(list) != 1 || list[0].Part != part || !strings.Contains(advice(list[0]), "press Ring this phone on it again") {
		t.Errorf("faults %+v", list)
	}
	s.fridgeWarm(41*minute, 80*minute)
	if got := service.Got("red"); len(got) == 0 {
		t.Error("the other phone rings no more after a restart")
	}
	if got := service.Got("grey"); len(got) != 0 {
		t.Errorf("the phone that is gone has %q", titles(got))
	}

	service.Answer("grey", 0) // the button was pressed there again: a new subscription
	again := asks(service, "grey again", pushtest.NewBrowser())
	again.Name = "grey"
	if status, said := s.send("/api/phones", again); status != http.StatusOK {
		t.Fatalf("%d %s", status, said)
	}
	s.settle()
	if list := s.app.faults.List(); len(list) != 0 {
		t.Errorf("faults %+v", list)
	}
	if phones, err = s.app.db.Phones(); err != nil || len(phones) != 2 || phones[1].Name != "grey" || !phones[1].Ended.IsZero() {
		t.Errorf("phones %+v, %v: the new one takes the old one's place", phones, err)
	}
}

// A push service that says nothing holds up nobody else.
func TestStoryAPushServiceThatStalls(t *testing.T) {
	s, service := patientShop(t, 100*time.Millisecond)
	s.addPhone(service, "red")
	hang := make(chan struct{})
	stalled := make(chan struct{}, 99)
	slow := http.NewServeMux()
	slow.HandleFunc("/", func(http.ResponseWriter, *http.Request) { stalled <- struct{}{}; <-hang })
	service.Slow("grey", slow)
	t.Cleanup(func() { close(hang) })
	if status, said := s.send("/api/phones", asks(service, "grey", pushtest.NewBrowser())); status != http.StatusOK {
		t.Fatalf("%d %s", status, said)
	}
	<-stalled // the greeting
	s.begin(raw)
	s.fridgeWarm(0, 21*minute)
	got := titles(service.Got("red"))
	if !slices.ContainsFunc(got, func(title string) bool { return strings.HasPrefix(title, "RING Fridge too warm") }) {
		t.Errorf("red has %q, want the ring of the fridge", got)
	}
	list := s.app.faults.List()
	if len(list) != 1 || list[0].Part != engine.FaultPhone+"push/2" || !strings.Contains(list[0].Text, "no answer within 100ms") {
		t.Errorf("faults %+v", list)
	}
}

// Every way to a message leads to each phone: as a backup of a way that failed,
// the weekly test, and news of a disk that takes nothing.
func TestStoryPhonesAreReachedEveryWay(t *testing.T) {
	s, service := patientShop(t, 5*time.Second, func(c *config.Config) {
		c.Channels[1].Backup = true
		c.TestRing = config.TestRing{On: true, Day: dawn.Weekday(), Hour: dawn.Hour() + 2}
	})
	s.addPhone(service, "grey")
	s.addPhone(service, "red")
	each := func(what string, want func(pushtest.Notice) bool) {
		t.Helper()
		for _, name := range []string{"grey", "red"} {
			if got := service.Got(name); len(got) != 1 || !want(got[0]) {
				t.Errorf("%s: %s has %+v", what, name, got)
			}
		}
	}
	s.phone.answer(http.StatusBadRequest)
	s.begin(raw)
	s.fridgeWarm(0, 21*minute)
	each("backup", func(n pushtest.Notice) bool { return strings.Contains(n.Text, "because phone failed") && n.Link != "" })
	s.app.sendUnstored(s.patience(), s.patience(), s.app.diskNews(engine.FaultDisk, "no space left"))
	each("disk", func(n pushtest.Notice) bool { return strings.Contains(n.Text, "no space left") })
	s.phone.answer(0)
	s.every(minute, 22*minute, 119*minute, func(time.Duration) { s.read("slow", 3); s.say("shop/spare", "3") })
	service.Got("grey")
	service.Got("red")
	s.at(2 * time.Hour)
	for deadline := time.Now().Add(time.Minute); !s.tested() && time.Now().Before(deadline); { // by a loop of its own
		pause(s.patience(), 10*time.Millisecond)
	}
	s.settle()
	each("weekly", func(n pushtest.Notice) bool { return n.Title == "Test ring from flitch" })
}

// A ring that a phone did not take goes on through the backup of its channel.
func TestStoryAPhoneThatFailsHasABackup(t *testing.T) {
	s, service := patientShop(t, 5*time.Second, func(c *config.Config) {
		slices.Reverse(c.Channels) // backups come after what they are for
		c.Channels[1].Backup = true
	})
	s.addPhone(service, "grey")
	service.Answer("grey", http.StatusBadRequest)
	s.begin(raw)
	s.fridgeWarm(0, 21*minute)
	heard := s.phone.heard()
	if len(heard) == 0 || heard[0] != "C2 raised ring" {
		t.Errorf("the backup heard %q", heard)
	}
	if phones, err := s.app.db.Phones(); err != nil || len(phones) != 1 || !phones[0].Ended.IsZero() {
		t.Errorf("phones %+v, %v: a refusal is no end", phones, err)
	}
}

// tested reports whether the weekly test was stored for the second phone.
func (s *shop) tested() bool {
	all, err := s.app.db.MessagesOf(0)
	return err == nil && slices.ContainsFunc(all, func(m store.MessageRecord) bool {
		return m.Channel == "push/2" && m.Subject == "Test ring from flitch"
	})
}

// Before the first phone was added, and after the last was taken off, a message to
// the channel fails and is told, not lost in silence.
func TestStoryAChannelWithoutPhones(t *testing.T) {
	s, service := pushShop(t)
	s.begin(raw)
	s.fridgeWarm(0, 21*minute)
	part := engine.FaultPhone + "push"
	if list := s.app.faults.List(); len(list) != 1 || list[0].Part != part || !strings.Contains(list[0].Text, "press Ring this phone") {
		t.Fatalf("faults %+v", list)
	}
	s.addPhone(service, "grey")
	if list := s.app.faults.List(); len(list) != 0 {
		t.Errorf("faults %+v once a phone rings", list)
	}
	resp, err := http.PostForm(s.app.Address()+"/phones/remove", map[string][]string{"phone": {"1"}, "by": {"M.O."}})
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	if phones, err := s.app.db.Phones(); err != nil || len(phones) != 0 || resp.StatusCode != http.StatusOK {
		t.Errorf("phones %+v, %v, %s", phones, err, resp.Status)
	}
	if lines := s.journal("phone removed"); len(lines) != 1 || lines[0] != "M.O.: phone 1 (grey, T.V.) rings no more for push" {
		t.Errorf("journal %q", lines)
	}
	if names := s.app.outbox.Names(); !slices.Equal(names, []string{"phone", "push"}) {
		t.Errorf("open lanes %v", names)
	}
	if err := s.app.removePhone(s.patience(), 1, "M.O."); err == nil {
		t.Error("a phone was taken off twice")
	}
	if err := s.app.removePhone(s.patience(), 1, " "); err == nil {
		t.Error("nobody took a phone off")
	}
}

// A phone belongs to a person of the configuration, if it names any.
func TestPhonesOfStrangersAreRefused(t *testing.T) {
	s, service := patientShop(t, 5*time.Second, func(c *config.Config) {
		c.Persons = []config.Person{{Name: "M. Oldroyd", Initials: "M.O.", Channels: []string{"push"}}, {Name: "T. Vale", Initials: "T.V.", Channels: []string{"push"}}}
	})
	n := asks(service, "grey", pushtest.NewBrowser())
	n.By = "tv"
	if status, said := s.send("/api/phones", n); status != http.StatusUnprocessableEntity || !strings.Contains(said, "sign as one of T.V., M.O.") {
		t.Errorf("%d %s", status, said)
	}
	if phones, err := s.app.db.Phones(); err != nil || len(phones) != 0 {
		t.Errorf("phones %+v, %v", phones, err)
	}
	s.addPhone(service, "grey")
	if err := s.app.removePhone(s.patience(), 1, "X.Y."); err == nil || !strings.Contains(err.Error(), "not a person") {
		t.Errorf("a stranger took it off: %v", err)
	}
	if lines := s.journal("phone removed"); len(lines) != 0 {
		t.Errorf("journal %q", lines)
	}
}

// What is no subscription of a phone is refused in words, and changes nothing.
func TestPhonesThatAreRefused(t *testing.T) {
	s, service := pushShop(t)
	good := func() api.NewPhone { return asks(service, "grey", pushtest.NewBrowser()) }
	for name, c := range map[string]struct {
		change func(*api.NewPhone)
		says   string
	}{
		"plain http":      {func(n *api.NewPhone) { n.Subscription.Endpoint = "http://push.example.net/x" }, "not an https"},
		"this machine":    {func(n *api.NewPhone) { n.Subscription.Endpoint = "https://127.0.0.1:8411/x" }, "machine of this house"},
		"the router":      {func(n *api.NewPhone) { n.Subscription.Endpoint = "https://192.168.1.1/x" }, "machine of this house"},
		"too long":        {func(n *api.NewPhone) { n.Subscription.Endpoint += strings.Repeat("x", 2000) }, "longer than"},
		"no endpoint":     {func(n *api.NewPhone) { n.Subscription.Endpoint = "" }, "not a web address"},
		"bad key":         {func(n *api.NewPhone) { n.Subscription.Keys.Public = n.Subscription.Keys.Secret }, "not a point"},
		"short secret":    {func(n *api.NewPhone) { n.Subscription.Keys.Secret = "AAAA" }, "16 bytes"},
		"no name":         {func(n *api.NewPhone) { n.Name = "  " }, "no name"},
		"long name":       {func(n *api.NewPhone) { n.Name = strings.Repeat("ö", 41) }, "no name"},
		"odd name":        {func(n *api.NewPhone) { n.Name = "a\u202eb" }, "no name"},
		"nobody":          {func(n *api.NewPhone) { n.By = "" }, "whose phone"},
		"another channel": {func(n *api.NewPhone) { n.Channel = "phone" }, "not a channel that phones"},
		"no channel":      {func(n *api.NewPhone) { n.Channel = "push/1" }, "not a channel that phones"},
	} {
		n := good()
		c.change(&n)
		if status, said := s.send("/api/phones", n); status != http.StatusUnprocessableEntity || !strings.Contains(said, c.says) {
			t.Errorf("%s: %d %s, want 422 with %q", name, status, said, c.says)
		}
	}
	for body, want := range map[string]int{`"x"`: 400, `{"channel":"push","more":1}`: 400, strings.Repeat(" ", 70<<10) + "{}": 413} {
		resp, err := http.Post(s.app.Address()+"/api/phones", "application/json", strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		if resp.StatusCode != want {
			t.Errorf("%.30q: %s, want %d", body, resp.Status, want)
		}
	}
	phones, err := s.app.db.Phones()
	if lines := s.journal("phone added"); err != nil || len(phones) != 0 || len(lines) != 0 {
		t.Errorf("phones %+v, %v, journal %q", phones, err, lines)
	}
	for i := range mostPhones {
		s.addPhone(service, "phone "+string(rune('a'+i)))
	}
	if status, said := s.send("/api/phones", good()); status != http.StatusUnprocessableEntity || !strings.Contains(said, "take one off") {
		t.Errorf("one too many: %d %s", status, said)
	}
}

// The same browser presses the button twice: it keeps its number and rings once.
func TestAPhoneThatAsksTwice(t *testing.T) {
	s, service := pushShop(t)
	browser := pushtest.NewBrowser()
	for range 2 {
		if status, said := s.send("/api/phones", asks(service, "grey", browser)); status != http.StatusOK || !strings.Contains(said, `"phone":1`) {
			t.Fatalf("%d %s", status, said)
		}
	}
	s.settle()
	service.Got("grey")
	s.begin(raw)
	s.fridgeWarm(0, 21*minute)
	if got := service.Got("grey"); len(got) != 1 {
		t.Errorf("the phone has %q, want one ring", titles(got))
	}
}

// flitch ring finds the phones beside a running daemon.
func TestChannelsOfPhonesBesideTheDaemon(t *testing.T) {
	s, service := pushShop(t)
	c, _ := s.cfg.ChannelNamed("push")
	ways, err := Channels(s.cfg, c)
	if err != nil || len(ways) != 1 || ways[0].Name() != "push" {
		t.Fatalf("ways %+v, %v: one that says that nobody is there", ways, err)
	}
	s.addPhone(service, "grey")
	s.addPhone(service, "red")
	if ways, err = Channels(s.cfg, c); err != nil || len(ways) != 2 || ways[1].Name() != "push/2" {
		t.Fatalf("ways %+v, %v", ways, err)
	}
	if _, err := ways[1].Send(s.patience(), policy(s.cfg).Test(dawn)[1]); err != nil || len(service.Got("red")) != 1 {
		t.Errorf("%v; faults %q", err, service.Faults())
	}
	lost := *s.cfg
	lost.Site.Database = filepath.Join(t.TempDir(), "none.db")
	if _, err := Channels(&lost, c); err == nil {
		t.Error("phones of a database that is not there")
	}
}
