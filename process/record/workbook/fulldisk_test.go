package workbook

import (
	"bytes"
	"os"
	"syscall"
	"testing"
	"time"

	"flitch/process"
	"flitch/process/record"
)

// The disk of the temporary files is full: that is an error, not a shorter workbook, and
// nothing is left behind.
func TestAFullDiskIsAnError(t *testing.T) {
	small := t.TempDir()
	if err := syscall.Mount("tmpfs", small, "tmpfs", 0, "size=4m"); err != nil {
		t.Fatalf("this test mounts a small disk and needs root: %v", err)
	}
	t.Cleanup(func() { syscall.Unmount(small, syscall.MNT_DETACH) })
	t.Setenv("TMPDIR", small)
	r := &record.Record{MadeAt: dawn, Head: record.Head{Batch: "OL-31-09", Started: dawn}}
	r.Readings = func(yield func(record.Row) error) error {
		for i := range 60_000 {
			if err := yield(record.Row{Measured: dawn.Add(time.Duration(i) * time.Second), Placement: process.Product, Probe: "slow", Value: float64(i)}); err != nil {
				return err
			}
		}
		return nil
	}
	p, err := r.Paper(record.Inspector)
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if err := Write(&out, p); err == nil || out.Len() > 0 {
		t.Errorf("a workbook of %d bytes was made on a full disk", out.Len())
	}
	left, err := os.ReadDir(small)
	if err != nil || len(left) > 0 {
		t.Errorf("%d files are left, %v", len(left), err)
	}
}
