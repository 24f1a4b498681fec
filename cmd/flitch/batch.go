package main

import (
	"net/url"
	"strings"

	"flitch/cmd/flitch/internal/api"
)

// batchCommands is the table under "flitch batch".
type batchCommands struct {
	New     batchNewCommand     `cmd:"" help:"Start a batch."`
	List    batchListCommand    `cmd:"" help:"List the batches."`
	Show    batchShowCommand    `cmd:"" help:"Show one batch: its stages, its clocks, its alarms."`
	Stage   batchStageCommand   `cmd:"" help:"Say that a batch enters a stage."`
	Dosed   batchDosedCommand   `cmd:"" help:"Say what curing salt was weighed for each slab."`
	Turned  batchTurnedCommand  `cmd:"" help:"Say that the slabs were turned."`
	Reading batchReadingCommand `cmd:"" help:"Type in a temperature read by hand."`
	Weighed batchWeighedCommand `cmd:"" help:"Say what a slab weighs now."`
	Counted batchCountedCommand `cmd:"" help:"Say how many slabs there are."`
	Tasted  batchTastedCommand  `cmd:"" help:"Fill in a taste card."`
	Cost    batchCostCommand    `cmd:"" help:"Say what a batch cost."`
	Note    batchNoteCommand    `cmd:"" help:"Write a line into the record."`
	Strike  batchStrikeCommand  `cmd:"" help:"Take back what was entered; it stays on the record, struck out."`

	Action      batchActionCommand      `cmd:"" help:"Write a corrective action about a deviation, in its four parts."`
	Disposition batchDispositionCommand `cmd:"" help:"Say what becomes of a batch that is held, or of some slabs."`
	Review      batchReviewCommand      `cmd:"" help:"Say that you have read the record."`

	Close batchCloseCommand `cmd:"" help:"Say that a batch is finished."`
}

// A batchName is the positional argument that names a batch.
type batchName struct {
	Batch string `arg:"" help:"Name of the batch, as in flitch batch list."`
}

// fetch asks the daemon for the batch.
func (b batchName) fetch(d *daemon) (batch api.Batch, err error) {
	path, err := b.path("/api/batches/")
	if err == nil {
		err = d.get(path, &batch)
	}
	return batch, err
}

// path returns the address of the batch under a prefix. A name with a slash or
// dots would be another address.
func (b batchName) path(prefix string) (string, error) {
	if b.Batch == "" || b.Batch == "." || b.Batch == ".." || strings.Contains(b.Batch, "/") {
		return "", misuse("a name from flitch batch list", "%q is not the name of a batch", b.Batch)
	}
	return prefix + url.PathEscape(b.Batch), nil
}
