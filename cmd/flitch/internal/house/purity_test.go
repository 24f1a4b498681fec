package house

import (
	"go/ast"
	"go/token"
	"slices"
	"testing"
)

// forbidden are calls that ask the outside world for something.
var forbidden = map[string][]string{
	"time": {"Now", "Since", "Until", "After", "AfterFunc", "NewTimer", "NewTicker", "Tick", "Sleep"},
	"rand": {"Int", "IntN", "Float64", "N", "Shuffle", "Perm"},
}

// impurities lists what in a pure file reaches out, or keeps something between
// two calls.
func impurities(s source) []string {
	var out []string
	vars := packageVars(s)
	ast.Inspect(s.file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.GoStmt:
			out = append(out, s.at(n.Pos())+": a goroutine: the pure core has no time of its own")
		case *ast.SelectorExpr:
			if x, ok := n.X.(*ast.Ident); ok && slices.Contains(forbidden[x.Name], n.Sel.Name) {
				out = append(out, s.at(n.Pos())+": "+x.Name+"."+n.Sel.Name+": time and chance are arguments")
			}
		case *ast.AssignStmt:
			for _, left := range n.Lhs {
				if id, ok := left.(*ast.Ident); ok && n.Tok == token.ASSIGN && slices.Contains(vars, id.Name) {
					out = append(out, s.at(n.Pos())+": "+id.Name+" is a package variable that changes")
				}
			}
		}
		return true
	})
	return out
}

// packageVars names the package variables of the file. A local of the same name
// is taken for one too: better a new name than a rule that can be fooled.
func packageVars(s source) []string {
	var out []string
	for _, d := range s.file.Decls {
		g, ok := d.(*ast.GenDecl)
		if !ok {
			continue
		}
		for _, spec := range g.Specs {
			if v, ok := spec.(*ast.ValueSpec); ok && g.Tok.String() == "var" {
				for _, name := range v.Names {
					out = append(out, name.Name)
				}
			}
		}
	}
	return out
}

func TestThePureCoreReachesOutForNothing(t *testing.T) {
	seen := 0
	for _, s := range sources(t) {
		if s.test || !slices.Contains(pure, s.folder) {
			continue
		}
		seen++
		for _, v := range impurities(s) {
			t.Error(v)
		}
	}
	if seen < 30 {
		t.Errorf("only %d files of the pure core looked at", seen)
	}
}

func TestThePurityRulesCatch(t *testing.T) {
	for _, body := range []string{
		"func f() { go f() }", "func f() any { return time.Now() }", "func f() { time.Sleep(1) }", "var n int\nfunc f() { n = 1 }",
	} {
		if len(impurities(parse(t, "process/x.go", "package x\n\nimport \"time\"\n\nvar _ = time.Second\n"+body+"\n"))) == 0 {
			t.Errorf("not caught: %s", body)
		}
	}
}
