package block

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
)

// MaxRows is how many readings a block can hold: what Decode allocates for one is bounded.
const MaxRows = 1 << 16

// MaxText is how long a reason or a raw message of a mark can be, bytes.
const MaxText = 1 << 16

// MaxMarks is how long the marks of a block can be together, bytes unpacked. SizeOf each of
// them is at most its texts and 64 bytes.
const MaxMarks = 8 << 20

const version = 1

// A Row is a reading of the probe as it is stored. Times are milliseconds since 1970.
type Row struct {
	Seq                int64 // its number in the log
	Measured, Received int64
	Value              float64 // NaN: none; which NaN is not kept
	Mark               *Mark   // nil: it is plain
}

// A Mark is what is kept of a reading beside its numbers.
type Mark struct {
	Quality     int64
	Reason, Raw string // any bytes
	Device, At  int64  // ms
	HasDevice   bool
	HasAt       bool
}

// Same reports whether two rows are the same to the last bit.
func Same(a, b Row) bool {
	if (a.Mark == nil) != (b.Mark == nil) || a.Mark != nil && *a.Mark != *b.Mark {
		return false
	}
	value := math.IsNaN(a.Value) && math.IsNaN(b.Value) || math.Float64bits(a.Value) == math.Float64bits(b.Value)
	return value && a.Seq == b.Seq && a.Measured == b.Measured && a.Received == b.Received
}

// ErrDamaged is what the error of Decode wraps.
var ErrDamaged = errors.New("damaged block")

// Encode packs the rows, 1 to MaxRows of one probe with ascending numbers.
func Encode(rows []Row) ([]byte, error) {
	if len(rows) == 0 || len(rows) > MaxRows {
		return nil, fmt.Errorf("block: %d rows, want 1 to %d", len(rows), MaxRows)
	}
	for i := 1; i < len(rows); i++ {
		if rows[i].Seq <= rows[i-1].Seq {
			return nil, fmt.Errorf("block: number %d stands behind %d", rows[i].Seq, rows[i-1].Seq)
		}
	}
	marks, err := marksOf(rows)
	if err != nil {
		return nil, err
	}
	out := binary.AppendUvarint([]byte{version}, uint64(len(rows)))
	for _, column := range [][]byte{numbersOf(rows), measuredOf(rows), receivedOf(rows), valuesOf(rows), marks} {
		if out, err = pack(out, column); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// Decode gives back what Encode packed. Whatever b holds, it ends, takes no more room than
// three times MaxMarks, and what is no block is an error that wraps ErrDamaged.
func Decode(b []byte) ([]Row, error) {
	rows, err := decode(b)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	return rows, nil
}

func decode(b []byte) ([]Row, error) {
	if len(b) == 0 || b[0] != version {
		return nil, errors.New("it is of no version that is known")
	}
	n, size := binary.Uvarint(b[1:])
	if size <= 0 || n == 0 || n > MaxRows {
		return nil, errors.New("it does not say how many rows it has")
	}
	b = b[1+size:]
	u := unpackers.Get().(*unpacker)
	defer unpackers.Put(u)
	rows := make([]Row, n)
	for i, read := range []func(*column, []Row){readNumbers, readMeasured, readReceived, readValues, readMarks} {
		c, rest, err := u.unpack(b, mostBytes(i, len(rows)))
		if err != nil {
			return nil, fmt.Errorf("column %d: %w", i+1, err)
		}
		if read(c, rows); c.bad || len(c.left) > 0 {
			return nil, fmt.Errorf("column %d is not what it should be", i+1)
		}
		b = rest
	}
	if len(b) > 0 {
		return nil, errors.New("there is something behind its end")
	}
	return rows, nil
}

// mostBytes is how long column i of n rows can be, unpacked.
func mostBytes(i, n int) uint64 {
	if i == 4 {
		return MaxMarks
	}
	return uint64(64 + n*2*binary.MaxVarintLen64)
}
