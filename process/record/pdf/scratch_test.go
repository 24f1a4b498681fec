package pdf

import (
	"os"
	"testing"
	"time"
	"math"
	"strings"

	"flitch/process"
	"flitch/process/record"
	"flitch/process/record/workbook"
)

func TestScratch(t *testing.T) {
	zone, _ := time.LoadLocation("Europe/Berlin")
	at := time.Date(2026, 11, 17, 20, 0, 0, 0, time.UTC)
	r := &record.Record{Site: record.Site{Name: "Oddwick Lane Larder 中", Zone: zone}, MadeAt: at.Add(20 * time.Hour),
		Head: record.Head{Product: "Dry-cured belly", Class: process.NotFullyCooked, Batch: "OL-31-09", By: "T.V.", Started: at, Pieces: []process.Piece{{Name: "A", GreenG: 2000, ThicknessMM: 38}}},
		Clocks: []process.Clock{{Name: "cure", Rule: "7 days at 4 °C by the rule you chose; cold days count for less", Source: "common practice", Limit: 7, AtLeast: true, Sum: 3, Unit: "d", From: at, Running: true}},
		Stages: []record.Stage{{Name: process.StageCure, Entered: at, By: "T.V."}},
		Entries: []record.Entry{{Kind: process.CommandNote, Happened: at, Typed: at, By: "מ.כ.", Text: "שלום עולם (שבת) 12.5 kg and مرحبا بالعالم لا سلام 123 and Ελληνικά Кириллица Ärger ქართული Հայ 中文 🔥 end\x00\u202e."},
			{Kind: process.CommandNote, Happened: at, Typed: at.Add(time.Hour), By: "T.V.", Text: strings.Repeat("a long text of a person who writes much ", 50)},
			{Kind: process.CommandNote, Happened: at, Typed: at.Add(time.Hour), By: "T.V.", Text: strings.Repeat("x", 2000)}},
	}
	r.Readings = func(yield func(record.Row) error) error {
		for i := range 2000 {
			m := at.Add(time.Duration(i) * 30 * time.Second)
			if i > 400 && i < 600 { continue }
			if err := yield(record.Row{Measured: m, Received: m, Batch: "OL-31-09", Placement: process.Product, Probe: "slow", Value: 3.4 + math.Sin(float64(i)/100)}); err != nil { return err }
		}
		return nil
	}
	for _, who := range record.Readers() {
		p, err := r.Paper(who)
		if err != nil { t.Fatal(err) }
		f, _ := os.Create("/tmp/papertry/" + string(who) + ".pdf")
		if err := Write(f, p, "a4"); err != nil { t.Fatal(err) }
		f.Close()
		f, _ = os.Create("/tmp/papertry/" + string(who) + ".xlsx")
		if err := workbook.Write(f, p); err != nil { t.Fatal(err) }
		f.Close()
	}
}
