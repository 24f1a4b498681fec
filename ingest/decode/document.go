package decode

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
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
func (d *Document) Read(f *Field) (Sample, error) {
	if bare := bytes.TrimSpace(d.payload); f.value.text == "" && !looksJSON(bare) {
		sent, unit, err := f.numeral.text(string(bare), "payload")
		if err != nil {
			return Sample{}, err
		}
		return d.sample(f, nil, sent, unit)
	}
	root, err := d.json()
	if err != nil {
		return Sample{}, err
	}
	return d.readFrom(f, root, thePayload)
}

// readFrom reads the value out of the whole payload, or out of one reading of a list.
func (d *Document) readFrom(f *Field, root any, from string) (Sample, error) {
	v, err := f.value.find(root, from)
	if err != nil {
		return Sample{}, err
	}
	sent, unit, err := f.numeral.value(v, f.where)
	if err != nil {
		return Sample{}, err
	}
	return d.sample(f, root, sent, unit)
}

// sample makes a sample of a number, and dates it. unit is the one behind it, if any;
// root is nil when the payload was not read as JSON.
func (d *Document) sample(f *Field, root any, sent float64, unit Unit) (Sample, error) {
	switch {
	case f.unitAt.text != "":
		var err error
		if unit, err = d.unitAt(&f.unitAt); err != nil {
			return Sample{}, err
		}
	case !f.numeral.behind:
		unit = f.unit
	}
	s := Sample{Value: unit.ToCelsius(sent*f.scale + f.offset), Sent: sent}
	if f.timed {
		d.date(f, root, &s)
	}
	return s, nil
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
func (d *Document) date(f *Field, root any, s *Sample) {
	from := theReading
	if !f.list {
		from = thePayload
	}
	if root == nil {
		var err error
		if root, err = d.json(); err != nil {
			s.TimeProblem = "no device time: " + err.Error()
			return
		}
	}
	v, err := f.time.find(root, from)
	if err == nil {
		s.Device, s.Again, err = deviceTime(v, f.format, f.zone)
	}
	if err != nil {
		s.TimeProblem = err.Error()
	}
	if f.backfill.text != "" {
		flag, err := f.backfill.find(root, from)
		s.Backfill = err == nil && isOn(flag)
	}
}

// isOn reads a flag: true, a number that is not 0, or one of these as text. One that
// is not there is off.
func isOn(v any) bool {
	text, ok := plainText(v)
	if !ok {
		return false
	}
	n, err := strconv.ParseFloat(text, 64)
	return strings.EqualFold(text, "true") || err == nil && n != 0
}

// json parses the payload once.
func (d *Document) json() (any, error) {
	if !d.parsed {
		d.parsed = true
		d.root, d.err = parse(d.payload)
	}
	return d.root, d.err
}

// CheckJSON reports why the payload is no JSON within our bounds, or nil.
func (d *Document) CheckJSON() error {
	_, err := d.json()
	return err
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
