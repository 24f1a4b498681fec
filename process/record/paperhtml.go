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

// Rule is how a paper says what is not known.
func (p *Paper) Rule() string { return ruleOfGaps }

const ruleOfGaps = "What no probe told is not measured. What nobody entered stands under its form as not recorded, or is left blank for a pen. Nothing is filled in for anybody."

// HTML writes one page that needs nothing from outside. The inspector's is that of
// Record.HTML, with the forms behind it.
func (p *Paper) HTML(w io.Writer) error {
	if p.For == Inspector {
		return p.Record.HTML(w)
	}
	picture, err := p.picture()
	if err != nil {
		return err
	}
	err = paperOf.ExecuteTemplate(w, "paper", struct {
		*Paper
		Style   template.CSS
		Picture template.HTML
	}{p, template.CSS(css + formsCSS), picture})
	if err != nil {
		return fmt.Errorf("record %s: write HTML: %w", p.Record.Head.Batch, err)
	}
	return nil
}

//go:embed forms.css
var formsCSS string

// picture is the graph, where the paper has one; every text in it was escaped when drawn.
func (p *Paper) picture() (template.HTML, error) {
	var b bytes.Buffer
	if p.Graph.Batch == "" {
		return "", nil
	}
	err := p.Graph.SVG(&b)
	return template.HTML(b.Bytes()), err
}
