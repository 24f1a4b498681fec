package decode

import (
	"bytes"
	"encoding/json"
	"fmt"
	"unicode/utf8"
)

// MaxPayload bounds a payload, in bytes. Sensors send a few hundred; own bound.
const MaxPayload = 64 << 10

// MaxDepth bounds how deep JSON may be nested. Payloads seen in the field need
// four; own bound.
const MaxDepth = 32

// A Document is one payload, from which several fields may be read. JSON is
// parsed once, at the first field that needs it.
type Document struct {
	payload []byte
	root    any
	parsed  bool
	err     error
}

// Open checks size and text of a payload. It keeps the slice and does not
// change it.
func Open(payload []byte) (*Document, error) {
	if len(payload) > MaxPayload {
		return nil, problem(TooLarge, fmt.Sprintf("payload of %d bytes: at most %d are read", len(payload), MaxPayload))
	}
	if !utf8.Valid(payload) {
		return nil, problem(NotText, "payload is not text (not UTF-8)")
	}
	return &Document{payload: payload}, nil
}

// Read takes the value of f out of the document.
func (d *Document) Read(f Field) (Sample, error) {
	sent, err := d.number(f)
	if err != nil {
		return Sample{}, err
	}
	s := Sample{Value: f.unit.ToCelsius(sent)}
	if f.timed {
		d.date(f, &s)
	}
	return s, nil
}

// number finds the value of f as it was sent.
func (d *Document) number(f Field) (float64, error) {
	if bare := bytes.TrimSpace(d.payload); f.value.text == "" && !looksJSON(bare) {
		return number(string(bare), "payload")
	}
	root, err := d.json()
	if err != nil {
		return 0, err
	}
	v, err := f.value.find(root)
	if err != nil {
		return 0, err
	}
	where := "payload"
	if f.value.text != "" {
		where = quoted(f.value.text)
	}
	return value(v, where)
}

// looksJSON reports whether a payload taken as a whole is JSON other than a
// number.
func looksJSON(bare []byte) bool {
	if len(bare) == 0 {
		return false
	}
	switch bare[0] {
	case '{', '[', '"':
		return true
	}
	switch string(bare) {
	case "null", "true", "false":
		return true
	}
	return false
}

// date adds the device time, or the reason why there is none.
func (d *Document) date(f Field, s *Sample) {
	root, err := d.json()
	if err != nil {
		s.TimeProblem = "no device time: " + err.Error()
		return
	}
	v, err := f.time.find(root)
	if err == nil {
		s.Device, err = deviceTime(v, f.format)
	}
	if err != nil {
		s.TimeProblem = err.Error()
	}
}

// json parses the payload once.
func (d *Document) json() (any, error) {
	if !d.parsed {
		d.parsed = true
		d.root, d.err = parse(d.payload)
	}
	return d.root, d.err
}

// parse turns bounded JSON into maps, slices and json.Numbers.
func parse(payload []byte) (any, error) {
	if len(bytes.TrimSpace(payload)) == 0 {
		return nil, problem(NoValue, "payload is empty")
	}
	if depth(payload) > MaxDepth {
		return nil, problem(NotJSON, fmt.Sprintf("payload is JSON nested deeper than %d", MaxDepth))
	}
	dec := json.NewDecoder(bytes.NewReader(payload))
	dec.UseNumber()
	var root any
	if err := dec.Decode(&root); err != nil {
		return nil, problem(NotJSON, fmt.Sprintf("payload %s is not JSON: %v", quoted(string(payload)), err))
	}
	if rest := bytes.TrimSpace(payload[dec.InputOffset():]); len(rest) > 0 {
		return nil, problem(NotJSON, "payload has text after the JSON: "+quoted(string(rest)))
	}
	return root, nil
}

// depth returns the deepest nesting of brackets outside strings. Text that is not
// JSON may give any number; it is refused by the parser.
func depth(payload []byte) int {
	deepest, now, inString := 0, 0, false
	for i := 0; i < len(payload); i++ {
		switch c := payload[i]; {
		case inString && c == '\\':
			i++
		case c == '"':
			inString = !inString
		case inString:
		case c == '{' || c == '[':
			now++
			deepest = max(deepest, now)
		case c == '}' || c == ']':
			now--
		}
	}
	return deepest
}
