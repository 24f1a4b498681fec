package app

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/ingest"
	"flitch/ingest/decode"
	"flitch/ingest/ingesttest"
	"flitch/process"
)

// noted is the real store, and remembers what the last message became.
type noted struct {
	*ingesttest.Shelf
	mu     sync.Mutex
	became []string
}

func (n *noted) CommitIntake(readings []process.Reading, rejected []decode.Rejection) (ingest.Committed, error) {
	var fresh []string
	for i, r := range readings {
		twice := slices.ContainsFunc(readings[:i], func(o process.Reading) bool { return o.Probe == r.Probe && o.Measured.Equal(r.Measured) })
		if has, err := n.HasReading(r.Probe, r.Measured); err == nil && !has && !twice {
			fresh = append(fresh, corpusLine(r))
		}
	}
	done, err := n.Shelf.CommitIntake(readings, rejected)
	if len(fresh) != done.Stored {
		err = errors.Join(err, fmt.Errorf("%d readings stored, want %d", done.Stored, len(fresh)))
	}
	n.mu.Lock()
	defer n.mu.Unlock()
	n.became = append(n.became, fresh...)
	for _, r := range rejected {
		for line := range strings.SplitSeq(r.Reason, "\n") {
			n.became = append(n.became, "! "+line)
		}
	}
	return done, err
}

// corpusLine is a reading as it stands in the corpus.
func corpusLine(r process.Reading) string {
	text := "="
	if number := r.Probe[strings.LastIndex(r.Probe, "-")+1:]; number != "1" {
		text += " " + number + ":"
	}
	text += fmt.Sprintf(" %.6g", r.Value)
	if !r.Measured.Equal(r.Received) {
		text += " at " + r.Measured.Format(time.RFC3339Nano)
	}
	if believed := r.Quality == process.Good || r.Reason == "late"; believed && !r.Device.IsZero() && !r.Device.Equal(r.Measured) {
		text += " device " + r.Device.Format(time.RFC3339Nano) // must not be: it is believed
	}
	if r.Quality != process.Good {
		text += " " + r.Quality.String() + ": " + r.Reason
	}
	return text
}

// The observer.

func (n *noted) Duplicate(k int)          { n.note(fmt.Sprintf("absorbed %d", k)) }
func (n *noted) Unmapped()                { n.note("-") }
func (n *noted) Stored(int)               {}
func (n *noted) Rejected(string)          {}
func (n *noted) Committed(time.Duration)  {}
func (n *noted) Doubtful(process.Quality) {}
func (n *noted) StoreFailed()             {}

func (n *noted) note(line string) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.became = append(n.became, line)
}

// take returns what came since the last call.
func (n *noted) take() []string {
	n.mu.Lock()
	defer n.mu.Unlock()
	became := n.became
	n.became = nil
	return became
}

// TestPayloads sends every payload of the corpus through configuration, intake and
// store, one message after the other.
func TestPayloads(t *testing.T) {
	t.Parallel()
	shelf := ingesttest.NewShelf(t)
	for i, c := range readPayloads(t) {
		t.Run(c.name, func(t *testing.T) {
			if len(c.messages) == 0 {
				t.Fatalf("%s: no message", c.where)
			}
			path := filepath.Join(t.TempDir(), "flitch.toml")
			if err := os.WriteFile(path, []byte(c.configText(fmt.Sprintf("case%d-", i))), 0o600); err != nil {
				t.Fatal(err)
			}
			cfg, err := config.Load(path)
			if err != nil {
				t.Fatalf("%s: %v", c.where, err)
			}
			n := &noted{Shelf: shelf}
			in := ingesttest.Start(t, n, mappings(cfg.Probes), ingest.Options{Observe: n})
			for _, m := range c.messages {
				got, err := n.submit(t, in, m, cfg.Probes[0].Topic)
				if err != nil {
					t.Fatal(err)
				}
				if !slices.Equal(got, m.want) {
					t.Errorf("%s, line %d: %s\ngot:\n%s\nwant:\n%s", c.where, m.line, m.payload, strings.Join(got, "\n"), strings.Join(m.want, "\n"))
				}
			}
			if err := in.Stop(); err != nil {
				t.Error(err)
			}
		})
	}
}

// submit sends one message and returns what it became, once it is acknowledged.
func (n *noted) submit(t *testing.T, in *ingesttest.Running, m payloadMessage, topic string) ([]string, error) {
	if m.topic != "" {
		topic = m.topic
	}
	acked := make(chan struct{})
	err := in.Submit(t.Context(), ingest.Message{Topic: topic, Payload: []byte(m.payload), Retained: m.retained,
		Received: m.arrived, Ack: func() { close(acked) }})
	if err != nil {
		return nil, err
	}
	select {
	case <-acked:
		return n.take(), nil
	case <-time.After(ingesttest.Patience):
		return nil, fmt.Errorf("line %d was not acknowledged", m.line)
	}
}
