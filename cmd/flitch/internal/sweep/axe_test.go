package sweep

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// axeAt is where npm puts the engine that looks for what a screen reader, or a weak eye,
// cannot use. It is fetched by the version and the sum in the lock file, and never committed.
var axeAt = filepath.Join("..", "..", "..", "..", "deploy", "axe", "node_modules", "axe-core", "axe.min.js")

const fetchAxe = "npm ci --ignore-scripts --prefix deploy/axe"

func axeSource(t *testing.T) string {
	t.Helper()
	at := axeAt
	if elsewhere := os.Getenv("FLITCH_AXE"); elsewhere != "" {
		at = elsewhere
	}
	source, err := os.ReadFile(at)
	if errors.Is(err, fs.ErrNotExist) {
		t.Fatalf("the accessibility engine is not there (%s); at the top of the repository, once: %s (npm is in Debian's package npm)", at, fetchAxe)
	}
	if err != nil {
		t.Fatal(err)
	}
	return string(source)
}

// A finding is what the engine tells of one rule.
type finding struct {
	ID     string   `json:"id"`
	Impact string   `json:"impact"`
	Help   string   `json:"help"`
	At     []string `json:"at"`
}

const runAxe = `axe.run(document, {resultTypes: ["violations"]}).then(r => ({rules: r.violations.length + r.passes.length,
	found: r.violations.map(v => ({id: v.id, impact: v.impact || "", help: v.help, at: v.nodes.slice(0, 4).map(n => n.html.slice(0, 160) + " " + (n.failureSummary || "").slice(0, 220))}))}))`

// axe looks at the page in a world of its own, beside the page's scripts and past its
// policy, which stays as it is.
func (b *tab) axe(source string) (found []finding) {
	b.t.Helper()
	frames, err := chromedp.Call(b.ctx, page.GetFrameTree, cdp.Empty{})
	if err != nil {
		b.t.Fatal(err)
	}
	world, err := chromedp.Call(b.ctx, page.CreateIsolatedWorld, page.CreateIsolatedWorldParams{FrameID: frames.FrameTree.Frame.ID, WorldName: "axe"})
	if err != nil {
		b.t.Fatal(err)
	}
	if err := b.inWorld(world.ExecutionContextID, source+"\n;1", nil); err != nil {
		b.t.Fatalf("the engine does not load: %v", err)
	}
	var told struct {
		Rules int       `json:"rules"`
		Found []finding `json:"found"`
	}
	if err := b.inWorld(world.ExecutionContextID, runAxe, &told); err != nil {
		b.t.Fatalf("the engine does not run: %v", err)
	}
	if told.Rules == 0 {
		b.t.Error("the engine looked at no rule")
	}
	return told.Found
}

// inWorld evaluates a script there; its promise is waited for.
func (b *tab) inWorld(world runtime.ExecutionContextID, script string, into any) error {
	answer, err := chromedp.Call(b.ctx, runtime.Evaluate, runtime.EvaluateParams{Expression: script, ContextID: world, AwaitPromise: new(true), ReturnByValue: new(true)})
	if err != nil {
		return err
	}
	if answer.ExceptionDetails != nil {
		return errors.New(answer.ExceptionDetails.Text)
	}
	if into == nil {
		return nil
	}
	return json.Unmarshal(answer.Result.Value, into)
}

// seesNothingSerious looks at the page in these colours.
func (b *tab) seesNothingSerious(source, path string, schemes []string) (looks int) {
	b.t.Helper()
	for _, scheme := range schemes {
		b.colours(scheme)
		for _, f := range b.axe(source) {
			if f.Impact == "serious" || f.Impact == "critical" {
				b.t.Errorf("%s, %s: %s, %s: %s\n\t%q", path, scheme, f.Impact, f.ID, f.Help, f.At)
			}
		}
		looks++
	}
	return looks
}

// The engine sees what is bad: else nothing found would say nothing.
func TestTheEngineSees(t *testing.T) {
	b := openTab(t, 360)
	b.open(`data:text/html,<html><body><input><img src="data:,"><p style="color:%23999;background:%23aaa">pale</p></body></html>`)
	seen := map[string]bool{}
	for _, f := range b.axe(axeSource(t)) {
		if f.Impact == "serious" || f.Impact == "critical" {
			seen[f.ID] = true
		}
	}
	for _, want := range []string{"label", "image-alt", "color-contrast", "html-has-lang"} {
		if !seen[want] {
			t.Errorf("%s was not found in %s", want, fmt.Sprint(seen))
		}
	}
}
