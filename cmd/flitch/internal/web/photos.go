package web

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"net/http"
	"strings"

	"flitch/cmd/flitch/internal/photo"
	"flitch/process"
)

// maxUpload bounds a form with a picture, bytes: the picture, and what else is typed.
const maxUpload = photo.MaxBytes + maxForm

// takeNote takes a note, with or without a picture.
func (s *server) takeNote(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxUpload+1<<20) // a little more, so that a picture of a little too much is told of beside its field
	p := papersPage{page: s.fresh(r)}
	if err := r.ParseMultipartForm(maxUpload); err != nil && !errors.Is(err, http.ErrNotMultipart) {
		p.Sheet = sheet{Of: "note", Wrong: map[string]string{"photo": must("err.papers.large")}}
		p.Wrong = must("err.fields")
		s.showPapers(w, r, http.StatusUnprocessableEntity, r.PathValue("id"), p)
		return
	}
	p.Sheet = typedSheet("note", r.PostForm)
	c := s.sheetCommand(r, &p)
	c.Kind, c.Text = process.CommandNote, p.Sheet.Text
	s.identify(&c, process.CommandNote, "")
	kept := s.picture(r, p.Sheet)
	do := s.Commander.Do
	if kept.JPEG != nil {
		sum := sha256.Sum256(kept.JPEG)
		c.Photo = &process.Photo{SHA256: hex.EncodeToString(sum[:]), Width: kept.Width, Height: kept.Height}
		do = func(ctx context.Context, c process.Command) error { return s.Papers.NoteWithPhoto(ctx, c, kept.JPEG) }
	}
	if s.stopped(w, r, p, do, c) {
		return
	}
	remember(w, c.By)
	http.Redirect(w, r, papersPath(c.Batch)+"?done", http.StatusSeeOther)
}

// picture makes what is kept of the picture of a form; nothing when none came, or when
// something is wrong with it.
func (s *server) picture(r *http.Request, f sheet) photo.Kept {
	file, head, err := r.FormFile("photo")
	if err != nil || head.Size == 0 && head.Filename == "" { // browsers send an empty part for no choice
		return photo.Kept{}
	}
	defer file.Close()
	bytes, err := io.ReadAll(io.LimitReader(file, photo.MaxBytes+1))
	if err != nil {
		f.Wrong["photo"] = must("err.form")
		return photo.Kept{}
	}
	select { // one at a time: a large picture takes much memory
	case s.darkroom <- struct{}{}:
		defer func() { <-s.darkroom }()
	case <-r.Context().Done():
		f.Wrong["photo"] = must("err.form")
		return photo.Kept{}
	}
	kept, err := photo.Keep(bytes)
	if err != nil {
		f.Wrong["photo"] = must("err.papers.photo", err.Error())
	}
	return kept
}

// photo serves a picture of a note. It never changes under its address.
func (s *server) photo(w http.ResponseWriter, r *http.Request) {
	hash, named := strings.CutSuffix(r.PathValue("file"), ".jpg")
	if !named {
		http.NotFound(w, r)
		return
	}
	jpeg, err := s.Papers.Photo(r.Context(), r.PathValue("id"), hash)
	var no *process.Refusal
	switch {
	case errors.As(err, &no):
		http.Error(w, no.What, http.StatusNotFound)
		return
	case err != nil:
		s.broken(w, "read photo "+hash, err)
		return
	}
	h := w.Header()
	h.Set("Content-Type", "image/jpeg")
	h.Set("Cache-Control", "private, max-age=31536000, immutable")
	h.Set("ETag", `"`+hash+`"`)
	w.Write(jpeg) // the phone may be gone; nobody is left to be told
}
