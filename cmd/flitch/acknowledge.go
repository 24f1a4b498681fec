package main

import "flitch/process"

type acknowledgeCommand struct {
	Number int64 `arg:"" help:"Number of the alarm, as in the message."`
	orderFlags
	backFlags
}

// Help shows an example.
func (acknowledgeCommand) Help() string {
	return "The alarm goes on until its cause is gone; it only stops repeating, and the others see who is on it.\n\nExample:\n\n    flitch acknowledge 17 --by T.V.\n    flitch acknowledge 17 --take-back --why \"it was the other fridge\" --by T.V."
}

// Run sends the acknowledgement.
func (c acknowledgeCommand) Run(t terminal) error {
	if c.Number < 1 {
		return misuse("a number from flitch alarms", "%d is not the number of an alarm", c.Number)
	}
	o := order{Kind: process.CommandAcknowledge, Alarm: c.Number}
	if c.TakeBack {
		return c.takeBack(t, c.orderFlags, c.Number, answerOf)
	}
	return c.send(t, o)
}
