package main

import "flitch/process"

type dutyCommand struct {
	Until string `help:"Until when: HH:MM, the next time the clock shows it, or RFC 3339." required:"" placeholder:"TIME"`
	orderFlags
}

// Help shows an example.
func (dutyCommand) Help() string {
	return "Says that you have the night: a ring goes to you first. After 10 min without an answer it goes to the second person, after 25 min to all.\n\n" +
		"Example:\n\n    flitch duty --by M.O. --until 07:00"
}

// Run sends who has the duty.
func (c dutyCommand) Run(t terminal) error {
	until, err := c.ahead(t, c.Until)
	if err != nil {
		return err
	}
	return c.send(t, order{Kind: process.CommandDuty, Until: until})
}
