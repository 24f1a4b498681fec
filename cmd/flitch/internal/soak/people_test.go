package soak

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"sync/atomic"
	"time"
)

// answerLink is the address in a message that answers its alarm.
var answerLink = regexp.MustCompile(`http://[^\s"\\]+/a/[A-Za-z0-9_-]+`)

// newPhone is a phone that takes every message and answers by the link in it.
func newPhone(y *tally) *httptest.Server {
	return httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(io.LimitReader(r.Body, 1<<16))
		y.rings.Add(1)
		fmt.Fprint(w, "shown")
		link := answerLink.FindString(string(body))
		if link == "" {
			return
		}
		go func() { // the message has to have been taken first
			response, err := quick.Post(link, "application/x-www-form-urlencoded", nil)
			if err != nil {
				return // flitch is stopping
			}
			_, _ = io.Copy(io.Discard, response.Body)
			response.Body.Close()
			if response.StatusCode == http.StatusOK {
				y.answers.Add(1)
			}
		}()
	}))
}

// get asks for a page and reads it to its end.
func (d *daemon) get(ctx context.Context, path string, y *tally) []byte {
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, d.page+path, nil)
	if err != nil {
		y.fail(err.Error())
		return nil
	}
	response, err := quick.Do(r)
	if err != nil {
		if ctx.Err() == nil {
			y.fail(err.Error())
		}
		return nil
	}
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	if ctx.Err() != nil {
		return nil
	}
	if response.StatusCode == http.StatusNotFound && strings.HasSuffix(path, "/glance") {
		return nil // the batch was closed while it was asked for
	}
	if response.StatusCode == http.StatusServiceUnavailable && path == "/healthz" && strings.Count(string(text), `"name":`) == strings.Count(string(text), `"name":"client id `) {
		response.StatusCode = http.StatusOK // it says, rightly, that our sensors take over their own names; nothing else is wrong
	}
	if err != nil || response.StatusCode != http.StatusOK {
		y.fail(fmt.Sprintf("%s: %d %v %.100s", path, response.StatusCode, err, text))
	}
	y.asked.Add(1)
	return text
}

// watch is somebody who looks at everything that can be looked at, page by page.
func (d *daemon) watch(ctx context.Context, batch *atomic.Pointer[string], y *tally) {
	tick := time.NewTicker(500 * time.Millisecond)
	defer tick.Stop()
	for n := 0; ctx.Err() == nil; n++ {
		paths := []string{"/", "/api/glance", "/alarms", "/api/alarms", "/api/probes", "/api/places", "/healthz", "/probes", "/metrics", "/heard"}
		if id := batch.Load(); id != nil {
			at := "/batches/" + *id
			paths = append(paths, at+"/glance", at, at+"/chart.svg?width=600", "/api/batches/"+*id, at+"/glance", at+"/entries")
			if n%60 == 0 {
				paths = append(paths, at+"/record.csv", at+"/record.pdf")
			}
		}
		d.get(ctx, paths[n%len(paths)], y)
		select {
		case <-ctx.Done():
		case <-tick.C:
		}
	}
}

// follow opens the stream of a page, reads for a while, and hangs up.
func (d *daemon) follow(ctx context.Context, stays time.Duration, y *tally) {
	for ctx.Err() == nil {
		some, hangUp := context.WithTimeout(ctx, stays)
		if response := d.stream(some); response != nil {
			for lines := bufio.NewScanner(response.Body); lines.Scan(); {
			}
			response.Body.Close()
			y.streams.Add(1)
		}
		<-some.Done() // a stream that was refused is tried again then
		hangUp()
	}
}

// stream opens one; nil when it was refused.
func (d *daemon) stream(ctx context.Context) *http.Response {
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, d.page+"/api/events", nil)
	if err != nil {
		return nil
	}
	response, err := http.DefaultClient.Do(r)
	if err != nil {
		return nil
	}
	if response.StatusCode != http.StatusOK {
		response.Body.Close()
		return nil
	}
	return response
}

// tell says something as a person does; ok says whether it was taken.
func (d *daemon) tell(ctx context.Context, y *tally, body map[string]any) (ok bool) {
	text, err := json.Marshal(body)
	if err != nil {
		y.fail(err.Error())
		return false
	}
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, d.page+"/api/commands", bytes.NewReader(text))
	if err != nil {
		y.fail(err.Error())
		return false
	}
	r.Header.Set("Content-Type", "application/json")
	response, err := quick.Do(r)
	if err != nil {
		return false
	}
	defer response.Body.Close()
	said, _ := io.ReadAll(response.Body)
	if response.StatusCode != http.StatusOK && ctx.Err() == nil {
		y.fail(fmt.Sprintf("%s: %d %.300s", text, response.StatusCode, said))
		return false
	}
	return true
}

// newBatch is what each is begun with.
var newBatch = map[string]any{"plan": "belly-dry-cured-fully-cooked", "fridge": "alder", "smoker": "old-kettle",
	"pieces": []map[string]any{{"name": "A", "green_g": 2268, "thickness_mm": 38}, {"name": "B", "green_g": 2100, "thickness_mm": 40}}, "cores": map[string]string{"core-1": "A", "core-2": "B"}}

// make begins a batch, takes it through its stages and closes it, again and again.
func (d *daemon) make(ctx context.Context, p pace, batch *atomic.Pointer[string], y *tally) {
	for n := 1; ctx.Err() == nil; n++ {
		id := fmt.Sprintf("SOAK-%d", n)
		say := func(kind string, more map[string]any) bool {
			body := map[string]any{"kind": kind, "batch": id, "by": "T.V."}
			for key, v := range more {
				body[key] = v
			}
			return d.tell(ctx, y, body)
		}
		begun := say("new", map[string]any{"new": newBatch})
		if begun {
			batch.Store(&id)
			d.stages(ctx, p.stage, id, say)
			say("disposition", map[string]any{"disposition": "discard", "text": "made of numbers"}) // its clocks are not met
			if say("close", map[string]any{"text": "for the soak"}) {
				y.batches.Add(1)
			}
		}
		nap(ctx, p.stage)
	}
}

// stages takes the batch on until it has no next stage.
func (d *daemon) stages(ctx context.Context, every time.Duration, id string, say func(string, map[string]any) bool) {
	for range 30 {
		nap(ctx, every)
		say("note", map[string]any{"text": "smells of oak"})
		next := d.nextStage(ctx, id)
		if next == "" || ctx.Err() != nil {
			return
		}
		say("stage", map[string]any{"stage": next, "text": "for the soak"})
	}
}

// nextStage is what the glance offers of a batch; empty when it is in its last stage.
func (d *daemon) nextStage(ctx context.Context, id string) string {
	var now []struct {
		Batch string
		Stage struct{ Next string }
	}
	var none tally
	if err := json.Unmarshal(d.get(ctx, "/api/glance", &none), &now); err != nil {
		return ""
	}
	for _, g := range now {
		if g.Batch == id {
			return g.Stage.Next
		}
	}
	return ""
}

func nap(ctx context.Context, d time.Duration) {
	select {
	case <-ctx.Done():
	case <-time.After(d):
	}
}
