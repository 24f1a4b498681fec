package workbook

import (
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"flitch/process/chart"
	"flitch/process/record"
	"flitch/process/series"
)

const (
	points = 600     // columns of the chart: of each the first, lowest, highest and last reading
	data   = " data" // behind the name of the sheet with the chart
)

// graph is a sheet with a chart, and one with the points that it draws.
func (b *book) graph(f record.Form) error {
	if err := b.add(f.Name); err != nil {
		return err
	}
	g := b.paper.Graph(f)
	span := g.View.To.Sub(g.View.From)
	c := &excelize.Chart{Type: excelize.Scatter, ShowBlanksAs: "gap", Dimension: excelize.ChartDimension{Width: 1000, Height: 480}, Legend: excelize.ChartLegend{Position: "bottom"},
		XAxis: excelize.ChartAxis{NumFmt: excelize.ChartNumFmt{CustomNumFmt: "d mmm hh:mm"}, Title: title("local time, " + b.paper.Site.Local(g.View.From).Location().String())},
		YAxis: excelize.ChartAxis{MajorGridLines: true, Title: title(b.paper.Site.Degree())}, Title: title(f.Title + ", " + b.paper.Title)}
	var lines []line
	for _, l := range g.Lines {
		pieces := l.Readings.Pieces(g.View.From, g.View.To, span/points, chart.GapAfter(l.Interval))
		if len(pieces) == 0 {
			continue
		}
		n, column := len(lines), b.column(pieces)
		lines = append(lines, line{fmt.Sprintf("%s, %s %s", strings.TrimSpace(string(l.Placement)+" "+l.Piece), l.Probe, b.paper.Site.Degree()), column})
		c.Series = append(c.Series, excelize.ChartSeries{Name: at(f, 2*n+1, 1, 1), Categories: at(f, 2*n, 2, len(column)+1), Values: at(f, 2*n+1, 2, len(column)+1),
			Fill: excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{colours[n%len(colours)]}},
			Line: excelize.LineOptions{Type: excelize.LineSolid, Width: 1.5}, Marker: excelize.ChartMarker{Symbol: "none"}})
	}
	if err := b.file.SetCellStr(f.Name, "A30", "No line is drawn where readings are missing. Of each short time the first, the lowest, the highest and the last reading are drawn; the sheet "+f.Name+data+" has them."); err != nil {
		return err
	}
	if len(c.Series) == 0 {
		return b.file.SetCellStr(f.Name, "A1", "No temperature was measured.")
	}
	if err := b.file.AddChart(f.Name, "A1", c); err != nil {
		return err
	}
	return b.data(f.Name+data, lines)
}

// colours are those of the drawing on the page: chamber, cores, fridge, air.
var colours = [...]string{"1A1A1A", "B34700", "00508C", "6B2E8F", "1C6B3A", "6E5500", "595959"}

// A line is what one probe told: a moment and a value, or nothing.
type line struct {
	name   string
	points [][2]any
}

func title(text string) excelize.ChartTitle {
	return excelize.ChartTitle{Paragraph: []excelize.RichTextRun{{Text: text}}}
}

// at is a column of the data, counted from 0, from one row to another.
func at(f record.Form, column, from, to int) string {
	name, _ := excelize.ColumnNumberToName(column + 1) // there is such a column
	if from == to {
		return fmt.Sprintf("'%s'!$%s$%d", f.Name+data, name, from)
	}
	return fmt.Sprintf("'%s'!$%s$%d:$%s$%d", f.Name+data, name, from, name, to)
}

// column is one line, with an empty row where nothing is known between two readings.
func (b *book) column(pieces [][]series.Point) (out [][2]any) {
	for i, piece := range pieces {
		if i > 0 {
			out = append(out, [2]any{})
		}
		for _, p := range piece {
			out = append(out, [2]any{wall(b.paper.Site.Local(time.UnixMilli(p.At))), math.Round(100*b.paper.Site.Degrees(p.V)) / 100})
		}
	}
	return out
}

// data writes the lines beside each other, two columns each.
func (b *book) data(name string, lines []line) error {
	sheet, err := b.sheet(name)
	if err != nil {
		return err
	}
	moment, err := b.style(look{format: "yyyy-mm-dd hh:mm:ss"})
	if err != nil {
		return err
	}
	if err := firstOf(sheet.SetColWidth(1, 2*len(lines), 20), freeze(sheet)); err != nil {
		return err
	}
	var head []any
	longest := 0
	for _, l := range lines {
		head = append(head, "local time", words(l.name))
		longest = max(longest, len(l.points))
	}
	if err := sheet.SetRow("A1", head); err != nil {
		return err
	}
	for n := range longest {
		row := make([]any, 2*len(lines))
		for i, l := range lines {
			if n < len(l.points) && l.points[n][0] != nil {
				row[2*i], row[2*i+1] = excelize.Cell{StyleID: moment, Value: l.points[n][0]}, l.points[n][1]
			}
		}
		if err := sheet.SetRow(fmt.Sprintf("A%d", n+2), row); err != nil {
			return err
		}
	}
	return sheet.Flush()
}
