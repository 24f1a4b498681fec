package main

import "flitch/process"

type judgeCommand struct {
	Number int64  `arg:"" help:"Number of the alarm, as in the message."`
	Word   string `arg:"" help:"useful, false or late."`
	orderFlags
}

// Help shows an example.
func (judgeCommand) Help() string {
	return "Says afterwards whether a ring was worth it; delays are tuned by this. See flitch alarms --report.\n\nExample:\n\n    flitch judge 17 useful --by T.V."
}

// Run sends the judgement.
func (c judgeCommand) Run(t terminal) error {
	if c.Number < 1 {
		return misuse("a number from flitch alarms --all", "%d is not the number of an alarm", c.Number)
	}
	return c.send(t, order{Kind: process.CommandJudge, Alarm: c.Number, Text: c.Word})
}
