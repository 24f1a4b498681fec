package house

import (
	"go/ast"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// verdictWords are never said of a product. Compounds that name a way of making
// it are not verdicts.
var (
	verdictWords = regexp.MustCompile(`(?i)\b(safe|cured|pasteurised|approved)\b`)
	notVerdicts  = regexp.MustCompile(`(?i)dry-cured|equilibrium-cured|belly-dry-cured|cured RTE|a slow chill|uncured`)
)

func saysAVerdict(text string) bool {
	return verdictWords.MatchString(notVerdicts.ReplaceAllString(text, ""))
}

func TestTheProgramNeverSaysSafeOrCured(t *testing.T) {
	for _, s := range sources(t) {
		if s.test {
			continue
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			if lit, ok := n.(*ast.BasicLit); ok && saysAVerdict(lit.Value) {
				t.Errorf("%s says %s: flitch says met, not met, not measured or held, by a named rule", s.at(lit.Pos()), lit.Value)
			}
			return true
		})
	}
	for _, bad := range []string{"the meat is safe", "Cured through", "it is cured"} {
		if !saysAVerdict(bad) {
			t.Errorf("%q is not caught", bad)
		}
	}
}

// Pages, plans and the sample configuration speak to people too. Tables of
// published limits (CSV) quote their sources and are left alone.
func TestThePagesNeverSaySafeOrCured(t *testing.T) {
	spoken := []string{".html", ".js", ".toml", ".sql"}
	seen := 0
	for _, f := range texts(t) {
		if f.test || !slices.Contains(spoken, filepath.Ext(f.path)) {
			continue
		}
		seen++
		for i, line := range f.lines {
			if saysAVerdict(line) {
				t.Errorf("%s:%d says %q: flitch says met, not met, not measured or held, by a named rule", f.path, i+1, strings.TrimSpace(line))
			}
		}
	}
	if seen < 8 {
		t.Errorf("only %d pages and plans looked at", seen)
	}
}

// foreignFolder is the beginning of a path of one machine, where a path begins:
// http://host/home/ is another matter. foreignHosts are the beginnings of names of
// places where modules and images are kept, which is everyone's own setting.
var (
	foreignFolder = regexp.MustCompile("(?:^|[\t '\"`=(:,])(/(?:home|root|Users|work|workspace|build|builds|mnt)/)")
	foreignHosts  = []string{"proxy.golang.", "sum.golang.", "index.golang.", "registry.npmjs.", "pypi.", "ghcr.", "docker.io", "quay.io", `C:\Users`}
)

// elsewhere returns what in a line is true on one machine only, or nothing.
func elsewhere(line string) string {
	for _, host := range foreignHosts {
		if strings.Contains(line, host) {
			return host
		}
	}
	if found := foreignFolder.FindStringSubmatch(line); found != nil {
		return found[1]
	}
	return ""
}

func TestNothingIsTrueOnOneMachineOnly(t *testing.T) {
	for _, f := range texts(t) {
		if strings.HasPrefix(f.path, "cmd/flitch/internal/house/") {
			continue // the rule itself
		}
		for i, line := range f.lines {
			if found := elsewhere(line); found != "" {
				t.Errorf("%s:%d names %q: it is true on one machine only", f.path, i+1, found)
			}
		}
	}
	for _, bad := range []string{`see /home/tv/notes`, `x/home/ or /home/tv`, `open("/mnt/x")`, `C:\Users\tv`, "GOPROXY=https://" + foreignHosts[0], "FROM " + foreignHosts[5]} {
		if elsewhere(bad) == "" {
			t.Errorf("%q is not caught", bad)
		}
	}
	for _, good := range []string{"/etc/flitch/flitch.toml", "http://flitch.lan/home/", "a/home/b", "/tmp/x", "/var/lib/flitch"} {
		if elsewhere(good) != "" {
			t.Errorf("%q is caught", good)
		}
	}
}

// A textFile is a file of the repository that people can read.
type textFile struct {
	path  string // from the top, with slashes
	test  bool
	lines []string
}

// texts reads every file that holds text.
func texts(t *testing.T) []textFile {
	t.Helper()
	root := top(t)
	var all []textFile
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if (d.Name() == ".git" || d.Name() == "node_modules") && d.IsDir() { // what npm fetched is never committed
			return filepath.SkipDir
		}
		if d.Name() == ".git" || !d.Type().IsRegular() { // .git of a second work tree is a file
			return nil
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		if strings.Contains(string(data), "\x00") {
			return nil // a picture, a database, a binary
		}
		name, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		name = filepath.ToSlash(name)
		test := strings.HasSuffix(name, "_test.go") || strings.Contains("/"+name, "/testdata/")
		all = append(all, textFile{path: name, test: test, lines: strings.Split(string(data), "\n")})
		return nil
	})
	if err != nil || len(all) < 100 {
		t.Fatalf("%d files, %v: the walk found too little", len(all), err)
	}
	return all
}
