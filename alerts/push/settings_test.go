package push

import (
	"bytes"
	"fmt"
	"log/slog"
	"net/http"
	"strings"
	"testing"

	"go.uber.org/goleak"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

func TestNewSaysWhatIsMissing(t *testing.T) {
	mailTo := func(change func(*Settings)) Settings {
		s := Settings{Name: "mail", Kind: "email", Host: "mail.plover-shed.example", From: "a@b.example", To: "c@d.example"}
		change(&s)
		return s
	}
	for _, c := range []struct {
		s    Settings
		want string
	}{
		{Settings{Kind: "http"}, "give it a name"},
		{Settings{Name: "x", Kind: "pigeon"}, `unknown kind "pigeon"`},
		{Settings{Name: "x", Kind: "http"}, "url is missing"},
		{Settings{Name: "x", Kind: "http", URL: "plover-shed/tok3n"}, "not an http or https address"},
		{Settings{Name: "x", Kind: "pushover", Token: "t"}, "target is missing"},
		{Settings{Name: "x", Kind: "telegram", Token: "t", Target: "@tv"}, "not a chat number"},
		{Settings{Name: "x", Kind: "telegram", Token: "t", Target: "1", Server: "nowhere"}, "server is not"},
		{Settings{Name: "x", Kind: "bark"}, "token is missing"},
		{Settings{Name: "x", Kind: "push"}, "contact is missing"},
		{Settings{Name: "x", Kind: "push", Contact: "tv@b.example", Browser: &Browser{}}, "not one of P-256"},
		{Settings{Name: "x", Kind: "pushbullet", Target: "t"}, "token is missing"},
		{mailTo(func(s *Settings) { s.To = "" }), "to is missing"},
		{mailTo(func(s *Settings) { s.To = "nobody" }), "not one mail address"},
		{mailTo(func(s *Settings) { s.TLS = "maybe" }), `tls = "maybe"`},
		{mailTo(func(s *Settings) { s.TLS = "none" }), "on this machine"},
	} {
		_, err := New(c.s)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v: err = %v, want %q", c.s, err, c.want)
			continue
		}
		if strings.Contains(err.Error(), "tok3n") {
			t.Errorf("a secret in %q", err)
		}
	}
	if _, err := New(mailTo(func(*Settings) {})); err != nil {
		t.Error(err)
	}
}

func TestSettingsNeverPrintSecrets(t *testing.T) {
	s := Settings{Name: "x", Kind: "http", Token: "tok3n", Password: "tok3n", URL: "https://tok3n", Headers: map[string]string{"A": "tok3n"}}
	var log bytes.Buffer
	slog.New(slog.NewTextHandler(&log, nil)).Info("made", "channel", s)
	for _, text := range []string{fmt.Sprint(s), fmt.Sprintf("%v %+v %#v %s", s, s, s, s), log.String()} {
		if strings.Contains(text, "tok3n") {
			t.Errorf("a secret in %q", text)
		}
	}
}

func TestRedact(t *testing.T) {
	for text, want := range map[string]string{
		`Post "https://api.telegram.org/bot123:ABC/sendMessage": EOF`: `Post "https://api.telegram.org/...": EOF`,
		`send to http://user:pw@shed.example/x?y=z failed`:            `send to http://shed.example/... failed`,
		"line one\r\nline two \x00":                                   "line one line two",
		"password hunter2 and hunter%262":                             "password *** and hunter%262",
		"key a%2Fb or a/b":                                            "key *** or ***",
		strings.Repeat("x", 500):                                      strings.Repeat("x", longestText-1) + "…",
	} {
		if got := redact(text, []string{"hunter2", "", "a/b"}); got != want {
			t.Errorf("redact(%q) = %q, want %q", text, got, want)
		}
	}
}

func TestNewDoesNotTouchTheNetwork(t *testing.T) {
	old := http.DefaultTransport
	http.DefaultTransport = nil // any use of it would panic
	defer func() { http.DefaultTransport = old }()
	for _, p := range phoneServices() {
		channel(t, p.settings(t, "http://127.0.0.1:1"))
	}
}
