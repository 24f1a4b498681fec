package push

import (
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"runtime"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
)

// A server whose answer does not end takes no memory: with any status, as JSON or not, every
// service that is reached by HTTP.
func TestAnAnswerWithoutEndTakesNoMemory(t *testing.T) {
	limitDefaultClient()
	block := strings.Repeat("x", 64<<10)
	sent := 0
	for _, first := range []string{`{"ok":true,"result":"`, "", "<html>"} {
		for _, status := range []int{200, 201, 400, 500} {
			server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
				w.WriteHeader(status)
				io.WriteString(w, first)
				for range 4 << 10 { // 256 MB, should anybody read on
					if _, err := io.WriteString(w, block); err != nil {
						return
					}
				}
			}))
			kinds := map[string]Settings{"default client": {}, "telegram": {Name: "phone", Kind: "telegram", Server: server.URL, Token: fakeKey, Target: "123456789", Deadline: 10 * time.Second}}
			for _, s := range postServices() {
				kinds[s.kind] = s.settings(server.URL)
			}
			for kind, settings := range kinds {
				sent++
				var before, after runtime.MemStats
				runtime.ReadMemStats(&before)
				if kind == "default client" { // that the libraries of two services use
					if resp, err := http.DefaultClient.Get(server.URL); err == nil {
						n, _ := io.Copy(io.Discard, resp.Body)
						resp.Body.Close()
						if n > mostHeard {
							t.Errorf("%d bytes were read", n)
						}
					}
				} else {
					c, err := New(settings)
					if err != nil {
						t.Fatalf("%s: %v", kind, err)
					}
					_, err = c.Send(context.Background(), alerts.Message{ID: 1, Level: alerts.Ring, Subject: "RING", Body: "test"})
					if err != nil && len(err.Error()) > 4096 {
						t.Errorf("%s: an error of %d bytes", kind, len(err.Error()))
					}
				}
				runtime.ReadMemStats(&after)
				if took := after.TotalAlloc - before.TotalAlloc; took > 16<<20 {
					t.Errorf("%s, %d, %q: %d MB", kind, status, first, took>>20)
				}
			}
			server.Close()
		}
	}
	t.Logf("%d answers without an end", sent)
}

// Whatever a service answers, it is told in a bounded text and waited for at most a day.
func FuzzAnswer(f *testing.F) {
	f.Add(429, `{"ok":false,"parameters":{"retry_after":31}}`, "120", "Thu, 01 Jan 2031 00:00:00 GMT")
	f.Add(200, `{"id":"hwQ2"}`, "", "")
	f.Add(500, `"retry_after_ms": 999999999.5`, "Thu, 01 Jan 2031 00:00:09 GMT", "Thu, 01 Jan 2031 00:00:00 GMT")
	f.Add(200, "<html>", "-5", "x")
	f.Fuzz(func(t *testing.T, status int, body, after, date string) {
		resp := &http.Response{StatusCode: status, Header: http.Header{"Retry-After": {after}, "Date": {date}}, Body: io.NopCloser(strings.NewReader(body))}
		said := refused(resp)
		if said.After < 0 || said.After > 24*time.Hour && askedWait(body) == said.After || len(said.Text) > 2*longestText+200 {
			t.Errorf("%+v", said)
		}
		for _, name := range []string{"id", "event_id", "message_uuid"} {
			if _, err := field(name)(body); err != nil {
				t.Errorf("%v", err)
			}
		}
		p := poster{taken: field("id")}
		resp.Body = io.NopCloser(strings.NewReader(body))
		_, _ = p.receipt(resp)
	})
}
