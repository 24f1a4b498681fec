package main

import (
	"database/sql"
	"net"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/store"
)

// A copy of a newer flitch is whole, and this one cannot put it back: it says both.
func TestACopyOfANewerFlitchIsWholeAndOfNoUseHere(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "flitch.db")
	if err := store.Create(path); err != nil {
		t.Fatal(err)
	}
	db, err := sql.Open("sqlite3", path)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec("PRAGMA user_version = 9999"); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	code, out, wrong := typed(t, "backup", "--examine", folder)
	if code != exitProblem || !strings.HasPrefix(out, "whole: ") || !strings.Contains(wrong, "this flitch cannot put it back") || !strings.Contains(wrong, "or of a newer one") {
		t.Errorf("%d %s%s", code, out, wrong)
	}
	code, _, wrong = typed(t, "restore", folder, "--to", t.TempDir(), "--by", "T.V.")
	if code != exitProblem || !strings.Contains(wrong, "try: the flitch that made the copy") {
		t.Errorf("%d %s", code, wrong)
	}
}

// A port that somebody else has is said with what to do.
func TestAPortInUse(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	folder := t.TempDir()
	if err := store.Create(filepath.Join(folder, "flitch.db")); err != nil {
		t.Fatal(err)
	}
	text := strings.Replace(config.Sample("Larder"), `listen = "127.0.0.1:8411"`, `listen = "`+taken.Addr().String()+`"`, 1)
	file := filepath.Join(folder, "flitch.toml")
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	code, _, wrong := typed(t, "run", "--config", file)
	if code != exitProblem || !strings.Contains(wrong, "address already in use; try: stop what has that port") {
		t.Errorf("%d %s", code, wrong)
	}
}

// Who types an address that leads nowhere is told which port it was, and an empty file is one.
func TestAnAddressOfTheFleetThatLeadsNowhere(t *testing.T) {
	gone, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	at := gone.Addr().String()
	if err := gone.Close(); err != nil {
		t.Fatal(err)
	}
	code, _, wrong := typed(t, "fleet", "glance", "--database", "postgres://u:hunter2@"+at+"/flitch")
	if code != exitProblem || !strings.Contains(wrong, "PostgreSQL at "+at+", ") || !strings.Contains(wrong, "; try: the host and the port") || strings.Contains(wrong, "hunter2") {
		t.Errorf("%d %s", code, wrong)
	}
	empty := filepath.Join(t.TempDir(), "fleet")
	if err := os.WriteFile(empty, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	code, _, wrong = typed(t, "fleet", "glance", "--database-file", empty)
	if code != exitProblem || !strings.Contains(wrong, empty+" is empty; try: postgres://") {
		t.Errorf("%d %s", code, wrong)
	}
	if help := (fleetInitCommand{}).Help(); !strings.Contains(help, "'postgres:///flitch?host=/run/postgresql'") {
		t.Errorf("a shell would take the ? for a pattern: %s", help)
	}
}

// What a command line or a foreign file holds does not move the cursor of the terminal on which it
// is refused; lines stay lines.
func TestARefusalDoesNotMoveTheCursor(t *testing.T) {
	rows := filepath.Join(t.TempDir(), "rows.csv")
	if err := os.WriteFile(rows, []byte("thickness_mm,temp_C,odd\x1b[2Jone\n38,4,0\n38,\x1b[2J4,0\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{
		{"check", "--config", "no\x1b[2Jsuch\u202e"},
		{"no\x1b[2Jsuch"},
		{"reckon", "cure-time", "--rows", rows},
	} {
		_, _, wrong := typed(t, args...)
		if strings.ContainsAny(wrong, "\x1b\u202e") || !strings.Contains(wrong, "?[2J") && !strings.Contains(wrong, `\x1b[2J`) {
			t.Errorf("flitch %q: %q", args, wrong)
		}
	}
	if got := shownWith("one\n\ttwo\r\x00", "\n\t"); got != "one\n\ttwo??" {
		t.Errorf("%q", got)
	}
}

// What is asked to be read and never ends is refused, and an answer that nobody could hear is none.
func TestADeviceIsNoFile(t *testing.T) {
	for _, args := range [][]string{
		{"rehearse", "/dev/zero"},
		{"assess", "--plan", "belly-dry-cured", "--piece", "A:2268g:38mm", "--readings", "/dev/zero"},
		{"assess", "--plan", "/dev/zero", "--piece", "A:2268g:38mm", "--readings", "x.csv"},
		{"reckon", "cure-time", "--rows", "/dev/zero"},
		{"fleet", "glance", "--database-file", "/dev/zero"},
		{"verify", "x.db", "--key", "/dev/zero"},
	} {
		if code, _, wrong := typed(t, args...); code == exitFine || !strings.Contains(wrong, "/dev/zero is a device, not a file") {
			t.Errorf("flitch %q: %d %s", args, code, wrong)
		}
	}
}

// A fullWriter is a disk without room.
type fullWriter struct{}

func (fullWriter) Write([]byte) (int, error) { return 0, syscall.ENOSPC }

func TestAnAnswerThatIsNotWrittenIsNoSuccess(t *testing.T) {
	path := filepath.Join(t.TempDir(), "flitch.db")
	if err := store.Create(path); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"verify", path}, {"reckon"}, {"backup", "--examine", path}, {"init", filepath.Join(t.TempDir(), "larder")}} {
		var wrong strings.Builder
		code := execute(args, terminal{out: fullWriter{}, err: &wrong, now: time.Now, env: func(string) string { return "" }})
		if code != exitProblem || !strings.Contains(wrong.String(), "no space left") {
			t.Errorf("flitch %q: %d %s", args, code, wrong.String())
		}
	}
}
