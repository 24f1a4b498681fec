package block

import (
	"encoding/binary"
	"fmt"
)

// A mark is: how many rows after the one before it (the first: after the front), what it has
// (quality times four, 2: a device time, 1: a place in the log), the places of its reason and
// its raw message in the list of texts so far (0: a new one follows), device time less time
// measured, place in the log less time received. A million imported readings have the same
// mark a million times: it packs to next to nothing.

const (
	hasDevice = 2
	hasAt     = 1
)

func marksOf(rows []Row) ([]byte, error) {
	var b []byte
	texts := map[string]uint64{}
	last := 0
	for i := range rows {
		m := rows[i].Mark
		if m == nil {
			continue
		}
		if m.Quality < 0 || m.Quality > 1<<8 || len(m.Reason) > MaxText || len(m.Raw) > MaxText {
			return nil, fmt.Errorf("block: number %d has a mark that is too big", rows[i].Seq)
		}
		has := uint64(m.Quality) << 2
		if m.HasDevice {
			has |= hasDevice
		}
		if m.HasAt {
			has |= hasAt
		}
		b = binary.AppendUvarint(binary.AppendUvarint(b, uint64(i-last)+1), has)
		b = appendText(appendText(b, texts, m.Reason), texts, m.Raw)
		if m.HasDevice {
			b = binary.AppendVarint(b, m.Device-rows[i].Measured)
		}
		if m.HasAt {
			b = binary.AppendVarint(b, m.At-rows[i].Received)
		}
		last = i
	}
	if len(b) >= MaxMarks {
		return nil, fmt.Errorf("block: its marks are %d bytes, at most %d", len(b), MaxMarks)
	}
	return append(b, 0), nil
}

func appendText(b []byte, texts map[string]uint64, text string) []byte {
	if place, known := texts[text]; known {
		return binary.AppendUvarint(b, place)
	}
	texts[text] = uint64(len(texts)) + 1
	b = binary.AppendUvarint(append(b, 0), uint64(len(text)))
	return append(b, text...)
}

func readMarks(c *column, rows []Row) {
	var texts []string
	text := func() string {
		place := c.uvarint()
		switch {
		case c.bad || place > uint64(len(texts)):
			c.bad = true
			return ""
		case place == 0:
			texts = append(texts, c.text())
			place = uint64(len(texts))
		}
		return texts[place-1]
	}
	row := uint64(0)
	for {
		step := c.uvarint()
		if step == 0 || c.bad {
			return
		}
		if row += step - 1; row >= uint64(len(rows)) || rows[row].Mark != nil {
			c.bad = true
			return
		}
		has := c.uvarint()
		m := &Mark{Quality: int64(has >> 2), Reason: text(), Raw: text(), HasDevice: has&hasDevice != 0, HasAt: has&hasAt != 0}
		c.bad = c.bad || m.Quality > 1<<8
		if m.HasDevice {
			m.Device = rows[row].Measured + c.varint()
		}
		if m.HasAt {
			m.At = rows[row].Received + c.varint()
		}
		rows[row].Mark = m
	}
}
