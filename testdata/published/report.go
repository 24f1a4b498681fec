package published

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the tested package's part of testdata/published/README.md")

// roundOff is the error below which only the rounding of the processor shows,
// which differs between machines.
const roundOff = 1e-12

// A Report gathers what the tables said about the models of one package.
type Report struct {
	t       *testing.T
	section string
	lines   []string
	wanted  int
}

// Open begins the report of a package, such as "process/cure".
func Open(t *testing.T, section string) *Report {
	return &Report{t: t, section: section}
}

// A Check is a table under comparison.
type Check struct {
	*Table
	T *testing.T

	tol     Tolerance
	values  int
	worst   float64
	worstAt string
}

// Check compares a model with a table: compare calls Near for each value.
func (r *Report) Check(model, file string, tol Tolerance, compare func(c *Check)) {
	r.wanted++
	r.t.Run(strings.TrimSuffix(file, ".csv")+"/"+model, func(t *testing.T) {
		table, err := Read(file)
		if err != nil {
			t.Fatal(err)
		}
		c := &Check{Table: table, T: t, tol: tol}
		compare(c)
		if c.values == 0 {
			t.Fatalf("%s: nothing was compared", file)
		}
		t.Logf("%s: %d values of %s, worst error %.2g at %s (tolerance %s)", model, c.values, file, c.worst, c.worstAt, tol)
		r.lines = append(r.lines, c.line(model))
	})
}

// Near compares got with the number in the row's column.
func (c *Check) Near(r Row, column string, got float64) {
	c.T.Helper()
	want := r.Num(c.T, column)
	off := c.tol.off(got, want)
	c.values++
	if off >= c.worst {
		c.worst, c.worstAt = off, r.Where()+" "+column
	}
	if off > c.tol.Size {
		c.T.Errorf("%s: %s = %.12g, table has %.12g, error %.2g over %s", r.Where(), column, got, want, off, c.tol)
	}
}

// Holds counts a row of a table of verdicts, with the zero Tolerance: it is right
// or wrong.
func (c *Check) Holds(r Row, right bool, format string, args ...any) {
	c.T.Helper()
	c.values++
	if !right {
		c.T.Errorf("%s: %s", r.Where(), fmt.Sprintf(format, args...))
	}
}

func (c *Check) line(model string) string {
	worst := fmt.Sprintf("%.1e", c.worst)
	switch {
	case c.tol == Tolerance{}:
		worst = "none wrong"
	case c.worst < roundOff:
		worst = fmt.Sprintf("under %.0e", roundOff)
	}
	return fmt.Sprintf("| %s | %s | %s | %s | %d | %s | %s |", model, c.Name, c.sources(),
		strings.Join(c.distinct("provenance"), ", "), c.values, c.tol, worst)
}

func (c *Check) sources() string {
	all := c.distinct("source")
	if len(all) > 2 {
		return fmt.Sprintf("%d sources, in the table", len(all))
	}
	return strings.ReplaceAll(strings.Join(all, "; "), "|", "/")
}

// Close compares the report with the README, or writes it there with -update.
// When only some of the checks ran (go test -run) there is nothing to compare.
func (r *Report) Close() {
	r.t.Helper()
	if r.t.Failed() || len(r.lines) < r.wanted {
		return
	}
	path, err := readme()
	if err != nil {
		r.t.Fatal(err)
	}
	old, err := os.ReadFile(path)
	if err != nil {
		r.t.Fatal(err)
	}
	text, err := r.put(string(old))
	switch {
	case err != nil:
		r.t.Fatalf("%s: %v", path, err)
	case text == string(old):
	case *update:
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			r.t.Fatal(err)
		}
	default:
		r.t.Errorf("%s: the part of %s is not what the checks found; run go test -p 1 ./%s -update and read the difference",
			path, r.section, r.section)
	}
}

const head = `| model | table | source | provenance | values | tolerance | worst error |
| --- | --- | --- | --- | --- | --- | --- |
`

// put returns the README with the section's table in its place, between two marks.
func (r *Report) put(text string) (string, error) {
	begin, end := "<!-- "+r.section+" -->\n", "<!-- end of "+r.section+" -->\n"
	before, rest, ok1 := strings.Cut(text, begin)
	_, after, ok2 := strings.Cut(rest, end)
	if !ok1 || !ok2 {
		return "", fmt.Errorf("no place for %s: want the lines %q and %q", r.section, begin, end)
	}
	return before + begin + head + strings.Join(r.lines, "\n") + "\n" + end + after, nil
}

// readme finds the README from any package of the module.
func readme() (string, error) {
	dir, err := os.Getwd()
	if err != nil {
		return "", err
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return filepath.Join(dir, "testdata", "published", "README.md"), nil
		}
		if up := filepath.Dir(dir); up != dir {
			dir = up
			continue
		}
		return "", fmt.Errorf("no go.mod above the tests")
	}
}
