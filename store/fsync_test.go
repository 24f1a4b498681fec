package store

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"
)

// BenchmarkFsync is the floor under every durable commit on this disk: the median
// of one 4 KiB append with its fsync.
func BenchmarkFsync(b *testing.B) {
	file, err := os.Create(filepath.Join(b.TempDir(), "floor"))
	if err != nil {
		b.Fatal(err)
	}
	defer file.Close()
	block := make([]byte, 4096)
	var took []time.Duration
	for b.Loop() {
		for range 500 {
			began := time.Now()
			if _, err := file.Write(block); err != nil {
				b.Fatal(err)
			}
			if err := file.Sync(); err != nil {
				b.Fatal(err)
			}
			took = append(took, time.Since(began))
		}
	}
	slices.Sort(took)
	fmt.Printf("bench fsync_4k_p50 %.3f ms - -\n", took[len(took)/2].Seconds()*1000)
}
