package store

import (
	"cmp"
	"database/sql"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"slices"
	"time"

	"flitch/process"
	"flitch/store/block"
)

// A blockRow is one row of blocks; without what is packed, a line of an index.
type blockRow struct {
	id, probe                   int64
	firstSeq, lastSeq           int64
	firstMeasured, lastMeasured int64
	n, sum                      int64
	body                        []byte
}

const blockColumns = "id, probe, first_seq, last_seq, first_measured, last_measured, n, sum, body"

func (b *blockRow) dest() []any {
	return []any{&b.id, &b.probe, &b.firstSeq, &b.lastSeq, &b.firstMeasured, &b.lastMeasured, &b.n, &b.sum, &b.body}
}

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// blockSum is the checksum of a block: CRC-32C over probe, first and last number, first and last
// time measured and how many, each as 8 bytes big-endian, and what is packed. It tells of a
// disk that lies; who changes a block on purpose is found by the seals over its readings.
func blockSum(b *blockRow) int64 {
	var head []byte
	for _, v := range []int64{b.probe, b.firstSeq, b.lastSeq, b.firstMeasured, b.lastMeasured, b.n} {
		head = binary.BigEndian.AppendUint64(head, uint64(v))
	}
	return int64(crc32.Update(crc32.Checksum(head, castagnoli), castagnoli, b.body))
}

// newBlock packs the rows of a probe, in the order of their numbers.
func newBlock(probe int64, rows []block.Row) (*blockRow, error) {
	body, err := block.Encode(rows)
	if err != nil {
		return nil, err
	}
	b := &blockRow{probe: probe, n: int64(len(rows)), body: body}
	b.firstSeq, b.lastSeq, b.firstMeasured, b.lastMeasured = spanOf(rows)
	b.sum = blockSum(b)
	return b, nil
}

func spanOf(rows []block.Row) (firstSeq, lastSeq, firstMeasured, lastMeasured int64) {
	firstMeasured, lastMeasured = rows[0].Measured, rows[0].Measured
	for i := range rows {
		firstMeasured, lastMeasured = min(firstMeasured, rows[i].Measured), max(lastMeasured, rows[i].Measured)
	}
	return rows[0].Seq, rows[len(rows)-1].Seq, firstMeasured, lastMeasured
}

// unpack gives the rows back, in the order of their numbers, and an error if anything of the
// block is not as newBlock made it.
func (b *blockRow) unpack() ([]block.Row, error) {
	if blockSum(b) != b.sum {
		return nil, fmt.Errorf("%w: its checksum is %08x, and %08x stands beside it", block.ErrDamaged, blockSum(b), b.sum)
	}
	rows, err := block.Decode(b.body)
	if err != nil {
		return nil, err
	}
	found := blockRow{n: int64(len(rows))}
	found.firstSeq, found.lastSeq, found.firstMeasured, found.lastMeasured = spanOf(rows)
	if found.n != b.n || found.firstSeq != b.firstSeq || found.lastSeq != b.lastSeq ||
		found.firstMeasured != b.firstMeasured || found.lastMeasured != b.lastMeasured {
		return nil, fmt.Errorf("%w: it holds other readings than it says", block.ErrDamaged)
	}
	return rows, nil
}

// wrong says which block it is that err is about.
func (b *blockRow) wrong(probe string, err error) error {
	return fmt.Errorf("store: block %d of probe %s, %d readings measured %s to %s: %w", b.id, probe, b.n,
		fromMilli(b.firstMeasured).Format(time.RFC3339), fromMilli(b.lastMeasured).Format(time.RFC3339), err)
}

// readingOf is a row as the rest of flitch knows it.
func readingOf(probe string, r *block.Row) process.Reading {
	out := process.Reading{Probe: probe, Measured: fromMilli(r.Measured), Received: fromMilli(r.Received), Value: r.Value}
	m := r.Mark
	switch {
	case m == nil && impliedDevice(r.Measured, r.Received):
		out.Device = out.Measured
	case m == nil:
	default:
		out.Quality, out.Reason, out.Raw = process.Quality(m.Quality), m.Reason, m.Raw
		if m.HasDevice {
			out.Device = fromMilli(m.Device)
		}
	}
	return out
}

// takenIn is when the row was taken into the log, ms.
func takenIn(r *block.Row) int64 {
	if r.Mark != nil && r.Mark.HasAt {
		return r.Mark.At
	}
	return r.Received
}

// byMeasured orders by time measured, then by number.
func byMeasured(a, b block.Row) int {
	return cmp.Or(cmp.Compare(a.Measured, b.Measured), cmp.Compare(a.Seq, b.Seq))
}

// inOrderOfTime is the rows of a block sorted by time measured. Most are already.
func inOrderOfTime(rows []block.Row) []block.Row {
	if !slices.IsSortedFunc(rows, byMeasured) {
		slices.SortFunc(rows, byMeasured)
	}
	return rows
}

// A row r of readings is covered once a block of its probe has its number: it stays for a while, until
// many can be taken away at once (see Packer). Blocks of a probe follow from its lowest number up, so
// that the highest number of them tells. Who reads rows and blocks reads rows that are loose. Of a probe
// without blocks all are, whatever their number: one below 1 was put in by somebody, and verify has to see it.
var (
	covered = "r.seq <= " + inBlocksTo("r.probe")
	loose   = looseOf("r.probe")
)

// looseOf is loose for the rows of one probe, so that SQLite asks for its blocks once.
func looseOf(probe string) string { return "coalesce(r.seq > " + inBlocksTo(probe) + ", TRUE)" }

func inBlocksTo(probe string) string {
	return "(SELECT max(last_seq) FROM blocks WHERE probe = " + probe + ")"
}

// A readingRow is one row of readingColumns. All of it is NULL in a row of the log
// that is no reading, and the last five in a reading without a mark.
type readingRow struct {
	measured, received  sql.NullInt64
	value               sql.NullFloat64
	quality, device, at sql.NullInt64
	reason, raw         sql.NullString
}

// readingColumns are a reading without its probe, from readings r and
// reading_marks m, in the order of readingRow.dest.
const readingColumns = "r.measured, r.value, r.received, m.quality, m.reason, m.device, m.raw, m.at"

func (r *readingRow) dest() []any {
	return []any{&r.measured, &r.value, &r.received, &r.quality, &r.reason, &r.device, &r.raw, &r.at}
}

// row is what was scanned, as a block would give it.
func (r *readingRow) row(seq int64) block.Row {
	out := block.Row{Seq: seq, Measured: r.measured.Int64, Received: r.received.Int64, Value: realOf(r.value)}
	if r.quality.Valid {
		out.Mark = &block.Mark{Quality: r.quality.Int64, Reason: r.reason.String, Raw: r.raw.String,
			Device: r.device.Int64, HasDevice: r.device.Valid, At: r.at.Int64, HasAt: r.at.Valid}
	}
	return out
}
