package record

import (
	"encoding/json"
	"fmt"
	"io"
)

// JSON writes the record without its readings, with the fingerprint of the CSV
// that holds them.
func (r *Record) JSON(w io.Writer) error {
	known, err := r.study()
	if err != nil {
		return fmt.Errorf("record %s: %w", r.Head.Batch, err)
	}
	file := json.NewEncoder(w)
	file.SetIndent("", "  ")
	err = file.Encode(struct {
		*Record
		Cautions    []string `json:"cautions"`
		Fingerprint string   `json:"readings_sha256"`
	}{known.Record, r.cautions(), known.fingerprint})
	if err != nil {
		return fmt.Errorf("record %s: write JSON: %w", r.Head.Batch, err)
	}
	return nil
}

// cautions are printed on every record, whatever the batch did.
func (r *Record) cautions() []string {
	always := []string{
		"Not a validated process. Local code and licensed review come first.",
		"Limits are those of the plan that was chosen. Met and not met say how the stored readings compare with them, and nothing about the product.",
		"A probe can be wrong in ways no software sees. A second thermometer is needed before serving or selling.",
		"The name \"fully cooked\" or \"not fully cooked\" is the class the plan was made for, not a finding.",
	}
	return append(always, r.Cautions...)
}
