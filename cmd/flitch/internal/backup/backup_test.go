package backup

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/process"
	"flitch/store"
)

var noon = time.Date(2031, 5, 2, 12, 0, 0, 0, time.UTC)

// larder is an installation with some readings and a secret, as flitch init makes it.
func larder(t *testing.T) (folder string, db *store.DB) {
	t.Helper()
	folder = t.TempDir()
	path := filepath.Join(folder, "flitch.db")
	if err := store.Create(path); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{"flitch.toml": config.Sample("Oddwick Lane Larder"), "flitch.db.passwords": "T.V. argon2id\n"} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	db, err := store.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	hear(t, db, 0, 50)
	return folder, db
}

// hear stores n readings, one a minute, after so many minutes.
func hear(t *testing.T, db *store.DB, after, n int) {
	t.Helper()
	var list []process.Reading
	for i := range n {
		at := noon.Add(time.Duration(after+i) * time.Minute)
		list = append(list, process.Reading{Probe: "alder-bottle", Value: 3.5, Measured: at, Received: at})
	}
	if _, err := db.CommitIntake(list, nil); err != nil {
		t.Fatal(err)
	}
}

func order(folder, to string, now time.Time) Order {
	return Order{Config: filepath.Join(folder, "flitch.toml"), Live: filepath.Join(folder, "flitch.db"), Folder: to, Now: now, Secrets: true}
}

func make1(t *testing.T, db *store.DB, o Order) Copy {
	t.Helper()
	c, _, err := Make(t.Context(), db, o)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestACardThatDiedCostsWhatCameAfterTheCopy(t *testing.T) {
	folder, db := larder(t)
	c := make1(t, db, order(folder, filepath.Join(t.TempDir(), "stick"), noon.Add(time.Hour)))
	hear(t, db, 50, 20) // after it; then the card dies
	to := filepath.Join(t.TempDir(), "new card")
	done, err := Restore(Return{From: c.Folder, To: to, By: "T.V.", Now: noon.Add(3 * time.Hour)})
	if err != nil {
		t.Fatal(err)
	}
	if want := noon.Add(49 * time.Minute); done.Readings != 50 || !done.Newest.Equal(want) {
		t.Errorf("%d readings, the newest of %s, want 50 and %s", done.Readings, done.Newest, want)
	}
	slices.Sort(done.Beside)
	if want := []string{filepath.Join(to, "flitch.db.passwords"), filepath.Join(to, "flitch.toml")}; !slices.Equal(done.Beside, want) {
		t.Errorf("came along %q, want %q", done.Beside, want)
	}
	again, err := store.Open(filepath.Join(to, "flitch.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	lines, err := again.Journal("")
	if err != nil || len(lines) != 1 || lines[0].By != "T.V." || !strings.Contains(lines[0].Text, "2031-05-02T12:49:00Z") {
		t.Errorf("journal %+v, %v", lines, err)
	}
	if _, err := config.Load(filepath.Join(to, "flitch.toml")); err != nil {
		t.Errorf("the configuration that came along: %v", err)
	}
}

// What is there is moved aside, never lost, and not while a daemon has it.
func TestRestoreReplacesNothingUnasked(t *testing.T) {
	folder, db := larder(t)
	c := make1(t, db, order(folder, t.TempDir(), noon))
	r := Return{From: c.Folder, To: folder, By: "T.V.", Now: noon.Add(time.Hour)}
	if _, err := Restore(r); !errors.Is(err, ErrThere) {
		t.Errorf("%v, want ErrThere", err)
	}
	r.Replace = true
	if _, err := Restore(r); !errors.Is(err, store.ErrLocked) {
		t.Errorf("beside a daemon: %v, want ErrLocked", err)
	}
	hear(t, db, 50, 5)
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	done, err := Restore(r)
	if err != nil {
		t.Fatal(err)
	}
	if len(done.Beside) != 0 {
		t.Errorf("%q were there and were written", done.Beside)
	}
	if aside, err := store.Examine(done.Aside); err != nil || aside.Readings != 55 {
		t.Errorf("the database that was there: %+v, %v, want all 55 readings", aside, err)
	}
}

func TestRestoreRefusesACopyThatIsNotWhole(t *testing.T) {
	folder, db := larder(t)
	c := make1(t, db, order(folder, t.TempDir(), noon))
	whole, err := os.ReadFile(c.Database())
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(c.Database(), whole[:len(whole)-4096], 0o600); err != nil {
		t.Fatal(err)
	}
	to := filepath.Join(t.TempDir(), "new")
	if _, err := Restore(Return{From: c.Folder, To: to, By: "T.V.", Now: noon}); err == nil {
		t.Error("a copy that was cut off was put back")
	}
	if _, err := os.Stat(to); err == nil {
		t.Error("a refused restore left a folder")
	}
}

func TestTheNewestCopiesAreKept(t *testing.T) {
	folder, db := larder(t)
	to := t.TempDir()
	for i := range 4 {
		make1(t, db, order(folder, to, noon.Add(time.Duration(i)*time.Hour)))
	}
	for _, other := range []string{"flitch-20310502T180000Z.part", "flitch-soon", "holiday"} {
		if err := os.Mkdir(filepath.Join(to, other), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	if removed, err := Thin(to, 2, Copy{}); err != nil || removed != 2 {
		t.Errorf("%d removed, %v, want 2", removed, err)
	}
	all, err := List(to)
	if err != nil || len(all) != 2 || !all[0].At.Equal(noon.Add(3*time.Hour)) || !all[1].At.Equal(noon.Add(2*time.Hour)) {
		t.Errorf("left %v, %v, want those of 15:00 and 14:00", all, err)
	}
	if _, err := os.Stat(filepath.Join(to, "holiday")); err != nil {
		t.Error("what is not ours was removed")
	}
	if removed, err := Thin(to, 0, Copy{}); err != nil || removed != 1 {
		t.Errorf("keep none: %d removed, %v; the newest has to stay", removed, err)
	}
}

func TestACopyWithoutSecretsHasNone(t *testing.T) {
	folder, db := larder(t)
	o := order(folder, t.TempDir(), noon)
	o.Secrets = false
	c := make1(t, db, o)
	entries, err := os.ReadDir(c.Folder)
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	if want := []string{"flitch.db", "flitch.toml"}; err != nil || !slices.Equal(names, want) {
		t.Errorf("%q, %v, want %q", names, err, want)
	}
	if _, _, err := Make(t.Context(), db, o); err == nil {
		t.Error("two copies of one moment")
	}
}

func TestACopyIsHandedOnByTheHousesCommand(t *testing.T) {
	folder, db := larder(t)
	c := make1(t, db, order(folder, t.TempDir(), noon))
	away := filepath.Join(t.TempDir(), "away")
	if err := HandOn(t.Context(), []string{"cp", "-r", "{copy}", away}, c); err != nil {
		t.Fatal(err)
	}
	if _, err := store.Examine(filepath.Join(away, "flitch.db")); err != nil {
		t.Error(err)
	}
	err := HandOn(t.Context(), []string{"sh", "-c", "echo first; echo no route to host >&2; exit 12"}, c)
	if err == nil || !strings.Contains(err.Error(), "12") || !strings.HasSuffix(err.Error(), "no route to host") {
		t.Errorf("%v, want the end and the last words", err)
	}
	if err := HandOn(t.Context(), []string{"no-such-program"}, c); err == nil {
		t.Error("a program that is not there was run")
	}
}
