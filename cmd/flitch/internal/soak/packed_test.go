package soak

import (
	"path/filepath"
	"time"

	"flitch/store"
)

// packed moves all that is sealed into blocks, as the daemon does in small steps with rests
// between them, and gives back what is free then.
func (y *year) packed(run string) {
	y.t.Helper()
	db, err := store.Open(filepath.Join(y.folder, "flitch.db"))
	if err != nil {
		y.t.Fatal(err)
	}
	defer db.Close()
	began, packer, readings, bytes := time.Now(), db.NewPacker(0), 0, 0
	for more := true; more; {
		var done store.Packed
		if done, more, err = packer.Next(y.t.Context()); err != nil {
			y.t.Fatal(err)
		}
		readings, bytes = readings+done.Readings, bytes+done.Bytes
	}
	took := time.Since(began)
	for more := true; more; {
		if more, err = db.GiveBack(); err != nil {
			y.t.Fatal(err)
		}
	}
	if readings == 0 {
		return // a short run: nothing is as much as a block
	}
	line(run+"_packed", float64(readings), "readings", 0)
	atLeast(run+"_packing", float64(readings)/took.Seconds(), "readings/s", 10*probesOfAll) // ten times as fast as two hundred probes send
	line(run+"_block_bytes_per_reading", float64(bytes)/float64(readings), "B", 4)
	y.t.Logf("%d readings packed into %d bytes in %s, given back in %s", readings, bytes, took.Round(time.Second), (time.Since(began) - took).Round(time.Second))
}
