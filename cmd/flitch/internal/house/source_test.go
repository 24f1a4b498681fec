package house

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// A source is one Go file of the repository.
type source struct {
	path   string // from the top, with slashes
	folder string
	test   bool
	lines  int
	file   *ast.File
}

// positions is shared by all files, which are then checked together.
var positions = token.NewFileSet()

// top is the folder that holds go.mod.
func top(t *testing.T) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for ; dir != filepath.Dir(dir); dir = filepath.Dir(dir) {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
	}
	t.Fatal("no go.mod above this test")
	return ""
}

// sources parses every Go file of the repository, once for all rules.
func sources(t *testing.T) []source {
	t.Helper()
	if len(parsed) == 0 {
		parsed = parseAll(t)
	}
	return parsed
}

var parsed []source

func parseAll(t *testing.T) []source {
	t.Helper()
	root := top(t)
	var all []source
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && strings.HasPrefix(d.Name(), ".") && path != root {
			return filepath.SkipDir
		}
		if d.IsDir() || filepath.Ext(path) != ".go" {
			return nil
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		name, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		all = append(all, parse(t, filepath.ToSlash(name), string(text)))
		return nil
	})
	if err != nil || len(all) < 50 {
		t.Fatalf("%d files, %v: the walk found too little", len(all), err)
	}
	return all
}

func parse(t *testing.T, path, text string) source {
	t.Helper()
	file, err := parser.ParseFile(positions, path, text, parser.ParseComments)
	if err != nil {
		t.Fatal(err)
	}
	folder := filepath.ToSlash(filepath.Dir(path))
	return source{path: path, folder: folder, test: strings.HasSuffix(path, "_test.go") || strings.HasPrefix(path, "testdata/") || strings.HasSuffix(folder, "test"),
		lines: strings.Count(text, "\n"), file: file}
}

// imports returns what the file imports.
func (s source) imports() []string {
	var out []string
	for _, i := range s.file.Imports {
		path, err := strconv.Unquote(i.Path.Value)
		if err == nil {
			out = append(out, path)
		}
	}
	return out
}

// in reports whether the file lies in the folder or below it.
func (s source) in(folder string) bool {
	return s.folder == folder || strings.HasPrefix(s.folder, folder+"/")
}

func (s source) at(pos token.Pos) string { return positions.Position(pos).String() }

// packages groups product files by folder.
func packages(all []source) map[string][]source {
	out := map[string][]source{}
	for _, s := range all {
		if !s.test {
			out[s.folder] = append(out[s.folder], s)
		}
	}
	return out
}
