package record

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"time"
)

// outsideMark begins what stands at the end of the JSON, outside its hash.
const outsideMark = "  \"outside_the_hash\": {"

// outside is what differs between two copies of one record: when it was made. SHA256 is
// that of all bytes of the file before the line that begins with outsideMark.
type outside struct {
	MadeAt time.Time `json:"made_at"`
	SHA256 string    `json:"sha256"`
}

// JSON writes the record without its readings, with the fingerprint of the CSV
// that holds them. Of a closed batch the same database gives the same bytes, apart from what
// is outside of the hash.
func (r *Record) JSON(w io.Writer) error {
	known, err := r.study()
	if err != nil {
		return fmt.Errorf("record %s: %w", r.Head.Batch, err)
	}
	body, err := known.body(known.fingerprint, outside{MadeAt: r.MadeAt})
	if err == nil {
		before, _, _ := bytes.Cut(body, []byte(outsideMark))
		of := sha256.Sum256(before)
		body, err = known.body(known.fingerprint, outside{MadeAt: r.MadeAt, SHA256: hex.EncodeToString(of[:])})
	}
	if err == nil {
		_, err = w.Write(body)
	}
	if err != nil {
		return fmt.Errorf("record %s: write JSON: %w", r.Head.Batch, err)
	}
	return nil
}

func (r *Record) body(readings string, end outside) ([]byte, error) {
	var body bytes.Buffer
	file := json.NewEncoder(&body)
	file.SetIndent("", "  ")
	err := file.Encode(struct {
		*Record
		MadeAt      *time.Time `json:"made_at,omitempty"` // hides that of the record
		Cautions    []string   `json:"cautions"`
		Fingerprint string     `json:"readings_sha256"`
		Outside     outside    `json:"outside_the_hash"`
	}{r, nil, r.cautions(), readings, end})
	return body.Bytes(), err
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
