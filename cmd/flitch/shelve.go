package main

import (
	"strings"

	"flitch/process"
)

type shelveCommand struct {
	Number       int64  `arg:"" help:"Number of the alarm, as in the message."`
	Until        string `help:"Until when: HH:MM, the next time the clock shows it, or RFC 3339." required:"" placeholder:"TIME"`
	Reason       string `help:"Why nobody needs to hear of it: loading, defrost." required:"" placeholder:"TEXT"`
	OutOfService bool   `help:"It is being mended: up to seven days, else one."`
	orderFlags
}

// Help shows an example.
func (shelveCommand) Help() string {
	return "Hides one alarm until a time. It goes on being followed and recorded, and asks again at the end if it still stands.\n\n" +
		"Example:\n\n    flitch shelve 17 --until 03:40 --reason loading --by T.V."
}

// Run sends the shelf.
func (c shelveCommand) Run(t terminal) error {
	reason := strings.TrimSpace(c.Reason)
	switch {
	case c.Number < 1:
		return misuse("a number from flitch alarms", "%d is not the number of an alarm", c.Number)
	case reason == "":
		return misuse("--reason loading", "the reason is empty")
	}
	until, err := c.ahead(t, c.Until)
	if err != nil {
		return err
	}
	o := order{Kind: process.CommandShelve, Alarm: c.Number, Text: reason, Until: until}
	if c.OutOfService {
		o.Kind = process.CommandOut
	}
	return c.send(t, o)
}
