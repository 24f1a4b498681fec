package app

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"testing/synctest"
	"time"

	"flitch/cmd/flitch/internal/backup"
)

// The very first start, on a new card in a board whose clock says 1970, beside a stick that is full of copies
// of the old one. For two hours and a half nobody sets the clock; then it is. Until then
// copies are made as often as they should be and the newest of them stays, people are told once, what cannot be
// delivered is tried on, and the batch that was begun is watched.
func TestTheFirstHoursIn1970(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBubble(t, time.UTC, dawn.Add(12*hour))
		b.machine.boot(epoch)
		b.cfg.Backup.Every, b.cfg.Backup.Keep = 2*hour, 3
		for i := range 5 {
			name := dawn.Add(-time.Duration(i) * hour).Format("20060102T150405Z")
			if err := os.MkdirAll(filepath.Join(b.cfg.Backup.Folder, "flitch-"+name), 0o700); err != nil {
				t.Fatal(err)
			}
		}
		old, err := backup.List(b.cfg.Backup.Folder)
		if err != nil || len(old) != 5 {
			t.Fatalf("%d copies of before, %v", len(old), err)
		}
		b.open()
		b.begin()
		b.wall.hear(false)
		made := map[string]bool{}
		for after := 5 * minute; after <= 150*minute; after += 5 * minute {
			b.until(after)
			all, err := backup.List(b.cfg.Backup.Folder)
			if err != nil {
				t.Fatal(err)
			}
			if last := all[len(all)-1]; last.At.Year() != 2026 {
				t.Fatalf("after %v there is no copy of this database: the oldest is of %v", after, last.At)
			}
			for _, c := range all {
				if c.At.Year() == 2026 {
					made[c.Folder] = true
				}
			}
		}
		if len(made) != 2 {
			t.Errorf("%d copies were made in two hours and a half, want one each two hours", len(made))
		}
		b.machine.right()
		b.until(155 * minute)
		b.wall.hear(true)
		b.until(165 * minute)
		told := map[string]int{}
		for _, d := range b.wall.taken() {
			told[fmt.Sprint(d.Entry, " ", d.Kind)]++
		}
		if told["B6m raised"] != 1 || told["K4 raised"]+told["K4 repeated"]+told["K4 re-alarmed"] == 0 || told["C2 cleared"] == 0 {
			t.Errorf("the wall was told %v", told)
		}
		for _, broken := range b.lost() {
			t.Error(broken)
		}
		if now := b.app.clock.Now(); !now.Equal(b.machine.truth()) {
			t.Errorf("the house has %v", now)
		}
	})
}
