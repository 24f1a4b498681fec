package api

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"time"

	"flitch/cmd/flitch/internal/photo"
	"flitch/process"
)

// PhotoPath is where a picture is sent for a batch at a path of this interface; the body is
// the picture. The rest of its note is in the query, in the words of a command.
func PhotoPath(batch, id, by, text string, at time.Time) string {
	q := url.Values{"id": {id}, "by": {by}, "text": {text}}
	if !at.IsZero() {
		q.Set("at", at.Format(time.RFC3339))
	}
	return batch + "/photos?" + q.Encode()
}

// notePhoto takes a note with a picture.
func (s *server) notePhoto(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	body := commandBody{ID: q.Get("id"), Kind: process.CommandNote, Batch: r.PathValue("id"), By: q.Get("by"), Text: q.Get("text")}
	at, err := moment(q, "at")
	if q.Get("at") != "" {
		body.At = &at
	}
	c := process.Command{}
	if err == nil {
		c, err = s.build(body)
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	file, err := io.ReadAll(http.MaxBytesReader(w, r.Body, photo.MaxBytes))
	if large, ok := errors.AsType[*http.MaxBytesError](err); ok {
		s.refuse(w, http.StatusRequestEntityTooLarge, fmt.Sprintf("the picture has more than %d MB", large.Limit>>20), "send a smaller one")
		return
	}
	if err != nil {
		return // the other side has gone
	}
	kept, err := s.develop(r, file)
	if err != nil {
		s.refuse(w, http.StatusUnprocessableEntity, err.Error(), "a JPEG, PNG or WebP picture")
		return
	}
	sum := sha256.Sum256(kept.JPEG)
	c.Photo = &process.Photo{SHA256: hex.EncodeToString(sum[:]), Width: kept.Width, Height: kept.Height}
	if err := s.Papers.NoteWithPhoto(r.Context(), c, kept.JPEG); err != nil {
		s.fail(w, r, err)
		return
	}
	s.reply(w, http.StatusOK, struct {
		OK      bool   `json:"ok"`
		Message string `json:"message"`
		ID      string `json:"id"`
		Photo   string `json:"photo"`
	}{true, s.taken(c) + fmt.Sprintf(", with a photo of %d by %d", kept.Width, kept.Height), c.ID, c.Photo.SHA256})
}

// develop makes what is kept of a picture, few at a time.
func (s *server) develop(r *http.Request, file []byte) (photo.Kept, error) {
	select {
	case s.drawing <- struct{}{}:
		defer func() { <-s.drawing }()
	case <-r.Context().Done():
		return photo.Kept{}, r.Context().Err()
	}
	return photo.Keep(file)
}
