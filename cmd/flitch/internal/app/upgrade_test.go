package app

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"flitch/cmd/flitch/internal/verify"
	"flitch/process/evidence"
	"flitch/store"
)

// unpack puts a database of a released schema at the path.
func unpack(t testing.TB, packed, path string) {
	t.Helper()
	file, err := os.Open(packed)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	in, err := gzip.NewReader(file)
	if err != nil {
		t.Fatal(err)
	}
	data, err := io.ReadAll(in)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
}

const demoBatch = "OL-31-27" // the batch in them

// TestEachReleasedSchemaIsTaken: a database of each schema there was is migrated, verified,
// sealed, and gives the record of its batch.
func TestEachReleasedSchemaIsTaken(t *testing.T) {
	t.Parallel()
	files, err := filepath.Glob("../../../../testdata/databases/*.db.gz")
	if err != nil || len(files) < 4 {
		t.Fatalf("%d databases, %v", len(files), err)
	}
	migrations, err := filepath.Glob("../../../../store/migrations/*.sql")
	if err != nil || len(migrations) == 0 {
		t.Fatal(err)
	}
	for _, m := range migrations {
		schema, name, _ := strings.Cut(strings.TrimSuffix(filepath.Base(m), ".sql"), "_")
		if !slices.ContainsFunc(files, func(f string) bool { return strings.Contains(f, schema) }) && name != "photos" { // see the README there
			t.Errorf("no database of schema %s in testdata/databases", schema)
		}
	}
	for i, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) { upgrade(t, file, i < len(files)-1) })
	}
}

func upgrade(t *testing.T, file string, older bool) {
	s := newShop(t)
	unpack(t, file, s.cfg.Site.Database)
	before, err := store.Examine(s.cfg.Site.Database)
	if err != nil {
		t.Fatal(err)
	}
	s.clock = NewStepped(before.Newest.Add(minute))
	s.open()
	if up := s.app.db.Upgraded(); up != nil {
		if kept, err := store.Examine(up.Copy); err != nil || kept.Counts != before.Counts || kept.Readings != before.Readings {
			t.Errorf("the copy of before holds %+v, %v, want %+v", kept, err, before)
		}
	} else if older {
		t.Error("nothing was upgraded")
	}
	s.settle()
	for _, format := range []string{"csv", "json", "html"} {
		var paper bytes.Buffer
		if err := s.app.WriteRecord(t.Context(), demoBatch, format, &paper); err != nil || paper.Len() < 5000 {
			t.Errorf("%s: %d bytes, %v", format, paper.Len(), err)
		}
	}
	signed := filepath.Base(file) >= "0005" // before, and the key is not here
	if signed {
		s.proves(demoBatch, "")
	} else {
		s.proves(demoBatch, s.app.RecordKey())
	}
	s.close()
	report, err := verify.Database(t.Context(), s.cfg.Site.Database, "")
	if err != nil || report.First() != nil || !met(report, "clocks", "8 clocks") || !met(report, "seals", "stand over numbers 1 to") {
		t.Errorf("%v\n%v", err, lines(report))
	}
	if signed != strings.Contains(lines(report), "more than one key has signed") {
		t.Errorf("by whom it is signed:\n%s", lines(report))
	}
	if packed := filepath.Base(file) >= "0006"; packed != strings.Contains(lines(report), "blocks: ") {
		t.Errorf("in blocks or not:\n%s", lines(report))
	}
	after, err := store.Examine(s.cfg.Site.Database)
	if err != nil || after.Readings != before.Readings || after.Commands < before.Commands {
		t.Errorf("%+v became %+v, %v", before, after, err)
	}
}

// proves writes the proof of a batch and looks at it.
func (s *shop) proves(id, key string) []byte {
	s.t.Helper()
	var file bytes.Buffer
	if err := s.app.WriteRecord(s.patience(), id, "proof", &file); err != nil {
		s.t.Fatal(err)
	}
	report := verify.Proof(bytes.NewReader(file.Bytes()), key)
	if report.First() != nil || !met(report, "clocks", "as they are stated") || key != "" && !met(report, "whole file", key) {
		s.t.Errorf("proof of %s\n%s", id, lines(report))
	}
	return file.Bytes()
}

func met(r evidence.Report, what, text string) bool {
	return slices.ContainsFunc(r, func(f evidence.Finding) bool {
		return f.Word == evidence.Met && f.What == what && strings.Contains(f.Text, text)
	})
}

func lines(r evidence.Report) string {
	var b strings.Builder
	for _, f := range r {
		fmt.Fprintln(&b, f)
	}
	return b.String()
}

func plainText(t testing.TB, packed []byte) []byte {
	t.Helper()
	in, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(in)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// unpacked is the text of a packed file, or nil.
func unpacked(file []byte) []byte {
	in, err := gzip.NewReader(bytes.NewReader(file))
	if err != nil {
		return nil
	}
	text, err := io.ReadAll(in)
	if err != nil {
		return nil
	}
	return text
}
