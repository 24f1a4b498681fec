package app

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
)

// What nobody can read, or has no end, does not get into the sealed record, whichever way
// it comes: as a command, with a picture, with a file, from a form.
func TestWhatCannotBeReadIsNotEntered(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(raw)
	c := s.caller(s.get("/api/openapi.yaml"))
	before, err := s.app.db.Counts()
	if err != nil {
		t.Fatal(err)
	}
	picture := smallPicture(t)
	for _, by := range []string{"\\u0000\\n", "\\u001b[31mEV", strings.Repeat("x", 20_000)} {
		c.want(http.StatusUnprocessableEntity, "POST /api/commands", "/api/commands", []byte(`{"kind":"note","batch":"PS-02","text":"x","by":"`+by+`"}`))
	}
	c.want(http.StatusUnprocessableEntity, "POST /api/commands", "/api/commands", []byte(`{"kind":"note","batch":"PS-02","text":"a\u0000b","by":"TV"}`))
	for _, query := range []string{"by=%00%0a&text=x", "by=TV&text=%ff%fe"} {
		c.want(http.StatusUnprocessableEntity, "POST /api/batches/{id}/photos", "/api/batches/PS-02/photos?"+query, picture)
	}
	if _, _, err := (importer{s.app}).probe(t.Context(), "alder-slow", "\x1b[31mEV"); err == nil || !strings.Contains(err.Error(), "type your initials") {
		t.Errorf("an import signed by nobody: %v", err)
	}
	if status, _, text := s.visitor().ask(http.MethodPost, "/batches/PS-02/papers/note", url.Values{"by": {"T\x1b"}, "text": {"x"}}); status != http.StatusUnprocessableEntity {
		t.Errorf("a form: %d %.200s", status, text)
	}
	after, err := s.app.db.Counts()
	if err != nil {
		t.Fatal(err)
	}
	if before.Commands != after.Commands {
		t.Errorf("%d commands, then %d", before.Commands, after.Commands)
	}
}
