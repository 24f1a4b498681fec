package push

import (
	"context"
	"encoding/json"
	"io"
	"net"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"flitch/alerts"
)

// A postService is one of the services reached by plain HTTP, with a stand-in
// for its server that answers as its documentation says. The real services are
// not asked.
type postService struct {
	kind    string
	status  int    // of success
	answer  string // of success
	receipt string
	said    func(raw []byte, form url.Values) string // the text that people would see
	wrong   int                                      // status for a wrong token
}

func inField(name string) func([]byte, url.Values) string {
	return func(raw []byte, _ url.Values) string {
		var fields map[string]any
		_ = json.Unmarshal(raw, &fields)
		text, _ := fields[name].(string)
		return text
	}
}

func postServices() []postService {
	return []postService{
		{"slack", 200, "ok", "answered 200 OK: ok", inField("text"), 403},
		{"mattermost", 200, "ok", "answered 200 OK: ok", inField("text"), 404},
		{"rocketchat", 200, `{"success":true}`, `answered 200 OK: {"success":true}`, inField("text"), 401},
		{"discord", 200, `{"id":"998877"}`, "answered 200 OK: id 998877", inField("content"), 401},
		{"teams", 202, "", "answered 202 Accepted", cardText, 401},
		{"googlechat", 200, `{"name":"spaces/A/messages/B"}`, "answered 200 OK: name spaces/A/messages/B", inField("text"), 400},
		{"matrix", 200, `{"event_id":"$e1"}`, "answered 200 OK: event_id $e1", inField("body"), 401},
		{"ntfy", 200, `{"id":"hwQ2","time":1}`, "answered 200 OK: id hwQ2", func(raw []byte, _ url.Values) string {
			return inField("title")(raw, nil) + "\n" + inField("message")(raw, nil)
		}, 401},
		{"twilio", 201, `{"sid":"SM1","status":"queued"}`, "answered 201 Created: sid SM1",
			func(_ []byte, form url.Values) string { return form.Get("Body") }, 401},
		{"plivo", 202, `{"message":"message(s) queued","message_uuid":["db3c-11e5"],"api_id":"x"}`, "answered 202 Accepted: message_uuid [db3c-11e5]", inField("text"), 401},
		{"textmagic", 201, `{"id":49574,"href":"/api/v2/messages/49574","type":"message"}`, "answered 201 Created: id 49574", inField("text"), 401},
	}
}

// cardText are the lines of an Adaptive Card.
func cardText(raw []byte, _ url.Values) string {
	var m struct {
		Attachments []struct {
			Content struct {
				Body []struct {
					Text string `json:"text"`
				} `json:"body"`
			} `json:"content"`
		} `json:"attachments"`
	}
	_ = json.Unmarshal(raw, &m)
	var lines []string
	for _, a := range m.Attachments {
		for _, b := range a.Content.Body {
			lines = append(lines, b.Text)
		}
	}
	return strings.Join(lines, "\n")
}

func (p postService) settings(server string) Settings {
	s := Settings{Name: "phone", Kind: p.kind, Deadline: 2 * time.Second}
	switch p.kind {
	case "matrix":
		s.Server, s.Token, s.Target = server, fakeKey, "!abcdef:larder.example"
	case "ntfy":
		s.Server, s.Token, s.Target = server, fakeKey, fakeUser
	case "textmagic":
		s.Server, s.Token, s.User, s.From, s.To = server, fakeKey, "larder", "+441632960001", "+441632960123"
	case "twilio", "plivo":
		s.Server, s.Token, s.Target, s.From, s.To = server, fakeKey, "AC01", "+441632960001", "+441632960123"
	default:
		s.URL = server + "/hooks/" + fakeKey + "?key=" + fakeUser
	}
	return s
}

func eachService(t *testing.T, run func(*testing.T, postService)) {
	t.Helper()
	for _, p := range postServices() {
		t.Run(p.kind, func(t *testing.T) { run(t, p) })
	}
}

func TestServicesCarryTheMessage(t *testing.T) {
	eachService(t, func(t *testing.T, p postService) {
		var seen string
		address := serve(t, func(w http.ResponseWriter, r *http.Request) {
			raw, _ := io.ReadAll(r.Body)
			form, _ := url.ParseQuery(string(raw))
			seen = p.said(raw, form)
			w.WriteHeader(p.status)
			_, _ = io.WriteString(w, p.answer)
		})
		receipt, err := channel(t, p.settings(address)).Send(context.Background(), fire())
		if err != nil || receipt != p.receipt {
			t.Fatalf("receipt %q, want %q; err %v", receipt, p.receipt, err)
		}
		want := fire().Subject + "\n" + fire().Body
		if p.kind == "slack" {
			want = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;").Replace(want)
		}
		if seen != want {
			t.Errorf("people see %q, want %q", seen, want)
		}
	})
}

// A wrong token is final at every service; what may pass is tried again, and not
// before the service says so. Nothing secret is told.
func TestServicesRefuse(t *testing.T) {
	eachService(t, func(t *testing.T, p postService) {
		ours := p.settings("")
		for status, retry := range map[int]bool{p.wrong: false, 400: false, 404: false, 302: false, 408: true, 429: true, 500: true, 503: true} {
			address := serve(t, func(w http.ResponseWriter, r *http.Request) {
				if status == 429 {
					w.Header().Set("Retry-After", "90")
				}
				w.WriteHeader(status)
				_, _ = io.WriteString(w, "no: "+r.URL.String()+" "+r.Header.Get("Authorization")+" "+fakeKey+" "+ours.Target)
			})
			refusal := failure(t, channel(t, p.settings(address)))
			if refusal.Retry != retry || (refusal.After == 90*time.Second) != (status == 429) {
				t.Errorf("%d: %+v, want retry %v", status, refusal, retry)
			}
			if strings.Contains(refusal.Text, "tok3n") || strings.Contains(refusal.Text, "Basic QU") || !strings.Contains(refusal.Text, http.StatusText(status)) {
				t.Errorf("%d: text %q", status, refusal.Text)
			}
		}
	})
}

func TestServicesThatHangResetOrAreAway(t *testing.T) {
	eachService(t, func(t *testing.T, p postService) {
		hang := make(chan struct{})
		silent := serve(t, func(http.ResponseWriter, *http.Request) { <-hang })
		t.Cleanup(func() { close(hang) })
		reset := serve(t, func(w http.ResponseWriter, _ *http.Request) {
			if conn, _, err := w.(http.Hijacker).Hijack(); err == nil {
				_ = conn.(*net.TCPConn).SetLinger(0)
				_ = conn.Close()
			}
		})
		for _, address := range []string{silent, reset, "http://127.0.0.1:1"} {
			s := p.settings(address)
			s.Deadline = 300 * time.Millisecond
			if refusal := failure(t, channel(t, s)); !refusal.Retry || strings.Contains(refusal.Text, "tok3n") {
				t.Errorf("%+v, want a retry without secrets", refusal)
			}
		}
	})
}

// A hotspot answers 200 with a page to sign in on; two services say in the text
// that it did not work. Nobody was told.
func TestServicesThatLieAboutSuccess(t *testing.T) {
	lies := map[string]string{"rocketchat": `{"success":false,"error":"x"}`, "teams": "Webhook message delivery failed with error: HTTP error 429"}
	eachService(t, func(t *testing.T, p postService) {
		for _, answer := range []string{"<!DOCTYPE html><title>Wifi</title>", lies[p.kind]} {
			if answer == "" {
				continue
			}
			address := serve(t, func(w http.ResponseWriter, _ *http.Request) { _, _ = io.WriteString(w, answer) })
			if refusal := failure(t, channel(t, p.settings(address))); !refusal.Retry {
				t.Errorf("%q: %+v, want a retry", answer, refusal)
			}
		}
	})
}

// What cannot be understood behind a 2xx is a receipt of its own: the message was
// taken, and ringing again and again would be worse.
func TestServicesWithAnotherAnswerOfSuccess(t *testing.T) {
	eachService(t, func(t *testing.T, p postService) {
		address := serve(t, func(w http.ResponseWriter, _ *http.Request) { _, _ = io.WriteString(w, `[]`) })
		receipt, err := channel(t, p.settings(address)).Send(context.Background(), fire())
		if err != nil || !strings.HasPrefix(receipt, "answered 200 OK") {
			t.Errorf("receipt %q, err %v", receipt, err)
		}
	})
}

func TestServicesKeepTheLinkWhenTheyShorten(t *testing.T) {
	const link = "I am on it: http://plover-shed.example:8411/a/AQFzaG9ydA"
	eachService(t, func(t *testing.T, p postService) {
		var seen string
		address := serve(t, func(w http.ResponseWriter, r *http.Request) {
			raw, _ := io.ReadAll(r.Body)
			form, _ := url.ParseQuery(string(raw))
			seen = p.said(raw, form)
			w.WriteHeader(p.status)
		})
		m := fire()
		m.Body = "Chamber 21.0 °C.\n" + strings.Repeat("ö", 9000) + "\n" + link
		if _, err := channel(t, p.settings(address)).Send(context.Background(), m); err != nil {
			t.Fatal(err)
		}
		lines := strings.Split(seen, "\n")
		last := lines[len(lines)-1]
		if p.kind != "teams" && last != link || p.kind == "teams" && !strings.Contains(last, "](http://plover-shed.example:8411/a/AQFzaG9ydA)") {
			t.Errorf("the last line is %q", last)
		}
		if n := utf8.RuneCountInString(seen); n > 8400 || lines[0] != m.Subject || lines[1] != "Chamber 21.0 °C." {
			t.Errorf("%d characters, beginning %q", n, seen[:60])
		}
	})
}

// A repeat of one message has the same number at the server, which drops it;
// another message, or the same number in a new database, has another.
func TestMatrixRepeatsAreOneMessage(t *testing.T) {
	var paths []string
	address := serve(t, func(w http.ResponseWriter, r *http.Request) { paths = append(paths, r.Method+" "+r.URL.Path) })
	c := channel(t, postServices()[6].settings(address))
	again, later := fire(), fire()
	again.Subject += " (may repeat)"
	later.Due = later.Due.Add(time.Hour)
	for _, m := range []alerts.Message{fire(), again, later} {
		if _, err := c.Send(context.Background(), m); err != nil {
			t.Fatal(err)
		}
	}
	if !strings.HasPrefix(paths[0], "PUT /_matrix/client/v3/rooms/!abcdef:larder.example/send/m.room.message/flitch-") || paths[0] != paths[1] || paths[1] == paths[2] {
		t.Errorf("paths %q", paths)
	}
}

func TestWaitsThatAreSaidInTheAnswer(t *testing.T) {
	for text, want := range map[string]time.Duration{
		`{"retry_after": 0.65, "global": false}`:               650 * time.Millisecond,
		`{"errcode":"M_LIMIT_EXCEEDED","retry_after_ms":2000}`: 2 * time.Second,
		`{"parameters":{"retry_after":35}}`:                    35 * time.Second,
		`{"retry_after":999999999}`:                            24 * time.Hour,
		`{"retry_after":"soon"}`:                               0,
	} {
		if got := askedWait(text); got != want {
			t.Errorf("%s: %s, want %s", text, got, want)
		}
	}
}

func TestNewSaysWhatServicesMiss(t *testing.T) {
	for _, c := range []struct {
		s    Settings
		want string
	}{
		{Settings{Kind: "slack"}, "url is missing"},
		{Settings{Kind: "discord", URL: "hooks/tok3n"}, "not an http or https address"},
		{Settings{Kind: "matrix", Server: "https://m.example", Token: "t", Target: "#shed:m.example"}, "not the id of a room"},
		{Settings{Kind: "matrix", Server: "m.example", Token: "t", Target: "!a:m.example"}, "server is not"},
		{Settings{Kind: "ntfy"}, "target is missing"},
		{Settings{Kind: "twilio", Target: "AC01", Token: "t", From: "+441632960001", To: "01632"}, "not a telephone number"},
	} {
		c.s.Name = "x"
		if _, err := New(c.s); err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "tok3n") {
			t.Errorf("%v: err = %v, want %q", c.s, err, c.want)
		}
	}
}
