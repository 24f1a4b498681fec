package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/signal"
	"time"
)

type importCommand struct {
	File string `arg:"" help:"CSV of a stand-alone logger."`
	daemonFlags
	By         string   `help:"Your initials ($FLITCH_BY)." placeholder:"INITIALS"`
	Probe      string   `help:"Which probe it was, as in flitch probe list." placeholder:"NAME"`
	Time       []string `help:"Column of the time, by its head or number; twice when date and time stand apart." placeholder:"COLUMN" sep:"none"`
	Value      string   `help:"Column of the value." placeholder:"COLUMN"`
	Unit       string   `help:"Unit of the value: C, F, K, %, g, kg, lb, oz, W or kW; none for a door." placeholder:"UNIT"`
	TimeFormat string   `help:"How times are written: rfc3339, unix, unix-ms, or a pattern of YYYY MM DD hh mm ss." placeholder:"DD.MM.YYYY hh:mm:ss"`
	Zone       string   `help:"Zone of times that do not say it: Europe/Lisbon, UTC or +01:00." placeholder:"ZONE"`
	Delimiter  string   `help:"What parts the columns: comma, semicolon or tab." placeholder:"WORD"`
	Decimal    string   `help:"What stands before the decimals: . or ,." default:"." placeholder:"."`
	Heading    int      `help:"Line with the heads of the columns; 0 when there is none." default:"1" placeholder:"LINE"`
	FromLine   int      `help:"Go on from this line, after an import that was stopped." placeholder:"LINE"`
	Refused    string   `help:"Write every row that is not taken, with its line and why, to this file." placeholder:"FILE"`
	Yes        bool     `help:"What was understood is right: import it. Readings are never changed or removed afterwards."`
}

// Help shows examples.
func (importCommand) Help() string {
	return "Shows how the file is understood, and asks for what it does not say. With --yes the rows go to the running daemon, which keeps them as " +
		"late readings of that probe: they change clocks and records, and ring nobody. Stopped in the middle, it is run again: what is there already is recognised." +
		"\n\nExample:\n\n    flitch import night.csv --probe alder-bottle --time Date --time Time --value \"Temp (C)\" --unit C --time-format \"DD.MM.YYYY hh:mm:ss\" --zone Europe/Lisbon" +
		"\n    flitch import night.csv --probe alder-bottle --time 1 --value 2 --unit F --time-format unix --yes --by T.V."
}

// Run looks at the file, surveys it, and with --yes imports it.
func (c importCommand) Run(t terminal) error {
	file, err := os.Open(c.File)
	if errors.Is(err, fs.ErrNotExist) {
		return problem("the path of the logger's CSV", "there is no %s", c.File)
	}
	if err != nil {
		return fmt.Errorf("opening the file: %w", err)
	}
	defer file.Close()
	d, err := c.daemon(t)
	if err != nil {
		return err
	}
	layout, probe, err := c.layout(file, d)
	if err != nil {
		return err
	}
	s, err := c.survey(t, file, layout)
	if err != nil {
		return err
	}
	s.print(t.out, c, layout, probe)
	if s.rows == 0 {
		return problem("--time, --value, --time-format and --decimal as the rows have them", "%s: none of %s can be taken", c.File, count64(s.refused.n, "row"))
	}
	if !c.Yes {
		fmt.Fprintf(t.out, "nothing was imported; if this is right, the same with --yes\n")
		return nil
	}
	by, err := orderFlags{By: c.By}.signature(t)
	if err != nil {
		return err
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	return c.send(ctx, t, d, file, layout, s, by)
}

// readZone reads the name of a zone, or an offset.
func readZone(text string) (*time.Location, error) {
	if text == "" {
		return nil, nil
	}
	if at, err := time.Parse("-07:00", text); err == nil {
		_, offset := at.Zone()
		return time.FixedZone(text, offset), nil
	}
	zone, err := time.LoadLocation(text)
	if err != nil || text == "Local" {
		return nil, misuse("--zone Europe/Lisbon, --zone UTC or --zone +01:00", "--zone %s: is not a zone of the IANA list, nor an offset", text)
	}
	return zone, nil
}

func count64(n int64, thing string) string { return count(int(n), thing) }
