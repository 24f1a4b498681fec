package mqtt_test

import (
	"fmt"
	"os"
	"testing"
	"time"

	"go.uber.org/goleak"

	"flitch/ingest/ingesttest"
)

// TestMain demands that no goroutine is left. The client library's goodbye may wait for a
// connection that is being made, and then for its own time: it is given as long as a peer.
func TestMain(m *testing.M) {
	code := m.Run()
	for deadline := time.Now().Add(patience); code == 0; {
		err := goleak.Find() // waits a little itself
		if err == nil {
			break
		}
		if time.Now().After(deadline) {
			fmt.Fprintln(os.Stderr, err)
			code = 1
		}
	}
	os.Exit(code)
}

const patience = ingesttest.Patience

type (
	shelf   = ingesttest.Shelf
	running = ingesttest.Running
	wall    = ingesttest.Wall
)

var (
	newShelf  = ingesttest.NewShelf
	newStored = ingesttest.NewCounts
	mappings  = ingesttest.Mappings
	start     = ingesttest.Start
	quietLog  = ingesttest.QuietLog
	errDisk   = ingesttest.ErrDisk
)
