package record

import (
	"math"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/process"
)

// sample is a small record of an invented batch: two nights in the fridge, a
// smoke whose fire goes out at ten to three, and a chill that is not over.
func sample(t *testing.T) *Record {
	t.Helper()
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	rows := sampleRows()
	r := &Record{
		Site:     Site{Name: "Oddwick Lane Larder", Zone: zone},
		MadeAt:   at("08:30"),
		Readings: func(yield func(Row) error) error { return yieldAll(rows, yield) },
		Estimates: []process.Estimate{
			{Name: "Salmonella killed", Subject: "core of piece A", Value: 7.24, Low: 6.91, High: 7.24, Unit: "log10", Model: "a model", Source: "a source", Doubts: []string{"low: by the colder end"}},
			{Name: "cure by diffusion, centre", Subject: "piece A", Value: 0.912, Low: 0.75, High: 0.98, Unit: "part of equilibrium", Model: "Fick", Source: "Crank 1975"},
		},
		Happenings: []process.Happening{
			{Name: "lid-open", Probe: "kettle-grate", From: at("21:10"), To: at("21:14"), Detected: at("21:12")},
			{Name: "stall", Probe: "needle-1", From: at("23:00"), Detected: at("23:26")},
		},
		Head: Head{
			Product: "Dry-cured belly bacon", Class: process.NotFullyCooked, Batch: "OL-31-09", By: "TV",
			Started: at("20:00").Add(-24 * time.Hour),
			Plan:    PlanVersion{"belly-dry-cure", 3, "5b1d7c0e9a"},
			Pieces:  []process.Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}, {Name: "B", GreenG: 2310, ThicknessMM: 41}},
		},
		Limits: []Limit{
			{Name: "fridge 4.4 °C", Text: "not above 4.4 °C for more than 120 min in all", Source: "plan", Drawn: true, LineC: 4.4, To: at("22:00").Add(-24 * time.Hour)},
			{Name: "come-up ends 54.4 °C", Text: "core from 10 to 54.4 °C in at most 6 h", Source: "trade article; not a published limit", Drawn: true, LineC: 54.4, From: at("22:00").Add(-24 * time.Hour)},
		},
		Clocks:     sampleClocks(),
		Stages:     sampleStages(),
		Deviations: []Deviation{{Number: 1, What: "come-up over its limit", From: at("04:10"), To: at("05:20"), Worst: "7 h 10 min", Limit: "6 h", Outcome: "hold for advice", Actions: []int{1}, Open: "corrective action without prevention"}},
		Held:       []string{"come-up", "for advice"},
		Actions: []Action{{Number: 1, Lacks: []string{"prevention"}, ActionEntry: process.ActionEntry{ID: "a1", At: at("06:50"), Typed: at("06:52"), By: "TV",
			ActionSaid: process.ActionSaid{About: "H3", Cause: "Chamber lost from 02:00 to 03:50: ash had blocked the grate. Core 46.5 °C at loss.", Control: "Relit at 03:31, house back at 82 °C at 03:50.", Product: "Held for evaluation <with the numbers>."}}}},
		Dispositions: []Disposition{{DispositionEntry: process.DispositionEntry{ID: "d1", At: at("07:00"), Typed: at("07:00"), By: "TV", What: process.HoldForAdvice, Pieces: []string{"A", "B"},
			Why: "come-up over 6 h", Covers: []process.Covered{{Name: "come-up", Sum: 7.17}}}}},
		Reviews: []process.ReviewEntry{{ID: "r1", At: at("08:00"), Typed: at("08:00"), By: "MO", Text: "so far; the chill is not over"}},
		Alarms:  sampleAlarms(),
		Entries: []Entry{
			{ID: "r1", Kind: process.CommandReading, Happened: at("03:30"), Typed: at("03:50"), By: "TV", Placement: process.Core, Piece: "A", Value: 64.5, Text: "second thermometer",
				Struck: &Strike{ID: "r2", At: at("03:52"), By: "MO", Why: "read 46, typed 64", Instead: true}},
			{ID: "r2", Kind: process.CommandReading, Happened: at("03:30"), Typed: at("03:52"), By: "TV", Placement: process.Core, Piece: "A", Value: 46.5, Text: "second thermometer"},
			{Kind: process.CommandNote, Happened: at("03:31"), Typed: at("03:31"), By: "TV", Text: "=relit; ash had blocked the grate",
				Photo: &Photo{Photo: process.Photo{SHA256: strings.Repeat("ab", 32), Width: 1600, Height: 1200}, Small: []byte("the bytes of a small JPEG")}},
			{ID: "s9", Kind: process.CommandStage, Happened: at("03:55"), Typed: at("03:55"), By: "TV", Text: "chill", Struck: &Strike{ID: "x9", At: at("03:55"), By: "TV"}},
			{Kind: process.CommandNote, Happened: at("08:10"), Typed: at("08:10"), By: "TV", Text: "prevention: ash drawer on the close list", AfterReview: true},
		},
		Rejected: 2,
		Chain:    Chain{Lines: 41, Last: "9f2c"},
		Cautions: []string{"Nitrite: weigh in grams, per slab, on green weight."},
	}
	r.Data, err = Counted(r.Readings, sampleProbes())
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// at is a moment of the night of 17 to 18 November 2026, given in UTC.
func at(clock string) time.Time {
	t, err := time.Parse("2006-01-02 15:04", "2026-11-18 "+clock)
	if err != nil {
		panic(err)
	}
	return t
}

func sampleProbes() []ProbeData {
	from, to := at("20:00").Add(-24*time.Hour), at("08:30")
	place := func(probe, place string, p process.Placement, piece string) ProbeData {
		return ProbeData{PlacedProbe: process.PlacedProbe{Probe: probe, Place: place, Placement: p, Piece: piece, Interval: 5 * time.Minute}, From: from, To: to}
	}
	return []ProbeData{
		place("alder-slow", "alder", process.Product, ""),
		place("kettle-grate", "old-kettle", process.Chamber, ""),
		place("needle-1", "old-kettle", process.Core, "A"),
		place("needle-2", "old-kettle", process.Core, "B"),
	}
}

// sampleRows gives a reading each five minutes and probe. All probes are silent
// from 01:00 to 01:50.
func sampleRows() []Row {
	var rows []Row
	start := at("20:00").Add(-24 * time.Hour)
	for i := range 151 {
		t := start.Add(time.Duration(i) * 5 * time.Minute)
		if t.After(at("01:00")) && t.Before(at("01:50")) {
			continue
		}
		h := t.Sub(start).Hours()
		rows = append(rows,
			row(t, "alder-slow", process.Product, "", 3.4+0.4*math.Sin(h*6)),
			row(t, "kettle-grate", process.Chamber, "", chamberAt(h)),
			row(t, "needle-1", process.Core, "A", coreAt(h, 26)),
			row(t, "needle-2", process.Core, "B", coreAt(h, 20)))
	}
	rows[10].Quality, rows[10].Reason, rows[10].Value = process.Bad, "sentinel 85.0", 85
	rows[20].Quality, rows[20].Reason = process.Suspect, "late"
	rows[20].Received = rows[20].Measured.Add(20 * time.Minute)
	return rows
}

func chamberAt(h float64) float64 {
	switch {
	case h < 2:
		return 4
	case h < 5.9:
		return 82 - 78*math.Exp(-(h-2)*3) + 3*math.Sin(h*9)
	case h < 7.5:
		return 12 + 70*math.Exp(-(h-5.9)*1.5)
	}
	return 85 - 60*math.Exp(-(h-7.5)*3)
}

func coreAt(h, slow float64) float64 {
	warm := 3.5
	for x := 0.0; x < h; x += 0.1 {
		warm += (chamberAt(x) - warm) * 0.1 * slow / 100
	}
	return warm
}

func row(t time.Time, probe string, p process.Placement, piece string, v float64) Row {
	return Row{Measured: t, Received: t.Add(time.Second), Batch: "OL-31-09", Piece: piece, Placement: p, Probe: probe, Value: math.Round(v*100) / 100, Source: Measured}
}

func yieldAll(rows []Row, yield func(Row) error) error {
	for _, r := range rows {
		if err := yield(r); err != nil {
			return err
		}
	}
	return nil
}

func sampleClocks() []process.Clock {
	start := at("20:00").Add(-24 * time.Hour)
	return []process.Clock{
		{Name: process.ClockCure, Rule: "5 d, by the rule you chose", Source: "custom, no source", Limit: 5, AtLeast: true, Sum: 5.2, Unit: "d", From: start, To: at("21:00").Add(-24 * time.Hour), Verdict: process.Met},
		{Name: process.ClockComeUp, Rule: "10 to 54.4 °C in at most 6 h", Source: "trade article", Limit: 6, Sum: 7.17, Unit: "h", From: at("22:10").Add(-24 * time.Hour), To: at("05:20"), Verdict: process.NotMet, Uncertain: []string{"no core readings from 01:00 to 01:50"}},
		{Name: process.ClockLethality, Rule: "not asked by this class", Source: "plan", Limit: 0, AtLeast: true, Unit: "min", Verdict: process.NotMeasured},
		{Name: process.ClockChillA, Rule: "54.4 to 26.7 °C in at most 1 h 30 min", Source: "FSIS-GD-2021-14", Limit: 1.5, Sum: 0.5, Unit: "h", Running: true, From: at("08:00")},
	}
}

func sampleStages() []Stage {
	start := at("20:00").Add(-24 * time.Hour)
	return []Stage{
		{Name: process.StageCure, Entered: start, Typed: start, Left: at("22:00").Add(-24 * time.Hour), By: "TV"},
		{Name: process.StageSmoke, Entered: at("22:00").Add(-24 * time.Hour), Typed: at("22:07").Add(-24 * time.Hour), Left: at("08:00"), By: "TV"},
		{Name: process.StageChill, Entered: at("08:00"), Typed: at("08:00"), By: "MO"},
	}
}

func sampleAlarms() []Alarm {
	return []Alarm{{
		Occurrence: alerts.Occurrence{Number: 7, Entry: "H3", Title: "Smoker cold", Subject: "smoker old-kettle", Unit: "K", Level: alerts.Ring,
			Since: at("02:00"), RaisedAt: at("02:20"), ClearedAt: at("03:50"), AcknowledgedAt: at("02:31"), AcknowledgedBy: "TV", Answers: []alerts.Answer{
				{At: at("02:24"), By: "MO", Withdrawn: &alerts.Withdrawal{At: at("02:29"), By: "MO", Why: "cannot leave"}}, {At: at("02:31"), By: "TV"}}, Worst: 41, Limit: 17},
		LevelName: "ring",
		Action:    "Relight, or reset the breaker. Note the core.",
		Messages: []Message{
			{ID: 11, Kind: alerts.Raised, Channel: "phone-tv", Due: at("02:20"), At: at("02:20"), Outcome: alerts.Delivered, Attempts: 1, Receipt: "id 5512"},
			{ID: 12, Kind: alerts.Raised, Channel: "mail", Due: at("02:20"), At: at("02:45"), Outcome: alerts.Failed, Attempts: 4, Error: "550 no such mailbox"},
		},
	}}
}
