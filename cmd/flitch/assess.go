package main

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/assess"
	"flitch/process"
	"flitch/process/plans"
	"flitch/process/record"
)

type assessCommand struct {
	Plan     string   `help:"Name of a built-in plan, or a file with your own." required:"" placeholder:"PLAN"`
	Readings string   `help:"CSV: time,placement,value,unit and if you like probe; time as 2031-04-07T12:00:00Z." required:"" placeholder:"FILE"`
	Events   string   `help:"CSV: time,event,detail; event is stage, turned, dosed, weighed, hand-reading, note or acknowledged." placeholder:"FILE"`
	Piece    []string `help:"Slab: name:green weight:thickness. Without one nothing is judged by its size." sep:"none" placeholder:"A:2268g:38mm"`
	Fuel     string   `help:"What heats the smoker: electric or wood." enum:"electric,wood" default:"wood"`
	JSON     bool     `name:"json" help:"Print everything as JSON."`
}

// Help shows an example.
func (assessCommand) Help() string {
	return "Runs a logger's file through the same evaluation as the daemon. Without --events all of it is taken as the plan's first stage: " +
		"say with stage events when the cook and the chill began. Units are C, F or K; % of a humidity; g, kg, lb, oz or mg of a weight; " +
		"W or kW of a power, or 1 and 0 without a unit as of a door. " +
		"The detail of dosed has the words of flitch batch dosed: cure A:5.7g cure B:5.5g ppm 156 nitrite 6.25% rule us.\n\nExample:\n\n    flitch assess --plan belly-dry-cured --readings logger.csv --events events.csv --piece A:2268g:38mm"
}

// Run assesses and prints.
func (c assessCommand) Run(t terminal) error {
	plan, err := readPlan(c.Plan)
	if err != nil {
		return err
	}
	pieces, err := parsePieces(c.Piece)
	if err != nil {
		return err
	}
	readings, err := openFile(c.Readings)
	if err != nil {
		return problem("--readings FILE", "%v", err)
	}
	defer readings.Close()
	request := assess.Request{Plan: plan, Pieces: pieces, Readings: readings, Fuel: alerts.Fuel(c.Fuel), Policy: alerts.Policy{Location: time.UTC}, Dosing: parseDosed}
	if c.Events != "" {
		events, err := openFile(c.Events)
		if err != nil {
			return problem("--events FILE", "%v", err)
		}
		defer events.Close()
		request.Events = events
	}
	report, err := assess.Run(request)
	if err != nil {
		return err
	}
	if c.JSON {
		return writeJSON(t.out, report)
	}
	return printReport(t.out, report)
}

// readPlan takes a built-in plan by its name, or a file.
func readPlan(name string) (process.Plan, error) {
	if !strings.ContainsAny(name, "./\\") {
		return plans.BuiltIn(name)
	}
	text, err := readFile(name)
	if err != nil {
		return process.Plan{}, problem("--plan "+strings.Join(plans.Names(), " or --plan "), "%v", err)
	}
	return plans.Parse(text)
}

func printReport(w io.Writer, r *assess.Report) error {
	table := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintf(table, "plan %s, %s to %s\n\n", r.Plan, r.From.Format(time.RFC3339), r.To.Format(time.RFC3339))
	for _, c := range r.Clocks {
		fmt.Fprintf(table, "%s\t%s\t%s\t%s\n", c.Name, record.Verdict(c), record.Sum(c), strings.Join(c.Uncertain, "; "))
	}
	for _, e := range r.Doses {
		fmt.Fprintf(table, "dose\t%s\t%s\t%s\n", e.Answer(), stampOf(e.At), e.Text())
	}
	for _, e := range r.Estimates {
		fmt.Fprintf(table, "estimate\t%s\t%s\t%s; %s\n", e.Name, record.Estimate(e), e.Model, strings.Join(e.Doubts, "; "))
	}
	for _, e := range r.Excursions {
		fmt.Fprintf(table, "excursion\t%s %s\t%s to %s\tworst %.1f °C\n", e.Probe, e.What, stampOf(e.From), stampOf(e.To), e.Worst)
	}
	for _, e := range r.Events {
		fmt.Fprintf(table, "event\t%s %s\t%s to %s\tseen %s %s\n", e.Name, e.Probe, stampOf(e.From), endOf(e.To), stampOf(e.Detected), e.Detail)
	}
	for _, a := range r.Alarms {
		fmt.Fprintf(table, "alarm\t%s %s\t%s\t%s\n", a.ID, a.Level, stampOf(a.Raised), a.Message)
	}
	for _, f := range lastForecasts(r.Forecasts) {
		fmt.Fprintf(table, "forecast\t%s\t%s\tas of %s\n", f.What, expected(f), stampOf(f.Made))
	}
	for _, p := range r.Probes {
		for _, f := range p.LeftOut {
			fmt.Fprintf(table, "not counted\t%s\t%d readings, %s\t%s\n", p.Probe, f.Count, record.Reason(f), record.Site{}.Times(f))
		}
	}
	for _, l := range r.Left {
		fmt.Fprintf(table, "left out\t%s line %d\t%s\t\n", l.File, l.Line, l.Why)
	}
	return table.Flush()
}

// lastForecasts are the newest of each thing: the JSON has all of them.
func lastForecasts(all []assess.Forecast) []assess.Forecast {
	var last []assess.Forecast
	for _, f := range all {
		i := slices.IndexFunc(last, func(other assess.Forecast) bool { return other.What == f.What })
		if i < 0 {
			last = append(last, f)
		} else {
			last[i] = f
		}
	}
	return last
}

func expected(f assess.Forecast) string {
	text := "not in a day"
	switch {
	case !f.At.IsZero():
		text = stampOf(f.At)
	case f.Air != nil:
		text = "never"
	}
	if !f.Low.IsZero() && !f.Low.Equal(f.High) {
		high := "later than a day"
		if !f.High.IsZero() {
			high = stampOf(f.High)
		}
		text += " (" + stampOf(f.Low) + " to " + high + ")"
	}
	if f.Air != nil {
		text += fmt.Sprintf(" in air of %.1f °C", *f.Air)
	}
	return text
}

func endOf(t time.Time) string {
	if t.IsZero() {
		return "the end"
	}
	return stampOf(t)
}

func stampOf(t time.Time) string { return t.Format("2006-01-02 15:04") }
