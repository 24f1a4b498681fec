package app

import (
	"encoding/csv"
	"fmt"
	"io"
	"runtime"
	"strconv"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"flitch/cmd/flitch/internal/api"
	"flitch/cmd/flitch/internal/config"
	"flitch/process"
)

// Nine days of four probes at five seconds.
const (
	nineDays    = 9 * 24 * time.Hour
	nineOfEach  = int(nineDays / (5 * time.Second)) // 155,520
	nineOfFour  = 4 * nineOfEach                    // 622,080
	csvLimit    = 3.0                               // s, as asked
	pdfLimit    = 2.0                               // s, as asked
	memoryLimit = 64.0                              // MiB over what the daemon has, a proposal
	sheetsLimit = 96.0                              // the same of XLSX, whose library keeps 16 MiB before it writes
)

// BenchmarkRecord is the record of nine days from the database to the last byte, as CSV,
// PDF and XLSX. Beside CSV and XLSX stand the libraries of the same form, writing as many
// rows that they have in memory; the record reads, corrects and judges its rows besides.
func BenchmarkRecord(b *testing.B) {
	for b.Loop() {
		s := nineDaysOfFour(b)
		took, memory := map[string]float64{}, map[string]float64{}
		for _, format := range []string{"csv", "pdf", "xlsx"} {
			took[format], memory[format] = s.recordTime(b, format)
		}
		s.close()
		line := func(name string, value float64, unit string, limit float64) {
			fmt.Printf("bench %s %.2f %s %.2f %.2f\n", name, value, unit, limit, value/limit)
		}
		line("record_csv_nine_days", took["csv"], "s", csvLimit)
		line("record_pdf_nine_days", took["pdf"], "s", pdfLimit)
		line("record_csv_beside_library", took["csv"], "s", rawCSV(b).Seconds())
		line("record_xlsx_beside_library", took["xlsx"], "s", rawXLSX(b).Seconds())
		line("record_csv_memory", memory["csv"], "MiB", memoryLimit)
		line("record_pdf_memory", memory["pdf"], "MiB", memoryLimit)
		line("record_xlsx_memory", memory["xlsx"], "MiB", sheetsLimit)
	}
}

// nineDaysOfFour is a shop with a batch in its fridge, where four probes told every five
// seconds.
func nineDaysOfFour(b *testing.B) *shop {
	b.Helper()
	s := newShop(b)
	probe := func(name string, p process.Placement) config.Probe {
		return config.Probe{Name: name, Place: "alder", Measures: p, Payload: config.Payload{Topic: "shop/" + name, Unit: "C"}, Interval: 5 * time.Second}
	}
	names := []string{"slow", "slow-2", "air", "air-2"}
	s.cfg.Probes = append(s.cfg.Probes[1:3:3], probe("slow", process.Product), probe("slow-2", process.Product), probe("air", process.Air), probe("air-2", process.Air))
	s.open()
	s.begin(raw)
	for n := 0; n < nineOfEach; {
		rows := make([]process.Reading, 0, 4000)
		for ; len(rows) < cap(rows) && n < nineOfEach; n++ {
			for i, name := range names {
				r := reading(n)
				r.Probe, r.Value = name, r.Value+float64(i)/10
				rows = append(rows, r)
			}
		}
		s.stored(b, rows)
	}
	return s
}

// recordTime is how long a record takes, and by how much the heap grew while it was made.
func (s *shop) recordTime(b *testing.B, format string) (seconds, mib float64) {
	b.Helper()
	runtime.GC()
	before, stop, top := heap(), make(chan struct{}), make(chan float64)
	go func() {
		highest := 0.0
		for {
			select {
			case <-stop:
				top <- highest
				return
			case <-time.After(5 * time.Millisecond):
				highest = max(highest, heap())
			}
		}
	}()
	written := new(counter)
	began := time.Now()
	if err := s.app.WriteRecordFile(b.Context(), "PS-02", api.RecordFile{Format: format}, written); err != nil {
		b.Fatal(err)
	}
	took := time.Since(began)
	close(stop)
	if format == "csv" && written.lines != nineOfFour+1 {
		b.Fatalf("%d lines, want %d", written.lines, nineOfFour+1)
	}
	return took.Seconds(), max(<-top-before, 0)
}

func heap() float64 {
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return float64(m.HeapAlloc) / (1 << 20)
}

// A counter counts lines.
type counter struct{ lines int }

func (c *counter) Write(b []byte) (int, error) {
	for _, letter := range b {
		if letter == '\n' {
			c.lines++
		}
	}
	return len(b), nil
}

func rawCSV(b *testing.B) time.Duration {
	b.Helper()
	began := time.Now()
	w := csv.NewWriter(io.Discard)
	for n := range nineOfFour {
		r := reading(n)
		at := r.Measured.Format(time.RFC3339Nano)
		if err := w.Write([]string{at, at, "PS-02", "", "product", "slow", strconv.FormatFloat(r.Value, 'f', -1, 64), "°C", "good", "measured", ""}); err != nil {
			b.Fatal(err)
		}
	}
	w.Flush()
	return time.Since(began)
}

func rawXLSX(b *testing.B) time.Duration {
	b.Helper()
	began := time.Now()
	f := excelize.NewFile()
	defer f.Close()
	w, err := f.NewStreamWriter("Sheet1")
	if err != nil {
		b.Fatal(err)
	}
	for n := range nineOfFour {
		r := reading(n)
		if err := w.SetRow("A"+strconv.Itoa(n+1), []any{r.Measured, r.Measured, "+00:00", "PS-02", nil, "product", "slow", r.Value, "°C", "good", "measured", nil}); err != nil {
			b.Fatal(err)
		}
	}
	if err := w.Flush(); err != nil {
		b.Fatal(err)
	}
	if err := f.Write(io.Discard); err != nil {
		b.Fatal(err)
	}
	return time.Since(began)
}
