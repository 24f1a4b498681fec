package sweep

import (
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"net/url"
	"slices"
	"strings"
)

// matches reports whether a path is one of a row.
func (r row) matches(path string) bool {
	want, got := strings.Split(r.action, "/"), strings.Split(path, "/")
	if len(want) != len(got) {
		return false
	}
	for i := range want {
		if want[i] != "{}" && want[i] != got[i] {
			return false
		}
	}
	return true
}

// matchesWay reports whether a pattern of a route takes the row.
func (r row) matchesWay(pattern string) bool {
	want, got := strings.Split(r.action, "/"), strings.Split(pattern, "/")
	if len(want) != len(got) {
		return false
	}
	for i := range want {
		if want[i] != "{}" && want[i] != got[i] && !strings.HasPrefix(got[i], "{") {
			return false
		}
	}
	return true
}

func rowOf(b button) (row, bool) {
	i := slices.IndexFunc(table, func(r row) bool {
		return r.matches(b.Action) && (r.button == "" || r.button == b.Value || r.button == b.Text)
	})
	if i < 0 {
		return row{}, false
	}
	return table[i], true
}

// A press is a button to be pressed and where it stands.
type press struct {
	row
	button
	path string
}

// presses picks the buttons of each kind of form, of which one will be pressed: the next if an
// earlier press took the first away. The late ones come last.
func (b *tab) presses(seen []visited) (out [][]press) {
	b.t.Helper()
	known := map[string]int{}
	for _, page := range seen {
		for _, one := range page.buttons {
			r, ok := rowOf(one)
			if !ok {
				b.t.Errorf("%s has a form for %s (%q) that has no row in table_test.go: say there what good and rubbish is", page.path, one.Action, one.Text)
				continue
			}
			key := r.action + " " + r.button + " " + strings.Join(one.Fields, ",")
			if r.each {
				key += " " + one.Name + one.Value
			}
			if r.apart != "" {
				continue
			}
			i, ok := known[key]
			if !ok {
				i, out = len(out), append(out, nil)
				known[key] = i
			}
			out[i] = append(out[i], press{r, one, page.path})
		}
	}
	slices.SortStableFunc(out, func(a, b []press) int { return a[0].late - b[0].late })
	return out
}

// A house is a daemon, who asks it, and what was pressed there, by action and button.
type house struct {
	*daemon
	token   string
	pressed map[string]bool
	refused func(path string) // looks at a page with messages
}

// pressAll presses a button of every kind of form, with rubbish first.
func (b *tab) pressAll(h *house, seen []visited) {
	b.t.Helper()
	for _, kind := range b.presses(seen) {
		for _, p := range kind {
			if b.pressOne(h, p) {
				break
			}
		}
	}
}

// pressOne reports false when an earlier press took the button away.
func (b *tab) pressOne(h *house, p press) bool {
	b.t.Helper()
	if p.rubbish != nil {
		before := h.entries(h.token)
		if !b.fill(h.address, p, p.rubbish, true) {
			return false
		}
		b.wasRefused(p)
		h.refused(p.path + ", refused")
		if after := h.entries(h.token); after != before {
			b.t.Errorf("%s on %s: rubbish was refused and something was entered:\n%s\nnow\n%s", p.Action, p.path, before, after)
		}
	}
	good := maps.Clone(p.good)
	if h.token != "" {
		delete(good, "by") // whoever is signed in
	}
	if !b.fill(h.address, p, good, false) {
		return false
	}
	b.wasTaken(p, p.wants)
	for _, next := range p.then {
		b.pressesNext(p, next)
	}
	h.pressed[p.row.action+" "+p.row.button] = true
	if p.anew {
		h.comesAgain()
	}
	return true
}

// pressesNext goes on from the page that a form led to.
func (b *tab) pressesNext(p press, next step) {
	b.t.Helper()
	if !ask[bool](b, `((b) => { if (!b) { return false; } document.documentElement.dataset.before = "1"; b.click(); return true; })(document.querySelector("button[value=" + %q + "]"))`, next.button) {
		b.t.Errorf("%s on %s: no button %s: %q", p.Action, p.path, next.button, b.told())
		return
	}
	b.until(next.button+" after "+p.path, arrived)
	b.wasTaken(p, next.wants)
}

// arrived is true on the next page, after the one that was marked.
const arrived = `document.readyState === "complete" && document.documentElement.dataset.before === undefined`

const send = `((at, name, value, text, fields, typed, rubbish) => {
	document.querySelectorAll("details").forEach(d => d.open = true);
	const buttons = [...document.querySelectorAll("button,input[type=submit]")];
	const fits = b => b && b.form && b.name === name && b.value === value && (b.getAttribute("formaction") || b.form.getAttribute("action") || "") === text && fields.every(f => b.form.elements.namedItem(f));
	const b = fits(buttons[at]) ? buttons[at] : buttons.find(fits);
	if (!b) { return "gone"; }
	const f = b.form;
	for (const e of f.elements) {
		if (!e.name || e.type === "hidden" || e.tagName === "BUTTON") { continue; }
		const said = e.name === "by" && !(e.name in typed) ? "T.V." : typed[e.id] !== undefined ? typed[e.id] : typed[e.name];
		if (e.type === "checkbox" || e.type === "radio") { if (said !== undefined) { e.checked = said === e.value; } continue; }
		if (e.type === "file") {
			if (said === undefined) { continue; }
			const [name, type, content] = said.split(";"), all = new DataTransfer();
			all.items.add(new File([Uint8Array.from(atob(content), c => c.charCodeAt(0))], name, {type}));
			e.files = all.files;
			continue;
		}
		if (e.tagName === "SELECT") {
			const first = [...e.options].find(o => o.value && !o.disabled);
			e.value = said !== undefined ? said : e.value || (e.required && first ? first.value : "");
			continue;
		}
		if (said !== undefined) { e.value = said; } else if (e.required && !e.value) { return "nothing is said of " + e.name; }
	}
	f.noValidate = rubbish;
	if (!f.checkValidity() && !rubbish) { return "the browser refuses " + [...f.elements].filter(e => e.willValidate && !e.checkValidity()).map(e => e.name + " " + e.validationMessage); }
	document.documentElement.dataset.before = "1";
	b.click();
	return "sent";
})(%d, %s, %s, %s, %s, %s, %t)`

// fill opens the page, types into the form and presses its button. It reports false when the
// button is there no more.
func (b *tab) fill(address string, p press, typed map[string]string, rubbish bool) bool {
	b.t.Helper()
	b.open(address + p.path)
	quoted := func(v any) string {
		text, err := json.Marshal(v)
		if err != nil {
			b.t.Fatal(err)
		}
		return string(text)
	}
	if typed == nil {
		typed = map[string]string{}
	}
	action := ask[string](b, `(b => b && b.form ? b.getAttribute("formaction") || b.form.getAttribute("action") || "" : "")(document.querySelectorAll("button,input[type=submit]")[%d])`, p.Index)
	if u, err := url.Parse(action); err != nil || action != "" && !p.row.matches(u.Path) {
		action = p.Action
	}
	switch said := ask[string](b, send, p.Index, quoted(p.Name), quoted(p.Value), quoted(action), quoted(p.Fields), quoted(typed), rubbish); said {
	case "sent":
	case "gone":
		return false
	default:
		b.t.Errorf("%s on %s: %s", p.Action, p.path, said)
		return false
	}
	b.until(p.Action+" on "+p.path, arrived)
	return true
}

func (b *tab) wasTaken(p press, wants string) {
	b.t.Helper()
	if wants == "" {
		wants = entered
	}
	if !ask[bool](b, `document.querySelector(%q) !== null`, wants) || b.lastStatus() >= 400 {
		b.t.Errorf("%s (%q) on %s, good input: status %d, no %s: %q", p.Action, p.Text, p.path, b.lastStatus(), wants, b.told())
	}
}

func (b *tab) told() string {
	return ask[string](b, `[...document.querySelectorAll("[role=alert]:not([hidden]), .wrong, .refused")].map(e => e.innerText).join(" / ") || document.body.innerText.slice(0, 300)`)
}

// besideField tells what a field says of itself: it is marked, and what describes it is
// there and not empty.
const besideField = `((name) => [...document.getElementsByName(name)].some(e => e.getAttribute("aria-invalid") === "true" &&
	(e.getAttribute("aria-describedby") || "").split(" ").some(id => { const w = document.getElementById(id); return w && w.innerText.trim() !== ""; })))(%q)`

func (b *tab) wasRefused(p press) {
	b.t.Helper()
	if status := b.lastStatus(); status < 400 || status >= 500 {
		b.t.Errorf("%s (%q) on %s: status %d for rubbish: %q", p.Action, p.Text, p.path, status, b.told())
	}
	if !ask[bool](b, `[...document.querySelectorAll("[role=alert]")].some(e => !e.hidden && e.innerText.trim() !== "")`) {
		b.t.Errorf("%s on %s: nothing says what is wrong: %q", p.Action, p.path, b.told())
	}
	if p.beside != "" && slices.Contains(p.Fields, p.beside) && !ask[bool](b, besideField, p.beside) {
		b.t.Errorf("%s on %s: the message does not stand beside %s: %q", p.Action, p.path, p.beside, b.told())
	}
	for _, field := range slices.Sorted(maps.Keys(p.rubbish)) {
		if !slices.Contains(p.Fields, field) || slices.Contains(p.forgets, field) {
			continue
		}
		if !ask[bool](b, `[...document.getElementsByName(%q)].some(e => e.value === %q || e.type === "file")`, field, p.rubbish[field]) {
			b.t.Errorf("%s on %s: %q, typed into %s, is gone: %q", p.Action, p.path, p.rubbish[field], field, b.told())
		}
	}
}

// entries is all that people have entered, as the daemon tells it.
func (d *daemon) entries(token string) string {
	d.t.Helper()
	var batches []struct{ ID string }
	d.read("/api/batches", token, &batches)
	out := fmt.Sprintln(len(batches))
	for _, batch := range batches {
		var b struct {
			Entries, Stages, Doses, Pieces, Dispositions, Reviews json.RawMessage

			Actions json.RawMessage `json:"corrective_actions"`
		}
		d.read("/api/batches/"+url.PathEscape(batch.ID), token, &b)
		out += fmt.Sprintf("%s\n", [][]byte{b.Entries, b.Stages, b.Doses, b.Pieces, b.Actions, b.Dispositions, b.Reviews})
	}
	var probes []struct{ Checks json.RawMessage }
	d.read("/api/probes", token, &probes)
	for _, p := range probes {
		out += string(p.Checks)
	}
	return out
}

func (d *daemon) read(path, token string, into any) {
	d.t.Helper()
	answer, err := d.get(path, token)
	if err != nil {
		d.t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err == nil {
		err = json.Unmarshal(body, into)
	}
	if err != nil || answer.StatusCode != 200 {
		d.t.Fatalf("%s: %d, %v: %.200s", path, answer.StatusCode, err, body)
	}
}
