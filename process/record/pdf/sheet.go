package pdf

import (
	"strings"

	"codeberg.org/go-pdf/fpdf"
)

// Sizes on the paper, mm; of letters pt.
const (
	margin   = 14.0
	foot     = 16.0 // room for the foot of a page
	top      = 18.0 // where a page begins, below its head
	body     = 8.0  // pt, of tables
	under    = 7.0  // pt, of notes
	leading  = 1.25 // height of a line by that of its letters
	perPoint = 25.4 / 72
	gutter   = 3.0 // between columns
	rowAir   = 0.9 // above and below the text of a row
)

// A sheet is the paper while it is written.
type sheet struct {
	pdf           *fpdf.Fpdf
	width, height float64 // of the page
	y             float64
	missing       int // texts with letters that no font has
}

func (s *sheet) inner() float64 { return s.width - 2*margin }

func (s *sheet) bottom() float64 { return s.height - foot }

func (s *sheet) left() float64 { return s.bottom() - s.y }

func (s *sheet) page() {
	s.pdf.AddPage()
	s.y = top
}

// room begins a new page unless there is so much of this one.
func (s *sheet) room(mm float64) {
	if s.left() < mm && s.y > top {
		s.page()
	}
}

func lineOf(size float64) float64 { return size * perPoint * leading }

// measure is the width of a text, mm.
func (s *sheet) measure(text, weight string, size float64) (mm float64) {
	for _, r := range fontRuns(text, weight) {
		s.pdf.SetFont(r.family, weight, size)
		mm += s.pdf.GetStringWidth(r.text)
	}
	return mm
}

// fontRuns is runs without turning anything round: for measuring.
func fontRuns(text, weight string) (all []run) {
	if ascii(text) {
		return []run{{first, text}}
	}
	for _, r := range text {
		family := fontOf(r, weight)
		if n := len(all) - 1; n >= 0 && all[n].family == family {
			all[n].text += string(r)
			continue
		}
		all = append(all, run{family, string(r)})
	}
	return all
}

// line writes one line with its top at y.
func (s *sheet) line(x, y float64, text, weight string, size float64) {
	base := y + size*perPoint*0.95
	for _, r := range runs(text, weight) {
		s.pdf.SetFont(r.family, weight, size)
		s.pdf.Text(x, base, r.text)
		x += s.pdf.GetStringWidth(r.text)
	}
}

// wrap breaks a text into lines of a width. Words are broken where they must.
func (s *sheet) wrap(text, weight string, size, width float64) (out []string) {
	text, missing := written(text, weight)
	if missing {
		s.missing++
	}
	space, width := s.measure(" ", weight, size), width+0.01 // a column is as wide as its longest word
	for _, paragraph := range strings.Split(text, "\n") {
		line, length := "", 0.0
		for _, word := range strings.Fields(paragraph) {
			long := s.measure(word, weight, size)
			switch {
			case line != "" && length+space+long <= width:
				line, length = line+" "+word, length+space+long
				continue
			case line != "":
				out = append(out, line)
			}
			for long > width {
				head := s.head(word, weight, size, width)
				out = append(out, word[:head])
				word = word[head:]
				long = s.measure(word, weight, size)
			}
			line, length = word, long
		}
		out = append(out, line)
	}
	return out
}

// head is how many bytes of a word fit, at least one letter; it breaks behind a mark
// between letters where one is near.
func (s *sheet) head(word, weight string, size, width float64) int {
	fits, mark, used := 0, 0, 0.0
	for i, r := range word {
		used += s.measure(string(r), weight, size)
		if used > width && i > 0 {
			break
		}
		fits = i + len(string(r))
		if strings.ContainsRune("-/.,;:_@", r) && fits > len(word)/4 {
			mark = fits
		}
	}
	if mark > fits/2 {
		return mark
	}
	return fits
}

// say writes a paragraph over the width of the page.
func (s *sheet) say(text, weight string, size float64, grey int) {
	s.pdf.SetTextColor(grey, grey, grey)
	for _, l := range s.wrap(text, weight, size, s.inner()) {
		s.room(lineOf(size))
		s.line(margin, s.y, l, weight, size)
		s.y += lineOf(size)
	}
	s.pdf.SetTextColor(0, 0, 0)
}
