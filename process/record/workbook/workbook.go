package workbook

import (
	"fmt"
	"io"
	"strings"

	"github.com/xuri/excelize/v2"

	"flitch/process/record"
)

// rowsASheet is how many rows a sheet holds, the format's own limit.
const rowsASheet = 1_048_576

// Write writes a record as XLSX. The same record gives the same bytes. Readings are
// streamed: what the library does not hold in memory it keeps in a temporary file, and so
// does the last step, which puts the parts of the file into an order of their own.
func Write(w io.Writer, p *record.Paper) error {
	if err := write(w, p, rowsASheet); err != nil {
		return fmt.Errorf("record %s: write XLSX: %w", p.Record.Head.Batch, err)
	}
	return nil
}

func write(w io.Writer, p *record.Paper, most int) (err error) {
	b := &book{file: excelize.NewFile(), paper: p, styles: map[look]int{}}
	defer func() { err = firstOf(err, b.file.Close()) }()
	if err := b.about(); err != nil {
		return err
	}
	for _, f := range p.Forms {
		if f.Graph {
			err = b.graph(f)
		} else {
			err = b.form(f)
		}
		if err != nil {
			return fmt.Errorf("sheet %s: %w", f.Name, err)
		}
	}
	if p.HoldsReadings() {
		if err := b.readings(most); err != nil {
			return err
		}
	}
	return b.save(w)
}

func firstOf(all ...error) error {
	for _, err := range all {
		if err != nil {
			return err
		}
	}
	return nil
}

// A book is a workbook while it is written.
type book struct {
	file   *excelize.File
	paper  *record.Paper
	styles map[look]int
}

// A look is how a cell is shown.
type look struct {
	format string
	strong bool
	head   bool
	wrap   bool
}

func (b *book) style(l look) (int, error) {
	if id, known := b.styles[l]; known {
		return id, nil
	}
	s := &excelize.Style{Font: &excelize.Font{Bold: l.strong || l.head}, Alignment: &excelize.Alignment{Vertical: "top", WrapText: l.wrap}}
	if l.format != "" {
		s.CustomNumFmt = &l.format
	}
	if l.head {
		s.Border = []excelize.Border{{Type: "bottom", Style: 1, Color: "000000"}}
	}
	id, err := b.file.NewStyle(s)
	b.styles[l] = id
	return id, err
}

// sheet begins the next sheet; the first takes the place of the one a new file has.
func (b *book) sheet(name string) (*excelize.StreamWriter, error) {
	if err := b.add(name); err != nil {
		return nil, err
	}
	return b.file.NewStreamWriter(name)
}

func (b *book) add(name string) error {
	var err error
	if list := b.file.GetSheetList(); len(list) == 1 && list[0] == "Sheet1" {
		err = b.file.SetSheetName("Sheet1", name)
	} else {
		_, err = b.file.NewSheet(name)
	}
	wide, yes, one, many := "landscape", true, 1, 0
	return firstOf(err, b.file.SetSheetProps(name, &excelize.SheetPropsOptions{FitToPage: &yes}), // printed as wide as a page
		b.file.SetPageLayout(name, &excelize.PageLayoutOptions{Orientation: &wide, FitToWidth: &one, FitToHeight: &many}))
}

// about is the first sheet: what the file is, and how to read it.
func (b *book) about() error {
	p := b.paper
	f := record.Form{Name: "About", Title: "About", Facts: true}
	for _, line := range [][2]string{
		{"Shop", p.Site.Name}, {"Record", p.Title + ", " + p.Subtitle}, {"For", string(p.For)}, {"Made", p.AsOf},
		{"Times", "local, " + p.Site.Local(p.Record.MadeAt).Location().String() + "; in the night of a clock change the letters of the zone, and in the readings the offset, tell the hours apart"},
		{"Temperatures", "of forms in " + p.Site.Degree() + ", of readings in °C"},
		{"Texts", "one that begins with = + - or @ has an apostrophe in front, so that no program runs it"},
		{"Not known", p.Rule()}, {"SHA-256 of the readings (CSV)", p.Fingerprint}} {
		f.Rows = append(f.Rows, []record.Cell{{Text: line[0]}, {Text: record.Printable(line[1])}})
	}
	for _, c := range p.Cautions {
		f.Rows = append(f.Rows, []record.Cell{{Text: "Caution"}, {Text: c}})
	}
	return b.form(f)
}

// longest is how much text a cell takes, the format's own limit with room for a word.
const longest = 32_000

// words is a text as a cell takes it.
func words(text string) string {
	text = record.Defused(text)
	if len(text) > longest {
		text = strings.ToValidUTF8(text[:longest], "") + " … (cut here: a cell holds no more; the page has all)"
	}
	return text
}
