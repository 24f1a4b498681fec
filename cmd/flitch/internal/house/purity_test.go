package house

import (
	"go/ast"
	"path"
	"slices"
	"strings"
	"testing"
)

// clockCalls are the functions of package time that ask the machine.
var clockCalls = []string{"Now", "Since", "Until", "After", "AfterFunc", "NewTimer", "NewTicker", "Tick", "Sleep"}

// onlyAllowed lists, for some imports, all that a pure package may use of them.
var onlyAllowed = map[string][]string{
	"math/rand/v2": {"New", "NewPCG", "NewChaCha8", "Rand", "Source", "PCG", "ChaCha8"},
	"sync":         {"Once", "OnceFunc", "OnceValue", "OnceValues"},
}

// impurities lists what in the files of one pure package reaches out, or keeps
// something between two calls.
func impurities(files []source) []string {
	out := machineTime(files)
	k := know(files)
	for _, s := range files {
		ast.Inspect(s.file, func(n ast.Node) bool {
			if g, ok := n.(*ast.GoStmt); ok {
				out = append(out, s.at(g.Pos())+": a goroutine: the pure core has no time of its own")
			}
			if used, name := k.imported(n); onlyAllowed[used] != nil && !slices.Contains(onlyAllowed[used], name) {
				out = append(out, s.at(n.Pos())+": "+used+"."+name+": chance is an argument, and nothing here is shared")
			}
			for _, name := range k.changed(n) {
				out = append(out, s.at(n.Pos())+": "+name+" is a package variable that changes: the next call would answer differently")
			}
			return true
		})
	}
	return out
}

// machineTime lists where the files of one package ask the machine for the time.
func machineTime(files []source) []string {
	var out []string
	k := know(files)
	for _, s := range files {
		ast.Inspect(s.file, func(n ast.Node) bool {
			if used, name := k.imported(n); used == "time" && slices.Contains(clockCalls, name) {
				out = append(out, s.at(n.Pos())+": time."+name+": time is an argument, or comes from the clock that was handed in")
			}
			return true
		})
	}
	return out
}

func TestThePureCoreReachesOutForNothing(t *testing.T) {
	seen := 0
	for folder, files := range packages(sources(t)) {
		if slices.Contains(pure, folder) {
			seen += len(files)
			complain(t, impurities(files))
		}
	}
	if seen < 30 {
		t.Errorf("only %d files of the pure core looked at", seen)
	}
}

// ownClock are the rooms that may ask the machine: who hands the clock out, who
// plays the demo at a pace people can watch, and the store, which times its own
// transactions.
var ownClock = []string{"cmd/flitch", "cmd/flitch/internal/app", "cmd/flitch/internal/demo", "store"}

func TestLoopsUseTheClockTheyAreGiven(t *testing.T) {
	seen := 0
	for folder, files := range packages(sources(t)) {
		if !slices.Contains(ownClock, folder) {
			seen++
			complain(t, machineTime(files))
		}
	}
	if seen < 15 {
		t.Errorf("only %d packages looked at", seen)
	}
}

// There is one Step, and one room that calls it: demo, replay and tests go
// through the same door as the daemon.
func TestThereIsOneStep(t *testing.T) {
	calls := 0
	for folder, files := range packages(sources(t)) {
		for _, v := range stepCalls(files) {
			if calls++; folder != "process/engine" {
				t.Errorf("%s: a second way to evaluate would in time give a second answer", v)
			}
		}
	}
	if calls == 0 {
		t.Error("nobody calls process.Step or process.StepPlace")
	}
	if bad := parse(t, "x/x.go", "package x\n\nimport p \"flitch/process\"\n\nvar f = p.Step\n"); len(stepCalls([]source{bad})) != 1 {
		t.Error("a call of process.Step is not caught")
	}
}

func stepCalls(files []source) []string {
	var out []string
	k := know(files)
	for _, s := range files {
		ast.Inspect(s.file, func(n ast.Node) bool {
			if used, name := k.imported(n); used == "flitch/process" && (name == "Step" || name == "StepPlace") {
				out = append(out, s.at(n.Pos())+": process."+name)
			}
			return true
		})
	}
	return out
}

func TestThePurityRulesCatch(t *testing.T) {
	for _, body := range []string{
		"func f() { go f() }",
		"func f() any { return time.Now() }",
		"func f() { time.Sleep(1) }",
		"var now = time.Now",
		"func f() float64 { return rand.Float64() }",
		"var mu sync.Mutex",
		"var n int\nfunc f() { n = 1 }",
		"var n int\nfunc f() { n++ }",
		"var n int\nfunc f() { n += 2 }",
		"var n struct{ x int }\nfunc f() { n.x = 1 }",
		"var n = [...]int{1}\nfunc f() { n[0] = 2 }",
		"var n = map[int]int{}\nfunc f() { delete(n, 1) }",
		"var n = map[int]int{}\nfunc f() { clear(n) }",
		"var n int\nfunc f() { for n = range 3 {} }",
		"var n int\nfunc f() *int { return &n }",
		"var n counter\ntype counter int\nfunc (c *counter) up() { *c++ }\nfunc f() { n.up() }",
		"func f() { other = 1 }", // declared in another file
	} {
		if len(impurities(pureControl(t, body))) == 0 {
			t.Errorf("not caught: %s", body)
		}
	}
}

func TestThePurityRulesLetGoodCodePass(t *testing.T) {
	for _, body := range []string{
		"func f(now time.Time) time.Time { return now.Add(time.Second) }",
		"var table = [...]int{1, 2}\nfunc f(i int) int { return table[i] }",
		"func f() { other := 2; other++ }", // a local of the same name
		"var table = sync.OnceValues(func() (int, error) { return 1, nil })\nfunc f() { _, _ = table() }",
		"func f(seed uint64) float64 { return rand.New(rand.NewPCG(seed, 1)).Float64() }",
		"var n counter\ntype counter int\nfunc (c counter) is() int { return int(c) }\nfunc f() { n.is() }",
	} {
		if bad := impurities(pureControl(t, body)); len(bad) > 0 {
			t.Errorf("caught: %s: %v", body, bad)
		}
	}
}

// pureControl is a package of two files, one of them with the given declarations.
func pureControl(t *testing.T, body string) []source {
	t.Helper()
	imports := ""
	for _, i := range []string{"time", "sync", "math/rand/v2"} {
		if strings.Contains(body, path.Base(strings.TrimSuffix(i, "/v2"))+".") {
			imports += "import \"" + i + "\"\n"
		}
	}
	return []source{
		parse(t, "process/x.go", "package x\n\n"+imports+"\n"+body+"\n"),
		parse(t, "process/y.go", "package x\n\nvar other int\n"),
	}
}

func complain(t *testing.T, violations []string) {
	t.Helper()
	for _, v := range violations {
		t.Error(v)
	}
}
