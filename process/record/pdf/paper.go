package pdf

import (
	"fmt"
	"io"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"flitch/process/record"
)

// The sizes of paper, mm: ISO 216 A4, and US letter, 8.5 by 11 inches.
var sizes = map[string]fpdf.SizeType{"a4": {Wd: 210, Ht: 297}, "letter": {Wd: 215.9, Ht: 279.4}}

// Check reports a size of paper that there is not. Empty is a4.
func Check(size string) error {
	if _, known := sizes[size]; !known && size != "" {
		return fmt.Errorf("no paper is called %q: say a4 or letter", size)
	}
	return nil
}

// Write writes a record as PDF on paper of a size, a4 (also when empty) or letter. The same
// record gives the same bytes: the times in the file are those of the record.
func Write(w io.Writer, p *record.Paper, size string) error {
	if err := Check(size); err != nil {
		return err
	}
	if size == "" {
		size = "a4"
	}
	s := begin(sizes[size], p)
	s.front(p)
	for _, f := range p.Forms {
		s.form(p, f)
	}
	s.closing(p)
	s.feet(p)
	if err := s.pdf.Output(w); err != nil {
		return fmt.Errorf("record %s: write PDF: %w", p.Record.Head.Batch, err)
	}
	return nil
}

func begin(size fpdf.SizeType, p *record.Paper) *sheet {
	pdf := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: size})
	made := p.Record.MadeAt.UTC().Truncate(time.Second)
	pdf.SetCreationDate(made)
	pdf.SetModificationDate(made)
	pdf.SetCatalogSort(true)
	pdf.SetCompression(true)
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetMargins(margin, top, margin)
	for _, f := range fontFiles {
		pdf.AddUTF8FontFromBytes(f.family, f.weight, f.ttf)
	}
	pdf.SetTitle(p.Title+", "+p.Subtitle, true)
	pdf.SetAuthor(record.Printable(p.Site.Name), true)
	pdf.SetCreator("flitch", true)
	pdf.SetProducer("flitch", true)
	pdf.SetLang("en")
	pdf.SetDisplayMode("default", "default")
	s := &sheet{pdf: pdf, width: size.Wd, height: size.Ht}
	s.page()
	return s
}

func (s *sheet) front(p *record.Paper) {
	s.say(p.Site.Name, bold, 9, 0)
	s.say(p.Title, bold, 18, 0)
	s.say(p.Subtitle, light, 11, 0)
	s.y += 1.5
}

// form writes one form with its title, which never stands alone at the foot of a page.
func (s *sheet) form(p *record.Paper, f record.Form) {
	t := s.lay(f)
	need := 12 + t.begins()
	if f.Graph {
		need = 12 + s.inner()*float64(f.View.Height)/float64(max(f.View.Width, 1))
	}
	if f.Blank {
		need = 12 + t.height()
	}
	s.y += 3
	s.room(min(need, s.half()*2))
	s.pdf.SetFont(first, bold, body)
	s.pdf.Bookmark(f.Title, 0, s.y)
	s.say(f.Title, bold, 11, 0)
	s.y += 0.4
	s.rule(0.5, 0)
	s.y += 0.6
	switch {
	case f.Graph:
		s.graph(p.Graph(f))
	case len(f.Rows) == 0:
		s.say(f.None, light, body, 0)
	default:
		s.table(t, s.tail(f))
	}
	for _, note := range f.Notes {
		s.say(note, light, under, 70)
	}
	if f.Source != "" {
		s.say("Form: "+f.Source, light, under, 70)
	}
}

// tail is the height of the first notes, which stay beside the last row.
func (s *sheet) tail(f record.Form) float64 {
	n := len(f.Notes)
	if f.Source != "" {
		n++
	}
	return float64(min(n, 3)) * lineOf(under)
}

// begins is the height of the head and the first two rows, or of a row that is parted its
// first lines.
func (t table) begins() (mm float64) {
	if !t.bare {
		mm = t.head.height()
	}
	for _, r := range t.rows[:min(2, len(t.rows))] {
		mm += min(r.height(), 40)
	}
	return mm
}

func (t table) height() (mm float64) {
	for _, r := range t.rows {
		mm += r.height()
	}
	return mm
}

func (s *sheet) closing(p *record.Paper) {
	s.y += 3
	s.room(20)
	s.pdf.Bookmark("Cautions", 0, s.y)
	s.say("Cautions", bold, 11, 0)
	for _, c := range p.Cautions {
		s.say("– "+c, light, body, 0)
	}
	s.y += 1.5
	s.say(p.Rule(), light, under, 70)
	if s.missing > 0 {
		s.say(fmt.Sprintf("%d texts hold letters that this paper has no letters for: they stand here by their numbers, as [U+4E2D]. The page and the tables have them as they were typed.", s.missing), light, under, 70)
	}
	s.say("SHA-256 of the readings (CSV): "+p.Fingerprint, light, under, 0)
}

// feet writes the head and the foot of every page, now that their number is known.
func (s *sheet) feet(p *record.Paper) {
	pages := s.pdf.PageNo()
	for n := 1; n <= pages; n++ {
		s.pdf.SetPage(n)
		s.pdf.SetTextColor(70, 70, 70)
		if n > 1 {
			s.line(margin, 9, s.fit(p.Title+" – "+p.Subtitle), light, under)
		}
		s.line(margin, s.height-10, s.fit("Made "+p.AsOf+" – "+p.Site.Name), light, under)
		of := fmt.Sprintf("page %d of %d", n, pages)
		s.line(s.width-margin-s.measure(of, light, under), s.height-10, of, light, under)
		s.pdf.SetTextColor(0, 0, 0)
	}
}

// fit is a text that stands on one line beside the number of the page.
func (s *sheet) fit(text string) string {
	all := s.wrap(text, light, under, s.inner()-30)
	if len(all) > 1 {
		return all[0] + " …"
	}
	return all[0]
}
