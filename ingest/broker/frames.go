package broker

import "errors"

// mostOther is how long a packet is at most that is no PUBLISH. The library sets memory aside
// by the length that a packet claims, also for who has not said yet who it is. A CONNECT with
// a will, or a hundred filters, has a few kilobytes. Proposal.
const mostOther = 64 << 10 // bytes

var (
	errTooLong = errors.New("a packet that is no PUBLISH is too long")
	errLength  = errors.New("the length of a packet is none (MQTT 3.1.1, 2.2.3)")
)

const kindPublish = 3 // MQTT 3.1.1, 2.2.1

// frames follows the packets of a stream by their lengths, and looks at nothing else of
// them. The zero value is at the beginning of a packet.
type frames struct {
	kind    byte // of the packet
	reading bool // its length, of which so much is known:
	length  int
	shift   uint
	body    int // bytes of it that are still to come
}

// pass looks at the next bytes of the stream.
func (f *frames) pass(p []byte) error {
	for len(p) > 0 {
		switch {
		case f.body > 0:
			n := min(f.body, len(p))
			f.body, p = f.body-n, p[n:]
			continue
		case f.reading:
			if err := f.measure(p[0]); err != nil {
				return err
			}
		default:
			*f = frames{kind: p[0] >> 4, reading: true}
		}
		p = p[1:]
	}
	return nil
}

// measure takes one byte of a packet's length: seven bits, the lowest first, and whether
// more follow, at most four bytes (MQTT 3.1.1, 2.2.3).
func (f *frames) measure(b byte) error {
	f.length |= int(b&0x7f) << f.shift
	f.shift += 7
	switch more := b&0x80 != 0; {
	case more && f.shift == 28:
		return errLength
	case more:
		return nil
	case f.kind != kindPublish && f.length > mostOther:
		return errTooLong
	}
	f.reading, f.body = false, f.length
	return nil
}
