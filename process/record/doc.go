// Package record turns one batch into the papers an inspector, a customer or the
// maker reads: one page of HTML with a chart, a long table in CSV, and JSON.
//
// It draws no conclusion of its own. Verdicts come with the clocks, and the only
// words for them are met, not met, not measured and held. It asks no clock: the
// time the record was made is given, so the same record gives the same bytes.
package record
