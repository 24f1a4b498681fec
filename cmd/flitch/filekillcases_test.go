package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/backup"
	"flitch/process"
	"flitch/store"
)

// toRestore is a copy with the older readings, and an installation whose newer ones are in
// the log of its database only, as a daemon that was killed leaves them.
func toRestore(t *testing.T, dir string) {
	t.Helper()
	furnished(t, dir)
	live := filepath.Join(dir, "larder", "flitch.db")
	db, err := store.OpenReadOnly(live)
	if err != nil {
		t.Fatal(err)
	}
	order := backup.Order{Config: filepath.Join(dir, "larder", "flitch.toml"), Live: live, Folder: filepath.Join(dir, "stick"), Secrets: true, Now: noonOfTheCopy}
	if _, _, err := backup.Make(t.Context(), db, order); err != nil {
		t.Fatal(err)
	}
	db.Close()
	if err := os.Remove(filepath.Join(dir, "larder", "flitch.db.passwords")); err != nil { // it comes along
		t.Fatal(err)
	}
	writer, err := store.Open(live)
	if err != nil {
		t.Fatal(err)
	}
	defer writer.Close()
	var list []process.Reading
	for i := range readingsLive - readingsOld {
		at := noonOfTheCopy.Add(time.Duration(i+1) * time.Minute)
		list = append(list, process.Reading{Probe: "alder-bottle", Value: 4, Measured: at, Received: at})
	}
	if _, err := writer.CommitIntake(list, nil); err != nil {
		t.Fatal(err)
	}
	// A copy of the files while it is open is what a kill leaves.
	killed := filepath.Join(dir, "killed")
	for _, end := range []string{"", "-wal"} {
		data, err := os.ReadFile(live + end)
		if err == nil && (end == "" || len(data) > 0) {
			err = os.WriteFile(killed+end, data, 0o600)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := writer.Close(); err != nil {
		t.Fatal(err)
	}
	for _, end := range []string{"", "-wal"} {
		if err := os.Rename(killed+end, live+end); err != nil {
			t.Fatal(err)
		}
	}
}

// restoreAfter: what was there is whole, under its own name or aside, with what was in its
// log; and under its own name there is it, or the restored one with its line, or nothing.
func restoreAfter(dir string) error {
	live := filepath.Join(dir, "larder", "flitch.db")
	asides, err := filepath.Glob(live + ".before-*Z")
	if err != nil {
		return err
	}
	kept := false
	for _, path := range asides {
		kept = kept || holdsCopy(path, readingsLive) == nil
	}
	there := holdsCopy(live, readingsLive)
	switch {
	case there == nil:
		return nil
	case !kept:
		return fmt.Errorf("the database that was there is nowhere whole: %w", there)
	case holdsCopy(live, readingsOld) == nil:
		return restoredLine(live)
	}
	return fmt.Errorf("the live one is neither: %w", there)
}

// holdsCopy is holds of a copy of the files, so that looking changes nothing.
func holdsCopy(path string, readings int) error {
	dir, err := os.MkdirTemp("", "flitch-look-*")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	for _, end := range []string{"", "-wal"} {
		data, err := os.ReadFile(path + end)
		if errors.Is(err, fs.ErrNotExist) && end != "" {
			continue
		}
		if err == nil {
			err = os.WriteFile(filepath.Join(dir, "look.db"+end), data, 0o600)
		}
		if err != nil {
			return err
		}
	}
	return holds(filepath.Join(dir, "look.db"), readings)
}

func restoredLine(path string) error {
	db, err := store.OpenReadOnly(path)
	if err != nil {
		return err
	}
	defer db.Close()
	lines, err := db.Journal("")
	if err == nil && (len(lines) == 0 || lines[len(lines)-1].Kind != "restored") {
		err = errors.New("the journal does not say that it was restored")
	}
	return err
}

// restoreWhole ends at the restored one, and leaves one thing aside however often it was said:
// names are compared, so copies of the same thing are taken away here.
func restoreWhole(dir string) error {
	live := filepath.Join(dir, "larder", "flitch.db")
	err := errors.Join(holds(live, readingsOld), restoredLine(live))
	asides, _ := filepath.Glob(live + ".before-*")
	kept := 0
	for _, path := range asides {
		if !strings.HasSuffix(path, "-wal") && holdsCopy(path, readingsLive) == nil {
			kept++
		}
		err = errors.Join(err, os.Remove(path))
	}
	if kept == 0 {
		err = errors.Join(err, fmt.Errorf("the database that was there is not kept: %q", asides))
	}
	return err
}

// paper is what the daemon hands out, longer than one write.
var paper = bytes.Repeat([]byte("2031-05-05T06:00:00Z,core,65.5\n"), 20_000)

func oldPaper(t *testing.T, dir string) {
	if err := os.WriteFile(filepath.Join(dir, "record.csv"), []byte("the record of before\n"), 0o644); err != nil {
		t.Fatal(err)
	}
}

func paperWhole(before bool) func(dir string) error {
	return func(dir string) error {
		text, err := os.ReadFile(filepath.Join(dir, "record.csv"))
		if err != nil || !bytes.Equal(text, paper) && !(before && string(text) == "the record of before\n") {
			return fmt.Errorf("record.csv has %d bytes: %w", len(text), err)
		}
		return nil
	}
}

// withTLS is an installation before its first start, which makes its keys and root.
func withTLS(t *testing.T, dir string) {
	furnished(t, dir)
	path := filepath.Join(dir, "larder", "flitch.toml")
	text, err := os.ReadFile(path)
	if err == nil {
		err = os.WriteFile(path, bytes.Replace(text, []byte("[broker]"), []byte("tls = \"own\"\nnames = [\"localhost\"]\n[broker]"), 1), 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
}

func runWhole(dir string) error {
	return holds(filepath.Join(dir, "larder", "flitch.db"), readingsOld)
}

const tornHead = "the head of this file was torn out"

// damaged is toRestore with a database that nobody can open, and whose log cannot be folded
// in: a whole log would mend the head.
func damaged(t *testing.T, dir string) {
	toRestore(t, dir)
	for _, end := range []string{"", "-wal"} {
		file, err := os.OpenFile(filepath.Join(dir, "larder", "flitch.db"+end), os.O_WRONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		_, err = file.WriteString(tornHead)
		if err := errors.Join(err, file.Close()); err != nil {
			t.Fatal(err)
		}
	}
}

func head(path string) string {
	data, err := os.ReadFile(path)
	if err != nil {
		return ""
	}
	return string(data[:min(len(data), len(tornHead))])
}

// damagedAfter: the torn file and its torn log are together, under their own names or aside.
func damagedAfter(dir string) error {
	live := filepath.Join(dir, "larder", "flitch.db")
	asides, err := filepath.Glob(live + ".before-*Z")
	if err != nil {
		return err
	}
	for _, path := range append(asides, live) {
		if head(path) == tornHead && head(path+"-wal") == tornHead {
			return nil
		}
	}
	return fmt.Errorf("the torn database and its log are not together anywhere: %q", asides)
}

func damagedWhole(dir string) error {
	live := filepath.Join(dir, "larder", "flitch.db")
	err := errors.Join(damagedAfter(dir), holds(live, readingsOld), restoredLine(live))
	asides, _ := filepath.Glob(live + ".before-*")
	for _, path := range asides {
		err = errors.Join(err, os.Remove(path))
	}
	return err
}

// careless is a program that writes its file in place.
func careless() {
	if os.WriteFile(os.Args[1], paper, 0o644) != nil {
		os.Exit(1)
	}
}

// Control: the harness finds a file that is half under its final name.
func TestAHalfFileIsFound(t *testing.T) {
	d := deed{prepare: oldPaper, program: "careless", args: []string{"@/record.csv"}, after: paperWhole(true), whole: paperWhole(false)}
	points, kills, faults := d.everywhere(t, 1)
	if points < 2 || kills < 1 || len(faults) == 0 {
		t.Errorf("%d kills at %d points, and it says %q", kills, points, faults)
	}
}
