package workbook

import (
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"flitch/process/record"
)

// form writes a form as a sheet: its head in the first row, frozen, and its notes under it.
func (b *book) form(f record.Form) error {
	sheet, err := b.sheet(f.Name)
	if err != nil {
		return err
	}
	if err := frame(sheet, f); err != nil {
		return err
	}
	rows, err := b.rows(f)
	if err != nil {
		return err
	}
	for i, row := range rows {
		cell, _ := excelize.CoordinatesToCellName(1, i+1) // there is such a cell
		if err := sheet.SetRow(cell, row); err != nil {
			return err
		}
	}
	return sheet.Flush()
}

// frame sets the widths and freezes the head.
func frame(sheet *excelize.StreamWriter, f record.Form) error {
	if f.Facts {
		return firstOf(sheet.SetColWidth(1, 1, 28), sheet.SetColWidth(2, 2, 90))
	}
	for i := range f.Columns {
		if err := sheet.SetColWidth(i+1, i+1, width(f, i)); err != nil {
			return err
		}
	}
	return freeze(sheet)
}

func freeze(sheet *excelize.StreamWriter) error {
	return sheet.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"})
}

// width is that of the longest line of a column, in letters, within bounds.
func width(f record.Form, column int) float64 {
	widest := len(f.Columns[column])
	for _, row := range f.Rows {
		for _, l := range strings.Split(row[column].Text, "\n") {
			widest = max(widest, len([]rune(l)))
		}
	}
	return float64(min(max(widest+2, 8), 60))
}

func (b *book) rows(f record.Form) (rows [][]any, err error) {
	head, err := b.style(look{head: true, wrap: true})
	if err != nil {
		return nil, err
	}
	if !f.Facts {
		row := make([]any, len(f.Columns))
		for i, c := range f.Columns {
			row[i] = excelize.Cell{StyleID: head, Value: c}
		}
		rows = append(rows, row)
	}
	for _, cells := range f.Rows {
		row := make([]any, len(cells))
		for i, c := range cells {
			if row[i], err = b.cell(c, f.Facts && i == 0); err != nil {
				return nil, err
			}
		}
		rows = append(rows, row)
	}
	if len(f.Rows) == 0 {
		rows = append(rows, []any{f.None})
	}
	rows = append(rows, []any{nil})
	for _, note := range f.Notes {
		rows = append(rows, []any{words(note)})
	}
	if f.Source != "" {
		rows = append(rows, []any{words("Form: " + f.Source)})
	}
	return rows, nil
}

// cell is a cell with its type: a number with its digits, a moment with its zone.
func (b *book) cell(c record.Cell, strong bool) (any, error) {
	l := look{strong: strong || c.Strong, wrap: true}
	var value any = words(c.Text)
	switch {
	case c.Text == "":
		return nil, nil
	case c.Kind == record.Number:
		l.format, l.wrap = "0", false
		if c.Digits > 0 {
			l.format += "." + strings.Repeat("0", c.Digits)
		}
		value = c.Value
	case c.Kind == record.Moment:
		l.format, l.wrap = `yyyy-mm-dd hh:mm "`+c.At.Format("MST")+`"`, false
		value = wall(c.At)
	case c.Kind == record.Day:
		l.format, l.wrap = "yyyy-mm-dd", false
		value = wall(c.At)
	}
	id, err := b.style(l)
	return excelize.Cell{StyleID: id, Value: value}, err
}

// wall is what the clock on the wall showed: a spreadsheet knows no zones.
func wall(t time.Time) time.Time {
	y, m, d := t.Date()
	return time.Date(y, m, d, t.Hour(), t.Minute(), t.Second(), t.Nanosecond(), time.UTC)
}
