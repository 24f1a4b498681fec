package evidence

import (
	"crypto/ed25519"
	"encoding/hex"
	"encoding/json"
	"errors"
	"time"
	"unicode/utf8"
)

// A file of a proof is text, one thing a line, packed with gzip. A line begins with a word:
//
//	proof      JSON, Opening: which batch, which probes, as far as which number
//	record     JSON: the record of the batch as of that number
//	journal    JSON, process.JournalLine: a line of the journal; they follow from each other
//	signature  JSON, Signature: of a line that is a seal
//	seal       JSON, SealLine: the strands of the seal on that line of the journal. Its rows
//	           follow, those of the batch and its probes; of other strands only the digest is here
//	said       JSON, saidLine: a command
//	read       seq, number of the probe (from 0), at, measured, received, value as 16 hex digits
//	           or -, and for one that is marked JSON, markLine
//	end        JSON, Ending: the SHA-256 of all bytes before this line, and what is outside of it
const (
	wordOpening   = "proof"
	wordRecord    = "record"
	wordJournal   = "journal"
	wordSignature = "signature"
	wordSeal      = "seal"
	wordSaid      = "said"
	wordRead      = "read"
	wordEnd       = "end"
)

// Format is the version of the file that is written and read here.
const Format = 1

// An Opening says what a file is a proof of.
type Opening struct {
	Format int      `json:"format"`
	Batch  string   `json:"batch"`
	Probes []string `json:"probes"` // of the batch; "read" lines name them by their place here
	Seen   int64    `json:"seen"`   // number of the last row that counts in the record
	AsOf   int64    `json:"as_of"`  // the moment the record speaks of, ms
	Shows  []string `json:"does_not_show"`
}

// A SealLine gives the strands of a seal.
type SealLine struct {
	Line    int64    `json:"line"` // number of its line in the journal
	Strands []Strand `json:"strands"`
}

// An Ending is what stands outside the hash of the file.
type Ending struct {
	SHA256 string            `json:"sha256"`              // of all bytes before, hex
	MadeAt time.Time         `json:"made_at"`             // when the file was written
	By     string            `json:"by"`                  // version of the program
	Key    ed25519.PublicKey `json:"key,omitempty"`       // none: it is not signed
	Sig    []byte            `json:"signature,omitempty"` // over Message
}

// Message is what is signed: the fields "flitch proof", batch, sha256, made_at in ms and by,
// each a netstring as in Row.Append.
func (e *Ending) Message(batch string) []byte {
	b := appendText(appendText(appendText(nil, "flitch proof"), batch), e.SHA256)
	return appendText(appendNumber(b, e.MadeAt.UnixMilli()), e.By)
}

// Sign signs the ending with the key.
func (e *Ending) Sign(key ed25519.PrivateKey, batch string) {
	e.Key = key.Public().(ed25519.PublicKey)
	e.Sig = ed25519.Sign(key, e.Message(batch))
}

// Valid reports whether the ending is signed by its key.
func (e *Ending) Valid(batch string) bool {
	return len(e.Key) == ed25519.PublicKeySize && ed25519.Verify(e.Key, e.Message(batch), e.Sig)
}

// A saidLine is a command in a file.
type saidLine struct {
	Seq   int64  `json:"seq"`
	At    int64  `json:"at"`
	ID    string `json:"id"`
	Batch string `json:"batch"`
	Body  string `json:"body"`
}

// A markLine is the mark of a reading in a file.
type markLine struct {
	Quality int    `json:"quality"`
	Reason  exact  `json:"reason"`
	Device  *int64 `json:"device,omitempty"`
	Raw     exact  `json:"raw"`
}

// An exact text comes back byte for byte: what a device sent may be no UTF-8. Then it
// stands as a list of one text, its bytes in hex.
type exact string

// MarshalJSON implements json.Marshaler.
func (e exact) MarshalJSON() ([]byte, error) {
	if utf8.ValidString(string(e)) {
		return json.Marshal(string(e))
	}
	return json.Marshal([1]string{hex.EncodeToString([]byte(e))})
}

// UnmarshalJSON implements json.Unmarshaler.
func (e *exact) UnmarshalJSON(b []byte) error {
	var text string
	if err := json.Unmarshal(b, &text); err == nil {
		*e = exact(text)
		return nil
	}
	var list []string
	if err := json.Unmarshal(b, &list); err != nil || len(list) != 1 {
		return errors.New("a text, or a list of one text of hex digits, is wanted")
	}
	raw, err := hex.DecodeString(list[0])
	*e = exact(raw)
	return err
}
