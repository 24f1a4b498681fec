package push

import (
	"encoding/base64"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
)

// readable are three characters of a secret that somebody can read in a text, as they are or
// in base64 that begins anywhere; empty: none.
func readable(text, secret string) string {
	plain := []string{text}
	for _, word := range regexp.MustCompile(`[A-Za-z0-9+/_-]+`).FindAllString(text, -1) {
		word = strings.NewReplacer("-", "+", "_", "/").Replace(word)
		for from := range min(4, len(word)) {
			part := word[from:]
			if len(part)%4 == 1 {
				part = part[:len(part)-1]
			}
			if bytes, err := base64.RawStdEncoding.DecodeString(part); err == nil {
				plain = append(plain, string(bytes))
			}
		}
	}
	for _, p := range plain {
		for i := 0; i+3 <= len(secret); i++ {
			if strings.Contains(p, secret[i:i+3]) {
				return secret[i : i+3]
			}
		}
	}
	return ""
}

// A service may repeat the header it was sent, in which the password stands behind a name of
// any length; of whatever length it is, nobody reads a part of it.
func TestNoPartOfASecretIsReadInBase64(t *testing.T) {
	tried := 0
	for length := 3; length <= 24; length++ {
		secret := "TOPSECRETA?~1>bcdQWXZ9876"[:length]
		for _, before := range []string{"", "u:", "me:", "user:", "roger:"} {
			for _, after := range []string{"", ":", "@x", "end"} {
				for _, code := range []*base64.Encoding{base64.StdEncoding, base64.RawStdEncoding, base64.URLEncoding, base64.RawURLEncoding} {
					word := code.EncodeToString([]byte(before + secret + after))
					for _, text := range []string{"Authorization: Basic " + word, `{"authorization":"Basic ` + strings.ReplaceAll(word, "/", `\/`) + `"}`,
						"?auth=" + url.QueryEscape(word), "auth/" + word, "a-b-" + word + " and more"} {
						tried++
						if part := readable(redact(text, []string{secret}), secret); part != "" {
							t.Fatalf("%q of %q in %q: %q", part, secret, text, redact(text, []string{secret}))
						}
					}
				}
			}
		}
	}
	if readable("Basic dXNlcjpUT1BTRUNSRVRB", "TOPSECRETA") == "" || readable("Basic dXNlcjpU***RVRB", "TOPSECRETA") != "ETA" || tried < 8000 {
		t.Errorf("the test itself reads nothing; %d texts", tried)
	}
	if text := "request 8f14e45fceea167a of alarm-17/raised was refused"; redact(text, []string{"TOPSECRETA", "a b"}) != text {
		t.Errorf("words without a secret: %q", redact(text, []string{"TOPSECRETA", "a b"}))
	}
}

// The whole way: an address with a password, and a service that refuses and repeats what it
// was sent.
func TestAPasswordInAnAddressIsNotRepeated(t *testing.T) {
	for _, password := range []string{"abc", "TOPS", "TOPSECRETA", "TOP/SEC RET?A"} {
		for _, filling := range []int{0, 520, 560, 570, 575, 580} { // what is read of an answer ends in the middle of it
			server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
				w.WriteHeader(http.StatusForbidden)
				w.Write([]byte(strings.Repeat("https://x/", filling/10) + " "))
				json.NewEncoder(w).Encode(r.Header)
			}))
			u, err := url.Parse(server.URL)
			if err != nil {
				t.Fatal(err)
			}
			u.User = url.UserPassword("user", password)
			c, err := New(Settings{Name: "x", Kind: "http", URL: u.String(), Deadline: 10 * time.Second})
			if err != nil {
				t.Fatal(err)
			}
			_, err = c.Send(t.Context(), alerts.Message{Subject: "x", Body: "y"})
			server.Close()
			if err == nil || !strings.Contains(err.Error(), "403") {
				t.Fatalf("%v", err)
			}
			if part := readable(err.Error(), password); part != "" {
				t.Errorf("%q of %q: %v", part, password, err)
			}
		}
	}
}
