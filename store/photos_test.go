package store

import (
	"bytes"
	"errors"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"flitch/process"
)

func savePhoto(t *testing.T, db *DB, jpeg []byte) {
	t.Helper()
	update(t, db, func(tx *Tx) error { return tx.SavePhoto(jpeg, noon) })
}

func TestAPhotoIsKeptUnderItsHash(t *testing.T) {
	path := newPath(t)
	db := open(t, path)
	jpeg := bytes.Repeat([]byte{0xff, 0xd8, 7}, 100_000)
	savePhoto(t, db, jpeg)
	savePhoto(t, db, jpeg) // the same picture again is no fault
	savePhoto(t, db, []byte("another"))
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	db = open(t, path)
	got, found, err := db.Photo(PhotoHash(jpeg))
	if err != nil || !found || !bytes.Equal(got, jpeg) {
		t.Errorf("%d bytes, found %v, %v", len(got), found, err)
	}
	if n := count(t, db, "photos"); n != 2 {
		t.Errorf("%d rows, want 2", n)
	}
	if _, found, err := db.Photo(strings.Repeat("0", 64)); found || err != nil {
		t.Errorf("a photo that nobody took: %v, %v", found, err)
	}
}

// The picture comes with the command that names it, or neither does.
func TestAPhotoComesWithItsCommand(t *testing.T) {
	db := newDB(t)
	stop := errors.New("stop")
	err := db.Update(func(tx *Tx) error {
		if _, _, err := tx.AppendCommand(process.Command{ID: "n1", Kind: process.CommandNote, Batch: "OL-1"}, noon); err != nil {
			return err
		}
		return errors.Join(tx.SavePhoto([]byte("jpeg"), noon), stop)
	})
	if !errors.Is(err, stop) || count(t, db, "photos") != 0 || count(t, db, "commands") != 0 {
		t.Errorf("%v: %d photos, %d commands", err, count(t, db, "photos"), count(t, db, "commands"))
	}
}

func TestAPhotoIsNeverChanged(t *testing.T) {
	db := newDB(t)
	savePhoto(t, db, []byte("jpeg"))
	for _, q := range []string{"UPDATE photos SET jpeg = x'00'", "DELETE FROM photos",
		"INSERT OR REPLACE INTO photos (hash, taken, jpeg) SELECT hash, taken, x'00' FROM photos"} {
		if _, err := db.writer.Exec(q); err == nil || !strings.Contains(err.Error(), "photos are never") {
			t.Errorf("%s: %v", q, err)
		}
	}
}

// A database of the schema before photos opens, keeps what it has, and takes one.
func TestPhotosComeToAnOldDatabase(t *testing.T) {
	path := filepath.Join(t.TempDir(), "old.db")
	old := raw(t, path)
	if err := migrate(old, must[[]string](t)(migrations())[:3]); err != nil {
		t.Fatal(err)
	}
	if _, err := old.Exec(`INSERT INTO commands (seq, id, at, batch, body) VALUES (1, 'n1', 1, 'OL-1', '{"kind":"note","batch":"OL-1","text":"before"}')`); err != nil {
		t.Fatal(err)
	}
	if err := old.Close(); err != nil {
		t.Fatal(err)
	}
	db := open(t, path)
	if kept := must[[]process.Input](t)(db.Commands("OL-1")); len(kept) != 1 || kept[0].Command.Text != "before" || kept[0].Command.Photo != nil {
		t.Errorf("commands %+v, want the note of before", kept)
	}
	update(t, db, func(tx *Tx) error {
		c := process.Command{ID: "n2", Kind: process.CommandNote, Batch: "OL-1", Photo: &process.Photo{SHA256: PhotoHash([]byte("jpeg")), Width: 4, Height: 3}}
		_, _, err := tx.AppendCommand(c, noon.Add(time.Hour))
		return errors.Join(err, tx.SavePhoto([]byte("jpeg"), noon))
	})
	if kept := must[[]process.Input](t)(db.Commands("OL-1")); len(kept) != 2 || kept[1].Command.Photo.Width != 4 {
		t.Errorf("commands %+v", kept)
	}
}
