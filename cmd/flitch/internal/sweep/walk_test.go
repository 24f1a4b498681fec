package sweep

import (
	"fmt"
	"net/url"
	"slices"
	"strings"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/chromedp"
)

// notPages are what links lead to that is no page: tables, pictures, certificates, files that are kept.
var notPages = []string{".pdf", ".xlsx", ".proof", ".csv", ".json", ".svg", ".crt", ".png", ".webmanifest", ".yaml"}

// mostPages bounds a walk: one that is longer goes round in circles.
const mostPages = 80

// A visited page is an address of the daemon and the buttons on it.
type visited struct {
	path    string
	buttons []button
}

// A button sends a form.
type button struct {
	Action   string   `json:"action"` // path it goes to, or "script:ID" of a form that only a script sends
	Name     string   `json:"name"`
	Value    string   `json:"value"`
	Text     string   `json:"text"`
	Fields   []string `json:"fields"`   // names of what can be filled in, each once
	Required []string `json:"required"` // of these
	Index    int      `json:"index"`    // among all buttons of the page
}

const listButtons = `[...document.querySelectorAll("button,input[type=submit]")].map((b, i) => ({b, i})).filter(x => x.b.form && x.b.type === "submit").map(({b, i}) => {
	const f = b.form, fields = [...f.elements].filter(e => e.name && e.type !== "hidden" && e.tagName !== "BUTTON" && e.type !== "submit");
	const to = b.hasAttribute("formaction") ? b.formAction : f.hasAttribute("action") ? f.action : f.method === "get" ? location.href : "";
	return {action: to ? new URL(to).pathname : "script:" + f.id, name: b.name, value: b.value, text: b.innerText.trim(), index: i,
		fields: [...new Set(fields.map(e => e.name))], required: [...new Set(fields.filter(e => e.required).map(e => e.name))]};
})`

// walk goes from the first pages along all links to every page there is that is asked for.
func (b *tab) walk(address string, todo []string, wanted func(path string) bool, look func(visited)) (seen []visited) {
	b.t.Helper()
	known := map[string]bool{}
	for len(todo) > 0 {
		path := todo[0]
		todo = todo[1:]
		if known[kind(path)] || !wanted(path) {
			continue
		}
		known[kind(path)] = true
		b.open(address + path)
		if status := b.lastStatus(); status >= 400 {
			b.t.Errorf("%s answers %d", path, status)
			continue
		}
		at := ask[string](b, `location.pathname + location.search`)
		if known[kind(at)] && kind(at) != kind(path) {
			continue // led to a page that was seen
		}
		known[kind(at)] = true
		seen = append(seen, visited{at, ask[[]button](b, listButtons)})
		look(seen[len(seen)-1])
		for _, link := range ask[[]string](b, `[...document.querySelectorAll("a[href]")].map(a => a.href)`) {
			u, err := url.Parse(link)
			if err != nil {
				b.t.Errorf("%s links to %q: %v", at, link, err)
				continue
			}
			to := u.Scheme + "://" + u.Host
			if to == address && !strings.HasPrefix(u.Path, "/api/") && !slices.ContainsFunc(notPages, func(end string) bool { return strings.HasSuffix(u.Path, end) }) {
				todo = append(todo, u.RequestURI())
			}
		}
		if len(seen) > mostPages {
			b.t.Fatalf("more than %d pages: %v", mostPages, known)
		}
	}
	return seen
}

// kind is what two pages have in common that are looked at once: the path, and which
// questions it is asked.
func kind(path string) string {
	u, err := url.Parse(path)
	if err != nil {
		return path
	}
	q := u.Query()
	q.Del("done")
	var keys []string
	for key := range q {
		keys = append(keys, key)
	}
	slices.Sort(keys)
	return u.Path + "?" + strings.Join(keys, "&")
}

// mainActions are what a greasy thumb has to hit; 44 px is the target size of WCAG 2.2,
// 2.5.5 (from memory). Links inside a text are left out, as there.
const mainActions = `[...document.querySelectorAll("button, a.button, summary, select, textarea, input:not([type=hidden]):not([type=checkbox]):not([type=radio]), label.tick")]
	.map(e => ({r: e.getBoundingClientRect(), e})).filter(x => x.r.width > 0 && x.r.height > 0 && (x.r.width < 44 || x.r.height < 44))
	.map(x => x.e.tagName + " " + (x.e.innerText || x.e.name).slice(0, 40) + " " + Math.round(x.r.width) + "x" + Math.round(x.r.height))`

// looks checks what holds for every page.
func (b *tab) looks(path string, width int64) {
	b.t.Helper()
	ask[bool](b, `document.querySelectorAll("details").forEach(d => d.open = true), true`)
	if wide := ask[int64](b, `document.documentElement.scrollWidth`); wide > width {
		b.t.Errorf("%s is %d px wide on %d", path, wide, width)
	}
	for _, small := range ask[[]string](b, mainActions) {
		b.t.Errorf("%s: %s is too small for a thumb", path, small)
	}
	if ask[string](b, `document.title`) == "" || ask[int64](b, `document.querySelectorAll("h1").length`) == 0 {
		b.t.Errorf("%s has no title or no heading", path)
	}
	for _, nameless := range b.nameless() {
		b.t.Errorf("%s: %s has no name for a screen reader", path, nameless)
	}
}

var controls = []string{"button", "link", "textbox", "combobox", "checkbox", "radio", "searchbox", "spinbutton", "slider", "switch", "listbox", "Date", "DateTime", "InputTime", "image", "img"}

// nameless lists the controls that the accessibility tree has no name for.
func (b *tab) nameless() (out []string) {
	b.t.Helper()
	tree, err := chromedp.Call(b.ctx, accessibility.GetFullAXTree, accessibility.GetFullAXTreeParams{})
	if err != nil {
		b.t.Fatal(err)
	}
	found := 0
	for _, n := range tree.Nodes {
		if n.Ignored || n.Role == nil || !slices.Contains(controls, text(n.Role)) {
			continue
		}
		found++
		if n.Name == nil || strings.TrimSpace(text(n.Name)) == "" {
			out = append(out, fmt.Sprintf("%s (node %d)", text(n.Role), n.BackendDOMNodeID))
		}
	}
	if found == 0 && ask[bool](b, `document.querySelector("a[href], button, input, select, textarea, img") !== null`) {
		out = append(out, "the page: no control was found in its accessibility tree, which")
	}
	return out
}

func text(v *accessibility.Value) string { return strings.Trim(string(v.Value), `"`) }
