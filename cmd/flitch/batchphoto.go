package main

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"time"

	"flitch/cmd/flitch/internal/api"
	"flitch/cmd/flitch/internal/photo"
)

// photoPatience is how long a picture may be under way (proposal).
const photoPatience = 2 * time.Minute

// sendPhoto sends a note with a picture.
func (c batchNoteCommand) sendPhoto(t terminal, text string) error {
	by, err := c.signature(t)
	if err != nil {
		return err
	}
	file, err := readPhoto(c.Photo)
	if err != nil {
		return err
	}
	daemon, err := c.daemon(t)
	if err != nil {
		return err
	}
	at, err := parseMoment(c.At, t.now(), daemon.zone)
	if err != nil {
		return err
	}
	batch, err := c.path("/api/batches/")
	if err != nil {
		return err
	}
	path := api.PhotoPath(batch, rand.Text(), by, text, at)
	message, err := daemon.upload(path, file)
	if err == nil {
		_, err = fmt.Fprintln(t.out, message)
	}
	return err
}

// readPhoto reads a picture that is not larger than what is taken.
func readPhoto(path string) ([]byte, error) {
	const try = "--photo with the path of a JPEG, PNG or WebP picture"
	file, err := os.Open(path)
	if err != nil {
		return nil, misuse(try, "%v", err)
	}
	defer file.Close()
	text, err := io.ReadAll(io.LimitReader(file, photo.MaxBytes+1))
	if err != nil { // a folder
		return nil, misuse(try, "%v", err)
	}
	if len(text) > photo.MaxBytes {
		return nil, misuse("a smaller picture", "%s has more than %d MB", path, photo.MaxBytes>>20)
	}
	return text, nil
}

// upload sends a picture and returns what was taken.
func (d *daemon) upload(path string, file []byte) (message string, err error) {
	ctx, cancel := context.WithTimeout(context.Background(), photoPatience)
	defer cancel()
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, d.base+path, bytes.NewReader(file))
	if err != nil {
		return "", fmt.Errorf("asking the daemon: %w", err)
	}
	request.Header.Set("Content-Type", "application/octet-stream")
	if token := d.session(); token != "" {
		request.Header.Set("Authorization", "Bearer "+token)
	}
	answer, err := d.client.Do(request)
	if err != nil {
		return "", d.silent(err, true)
	}
	defer answer.Body.Close()
	if answer.StatusCode != http.StatusOK {
		return "", d.refused(answer)
	}
	var said struct {
		Message string `json:"message"`
	}
	if err := json.NewDecoder(io.LimitReader(answer.Body, maxAnswer)).Decode(&said); err != nil {
		return "", d.strange(fmt.Sprintf("an answer that is not JSON: %v", err))
	}
	return said.Message, nil
}
