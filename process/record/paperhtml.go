package record

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strings"
)

//go:embed forms.html
var formsPage string

var paperOf = template.Must(template.New("forms").Parse(formsPage))

// Right reports a cell that stands at the right of its column.
func (c Cell) Right() bool { return c.Kind == Number }

// Lines are the lines of a cell.
func (c Cell) Lines() []string { return strings.Split(c.Text, "\n") }

// Crossed reports a line that is crossed out: of an entry that was struck out all but the
// last, which says by whom.
func (c Cell) Crossed(line int) bool { return c.Struck && line < strings.Count(c.Text, "\n") }

// Rule is how a paper says what is not known.
func (p *Paper) Rule() string { return ruleOfGaps }

const ruleOfGaps = "What no probe told is not measured. What nobody entered stands under its form as not recorded, or is left blank for a pen. Nothing is filled in for anybody."

// HTML writes one page that needs nothing from outside. The inspector's is that of
// Record.HTML, with the forms behind it.
func (p *Paper) HTML(w io.Writer) error {
	if p.For == Inspector {
		return p.Record.HTML(w)
	}
	err := paperOf.ExecuteTemplate(w, "paper", struct {
		*Paper
		Style template.CSS
	}{p, template.CSS(css + formsCSS)})
	if err != nil {
		return fmt.Errorf("record %s: write HTML: %w", p.Record.Head.Batch, err)
	}
	return nil
}

//go:embed forms.css
var formsCSS string

// Picture is a graph; every text in it was escaped when drawn.
func (p *Paper) Picture(f Form) (template.HTML, error) {
	var b bytes.Buffer
	err := p.Graph(f).SVG(&b)
	return template.HTML(b.Bytes()), err
}
