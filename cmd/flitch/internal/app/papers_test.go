package app

import (
	"crypto/rand"
	"errors"
	"net/url"
	"reflect"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/process"
	"flitch/store"
)

// closedShop is a shop whose batch was warm for three hours and is closed.
func closedShop(t *testing.T) *shop {
	s := newShop(t)
	s.cfg.Persons = []config.Person{{Name: "T", Initials: "T.V.", Channels: []string{"phone"}}, {Name: "M", Initials: "M.O.", Channels: []string{"phone"}}}
	s.cfg.Site.ReviewerDiffers = true
	s.open()
	s.begin(cooked)
	s.every(5*minute, 0, 3*time.Hour, func(time.Duration) { s.read("slow", 8) })
	return s
}

var whole = &process.ActionSaid{About: "C2", Cause: "a bag in the seal", Control: "moved to Birch", Prevention: "door looked at at close of day", Product: "held for advice"}

func TestPapersOfAClosedBatch(t *testing.T) {
	s := closedShop(t)
	closing := process.Command{ID: "close", Kind: process.CommandClose, Text: "over"}
	if err := s.try(closing); err == nil || !strings.Contains(err.Error(), "is held (out-of-cold)") {
		t.Fatalf("closing a held batch: %v", err)
	}
	for _, c := range []process.Command{{Kind: process.CommandDisposition, Disposition: process.HoldForAdvice, Text: "asked the extension"}, closing} {
		if err := s.try(c); err != nil {
			t.Fatal(err)
		}
	}
	clocks := s.batch().Clocks(s.clock.Now())
	s.at(26 * time.Hour)
	if err := s.try(closing); err != nil { // the same command, sent again
		t.Errorf("sent again: %v", err)
	}
	again := process.Command{ID: "again", Kind: process.CommandClose}
	if err := s.try(again); err == nil || !strings.Contains(err.Error(), "was closed 2031-05-05T09:00:00Z by T.V.") {
		t.Errorf("a second close: %v", err)
	}
	for _, c := range []process.Command{
		{Kind: process.CommandNote, Text: "the advice came"}, {Kind: process.CommandAction, Action: whole},
		{Kind: process.CommandDisposition, Disposition: process.ReleaseFromHold, Text: "by the advice"}, {Kind: process.CommandReviewed, By: "M.O."},
	} {
		if err := s.try(c); err != nil {
			t.Errorf("%s after the close: %v", c.Kind, err)
		}
	}
	for why, c := range map[string]process.Command{
		"began the batch":      {Kind: process.CommandReviewed},
		"no line of the":       {Kind: process.CommandAction, Action: &process.ActionSaid{About: "Z99", Cause: "x"}},
		"closed 2031-05-05":    {Kind: process.CommandTurned},
		`no "there"`:           {Kind: process.CommandAction, Action: &process.ActionSaid{About: "there", Cause: "x"}},
		"is not held":          {Kind: process.CommandDisposition, Disposition: process.ReleaseFromHold, Text: "again"},
		"the note is empty":    {Kind: process.CommandNote},
		"say one of: continue": {Kind: process.CommandDisposition, Disposition: "bless", Text: "x"},
	} {
		var refused *process.Refusal
		if err := s.try(c); !errors.As(err, &refused) || !strings.Contains(err.Error(), why) {
			t.Errorf("%s: %v, want %q", c.Kind, err, why)
		}
	}
	b := s.batch()
	if len(b.Notes) != 1 || len(b.Actions) != 1 || len(b.Dispositions) != 2 || len(b.Reviews) != 1 || b.WaitsForReview() {
		t.Errorf("%d notes, %d actions, %d dispositions, %d reviews, waits %v", len(b.Notes), len(b.Actions), len(b.Dispositions), len(b.Reviews), b.WaitsForReview())
	}
	if !reflect.DeepEqual(clocks, b.Clocks(s.clock.Now())) {
		t.Error("the clocks of a closed batch moved")
	}
	if v := b.Verdict(s.clock.Now()); v != process.NotMet {
		t.Errorf("released: %q", v)
	}
	s.journalTells("hold for advice: all pieces: asked the extension", "batch closed over", "corrective action about C2; cause: a bag in the seal; under control: moved to Birch",
		"release from hold: all pieces: by the advice", "record reviewed")
}

// journalTells looks for lines, and that the verdicts of the closed batch were told once.
func (s *shop) journalTells(wants ...string) {
	s.t.Helper()
	lines, err := s.app.db.Journal("PS-02")
	if err != nil {
		s.t.Fatal(err)
	}
	all := ""
	for _, l := range lines {
		all += l.Kind + ": " + l.Text + "\n"
	}
	for _, want := range wants {
		if strings.Count(all, want) != 1 {
			s.t.Errorf("%q is there %d times:\n%s", want, strings.Count(all, want), all)
		}
	}
	if err := s.app.db.VerifyJournal(); err != nil {
		s.t.Error(err)
	}
}

// A crash between the log and the batch: what was said of a closed batch is evaluated at
// the start, and once.
func TestPapersAreEvaluatedAfterACrash(t *testing.T) {
	s := closedShop(t)
	for _, c := range []process.Command{{Kind: process.CommandDisposition, Disposition: process.Discard, Text: "warm too long"}, {Kind: process.CommandClose, Text: "over"}} {
		if err := s.try(c); err != nil {
			t.Fatal(err)
		}
	}
	s.close()
	at := s.clock.Now().Add(time.Hour)
	s.append(process.Command{ID: "late", Kind: process.CommandNote, Batch: "PS-02", By: "M.O.", Text: "thrown out", At: at, Typed: at},
		process.Command{ID: "read", Kind: process.CommandReviewed, Batch: "PS-02", By: "M.O.", At: at, Typed: at})
	for range 2 {
		s.clock.Step(at.Add(minute))
		s.open()
		s.settle()
		if b := s.batch(); len(b.Notes) != 1 || b.Notes[0].Text != "thrown out" || len(b.Reviews) != 1 {
			t.Errorf("%d notes, %d reviews", len(b.Notes), len(b.Reviews))
		}
		s.journalTells("note: thrown out", "record reviewed")
		s.close()
	}
}

// The same where the close itself was not evaluated: the batch is in memory then, and not
// among the closed ones of the database.
func TestCloseAndPapersAreEvaluatedAfterACrash(t *testing.T) {
	s := closedShop(t)
	if err := s.try(process.Command{Kind: process.CommandDisposition, Disposition: process.Discard, Text: "warm too long"}); err != nil {
		t.Fatal(err)
	}
	s.close()
	at := s.clock.Now().Add(time.Hour)
	s.append(process.Command{ID: "end", Kind: process.CommandClose, Batch: "PS-02", By: "T.V.", Text: "over", At: at, Typed: at},
		process.Command{ID: "read", Kind: process.CommandReviewed, Batch: "PS-02", By: "M.O.", At: at.Add(minute), Typed: at.Add(minute)})
	s.clock.Step(at.Add(2 * minute))
	s.open()
	s.settle()
	if b := s.batch(); b.Open() || b.End.By != "T.V." || len(b.Reviews) != 1 || b.WaitsForReview() {
		t.Errorf("open %v, closed by %q, %d reviews", b.Open(), b.End.By, len(b.Reviews))
	}
}

// append writes commands into the log of a daemon that is not running, as one that died
// behind its commit has.
func (s *shop) append(commands ...process.Command) {
	s.t.Helper()
	db, err := store.Open(s.cfg.Site.Database)
	if err != nil {
		s.t.Fatal(err)
	}
	defer db.Close()
	for _, c := range commands {
		err := db.Update(func(tx *store.Tx) error {
			_, _, err := tx.AppendCommand(c, c.Typed)
			return err
		})
		if err != nil {
			s.t.Fatal(err)
		}
	}
}

// A photo is in the database when its note is in the log.
func TestAPhotoIsStoredWithItsNote(t *testing.T) {
	s := closedShop(t)
	jpeg := []byte("the bytes of a picture")
	note := process.Command{ID: "n", Kind: process.CommandNote, Batch: "PS-02", By: "T.V.", Photo: &process.Photo{SHA256: store.PhotoHash(jpeg), Width: 4, Height: 3}}
	for range 2 { // two taps on one button
		if err := s.app.engine.DoWithPhoto(s.patience(), note, jpeg); err != nil {
			t.Fatal(err)
		}
	}
	if b := s.batch(); len(b.Notes) != 1 || b.Notes[0].Photo == nil || b.Notes[0].Photo.SHA256 != store.PhotoHash(jpeg) {
		t.Errorf("notes %+v", b.Notes)
	}
	if got, found, err := s.app.db.Photo(store.PhotoHash(jpeg)); err != nil || !found || string(got) != string(jpeg) {
		t.Errorf("%q, %v, %v", got, found, err)
	}
	refused := note
	refused.ID, refused.Batch = "m", "OL-none"
	if err := s.app.engine.DoWithPhoto(s.patience(), refused, []byte("another")); err == nil {
		t.Error("a photo of no batch was taken")
	}
	if _, found, _ := s.app.db.Photo(store.PhotoHash([]byte("another"))); found {
		t.Error("the photo of a refused note was kept")
	}
}

// A reviewer reads and says so; what becomes of the meat is a curer's to say, and a guest
// says nothing.
func TestWhoMayWriteWhichPaper(t *testing.T) {
	s, guest := signedShop(t)
	v := s.visitor()
	v.enter("M.O.", "salt and patience")
	form := func(more url.Values) url.Values {
		more.Set("id", rand.Text())
		more.Set("by", "M.O.")
		return more
	}
	if status, _, text := v.ask("POST", "/batches/PS-02/papers/disposition", form(url.Values{"what": {"discard"}, "why": {"x"}})); status != 422 || !strings.Contains(text, "who may not do this") {
		t.Errorf("a reviewer decided: %d", status)
	}
	if status, _, text := v.ask("POST", "/batches/PS-02/papers/review", form(url.Values{})); status != 200 || !strings.Contains(text, "by M.O.") {
		t.Errorf("a reviewer could not review: %d", status)
	}
	if b := s.batch(); len(b.Reviews) != 1 || b.Reviews[0].By != "M.O." || len(b.Dispositions) != 0 {
		t.Errorf("%+v, %+v", b.Reviews, b.Dispositions)
	}
	wall := s.visitor()
	wall.ask("GET", "/guest/"+guest, nil)
	if status, _, _ := wall.ask("POST", "/batches/PS-02/papers/review", form(url.Values{})); status != 403 {
		t.Errorf("a guest reviewed: %d", status)
	}
	if status, _, _ := wall.ask("GET", "/batches/PS-02/papers", nil); status != 200 {
		t.Errorf("a guest may not look: %d", status)
	}
}
