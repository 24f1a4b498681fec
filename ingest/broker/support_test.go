package broker_test

import (
	"testing"

	"go.uber.org/goleak"

	"flitch/ingest/ingesttest"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

const patience = ingesttest.Patience

type (
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
