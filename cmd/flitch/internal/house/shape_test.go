package house

import (
	"fmt"
	"go/ast"
	"os"
	"slices"
	"strings"
	"testing"
)

const (
	maxFile     = 400 // lines: a file longer than this holds more than one thing
	maxFunction = 60  // lines
)

// topLevel is fixed by the owner; dot files may stand beside it.
var topLevel = []string{"cmd", "ingest", "alerts", "process", "store", "deploy", "testdata", "go.mod", "go.sum", "README.md", "DEVELOPERS.md"}

func TestTheTopLevelIsFixed(t *testing.T) {
	entries, err := os.ReadDir(top(t))
	if err != nil {
		t.Fatal(err)
	}
	found := 0
	for _, e := range entries {
		switch {
		case slices.Contains(topLevel, e.Name()):
			found++
		case !strings.HasPrefix(e.Name(), "."):
			t.Errorf("%s stands at the top; the layout is %v", e.Name(), topLevel)
		}
	}
	if found != len(topLevel) {
		t.Errorf("%d of %d top level entries are here", found, len(topLevel))
	}
}

func tooLarge(s source) []string {
	var out []string
	if s.lines > maxFile {
		out = append(out, fmt.Sprintf("%s has %d lines, at most %d: state, its I/O and its metrics are separate files", s.path, s.lines, maxFile))
	}
	for _, d := range s.file.Decls {
		f, ok := d.(*ast.FuncDecl)
		if !ok {
			continue
		}
		if n := positions.Position(f.End()).Line - positions.Position(f.Pos()).Line + 1; n > maxFunction {
			out = append(out, fmt.Sprintf("%s: %s has %d lines, at most %d", s.at(f.Pos()), f.Name.Name, n, maxFunction))
		}
	}
	return out
}

func TestFilesAndFunctionsStaySmall(t *testing.T) {
	for _, s := range sources(t) {
		if s.test {
			continue
		}
		for _, v := range tooLarge(s) {
			t.Error(v)
		}
	}
	long := parse(t, "x.go", "package x\n\nfunc f() {\n"+strings.Repeat("\t_ = 1\n", 500)+"}\n")
	if len(tooLarge(long)) != 2 {
		t.Error("a long file with a long function is not caught")
	}
}

func TestEveryPackageSaysWhatItIsFor(t *testing.T) {
	said := map[string]bool{}
	for _, s := range sources(t) {
		if !s.test {
			said[s.folder] = said[s.folder] || s.file.Doc != nil
		}
	}
	for folder, ok := range said {
		if !ok {
			t.Errorf("package %s has no package comment", folder)
		}
	}
}
