package web

import (
	"net/http"
	"strings"
	"testing"

	"flitch/process/record"
)

// What is wrong stands beside its field, in the form that was sent and in no other, and
// what was typed is kept.
func TestAMistakeStandsBesideItsField(t *testing.T) {
	for _, c := range []struct{ path, form, mark, kept string }{
		{"/reading", "batch=OL-31-09&by=TV&where=air&value=warm&text=needle", `id="wrong-reading-value"`, `value="warm"`},
		{"/reading", "batch=OL-31-09&by=TV&where=nowhere&value=3", `id="wrong-reading-where"`, `value="3"`},
		{"/reading", "batch=OL-31-09&by=TV&where=air&value=3&when=noon", `id="wrong-reading-when"`, `value="noon"`},
		{"/note", "batch=OL-31-09&by=far+too+long&text=smells+right", `id="wrong-note-by"`, `smells right</textarea>`},
		{"/note", "batch=OL-31-09&by=TV&text=", `id="wrong-note-text"`, `value="TV"`},
		{"/turned", "batch=OL-31-09&by=far+too+long&when=2026-11-18T03:00", `id="wrong-turned-by"`, `value="2026-11-18T03:00"`},
		{"/stage", "batch=OL-31-09&by=&stage=rest", `id="wrong-tap-by"`, `Who are you?`},
		{"/acknowledge", "alarm=7&by=", `id="wrong-tap-by"`, `Who are you?`},
		{"/shelve", "alarm=7&back=alarm&by=TV&until=soon&text=loading", `id="wrong-shelve-until"`, `value="loading"`},
		{"/judge", "alarm=7&back=alarm&by=&text=false", `id="wrong-judge-by"`, `Who are you?`},
	} {
		w := post(t, sampleHouse().page(t, record.Site{}), c.path, c.form)
		body := w.Body.String()
		if w.Code != http.StatusUnprocessableEntity {
			t.Errorf("%s %s: %d", c.path, c.form, w.Code)
		}
		holds(t, body, c.mark, strings.Replace(c.mark, "id=", "aria-describedby=", 1), c.kept)
		for _, other := range []string{"reading", "note", "shelve", "judge", "duty"} {
			if !strings.HasPrefix(c.path, "/"+other) && strings.Contains(body, `id="wrong-`+other) {
				t.Errorf("%s %s: the form of %s is marked too", c.path, c.form, other)
			}
		}
	}
}
