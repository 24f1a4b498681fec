package main

import (
	"strconv"
	"strings"

	"flitch/process"
)

type shelveCommand struct {
	Alarm        string `arg:"" help:"Number of the alarm, as in the message; or its line of the catalogue with --of, before it comes." placeholder:"17"`
	Of           string `help:"Place or batch that a line of the catalogue is about." placeholder:"PLACE"`
	Until        string `help:"Until when: HH:MM, the next time the clock shows it, or RFC 3339." placeholder:"TIME"`
	Reason       string `help:"Why nobody needs to hear of it: loading, defrost." placeholder:"TEXT"`
	OutOfService bool   `help:"It is being mended: up to seven days, else one."`
	orderFlags
	backFlags
}

// Help shows an example.
func (shelveCommand) Help() string {
	return "Hides one alarm until a time. It goes on being followed and recorded, and asks again at the end if it still stands.\n\n" +
		"Examples:\n\n    flitch shelve 17 --until 03:40 --reason loading --by T.V.\n" +
		"    flitch shelve C1 --of alder --until 21:00 --reason loading --by T.V."
}

// Run sends the shelf.
func (c shelveCommand) Run(t terminal) error {
	o := order{Kind: process.CommandShelve, Text: strings.TrimSpace(c.Reason)}
	number, err := strconv.ParseInt(c.Alarm, 10, 64)
	switch {
	case c.Alarm == "", err == nil && number < 1:
		return misuse("a number from flitch alarms", "%q is not the number of an alarm", c.Alarm)
	case err == nil && c.Of != "":
		return misuse("flitch shelve "+c.Alarm+", or C1 --of alder", "alarm %d has its place already", number)
	case err == nil:
		o.Alarm = number
	case c.Of == "":
		return misuse("--of alder, or the number from flitch alarms", "%s of which place or batch?", c.Alarm)
	default:
		o.Entry, o.Of = strings.ToUpper(c.Alarm[:1])+c.Alarm[1:], c.Of
	}
	if c.TakeBack {
		return c.takeBack(t, c.orderFlags, o.Alarm, shelfOf)
	}
	if c.Until == "" {
		return misuse("--until 03:40", "until when?")
	}
	if o.Text == "" {
		return misuse("--reason loading", "the reason is empty")
	}
	if o.Until, err = c.ahead(t, c.Until); err != nil {
		return err
	}
	if c.OutOfService {
		o.Kind = process.CommandOut
	}
	return c.send(t, o)
}
