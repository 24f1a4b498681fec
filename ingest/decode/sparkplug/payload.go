package sparkplug

import (
	"fmt"
	"math"

	"google.golang.org/protobuf/encoding/protowire"

	"flitch/ingest/decode"
)

// Bounds of one payload. A gateway with some hundred metrics births in 50 KB. Own
// bounds.
const (
	MaxPayload = 1 << 20 // bytes
	maxMetrics = 5000
)

// A payload is a decoded Payload message.
type payload struct {
	time    stamp // field 1
	metrics []metric
	seq     uint64 // field 3
	hasSeq  bool
}

// A stamp is a time in ms since 1970, if there is one.
type stamp struct {
	ms  uint64
	set bool
}

// broken says that bytes are no message of the schema.
func broken(where string, err error) error {
	return &decode.Problem{Class: decode.NotProtobuf, Text: fmt.Sprintf("payload is not Sparkplug B: %s: %v", where, err)}
}

// parsePayload decodes a whole payload.
func parsePayload(b []byte) (payload, error) {
	if len(b) > MaxPayload {
		return payload{}, &decode.Problem{Class: decode.TooLarge, Text: fmt.Sprintf("payload of %d bytes: at most %d are read", len(b), MaxPayload)}
	}
	var p payload
	err := fields(b, func(num protowire.Number, f field) error {
		switch num {
		case 1:
			p.time = stamp{f.number, true}
		case 2:
			if len(p.metrics) == maxMetrics {
				return fmt.Errorf("more than %d metrics", maxMetrics)
			}
			m, err := parseMetric(f.bytes)
			p.metrics = append(p.metrics, m)
			return err
		case 3:
			p.seq, p.hasSeq = f.number, true
		}
		return nil
	})
	if err != nil {
		return payload{}, broken("message", err)
	}
	return p, nil
}

// A field is the value of one field: a number for varint and fixed types, bytes for
// what has a length.
type field struct {
	kind   protowire.Type
	number uint64
	bytes  []byte
}

// flag reads a bool.
func (f field) flag() bool { return protowire.DecodeBool(f.number) }

// fields calls do for each field of a message, in order. Groups are passed over: the
// schema has none.
func fields(b []byte, do func(protowire.Number, field) error) error {
	for len(b) > 0 {
		num, kind, n := protowire.ConsumeTag(b)
		if n < 0 {
			return protowire.ParseError(n)
		}
		b = b[n:]
		f := field{kind: kind}
		switch kind {
		case protowire.VarintType:
			f.number, n = protowire.ConsumeVarint(b)
		case protowire.Fixed32Type:
			var v uint32
			v, n = protowire.ConsumeFixed32(b)
			f.number = uint64(v)
		case protowire.Fixed64Type:
			f.number, n = protowire.ConsumeFixed64(b)
		case protowire.BytesType:
			f.bytes, n = protowire.ConsumeBytes(b)
		default:
			n = protowire.ConsumeFieldValue(num, kind, b)
		}
		if n < 0 {
			return protowire.ParseError(n)
		}
		b = b[n:]
		if err := do(num, f); err != nil {
			return err
		}
	}
	return nil
}

// float reads a float or a double by its wire type.
func (f field) float() float64 {
	if f.kind == protowire.Fixed32Type {
		return shortest(math.Float32frombits(uint32(f.number)))
	}
	return math.Float64frombits(f.number)
}
