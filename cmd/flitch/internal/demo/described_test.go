package demo

import (
	"context"
	"io"
	"net/http"
	"regexp"
	"strings"
	"sync"
	"testing"

	"flitch/cmd/flitch/internal/api/apitest"
	"flitch/ingest/sim"
)

// A follower reads what the demo prints, and at each line all that the JSON API tells of
// the house.
type follower struct {
	t     *testing.T
	stop  context.CancelFunc
	page  string
	book  *apitest.Book
	asked map[string]int // answers that were what they are for, by pattern

	mu    sync.Mutex // the phone prints, too
	looks int
}

var pageAt = regexp.MustCompile(`Page: (http://\S+)`)

// Write looks at a line.
func (f *follower) Write(line []byte) (int, error) {
	if m := pageAt.FindSubmatch(line); m != nil {
		f.page = string(m[1])
		if _, _, text := f.get("/api/openapi.yaml"); text != nil {
			book, err := apitest.Read(text)
			if err != nil {
				f.t.Error(err)
			}
			f.book = book
		}
	}
	if f.mu.TryLock() { // else somebody looks already
		if f.book != nil {
			f.look()
		}
		f.mu.Unlock()
	}
	if strings.Contains(string(line), "The story is over") {
		f.stop()
	}
	return len(line), nil
}

func (f *follower) look() {
	f.looks++
	for _, pattern := range f.book.Routes() {
		path, reads := strings.CutPrefix(pattern, "GET ")
		if !reads || path == "/api/events" || strings.HasPrefix(path, "/api/phones") {
			continue // the stream has no end, and this house rings no browser
		}
		if strings.HasPrefix(path, "/batches/") && f.looks%10 != 0 {
			continue // these read all nine days
		}
		path = strings.NewReplacer("{id}", sim.StoryBatch, "{name}", "boiling-point").Replace(path)
		if strings.HasSuffix(path, "boiling-point") {
			path += "?altitude=500m"
		}
		r, answer, text := f.get(path)
		if answer == nil {
			continue
		}
		if err := f.book.Answer(r, answer.StatusCode, answer.Header, text); err != nil {
			f.t.Errorf("%s: %v", path, err)
		}
		if answer.StatusCode == http.StatusOK {
			f.asked[pattern]++
		}
	}
}

func (f *follower) get(path string) (*http.Request, *http.Response, []byte) {
	r, err := http.NewRequestWithContext(f.t.Context(), http.MethodGet, f.page+path, nil)
	if err != nil {
		f.t.Error(err)
		return nil, nil, nil
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		f.t.Error(err)
		return nil, nil, nil
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil {
		f.t.Error(err)
	}
	return r, answer, text
}

// Everything there is to read is read at each event of the demo's nine days, and is as
// openapi.yaml says.
func TestTheDemoIsAsTheAPIIsDescribed(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	f := &follower{t: t, stop: stop, asked: map[string]int{}}
	if err := Run(ctx, Options{Listen: "127.0.0.1:0", Print: f, Version: "test"}); err != nil {
		t.Fatal(err)
	}
	if f.book == nil {
		t.Fatal("the page did not say where it is")
	}
	for pattern, least := range map[string]int{"GET /api/glance": 20, "GET /api/batches/{id}": 20, "GET /api/alarms": 20, "GET /api/probes": 20, "GET /batches/{id}/chart.json": 2, "GET /batches/{id}/record.json": 2} {
		if f.asked[pattern] < least {
			t.Errorf("%s was answered %d times", pattern, f.asked[pattern])
		}
	}
}
