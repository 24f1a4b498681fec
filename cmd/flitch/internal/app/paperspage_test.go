package app

import (
	"bytes"
	"encoding/json"
	"image"
	"image/jpeg"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"flitch/process"
	"flitch/process/record"
)

// fetch reads an address of the page.
func (s *shop) fetch(path string) (text string, head http.Header) {
	s.t.Helper()
	answer, err := http.Get(s.app.Address() + path)
	if err != nil {
		s.t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil || answer.StatusCode != http.StatusOK {
		s.t.Fatalf("%s: %s, %v: %.300s", path, answer.Status, err, body)
	}
	return string(body), answer.Header
}

// sheet sends a form of the papers and returns the page that follows.
func (s *shop) sheet(form string, fields url.Values) string {
	s.t.Helper()
	if !fields.Has("by") {
		fields.Set("by", "T.V.")
	}
	fields.Set("id", form+fields.Encode())
	answer, err := http.PostForm(s.app.Address()+"/batches/PS-02/papers/"+form, fields)
	if err != nil {
		s.t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil {
		s.t.Fatal(err)
	}
	return string(body)
}

func (s *shop) says(text string, wants ...string) {
	s.t.Helper()
	for _, want := range wants {
		if !strings.Contains(text, want) {
			s.t.Errorf("%q is not there", want)
		}
	}
}

// snapshot is the note of a picture, as a browser sends it.
func (s *shop) snapshot(text string) {
	s.t.Helper()
	var picture, body bytes.Buffer
	if err := jpeg.Encode(&picture, image.NewGray(image.Rect(0, 0, 1800, 900)), nil); err != nil {
		s.t.Fatal(err)
	}
	form := multipart.NewWriter(&body)
	for name, value := range map[string]string{"id": "snap", "by": "T.V.", "text": text} {
		if err := form.WriteField(name, value); err != nil {
			s.t.Fatal(err)
		}
	}
	part, err := form.CreateFormFile("photo", "a.jpg")
	if err != nil {
		s.t.Fatal(err)
	}
	part.Write(picture.Bytes())
	form.Close()
	answer, err := http.Post(s.app.Address()+"/batches/PS-02/papers/note", form.FormDataContentType(), &body)
	if err != nil {
		s.t.Fatal(err)
	}
	answer.Body.Close()
	if answer.StatusCode != http.StatusOK {
		s.t.Fatalf("the note was answered with %s", answer.Status)
	}
}

// The whole way of a warm fridge, by the page: the text is there with its numbers, the
// deviation is open until all four parts and a decision are, and the record tells all of it.
func TestStoryOfAWarmFridgeOnPaper(t *testing.T) {
	s := closedShop(t) // open still, and warm for three hours
	s.says(first(s.fetch("/batches/PS-02")), "Held: out-of-cold")
	page := first(s.fetch("/batches/PS-02/papers?about=C2"))
	s.says(page, "Open: no corrective action, no disposition.", "Product sensor over 7.2 °C from 5 May 06:00 UTC to __ (180 min, peak 8.0 °C). Cause: __.", "C2 Fridge too warm, alarm")
	s.says(s.sheet("close", url.Values{"text": {"over"}}), "is held (out-of-cold)", `id="close-form-wrong"`)
	s.says(s.sheet("action", url.Values{"about": {"C2"}, "cause": {"a bag in the seal"}, "control": {"moved to __"}}), "Entered.",
		"Open: corrective action without under control, prevention, product, no disposition.")
	number, standing, err := s.app.Alarm("C2")
	if err != nil || !standing {
		t.Fatalf("no C2: %v", err)
	}
	s.sheet("action", url.Values{"about": {strconv.FormatInt(number, 10)}, "cause": {"a bag in the seal"}, "control": {"moved to Birch"}, "prevention": {"door looked at"}, "product": {"held"}})
	s.says(first(s.fetch("/batches/PS-02/papers")), "Open: no disposition.", "corrective action no. 1, 2")
	s.says(s.sheet("disposition", url.Values{"what": {"hold for advice"}, "why": {"three hours over 40 F"}}), "Held: out-of-cold, for advice", "Outcome: hold for advice: three hours over 40 F (T.V.)")
	s.snapshot("as it came out")
	s.says(s.sheet("close", url.Values{"text": {"sent for advice"}}), "by T.V.", "sent for advice", "Waits for review.")
	s.says(first(s.fetch("/batches")), "Waits for review.", "Held: cure, out-of-cold, for advice") // closed in the middle of the cure
	s.says(s.sheet("review", url.Values{}), `id="review-form-wrong"`, "began the batch")
	s.at(4 * time.Hour)
	s.says(s.sheet("review", url.Values{"by": {"M.O."}}), "by M.O.")
	s.at(5 * time.Hour)
	s.says(s.sheet("disposition", url.Values{"what": {"release from hold"}, "why": {"the advice came"}}), "Verdict on the batch: not met", "after the review")
	s.sheet("action", url.Values{"about": {"cure"}, "cause": {"closed early"}, "control": {"out of the bag"}, "prevention": {"none"}, "product": {"cooked as fresh meat"}})
	html, head := s.fetch("/batches/PS-02/record.html")
	s.says(html, "corrective action no. 2", "a bag in the seal", "hold for advice", "release from hold", "the advice came", "after the review", `src="data:image/jpeg;base64,/9j/`, "Reviewed by</th><td>M.O.")
	s.says(head.Get("Content-Security-Policy"), "img-src data:")
	if strings.Contains(html, "open: ") {
		t.Error("the deviation is still open")
	}
	s.kept()
}

// kept looks at the photo: under the hash that the record and the table name.
func (s *shop) kept() {
	s.t.Helper()
	text, _ := s.fetch("/batches/PS-02/record.json")
	var rec struct {
		Entries []record.Entry `json:"entries"`
	}
	if err := json.Unmarshal([]byte(text), &rec); err != nil {
		s.t.Fatal(err)
	}
	for _, e := range rec.Entries {
		if e.Kind != process.CommandNote || e.Photo == nil {
			continue
		}
		if e.Photo.Width != 1600 || e.Photo.Height != 800 {
			s.t.Errorf("kept as %d by %d", e.Photo.Width, e.Photo.Height)
		}
		s.says(first(s.fetch("/batches/PS-02/record.csv")), "sha256 "+e.Photo.SHA256)
		if _, head := s.fetch("/batches/PS-02/photos/" + e.Photo.SHA256 + ".jpg"); head.Get("Content-Type") != "image/jpeg" {
			s.t.Errorf("served as %s", head.Get("Content-Type"))
		}
		return
	}
	s.t.Error("no photo in the record")
}

func first(text string, _ http.Header) string { return text }
