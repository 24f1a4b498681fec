package push

import (
	"context"
	"encoding/json"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	pushbulletapi "github.com/cschomburg/go-pushbullet"
	pushoverapi "github.com/gregdel/pushover"

	"flitch/alerts"
)

const (
	fakeKey  = "tok3nApplicationAAAAAAAAAAAAAA" // 30 characters, as Pushover's are
	fakeUser = "tok3nPersonBBBBBBBBBBBBBBBBBBB"
)

// A phoneService is one of the services with a stand-in for its server. Only the
// protocol as the library speaks it is tried here, not the real service.
type phoneService struct {
	kind string
	good func(w http.ResponseWriter, r *http.Request) // an answer of success
}

func phoneServices() []phoneService {
	say := func(text string) func(http.ResponseWriter, *http.Request) {
		return func(w http.ResponseWriter, _ *http.Request) { _, _ = io.WriteString(w, text) }
	}
	return []phoneService{
		{kind: "pushover", good: say(`{"status":1,"request":"r"}`)},
		{kind: "telegram", good: say(`{"ok":true,"result":{"message_id":1}}`)},
		{kind: "bark", good: say(`{"code":200}`)},
		{kind: "pushbullet", good: func(w http.ResponseWriter, r *http.Request) {
			if strings.HasSuffix(r.URL.Path, "/devices") {
				_, _ = io.WriteString(w, `{"devices":[{"iden":"d1","nickname":"kitchen phone"}]}`)
			}
		}},
	}
}

// settings points the service at server.
func (p phoneService) settings(t *testing.T, server string) Settings {
	t.Helper()
	s := Settings{Name: "phone", Kind: p.kind, Token: fakeKey, Target: fakeUser, Deadline: 2 * time.Second}
	switch p.kind {
	case "pushover":
		old := pushoverapi.APIEndpoint
		pushoverapi.APIEndpoint = server + "/1"
		t.Cleanup(func() { pushoverapi.APIEndpoint = old })
	case "pushbullet":
		s.Target = "kitchen phone"
		old := pushbulletapi.EndpointURL
		pushbulletapi.EndpointURL = server + "/v2"
		t.Cleanup(func() { pushbulletapi.EndpointURL = old })
	case "telegram":
		s.Target, s.Server = "-1001234", server
	case "bark":
		s.Server = server
	}
	return s
}

func TestPhoneServicesCarryTheMessage(t *testing.T) {
	for _, p := range phoneServices() {
		t.Run(p.kind, func(t *testing.T) {
			var requests []string
			url := serve(t, func(w http.ResponseWriter, r *http.Request) {
				raw, _ := io.ReadAll(r.Body)
				r.Body = io.NopCloser(strings.NewReader(string(raw)))
				_ = r.ParseForm()
				var fields map[string]any
				_ = json.Unmarshal(raw, &fields)
				for _, value := range fields {
					if text, ok := value.(string); ok {
						requests = append(requests, text)
					}
				}
				for name, values := range r.PostForm {
					requests = append(requests, values...)
					if name == "parse_mode" && values[0] != "" {
						t.Errorf("parse mode %q: a < in the text would make it fail", values[0])
					}
				}
				p.good(w, r)
			})
			receipt, err := channel(t, p.settings(t, url)).Send(context.Background(), fire())
			if err != nil {
				t.Fatal(err)
			}
			if receipt != "taken by "+p.kind {
				t.Errorf("receipt = %q", receipt)
			}
			all := strings.Join(requests, "\n")
			for _, want := range []string{fire().Subject, fire().Body} {
				if !strings.Contains(all, want) {
					t.Errorf("the service was not sent %q but\n%s", want, all)
				}
			}
		})
	}
}

func TestPhoneServicesRefuse(t *testing.T) {
	bodies := map[string]string{
		"pushover":   `{"status":0,"errors":["no: ` + fakeKey + `"]}`,
		"telegram":   `{"ok":false,"description":"no: ` + fakeKey + `"}`,
		"bark":       `no: ` + fakeKey,
		"pushbullet": `{"error":{"type":"invalid_request","message":"no: ` + fakeKey + `"}}`,
	}
	for _, p := range phoneServices() {
		for status, retry := range map[int]bool{400: false, 404: false, 500: true, 503: true} {
			t.Run(p.kind+" "+http.StatusText(status), func(t *testing.T) {
				url := serve(t, func(w http.ResponseWriter, _ *http.Request) {
					w.WriteHeader(status)
					if status < 500 {
						_, _ = io.WriteString(w, bodies[p.kind])
					}
				})
				refusal := failure(t, channel(t, p.settings(t, url)))
				if refusal.Retry != retry {
					t.Errorf("refusal = %+v, want retry %v", refusal, retry)
				}
				if strings.Contains(refusal.Text, "tok3n") || refusal.Text == "" {
					t.Errorf("text = %q", refusal.Text)
				}
			})
		}
	}
}

func TestPhoneServicesKeepTheDeadline(t *testing.T) {
	for _, p := range phoneServices() {
		t.Run(p.kind, func(t *testing.T) {
			hang, arrived := make(chan struct{}), make(chan struct{}, 9)
			s := p.settings(t, serve(t, func(http.ResponseWriter, *http.Request) { arrived <- struct{}{}; <-hang }))
			t.Cleanup(func() { close(hang) })
			s.Deadline = 200 * time.Millisecond
			began := time.Now()
			refusal := failure(t, channel(t, s))
			if !refusal.Retry || refusal.Text != "no answer within 200ms" {
				t.Errorf("refusal = %+v", refusal)
			}
			if took := time.Since(began); took > 30*time.Second {
				t.Errorf("took %s", took)
			}
			<-arrived // the abandoned call has read the library's address, which is put back now
		})
	}
	if http.DefaultClient.Timeout == 0 {
		t.Error("abandoned calls have no end")
	}
}

func TestPhoneServicesTellWhatCannotBeReached(t *testing.T) {
	for _, p := range phoneServices() {
		t.Run(p.kind, func(t *testing.T) {
			refusal := failure(t, channel(t, p.settings(t, "http://127.0.0.1:1")))
			if !refusal.Retry || strings.Contains(refusal.Text, "tok3n") {
				t.Errorf("refusal = %+v, want a retry without secrets", refusal)
			}
		})
	}
}

func TestTelegramIsToldHowLongToWait(t *testing.T) {
	url := serve(t, func(w http.ResponseWriter, _ *http.Request) {
		w.WriteHeader(http.StatusTooManyRequests)
		_, _ = io.WriteString(w, `{"ok":false,"error_code":429,"description":"Too Many Requests","parameters":{"retry_after":35}}`)
	})
	p := phoneServices()[1]
	if refusal := failure(t, channel(t, p.settings(t, url))); !refusal.Retry || refusal.After != 35*time.Second {
		t.Errorf("refusal = %+v, want a retry after 35 s", refusal)
	}
}

func TestPushoverShortensWhatItWouldRefuse(t *testing.T) {
	sent := ""
	p := phoneServices()[0]
	url := serve(t, func(w http.ResponseWriter, r *http.Request) {
		sent = r.PostFormValue("message")
		p.good(w, r)
	})
	m := fire()
	m.Body = strings.Repeat("ö", 5000)
	if _, err := channel(t, p.settings(t, url)).Send(context.Background(), m); err != nil {
		t.Fatal(err)
	}
	if n := len([]rune(sent)); n != pushoverapi.MessageMaxLength || !strings.HasSuffix(sent, "…") {
		t.Errorf("%d characters ending %q", n, sent[len(sent)-10:])
	}
}

func TestPushoverRefusesBadKeysForGood(t *testing.T) {
	c := channel(t, Settings{Name: "phone", Kind: "pushover", Token: "short", Target: fakeUser})
	if refusal := failure(t, c); refusal.Retry {
		t.Errorf("refusal = %+v, want final", refusal)
	}
}

func TestStatusInText(t *testing.T) {
	for text, want := range map[string]bool{
		"bark returned status code 429: slow down":   true,
		"bark returned status code 400: bad":         false,
		"get device with nickname \"x\": 502 Bad":    true,
		"send push to \"x\": 403 Forbidden":          false,
		"dial tcp 127.0.0.1:443: connection refused": true,
		"lookup x: 192.168.1.1 says no":              true,
		"status code 408":                            true,
	} {
		if got := statusMayPass(&alerts.SendError{Text: text}); got != want {
			t.Errorf("%q: %v, want %v", text, got, want)
		}
	}
}
