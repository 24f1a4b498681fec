package record

import (
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
)

var columns = [...]string{"time_utc", "time_local", "batch", "piece", "placement", "probe", "value", "unit", "quality", "source", "sent"}

// CSV writes one line per reading. Times are RFC 3339, the local one with its
// offset in numbers; values have a decimal point, and are with the correction that a
// check of the probe made (sent is then what it sent); text that a spreadsheet
// would take for a formula gets an apostrophe in front.
func (r *Record) CSV(w io.Writer) error {
	table := csv.NewWriter(w)
	if err := table.Write(columns[:]); err != nil {
		return fmt.Errorf("record %s: write CSV: %w", r.Head.Batch, err)
	}
	err := r.Readings.each(func(row Row) error { return table.Write(r.cells(row)) })
	if err != nil {
		return fmt.Errorf("record %s: write CSV: %w", r.Head.Batch, err)
	}
	table.Flush()
	if err := table.Error(); err != nil {
		return fmt.Errorf("record %s: write CSV: %w", r.Head.Batch, err)
	}
	return nil
}

func (r *Record) cells(row Row) []string {
	source := row.Source
	if source == "" {
		source = Measured
	}
	return []string{
		row.Measured.UTC().Format(time.RFC3339Nano),
		r.Site.Local(row.Measured).Format("2006-01-02T15:04:05.999999999-07:00"),
		plain(row.Batch), plain(row.Piece), plain(string(row.Placement)), plain(row.Probe),
		number(row.Value),
		plain(row.unit()), row.Quality.String(), plain(source), sent(row),
	}
}

// sent is what the probe sent, where a check of it corrected that.
func sent(row Row) string {
	if !row.Corrected {
		return ""
	}
	return number(row.Sent)
}

// number writes a value; one that is no number, as of a broken wire, is left empty.
func number(v float64) string {
	if math.IsNaN(v) {
		return ""
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// plain keeps a spreadsheet from running a text as a formula. The leading
// characters are those of the common advice on CSV injection; a carriage return
// is treated like a tab.
func plain(text string) string {
	if text != "" && strings.ContainsRune("=+-@\t\r", rune(text[0])) {
		return "'" + text
	}
	return text
}

// Fingerprint returns the SHA-256 of the bytes CSV writes, hex.
func (r *Record) Fingerprint() (string, error) {
	sum := sha256.New()
	if err := r.CSV(sum); err != nil {
		return "", err
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}
