package workbook

import (
	"fmt"
	"math"
	"time"

	"github.com/xuri/excelize/v2"

	"flitch/process/record"
)

var columns = []any{"time_utc", "time_local", "offset", "batch", "piece", "placement", "probe", "value", "unit", "quality", "source", "sent"}

// readings writes every reading, as many to a sheet as it holds.
func (b *book) readings(most int) error {
	r := &readings{book: b, most: most, left: b.paper.Rows}
	var err error
	if r.moment, err = b.style(look{format: "yyyy-mm-dd hh:mm:ss"}); err != nil {
		return err
	}
	if r.head, err = b.style(look{head: true}); err != nil {
		return err
	}
	if err := b.paper.Record.EachReading(r.put); err != nil {
		return err
	}
	if r.sheet == nil { // a batch without a reading has the sheet all the same
		if err := r.next(); err != nil {
			return err
		}
	}
	return r.sheet.Flush()
}

type readings struct {
	book         *book
	sheet        *excelize.StreamWriter
	most, row    int
	left         int // rows to come
	count        int // sheets
	moment, head int
	texts        map[string]string
}

func (r *readings) put(row record.Row) error {
	if r.sheet == nil || r.row == r.most {
		if err := r.next(); err != nil {
			return err
		}
	}
	r.row++
	r.left--
	cell, _ := excelize.CoordinatesToCellName(1, r.row) // there is such a cell
	return r.sheet.SetRow(cell, r.line(row))
}

// next begins another sheet. The head of one that is not the last says where it goes on.
func (r *readings) next() error {
	if r.sheet != nil {
		if err := r.sheet.Flush(); err != nil {
			return err
		}
	}
	r.count++
	var err error
	if r.sheet, err = r.book.sheet(sheetName(r.count)); err != nil {
		return err
	}
	if err := firstOf(r.sheet.SetColWidth(1, 2, 20), r.sheet.SetColWidth(3, 12, 12), freeze(r.sheet)); err != nil {
		return err
	}
	head := make([]any, 0, len(columns)+1)
	for _, c := range columns {
		head = append(head, excelize.Cell{StyleID: r.head, Value: c})
	}
	if r.left > r.most-1 {
		head = append(head, excelize.Cell{StyleID: r.head, Value: "goes on in the sheet " + sheetName(r.count+1)})
	}
	r.row = 1
	return r.sheet.SetRow("A1", head)
}

func sheetName(n int) string {
	if n == 1 {
		return "Readings"
	}
	return fmt.Sprintf("Readings %d", n)
}

func (r *readings) line(row record.Row) []any {
	local := r.book.paper.Site.Local(row.Measured)
	return []any{
		excelize.Cell{StyleID: r.moment, Value: wall(row.Measured.UTC())}, excelize.Cell{StyleID: r.moment, Value: wall(local)}, offset(local),
		r.text(row.Batch), r.text(row.Piece), r.text(string(row.Placement)), r.text(row.Probe), number(row.Value, true), r.text(row.UnitName()), row.Quality.String(), r.text(row.SourceName()), number(row.Sent, row.Corrected)}
}

// offset is that of the local time: +01:00.
func offset(local time.Time) string { return local.Format("-07:00") }

// number is a value; one that is no number is an empty cell.
func number(v float64, known bool) any {
	if !known || math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return v
}

// text is a word of a reading: there are few, in hundreds of thousands of rows.
func (r *readings) text(s string) any {
	if s == "" {
		return nil
	}
	word, known := r.texts[s]
	if !known {
		if r.texts == nil {
			r.texts = map[string]string{}
		}
		word = words(s)
		r.texts[s] = word
	}
	return word
}
