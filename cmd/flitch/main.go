// Command flitch watches dry-cured belly from delivery to the last slice: it
// stores what the probes in the fridge and the smoker publish over MQTT, moves
// the clocks of every batch, rings a phone when a person must act, and writes
// the record of the batch.
package main

import (
	"net/http"
	"os"
	"time"
)

func main() {
	os.Exit(execute(os.Args[1:], terminal{
		out: os.Stdout, err: os.Stderr, now: time.Now, env: os.Getenv, in: os.Stdin, client: &http.Client{},
	}))
}
