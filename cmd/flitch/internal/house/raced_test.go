package house

import (
	"go/ast"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// The one test command runs a few packages without the race detector, which makes their
// computing ten times slower: those in which, product and tests, there is no goroutine that
// could race, and no package variable that changes, which parallel tests could share. What
// they call runs with it in its own tests.
func TestWhatRunsWithoutTheRaceDetectorHasNoGoroutine(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(top(t), "deploy", "test.sh"))
	if err != nil {
		t.Fatal(err)
	}
	list := regexp.MustCompile(`(?m)^only_compute="([^"]*)"`).FindSubmatch(text)
	if list == nil {
		t.Fatal("deploy/test.sh does not say which packages it runs without the race detector")
	}
	all := map[string][]source{}
	for _, s := range sources(t) {
		all[s.folder] = append(all[s.folder], s)
	}
	for _, name := range strings.Fields(string(list[1])) {
		files := all[strings.TrimPrefix(name, "./")]
		if len(files) == 0 {
			t.Errorf("deploy/test.sh runs %s without the race detector, and there is no such package", name)
		}
		complain(t, concurrent(files))
	}
	for _, body := range []string{"func f() { go f() }", "var mu sync.Mutex", "import \"sync/atomic\"", "func f() { var g sync.WaitGroup; g.Go(f) }", "var n int\nfunc f() { n++ }"} {
		if !strings.HasPrefix(body, "import") {
			body = "import \"sync\"\n" + body
		}
		if len(concurrent([]source{parse(t, "x/x.go", "package x\n\n"+body+"\n")})) == 0 {
			t.Errorf("%q is not caught", body)
		}
	}
}

// concurrent lists what in the files of a package is there for more than one goroutine.
func concurrent(files []source) (out []string) {
	k := know(files)
	for _, s := range files {
		for _, spec := range s.file.Imports {
			if path := strings.Trim(spec.Path.Value, `"`); slices.Contains([]string{"sync/atomic", "testing/synctest", "net/http", "golang.org/x/sync/errgroup"}, path) {
				out = append(out, s.at(spec.Pos())+": "+path+": run this package with the race detector")
			}
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			if _, is := n.(*ast.GoStmt); is {
				out = append(out, s.at(n.Pos())+": a goroutine: run this package with the race detector")
			}
			if used, name := k.imported(n); used == "sync" && !slices.Contains(onlyAllowed["sync"], name) {
				out = append(out, s.at(n.Pos())+": sync."+name+": run this package with the race detector")
			}
			for _, name := range k.changed(n) {
				out = append(out, s.at(n.Pos())+": "+name+" is a package variable that changes: run this package with the race detector")
			}
			return true
		})
	}
	return out
}
