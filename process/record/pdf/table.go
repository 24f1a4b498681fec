package pdf

import (
	"flitch/process/record"
)

// A table is a form with its texts broken into lines.
type table struct {
	widths []float64
	head   row
	rows   []row
	bare   bool // no head
}

// A row is its cells in lines.
type row struct {
	cells [][]string
	form  []record.Cell
	tall  float64 // mm, at least

	crossed map[int]int // by cell: so many of its lines are crossed out
}

func (r row) lines() (n int) {
	for _, c := range r.cells {
		n = max(n, len(c))
	}
	return n
}

func (r row) height() float64 { return max(float64(r.lines())*lineOf(body)+2*rowAir, r.tall) }

func weightOf(c record.Cell) string {
	if c.Strong {
		return bold
	}
	return light
}

// lay breaks a form into lines, with columns as wide as their words ask for.
func (s *sheet) lay(f record.Form) table {
	t := table{bare: f.Facts, widths: s.widths(f)}
	if !t.bare {
		for i, c := range f.Columns {
			t.head.cells = append(t.head.cells, s.wrap(c, bold, body, t.widths[i]-gutter))
			t.head.form = append(t.head.form, record.Cell{Strong: true, Kind: kindOf(f, i)})
		}
	}
	for _, cells := range f.Rows {
		r := row{form: cells}
		for i, c := range cells {
			r.cells = append(r.cells, s.wrap(c.Text, weightOf(c), body, t.widths[i]-gutter))
			if all := c.Lines(); c.Struck {
				r.crossed = map[int]int{i: len(r.cells[i]) - len(s.wrap(all[len(all)-1], weightOf(c), body, t.widths[i]-gutter))}
			}
		}
		if f.Blank && cells[len(cells)-1].Text == "" {
			r.tall = 9 // to write on
		}
		t.rows = append(t.rows, r)
	}
	return t
}

// kindOf is what a column holds, so that its head stands over it.
func kindOf(f record.Form, column int) record.CellKind {
	if len(f.Rows) == 0 {
		return record.Words
	}
	return f.Rows[0][column].Kind
}

const factWidth = 42.0 // mm, of the names of facts

// widths shares the width of the page: every column gets its longest word, and what is left
// goes where long texts are.
func (s *sheet) widths(f record.Form) []float64 {
	if f.Facts {
		return []float64{factWidth, s.inner() - factWidth}
	}
	least, wish := make([]float64, len(f.Columns)), make([]float64, len(f.Columns))
	for i, c := range f.Columns {
		least[i], wish[i] = s.words(c, bold)
		for _, r := range f.Rows {
			a, b := s.words(r[i].Text, weightOf(r[i]))
			least[i], wish[i] = max(least[i], a), max(wish[i], b)
		}
		least[i] = min(least[i], s.inner()/4)
		wish[i] = max(min(wish[i], s.inner()*0.6), least[i])
	}
	return shared(least, wish, s.inner())
}

// shared gives each column its least and a share of the rest by what it wishes beyond.
func shared(least, wish []float64, whole float64) []float64 {
	rest, wanted := whole, 0.0
	for i := range least {
		least[i], wish[i] = least[i]+gutter, wish[i]+gutter
		rest -= least[i]
		wanted += wish[i] - least[i]
	}
	out := make([]float64, len(least))
	for i := range least {
		switch {
		case rest < 0:
			out[i] = least[i] * whole / (whole - rest)
		case wanted > rest:
			out[i] = least[i] + rest*(wish[i]-least[i])/wanted
		default:
			out[i] = wish[i] + (rest-wanted)/float64(len(least))
		}
	}
	return out
}

// words are the widths of the longest word and of the longest line of a text.
func (s *sheet) words(text, weight string) (word, line float64) {
	text, _ = written(text, weight)
	start, length := 0, 0.0
	end := func(i int) {
		w := s.measure(text[start:i], weight, body)
		word, length = max(word, w), length+w
		line = max(line, length)
	}
	for i, r := range text {
		if r != ' ' && r != '\n' {
			continue
		}
		end(i)
		start = i + 1
		if length += s.measure(" ", weight, body); r == '\n' {
			length = 0
		}
	}
	end(len(text))
	return word, line
}

// table writes a table, its head again on every page. A row is not parted unless it is
// taller than half a page, and the last row does not stand alone on a page.
func (s *sheet) table(t table, tail float64) {
	s.headOf(t)
	for i, r := range t.rows {
		need := r.height()
		if i == len(t.rows)-2 && t.rows[i+1].height() < s.half()/3 {
			need += t.rows[i+1].height() + tail
		}
		if i == len(t.rows)-1 {
			need += tail
		}
		if r.height() > s.half() {
			need = 4 * lineOf(body)
		}
		if need = min(need, s.half()*2); s.left() < need {
			s.page()
			s.headOf(t)
		}
		s.row(t, r)
	}
	s.y += 1.5
}

func (s *sheet) half() float64 { return (s.bottom() - top) / 2 * 0.9 }

func (s *sheet) headOf(t table) {
	if t.bare {
		return
	}
	s.row(t, t.head)
	s.rule(0.35, 0)
}

// row writes a row, over several pages where it has to.
func (s *sheet) row(t table, r row) {
	done, all := 0, r.lines()
	for {
		fit := max(min(int((s.left()-2*rowAir)/lineOf(body)), all-done), 1)
		s.cells(t, r, done, fit)
		if done += fit; done >= all {
			break
		}
		s.page()
		s.headOf(t)
	}
	if !t.bare {
		s.rule(0.1, 170)
	} else if r.tall > 0 {
		s.pdf.SetDrawColor(0, 0, 0)
		s.pdf.SetLineWidth(0.2)
		s.pdf.Line(margin+t.widths[0], s.y-1, margin+s.inner(), s.y-1)
	}
}

// cells writes some lines of each cell of a row.
func (s *sheet) cells(t table, r row, from, count int) {
	x := margin
	for i, cell := range r.cells {
		y := s.y + rowAir
		if r.tall > 0 {
			y = s.y + r.tall - float64(len(cell))*lineOf(body) - 1
		}
		for n, l := range cell[min(from, len(cell)):min(from+count, len(cell))] {
			weight := weightOf(r.form[i])
			if t.bare && i == 0 {
				weight = bold
			}
			at := x
			if r.form[i].Right() && !t.bare {
				at = x + t.widths[i] - gutter - s.measure(l, weight, body)
			}
			s.line(at, y, l, weight, body)
			if from+n < r.crossed[i] {
				s.crossOut(at, y+body*perPoint*0.62, s.measure(l, weight, body))
			}
			y += lineOf(body)
		}
		x += t.widths[i]
	}
	s.y += max(float64(count)*lineOf(body)+2*rowAir, r.tall)
}

// crossOut draws a line through a text.
func (s *sheet) crossOut(x, y, width float64) {
	s.pdf.SetDrawColor(0, 0, 0)
	s.pdf.SetLineWidth(0.2)
	s.pdf.Line(x, y, x+width, y)
}

// rule draws a line over the width of the page.
func (s *sheet) rule(width float64, grey int) {
	s.pdf.SetDrawColor(grey, grey, grey)
	s.pdf.SetLineWidth(width)
	s.pdf.Line(margin, s.y, margin+s.inner(), s.y)
}
