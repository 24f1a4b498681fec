package web

import (
	"go/ast"
	"go/parser"
	"go/token"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"flitch/process"
	"flitch/process/record"
)

func TestAHintAtThePageIsForThePage(t *testing.T) {
	for hint, want := range map[string]string{
		"give this one another name: --id":                                                           "give this one another name",
		"list them with: flitch batch list":                                                          "",
		"--rule us, canada, fda-home or none":                                                        "",
		"say why it ends here: --text \"...\"":                                                       "say why it ends here",
		"write on the basis of what it was decided":                                                  "write on the basis of what it was decided",
		"flitch judge 17 useful --by T.V.":                                                           "",
		"mend the plan; flitch alarms --catalogue x":                                                 "mend the plan",
		"log what was weighed: flitch batch dosed; or say why it goes on all the same: --text \"x\"": "log what was weighed; or say why it goes on all the same",
		"to give it another time: flitch batch stage B dry --at TIME":                                "",
	} {
		if got := pageHint(hint); got != want {
			t.Errorf("%q: %q, want %q", hint, got, want)
		}
	}
	h := sampleHouse()
	h.answer = &process.Refusal{What: "there is already a batch X", Hint: "give this one another name: --id"}
	w := post(t, h.page(t, record.Site{}), "/turned", "id=a&by=TV&batch=OL-31-09")
	if body := w.Body.String(); w.Code != http.StatusUnprocessableEntity || strings.Contains(body, "--id") || !strings.Contains(body, "give this one another name") {
		t.Errorf("%d %s", w.Code, body)
	}
}

// Every text of the rooms where refusals are made, as a hint of the page, names no flag and
// no command.
func TestNoHintOfARefusalShowsAFlagOnThePage(t *testing.T) {
	seen := 0
	for _, pattern := range []string{"../../../../process/*.go", "../../../../process/engine/*.go", "../app/*.go"} {
		files, err := filepath.Glob(pattern)
		if err != nil || len(files) == 0 {
			t.Fatal(pattern, err)
		}
		for _, name := range files {
			if strings.HasSuffix(name, "_test.go") {
				continue
			}
			source, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			file, err := parser.ParseFile(token.NewFileSet(), name, source, 0)
			if err != nil {
				t.Fatal(err)
			}
			ast.Inspect(file, func(n ast.Node) bool {
				lit, ok := n.(*ast.BasicLit)
				if !ok || lit.Kind != token.STRING {
					return true
				}
				text, err := strconv.Unquote(lit.Value)
				if err != nil || !strings.Contains(text, "--") && !strings.Contains(text, "flitch batch") {
					return true
				}
				seen++
				if got := pageHint(text); strings.Contains(got, "--") || strings.Contains(got, "flitch batch") {
					t.Errorf("%s: %q is %q at the page", name, text, got)
				}
				return true
			})
		}
	}
	if seen < 20 {
		t.Errorf("only %d texts were looked at", seen)
	}
}
