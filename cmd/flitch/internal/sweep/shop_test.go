package sweep

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"flitch/ingest/mqtt"
	"flitch/ingest/mqtt/mqtttest"
)

const (
	curerPassword    = "oak smoke at night"
	reviewerPassword = "salt and patience"
)

// shopFile is a house that others reach, so that people sign in. %s: where page and broker listen;
// where messages are sent; more lines.
const shopFile = `[site]
name = "Oddwick Lane Larder"
zone = "Europe/Lisbon"
units = "C"
database = "flitch.db"
reviewer_differs = false

[page]
listen = "%s"
link = "https://smokehouse.example"

[broker]
mode = "embedded"
listen = "%s"
anonymous = true

[[place]]
name = "alder"
title = "Fridge Alder"
kind = "fridge"

[[place]]
name = "old-kettle"
title = "Old Kettle"
kind = "smoker"
fuel = "charcoal"

[[probe]]
name = "alder-bottle"
place = "alder"
measures = "product"
topic = "larder/alder/bottle"
unit = "C"
interval = "60s"
check_days = 30

[[person]]
name = "Tamsin Vale"
initials = "T.V."
channels = ["tv-phone"]

[[person]]
name = "Marta Oldroyd"
initials = "M.O."
channels = ["tv-phone"]
role = "reviewer"

[[channel]]
name = "tv-phone"
kind = "http"
level = "tell"
url = "%s"
%s`

// A shop is the daemon by a configuration, with people who sign in.
type shop struct {
	*daemon
	folder string
	broker string
	token  string // of the curer
}

// openShop writes the configuration with more lines at its end, starts the daemon, and starts
// a batch in its last stage.
func openShop(t *testing.T, url, more string) *shop {
	t.Helper()
	s := &shop{folder: t.TempDir()}
	broker := mqtttest.FreeAddress(t)
	s.broker = "tcp://" + broker
	if err := os.WriteFile(filepath.Join(s.folder, "flitch.toml"), fmt.Appendf(nil, shopFile, mqtttest.FreeAddress(t), broker, url, more), 0o600); err != nil {
		t.Fatal(err)
	}
	s.run(t, "", "init", "--database", "flitch.db")
	s.run(t, curerPassword, "password", "T.V.")
	s.run(t, reviewerPassword, "password", "M.O.")
	s.daemon = start(t, s.folder, "broker ", "run")
	s.token = s.signIn("T.V.", curerPassword)
	return s
}

func (s *shop) run(t *testing.T, input string, args ...string) string {
	t.Helper()
	c := exec.Command(binary, args...)
	c.Dir, c.Stdin = s.folder, strings.NewReader(input+"\n"+input+"\n")
	out, err := c.CombinedOutput()
	if err != nil {
		t.Fatalf("flitch %s: %v: %s", strings.Join(args, " "), err, out)
	}
	return string(out)
}

func (s *shop) signIn(by, password string) string {
	s.t.Helper()
	var in struct{ Token string }
	if status, text := s.post("/api/sign-in", "", map[string]string{"by": by, "password": password}); status != http.StatusOK || json.Unmarshal([]byte(text), &in) != nil || in.Token == "" {
		s.t.Fatalf("sign-in of %s: %d %s", by, status, text)
	}
	return in.Token
}

func (s *shop) post(path, token string, body any) (status int, text string) {
	s.t.Helper()
	b, err := json.Marshal(body)
	if err != nil {
		s.t.Fatal(err)
	}
	r, err := http.NewRequest(http.MethodPost, s.address+path, bytes.NewReader(b))
	if err != nil {
		s.t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Authorization", "Bearer "+token)
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		s.t.Fatal(err)
	}
	defer answer.Body.Close()
	out, err := io.ReadAll(answer.Body)
	if err != nil {
		s.t.Fatal(err)
	}
	return answer.StatusCode, string(out)
}

func (s *shop) must(kind string, more map[string]any) {
	s.t.Helper()
	body := map[string]any{"kind": kind, "batch": "OL-31-04", "by": "T.V."}
	for key, v := range more {
		body[key] = v
	}
	if status, text := s.post("/api/commands", s.token, body); status != http.StatusOK {
		s.t.Fatalf("%s %v: %d %s", kind, more, status, text)
	}
}

// begin starts a batch and brings it to its last stage, where it can be closed.
func (s *shop) begin() {
	s.t.Helper()
	s.must("new", map[string]any{"new": map[string]any{"plan": "belly-dry-cured", "pieces": []map[string]any{{"name": "A", "green_g": 2268, "thickness_mm": 38}}, "fridge": "alder", "smoker": "old-kettle"}})
	for range 20 {
		var now []struct {
			Stage struct{ Next string }
		}
		s.read("/api/glance", s.token, &now)
		if len(now) != 1 {
			s.t.Fatalf("%d batches", len(now))
		}
		if now[0].Stage.Next == "" {
			return
		}
		s.must("stage", map[string]any{"stage": now[0].Stage.Next, "text": "for the sweep"})
	}
	s.t.Fatal("the batch never comes to its last stage")
}

// say publishes a message that no probe reads.
func (s *shop) say(topic, payload string) {
	s.t.Helper()
	ctx, stop := context.WithTimeout(s.t.Context(), time.Minute)
	defer stop()
	p, err := mqtt.NewPublisher(ctx, mqtt.Config{URL: s.broker, ClientID: "box"})
	if err != nil {
		s.t.Fatal(err)
	}
	defer p.Close()
	if err := p.PublishWait(ctx, topic, []byte(payload), 1); err != nil {
		s.t.Fatal(err)
	}
}

// enters signs in by the form of the page; a wrong password first.
func (b *tab) enters(s *shop, by, password string) {
	b.t.Helper()
	b.open(s.address + "/sign-in")
	for _, try := range []string{"not the one", password} {
		ask[bool](b, `(() => { document.documentElement.dataset.before = "1"; document.getElementById("by").value = %q; document.getElementById("password").value = %q; document.querySelector("form[action='/sign-in'] button").click(); return true; })()`, by, try)
		b.until("an answer to the sign-in", `document.readyState === "complete" && document.documentElement.dataset.before === undefined`)
		if at := ask[string](b, `location.pathname`); (at == "/sign-in") != (try != password) {
			b.t.Fatalf("with %q at %s: %s", try, at, b.told())
		}
		if try == password {
			return
		}
		if b.lastStatus() != http.StatusUnauthorized || ask[string](b, `document.getElementById("by").value`) != by || ask[string](b, `document.getElementById("password").value`) != "" {
			b.t.Errorf("a wrong password: status %d, %s", b.lastStatus(), b.told())
		}
		if !ask[bool](b, besideField, "password") {
			b.t.Errorf("nothing stands beside the password: %s", b.told())
		}
	}
}
