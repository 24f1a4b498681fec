package main

import (
	"strings"

	"flitch/process"
)

type batchNoteCommand struct {
	batchName
	Text  []string `arg:"" optional:"" help:"The note; quotes are not needed. May be left out with a photo."`
	Photo string   `help:"A JPEG, PNG or WebP picture; where it was taken is not kept." placeholder:"FILE"`
	orderFlags
	insteadFlags
}

// Help shows an example.
func (batchNoteCommand) Help() string {
	return "Example:\n\n    flitch batch note OL-31-04 bag C was not quite closed --by T.V."
}

// Run sends the note.
func (c batchNoteCommand) Run(t terminal) error {
	text := strings.TrimSpace(strings.Join(c.Text, " "))
	if c.Photo != "" {
		return c.sendPhoto(t, text)
	}
	if text == "" {
		return misuse("flitch batch note "+c.Batch+" bag C was not quite closed", "the note is empty")
	}
	return c.send(t, c.instead(order{Kind: process.CommandNote, Batch: c.Batch, Text: text}))
}
