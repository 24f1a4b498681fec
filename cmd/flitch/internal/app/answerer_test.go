package app

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"sync"
	"sync/atomic"
	"time"
)

// An answerer is the person on duty: it says "I am on it" to every alarm it has
// seen standing, with the same command until that is taken.
type answerer struct {
	page   string
	client http.Client
	mu     sync.Mutex
	taken  map[int64]int // alarms seen: how often the answer was taken
	inside atomic.Int64  // answers that are said and not taken
}

// enough is how often an answer is given: to every other alarm once more after it
// was taken, as a phone does that has lost the reply. Not to all, because that
// would mend an answer that was taken and lost.
func enough(number int64) int { return 1 + int(number%2) }

func (a *answerer) run(ctx context.Context) {
	for ctx.Err() == nil {
		for _, number := range a.standing(ctx) {
			a.count(number, 0)
		}
		for _, number := range a.unanswered() {
			body, err := json.Marshal(map[string]any{"id": fmt.Sprintf("answer-%d", number), "kind": "acknowledge", "by": "M.O.", "alarm": number})
			if err == nil && a.post(ctx, body) == nil {
				a.count(number, 1)
			}
		}
		pause(ctx, 10*time.Millisecond)
	}
}

func (a *answerer) count(number int64, more int) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.taken[number] += more
}

// unanswered lists the alarms whose answer has still to be given.
func (a *answerer) unanswered() (out []int64) {
	a.mu.Lock()
	defer a.mu.Unlock()
	for number, n := range a.taken {
		if n < enough(number) {
			out = append(out, number)
		}
	}
	return out
}

func (a *answerer) standing(ctx context.Context) []int64 {
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+a.page+"/api/alarms", nil)
	if err != nil {
		return nil
	}
	response, err := a.client.Do(request)
	if err != nil {
		return nil // it was just killed
	}
	defer response.Body.Close()
	var list []struct {
		Number       int64     `json:"number"`
		Active       bool      `json:"active"`
		Acknowledged time.Time `json:"acknowledged"`
	}
	if json.NewDecoder(response.Body).Decode(&list) != nil {
		return nil
	}
	var out []int64
	for _, o := range list {
		if o.Active && o.Acknowledged.IsZero() {
			out = append(out, o.Number)
		}
	}
	return out
}

// post sends a command; nil means that it was taken.
func (a *answerer) post(ctx context.Context, body []byte) error {
	a.inside.Add(1)
	defer a.inside.Add(-1)
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, "http://"+a.page+"/api/commands", bytes.NewReader(body))
	if err != nil {
		return err
	}
	response, err := a.client.Do(request)
	if err != nil {
		return err
	}
	defer response.Body.Close()
	if response.StatusCode != http.StatusOK {
		return fmt.Errorf("%s", response.Status)
	}
	return nil
}
