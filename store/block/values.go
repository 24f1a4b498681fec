package block

import (
	"encoding/binary"
	"math"
	"slices"
)

// What a probe sends has few digits: a tenth, a hundredth, a sixteenth of a degree. If every
// value of the block is a whole number divided by one of the scales, to the last bit, those
// numbers are kept; else (degrees that were Fahrenheit, minus zero) the list of the values
// that occur, by their bits, and of each its place in it. Either way a value is kept as the
// difference to the one before, and 0 stands for "none".
var scales = [...]float64{1, 10, 100, 1000, 16, 128, 256, 10_000}

// listed stands for the list in place of the number of a scale.
const listed = uint64(len(scales))

// wholes is below which every whole number is a float64 of its own.
const wholes = 1 << 53

func valuesOf(rows []Row) []byte {
	for i, scale := range scales {
		if fits(rows, scale) {
			b := binary.AppendUvarint(nil, uint64(i))
			return appendPlaces(b, rows, func(v float64) int64 { return int64(math.Round(v * scale)) })
		}
	}
	bits := make([]uint64, 0, len(rows))
	for i := range rows {
		if v := rows[i].Value; !math.IsNaN(v) {
			bits = append(bits, math.Float64bits(v))
		}
	}
	slices.Sort(bits)
	bits = slices.Compact(bits)
	b := binary.AppendUvarint(binary.AppendUvarint(nil, listed), uint64(len(bits)))
	last := uint64(0)
	for _, u := range bits {
		b = binary.AppendUvarint(b, u-last)
		last = u
	}
	return appendPlaces(b, rows, func(v float64) int64 {
		place, _ := slices.BinarySearch(bits, math.Float64bits(v))
		return int64(place)
	})
}

func fits(rows []Row, scale float64) bool {
	for i := range rows {
		v := rows[i].Value
		if math.IsNaN(v) {
			continue
		}
		whole := math.Round(v * scale)
		if !(math.Abs(whole) < wholes) || math.Float64bits(float64(int64(whole))/scale) != math.Float64bits(v) {
			return false
		}
	}
	return true
}

func appendPlaces(b []byte, rows []Row, place func(float64) int64) []byte {
	last := int64(0)
	for i := range rows {
		if math.IsNaN(rows[i].Value) {
			b = append(b, 0)
			continue
		}
		at := place(rows[i].Value)
		b = binary.AppendUvarint(b, fold(at-last)+1)
		last = at
	}
	return b
}

func readValues(c *column, rows []Row) {
	kind := c.uvarint()
	if kind > listed || c.bad {
		c.bad = true
		return
	}
	value := func(at int64) float64 { return float64(at) / scales[kind] }
	if kind == listed {
		list := readList(c, len(rows))
		value = func(at int64) float64 {
			if at < 0 || at >= int64(len(list)) {
				c.bad = true
				return 0
			}
			return list[at]
		}
	}
	last := int64(0)
	for i := range rows {
		code := c.uvarint()
		if code == 0 {
			rows[i].Value = math.NaN()
			continue
		}
		last += unfold(code - 1)
		rows[i].Value = value(last)
	}
}

func readList(c *column, most int) []float64 {
	n := c.uvarint()
	if n > uint64(most) {
		c.bad, c.left = true, nil
		return nil
	}
	list := make([]float64, n)
	last := uint64(0)
	for i := range list {
		last += c.uvarint()
		list[i] = math.Float64frombits(last)
		c.bad = c.bad || math.IsNaN(list[i])
	}
	return list
}
