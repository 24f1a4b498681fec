package web

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"image"
	"image/jpeg"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"flitch/process"
	"flitch/process/record"
)

func (h *house) Papers(_ context.Context, id, about string) (BatchPapers, error) {
	for _, b := range h.papers {
		if b.ID == id {
			if about != "" {
				b.Ready = process.ActionSaid{About: about, Cause: "Product sensor over 5.0 °C from 22:30 to 01:50. Cause: __.", Prevention: "Door checked at close of day."}
			}
			return b, h.fault
		}
	}
	return BatchPapers{}, &process.Refusal{What: "there is no batch " + id, NotFound: true}
}

func (h *house) NoteWithPhoto(ctx context.Context, c process.Command, jpeg []byte) error {
	if err := h.Do(ctx, c); err != nil {
		return err
	}
	sum := sha256.Sum256(jpeg)
	h.photos = map[string][]byte{hex.EncodeToString(sum[:]): jpeg}
	return nil
}

func (h *house) Photo(_ context.Context, id, hash string) ([]byte, error) {
	if p, ok := h.photos[hash]; ok && id == "OL-31-04" {
		return p, h.fault
	}
	return nil, &process.Refusal{What: "batch " + id + " has no such photo", NotFound: true}
}

// paperHouse has one open batch that is held, and a closed one that waits for review.
func paperHouse() *house {
	h := sampleHouse()
	h.glances[0].Held = []string{"come-up"}
	h.batches[1].Waits = true
	open := BatchPapers{Summary: Summary{ID: "OL-31-09", Product: "Belly", Started: night.Add(-48 * time.Hour)}, Class: process.NotFullyCooked, By: "TV", Pieces: []string{"A", "B"},
		Verdict: process.Held, Held: []string{"come-up"}, Early: true, Clocks: h.glances[0].Clocks,
		Deviations: []record.Deviation{{Number: 1, What: "come-up", Worst: "7 h 10 min", Limit: "10 to 54.4 °C in at most 6 h", Outcome: "held", Open: "no corrective action, no disposition"}},
		Offers:     []Offer{{About: "7", Words: "H3 Smoker cold, alarm 7", Taken: []int{1}}},
		Actions: []record.Action{{Number: 1, Lacks: []string{"prevention"}, AfterReview: true, ActionEntry: process.ActionEntry{At: night, Typed: night, By: "TV",
			ActionSaid: process.ActionSaid{About: "7", Cause: "<ash> in the grate", Control: "relit", Product: "held"}}}}}
	closed := BatchPapers{Summary: Summary{ID: "OL-31-04", Product: "Belly", Started: night.AddDate(0, 0, -20), Closed: night.AddDate(0, 0, -10)}, Class: process.NotFullyCooked, By: "TV",
		End: process.Ending{By: "MO", Typed: night.AddDate(0, 0, -10)}, Pieces: []string{"A"}, Verdict: process.Met, Waits: true, Drawn: true, Clocks: h.glances[0].Clocks,
		Notes: []record.Entry{{Kind: process.CommandNote, Happened: night, Typed: night, By: "TV", Text: "good", Photo: &record.Photo{Photo: process.Photo{SHA256: strings.Repeat("ab", 32), Width: 40, Height: 30}}}}}
	h.papers = []BatchPapers{open, closed}
	return h
}

func TestThePapersOfABatch(t *testing.T) {
	h := paperHouse()
	body := get(t, h.page(t, record.Site{}), "/batches/OL-31-09/papers?about=C2").Body.String()
	has(t, body, "Held: come-up", "come-up", "7 h 10 min", "Open: no corrective action, no disposition.", "alarm 7", "No. 1, about 7", "&lt;ash&gt; in the grate",
		"Not complete: prevention.", "after the review", `value="C2"`, "Cause: __.", "There is a blank __ in it.", "Door checked at close of day.",
		"hold for advice", "release from hold", `accept="image/*"`, `capture="environment"`, `enctype="multipart/form-data"`, "Why it ends before its plan does")
	if strings.Count(body, "There is a blank") != 1 {
		t.Errorf("%d texts are said to have a blank", strings.Count(body, "There is a blank"))
	}
	labelled(t, body, "papers")
	for _, bad := range []string{" style=", "<style", " onclick", "https://"} {
		if strings.Contains(body, bad) {
			t.Errorf("the page holds %q", bad)
		}
	}
	has(t, get(t, h.page(t, record.Site{}), "/batches/OL-31-09").Body.String(), "Held: come-up", "/batches/OL-31-09/papers")
	if w := get(t, h.page(t, record.Site{}), "/papers?about=7"); w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/batches/OL-31-09/papers?about=7#action" {
		t.Errorf("an action about alarm 7 leads to %d %s", w.Code, w.Header().Get("Location"))
	}
}

// A closed batch has a page: what it was, its clocks in words, its papers.
func TestAClosedBatchHasAPage(t *testing.T) {
	h := paperHouse()
	w := get(t, h.page(t, record.Site{}), "/batches/OL-31-04")
	if w.Code != http.StatusOK {
		t.Fatalf("%d %.300s", w.Code, w.Body)
	}
	body := w.Body.String()
	has(t, body, " by MO", "Waits for review.", "cure: <strong>met</strong>", "come-up", "/batches/OL-31-04/record.html", `href="/batches/OL-31-04/taste"`, `href="/batches/OL-31-04/cost"`, "/batches/OL-31-04/chart", "Enter the review", "Enter the note",
		"/batches/OL-31-04/photos/"+strings.Repeat("ab", 32)+".jpg", "good")
	if strings.Contains(body, "papers/close") {
		t.Error("a closed batch can be closed again")
	}
	labelled(t, body, "closed")
	has(t, get(t, h.page(t, record.Site{}), "/batches").Body.String(), `<a href="/batches/OL-31-04">`, "Waits for review.", "Held: come-up")
	if w := get(t, h.page(t, record.Site{}), "/batches/nope/papers"); w.Code != http.StatusNotFound {
		t.Errorf("the papers of no batch: %d", w.Code)
	}
}

func TestFormsOfThePapersBecomeCommands(t *testing.T) {
	for _, c := range []struct {
		form, body string
		want       process.Command
	}{
		{"action", "about=C2&cause=a&control=b&prevention=&product=d", process.Command{ID: "x-corrective-action", Kind: process.CommandAction,
			Action: &process.ActionSaid{About: "C2", Cause: "a", Control: "b", Product: "d"}}},
		{"disposition", "what=discard&piece=A&piece=B&why=warm", process.Command{ID: "x-disposition", Kind: process.CommandDisposition, Disposition: process.Discard, Pieces: []string{"A", "B"}, Text: "warm"}},
		{"review", "text=", process.Command{ID: "x-reviewed", Kind: process.CommandReviewed}},
		{"close", "text=given+away", process.Command{ID: "x-close", Kind: process.CommandClose, Text: "given away"}},
		{"note", "text=good", process.Command{ID: "x-note", Kind: process.CommandNote, Text: "good"}},
	} {
		h := paperHouse()
		w := post(t, h.page(t, record.Site{}), "/batches/OL-31-09/papers/"+c.form, "id=x&by=TV&"+c.body)
		if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/batches/OL-31-09/papers?done" || len(h.said) != 1 {
			t.Errorf("%s: %d, %d commands, to %s", c.form, w.Code, len(h.said), w.Header().Get("Location"))
			continue
		}
		c.want.Batch, c.want.By, c.want.At, c.want.Typed = "OL-31-09", "TV", night, night
		if got, want := fmt.Sprintf("%+v", h.said[0]), fmt.Sprintf("%+v", c.want); c.want.Action == nil && got != want || c.want.Action != nil && *h.said[0].Action != *c.want.Action {
			t.Errorf("%s: said %s, want %s", c.form, got, want)
		}
	}
}

// What is wrong is said beside its field, what was typed stays, and nothing is entered.
func TestARefusedPaperKeepsWhatWasTyped(t *testing.T) {
	for _, c := range []struct {
		form, body string
		answer     error
		wants      []string
	}{
		{"action", "about=&cause=ash&control=&prevention=&product=", nil, []string{`id="action-about-wrong"`, "Say what it is about", ">ash</textarea>"}},
		{"action", "about=C2&control=", nil, []string{`id="action-cause-wrong"`, "at least one", `value="C2"`}},
		{"action", "about=Z9&cause=ash", &process.Refusal{What: "Z9 is no line of the catalogue", Hint: "flitch alarms"}, []string{`id="action-form-wrong"`, "Z9 is no line of the catalogue<", ">ash</textarea>"}},
		{"disposition", "why=warm&piece=B", nil, []string{`id="disposition-what-wrong"`, ">warm</textarea>", `value="B" checked`}},
		{"disposition", "what=discard&when=never&why=", nil, []string{`id="disposition-when-wrong"`, `id="disposition-why-wrong"`, "<option selected>discard"}},
		{"review", "text=fine+so+far", &process.Refusal{What: "TV began the batch: the review is somebody else's"}, []string{`id="review-form-wrong"`, "somebody else", `value="fine so far"`}},
		{"close", "text=over", &process.Refusal{What: "batch OL-31-09 is held (come-up)"}, []string{`id="close-form-wrong"`, `value="over"`}},
		{"note", "text=", nil, []string{`id="note-text-wrong"`, "The note is empty"}},
	} {
		h := paperHouse()
		h.answer = c.answer
		w := post(t, h.page(t, record.Site{}), "/batches/OL-31-09/papers/"+c.form, "id=x&by=TV&"+c.body)
		if w.Code != http.StatusUnprocessableEntity || c.answer == nil && len(h.said) != 0 {
			t.Errorf("%s %s: %d, %d commands", c.form, c.body, w.Code, len(h.said))
		}
		has(t, w.Body.String(), append(c.wants, `role="alert"`)...)
	}
	w := post(t, paperHouse().page(t, record.Site{}), "/batches/OL-31-09/papers/review", "id=x&by=&text=a")
	has(t, w.Body.String(), `id="review-by-wrong"`, `aria-describedby="review-by-wrong"`, `value="a"`)
}

// upload sends a note with a file.
func upload(t *testing.T, h http.Handler, text string, file []byte) *httptest.ResponseRecorder {
	t.Helper()
	var b bytes.Buffer
	form := multipart.NewWriter(&b)
	for name, value := range map[string]string{"id": "x", "by": "TV", "text": text, "when": ""} {
		if err := form.WriteField(name, value); err != nil {
			t.Fatal(err)
		}
	}
	part, err := form.CreateFormFile("photo", "IMG_0001.JPG")
	if err != nil {
		t.Fatal(err)
	}
	part.Write(file)
	form.Close()
	w := httptest.NewRecorder()
	r := httptest.NewRequest(http.MethodPost, "/batches/OL-31-04/papers/note", &b)
	r.Header.Set("Content-Type", form.FormDataContentType())
	h.ServeHTTP(w, r)
	return w
}

func picture(t *testing.T) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 2000, 1000)), nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestANoteWithAPhoto(t *testing.T) {
	h := paperHouse()
	if w := upload(t, h.page(t, record.Site{}), "the slice", picture(t)); w.Code != http.StatusSeeOther {
		t.Fatalf("%d %.500s", w.Code, w.Body)
	}
	c := h.said[0]
	if c.Photo == nil || c.Photo.Width != 1600 || c.Photo.Height != 800 || c.Text != "the slice" || len(h.photos[c.Photo.SHA256]) == 0 {
		t.Fatalf("said %+v", c)
	}
	w := get(t, h.page(t, record.Site{}), "/batches/OL-31-04/photos/"+c.Photo.SHA256+".jpg")
	if w.Code != http.StatusOK || w.Header().Get("Content-Type") != "image/jpeg" || !strings.Contains(w.Header().Get("Cache-Control"), "private") || !bytes.Equal(w.Body.Bytes(), h.photos[c.Photo.SHA256]) {
		t.Errorf("%d %v", w.Code, w.Header())
	}
	for _, path := range []string{"/batches/OL-31-09/photos/" + c.Photo.SHA256 + ".jpg", "/batches/OL-31-04/photos/" + strings.Repeat("0", 64) + ".jpg", "/batches/OL-31-04/photos/" + c.Photo.SHA256, "/batches/OL-31-04/photos/..%2f..%2fx.jpg"} {
		if w := get(t, h.page(t, record.Site{}), path); w.Code != http.StatusNotFound {
			t.Errorf("%s: %d", path, w.Code)
		}
	}
	h = paperHouse()
	if w := upload(t, h.page(t, record.Site{}), "", picture(t)); w.Code != http.StatusSeeOther || h.said[0].Text != "" {
		t.Errorf("a photo without words: %d", w.Code)
	}
}

func TestAPhotoThatCannotBeReadKeepsTheText(t *testing.T) {
	for name, c := range map[string]struct {
		file   []byte
		answer error
		wants  []string
	}{
		"HEIC":     {[]byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"), nil, []string{`id="note-photo-wrong"`, "HEIC", "set the phone", "What you typed is kept", ">the slice</textarea>"}},
		"rubbish":  {[]byte("<script>alert(1)</script>"), nil, []string{`id="note-photo-wrong"`, "no JPEG, PNG or WebP", ">the slice</textarea>"}},
		"empty":    {nil, nil, []string{`id="note-photo-wrong"`, "empty", ">the slice</textarea>"}},
		"too much": {make([]byte, 12<<20+7), nil, []string{`id="note-photo-wrong"`, "12.0 MB", ">the slice</textarea>"}},
		"refused":  {picture(t), &process.Refusal{What: "not now"}, []string{`id="note-photo-wrong"`, "Choose the picture again", "not now", ">the slice</textarea>"}},
	} {
		h := paperHouse()
		h.answer = c.answer
		w := upload(t, h.page(t, record.Site{}), "the slice", c.file)
		if w.Code != http.StatusUnprocessableEntity || len(h.photos) != 0 || c.answer == nil && len(h.said) != 0 {
			t.Errorf("%s: %d, %d photos, %d commands", name, w.Code, len(h.photos), len(h.said))
		}
		has(t, w.Body.String(), c.wants...)
	}
	w := upload(t, paperHouse().page(t, record.Site{}), "x", make([]byte, 20<<20))
	has(t, w.Body.String(), "larger than 13 MB")
}
