package app

import (
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/verify"
	"flitch/process"
	"flitch/process/engine"
	"flitch/process/evidence"
	"flitch/store/fleet"
	"flitch/store/fleet/fleettest"
)

// fleetOf makes the database of a fleet with a user for this site, and lets the site belong to it.
func (s *shop) fleetOf(server *fleettest.Server) (database string) {
	s.t.Helper()
	database = server.Database()
	owner, err := fleet.ParseAddress(server.URL("owner", database))
	if err != nil {
		s.t.Fatal(err)
	}
	if _, _, err := fleet.Migrate(s.t.Context(), owner); err != nil {
		s.t.Fatal(err)
	}
	user := server.User("site")
	if err := fleet.Allow(s.t.Context(), owner, user, true); err != nil {
		s.t.Fatal(err)
	}
	s.cfg.Fleet = config.Fleet{URL: config.NewSecret(server.URL(user, database)), Site: "plover", Every: 10 * time.Second}
	return database
}

// siteIn reads the site as the fleet has it.
func siteIn(t *testing.T, server *fleettest.Server, database string) (*fleet.Reader, *fleet.Site) {
	t.Helper()
	at, err := fleet.ParseAddress(server.URL("owner", database))
	if err != nil {
		t.Fatal(err)
	}
	r, err := fleet.Open(t.Context(), at)
	if err != nil {
		t.Fatal(err)
	}
	sites, err := r.Sites(t.Context(), "")
	if err != nil || len(sites) == 0 {
		r.Close()
		return nil, nil
	}
	return r, sites[0]
}

// arrived waits, stepping the clock by what a turn takes, until want is true of the site.
func (s *shop) arrived(server *fleettest.Server, database string, want func(*fleet.Site) bool) bool {
	s.t.Helper()
	return s.until(func() bool {
		s.clock.Step(s.clock.Now().Add(11 * time.Second))
		r, site := siteIn(s.t.(*testing.T), server, database)
		if r == nil {
			return false
		}
		defer r.Close()
		return want(site)
	})
}

// fleetShop is a site with a closed batch, all of which was sent: its log, and its record.
func fleetShop(t *testing.T, server *fleettest.Server) (s *shop, database string) {
	s = newShop(t)
	database = s.fleetOf(server)
	s.open()
	s.smallBatch()
	if !s.arrived(server, database, func(site *fleet.Site) bool {
		papers, err := site.Papers(t.Context())
		return err == nil && len(papers) == 1
	}) {
		t.Fatalf("no record arrived: %+v", s.app.fleet.Status())
	}
	return s, database
}

func siteReport(t *testing.T, server *fleettest.Server, database string) evidence.Report {
	t.Helper()
	r, site := siteIn(t, server, database)
	if r == nil {
		t.Fatal("no site")
	}
	defer r.Close()
	report, err := verify.Site(t.Context(), site, "")
	if err != nil {
		t.Fatal(err)
	}
	return report
}

// The life of a batch, seen from the fleet: what the page says, and what verify finds, is the
// same there as here.
func TestTheFleetSeesWhatTheSiteSees(t *testing.T) {
	server := fleettest.Start(t)
	s := newShop(t)
	database := s.fleetOf(server)
	s.open()
	s.at(0)
	s.begin(cooked)
	s.read("slow", 3.25)
	if !s.arrived(server, database, func(site *fleet.Site) bool {
		rows, err := site.States()
		return err == nil && len(rows) == 1 && site.Glance != nil && len(site.Glance.Batches) == 1 && site.Glance.Batches[0].ID == "PS-02"
	}) {
		t.Fatalf("the batch is not there: %+v", s.app.fleet.Status())
	}
	s.every(10*minute, 10*minute, 9*time.Hour, func(time.Duration) { s.read("slow", 9) }) // warm for hours
	if !s.arrived(server, database, func(site *fleet.Site) bool {
		return site.Glance != nil && site.Glance.State == "now" && strings.Contains(fmt.Sprint(site.Glance.Alarms), "C2 ring")
	}) {
		t.Fatalf("the fleet does not know that it rings: %+v", s.app.fleet.Status())
	}
	report := siteReport(t, server, database)
	if bad := report.First(); bad != nil || !strings.Contains(lines(report), "clocks come out of the stored readings") {
		t.Errorf("\n%s", lines(report))
	}
}

func TestAClosedBatchIsProvedInTheFleet(t *testing.T) {
	server := fleettest.Start(t)
	s, database := fleetShop(t, server)
	report := siteReport(t, server, database)
	if text := lines(report); report.First() != nil || !strings.Contains(text, "1 records are as their proofs state them") {
		t.Errorf("\n%s", text)
	}
	s.must(process.Command{Kind: process.CommandNote, Text: "the label came off", At: s.clock.Now()})
	if !s.arrived(server, database, func(site *fleet.Site) bool {
		papers, err := site.Papers(t.Context())
		return err == nil && len(papers) == 2
	}) {
		t.Fatalf("a note after the close made no other record: %+v", s.app.fleet.Status())
	}
	if report := siteReport(t, server, database); report.First() != nil {
		t.Errorf("\n%s", lines(report))
	}
}

// inFleet are changes that somebody makes who owns the database and switches off what guards it.
// A ? is a number by chance.
var inFleet = []struct {
	name  string
	times int
	sql   string
}{
	{"another value", 4, "UPDATE flitch.readings SET value = value + 0.01 WHERE seq = (SELECT seq FROM flitch.readings ORDER BY seq LIMIT 1 OFFSET ? % (SELECT count(*) FROM flitch.readings))"},
	{"no value", 2, "UPDATE flitch.readings SET value = NULL WHERE seq = (SELECT seq FROM flitch.readings ORDER BY seq LIMIT 1 OFFSET ? % (SELECT count(*) FROM flitch.readings))"},
	{"an earlier time", 4, "UPDATE flitch.readings SET measured = measured - 1 WHERE seq = (SELECT seq FROM flitch.readings ORDER BY seq LIMIT 1 OFFSET ? % (SELECT count(*) FROM flitch.readings))"},
	{"drop a reading", 4, "DELETE FROM flitch.readings WHERE seq = (SELECT seq FROM flitch.readings ORDER BY seq LIMIT 1 OFFSET ? % (SELECT count(*) FROM flitch.readings))"},
	{"a reading of another probe", 2, "UPDATE flitch.readings SET probe = 'other' WHERE seq = (SELECT seq FROM flitch.readings ORDER BY seq LIMIT 1 OFFSET ? % (SELECT count(*) FROM flitch.readings))"},
	{"a reading put in before all", 2, "INSERT INTO flitch.readings (site, seq, at, probe, measured, received, value) SELECT site, 0 - ? % 3, at, probe, measured - 1, received, value FROM flitch.readings LIMIT 1"},
	{"a reading put in behind all", 2, "INSERT INTO flitch.readings (site, seq, at, probe, measured, received, value) SELECT site, 900000 + ?, at, probe, measured - 1, received, value FROM flitch.readings LIMIT 1"},
	{"a reading left out by a mark", 2, "UPDATE flitch.readings SET quality = 2, reason = 'spike', raw = '' WHERE seq = (SELECT seq FROM flitch.readings ORDER BY seq LIMIT 1 OFFSET ? % (SELECT count(*) FROM flitch.readings))"},
	{"a batch moved to another site", 1, "UPDATE flitch.readings SET site = 7 WHERE ? >= 0"},
	{"drop a tick", 2, "DELETE FROM flitch.ticks WHERE seq = (SELECT seq FROM flitch.ticks ORDER BY seq LIMIT 1 OFFSET ? % (SELECT count(*) FROM flitch.ticks))"},
	{"drop what was said", 3, "DELETE FROM flitch.commands WHERE seq = (SELECT seq FROM flitch.commands ORDER BY seq LIMIT 1 OFFSET ? % (SELECT count(*) FROM flitch.commands))"},
	{"another note", 1, "UPDATE flitch.commands SET body = replace(body, 'wind', 'sun ') WHERE body LIKE '%wind%' AND ? >= 0"},
	{"said by another", 2, "UPDATE flitch.commands SET body = replace(body, 'T.V.', 'M.O.') WHERE seq = (SELECT seq FROM flitch.commands WHERE body LIKE '%T.V.%' ORDER BY seq LIMIT 1 OFFSET ? % 5)"},
	{"drop a line of the journal", 3, "DELETE FROM flitch.journal WHERE seq = 1 + ? % (SELECT max(seq) FROM flitch.journal)"},
	{"another text in the journal", 3, "UPDATE flitch.journal SET text = text || '.' WHERE seq = 1 + ? % (SELECT max(seq) FROM flitch.journal)"},
	{"another hash in the journal", 2, "UPDATE flitch.journal SET hash = repeat('a', 64) WHERE seq = 1 + ? % (SELECT max(seq) FROM flitch.journal)"},
	{"the end of the journal cut off", 1, "DELETE FROM flitch.journal WHERE seq > ? % 3 + 2"},
	{"drop a signature", 2, "DELETE FROM flitch.signatures WHERE line = (SELECT line FROM flitch.signatures ORDER BY line LIMIT 1 OFFSET ? % (SELECT count(*) FROM flitch.signatures))"},
	{"another signature", 2, "UPDATE flitch.signatures SET signature = decode(repeat('ab', 64), 'hex') WHERE line = (SELECT line FROM flitch.signatures ORDER BY line LIMIT 1 OFFSET ? % (SELECT count(*) FROM flitch.signatures))"},
	{"drop the batch", 1, "DELETE FROM flitch.states WHERE ? >= 0"},
	{"a batch open again", 1, "UPDATE flitch.states SET status = 'open' WHERE ? >= 0"},
	{"a clock of the batch", 1, `UPDATE flitch.states SET state = regexp_replace(state, '"limit_min":', '"limit_min":1') WHERE ? >= 0`},
	{"another verdict in the record", 1, `UPDATE flitch.records SET record = replace(record::text, '"not met"', '"met"')::json WHERE ? >= 0`},
	{"another proof", 2, "UPDATE flitch.records SET proof = set_byte(proof, 40 + ?::int % 400, (get_byte(proof, 40 + ?::int % 400) + 1) % 256) WHERE ? >= 0"},
	{"the mark moved back", 1, "UPDATE flitch.sites SET log_seq = log_seq - 1 - ? % 3"},
	{"the mark moved on", 1, "UPDATE flitch.sites SET journal_seq = journal_seq + 1 + ? % 3"},
}

// unguarded switches off the triggers for what follows.
const unguarded = "SET session_replication_role = replica; "

func TestEveryChangeInTheFleetIsFound(t *testing.T) {
	server := fleettest.Start(t, "fsync=off")
	s, database := fleetShop(t, server)
	s.close()
	if report := siteReport(t, server, database); report.First() != nil {
		t.Fatalf("\n%s", lines(report))
	}
	back := "UPDATE flitch.sites s SET (log_seq, log_digest, journal_seq, journal_hash) = (SELECT log_seq, log_digest, journal_seq, journal_hash FROM saved.sites); "
	save := "CREATE SCHEMA saved; CREATE TABLE saved.sites AS TABLE flitch.sites; "
	for _, table := range []string{"readings", "commands", "ticks", "journal", "signatures", "states", "records"} {
		save += "CREATE TABLE saved." + table + " AS TABLE flitch." + table + "; "
		back += "DELETE FROM flitch." + table + "; INSERT INTO flitch." + table + " TABLE saved." + table + "; "
	}
	server.Do(database, save)
	made, chance := 0, rand.New(rand.NewPCG(7, 4))
	for _, kind := range inFleet {
		example := ""
		for range kind.times {
			n := fmt.Sprint(chance.IntN(1_000_000))
			server.Do(database, unguarded+strings.ReplaceAll(kind.sql, "?", n))
			bad := siteReport(t, server, database).First()
			server.Do(database, unguarded+back)
			if bad == nil {
				t.Errorf("%s (%s): not found", kind.name, n)
			} else {
				example = bad.What + ": " + bad.Text
			}
			made++
		}
		t.Logf("%d × %-32s such as %.150s", kind.times, kind.name, example)
	}
	if report := siteReport(t, server, database); report.First() != nil {
		t.Errorf("the way back is not one:\n%s", lines(report))
	}
	t.Logf("%d faults: changes in PostgreSQL, each found and named", made)
	if made < 50 {
		t.Errorf("only %d changes were made", made)
	}
}

// A copy of the database is started under the same name: one of the two stops sending, a person
// is told by the page, and the watch goes on.
func TestACopyUnderTheSameNameIsTold(t *testing.T) {
	server := fleettest.Start(t)
	s := newShop(t)
	database := s.fleetOf(server)
	s.open()
	s.at(0)
	s.read("slow", 3)
	if !s.arrived(server, database, func(site *fleet.Site) bool { return !site.LogAt.IsZero() }) {
		t.Fatal("nothing arrived")
	}
	server.Do(database, "SET session_replication_role = replica; UPDATE flitch.sites SET log_digest = 'of a copy'")
	if !s.until(func() bool {
		s.clock.Step(s.clock.Now().Add(11 * time.Second))
		return s.app.fleet.Status().Class == fleet.History
	}) {
		t.Fatal("it is not seen")
	}
	s.read("slow", 3.5) // the watch goes on
	s.settle()
	if !s.until(func() bool {
		for _, f := range s.app.health(context.Background()) {
			if f.Name == engine.FaultFleet {
				return strings.Contains(f.Text, "flitch fleet adopt") && !strings.Contains(f.Text, "smoke")
			}
		}
		return false
	}) {
		t.Error("the page does not tell what to do")
	}
	for range 13 {
		s.clock.Step(s.clock.Now().Add(6 * time.Minute))
		s.settle()
	}
	if !s.until(func() bool { return strings.Contains(strings.Join(s.phone.heard(), "; "), "B7f raised tell") }) {
		t.Error("no phone heard of it")
	}
}

// A site that has removed old readings by its rule before it belonged to a fleet: verify says there
// what is missing and why, and finds where more is missing than the journal says.
func TestWhatWasRemovedBeforeItWasSent(t *testing.T) {
	server := fleettest.Start(t)
	s := oldShop(t)
	s.at(80 * days) // a tick is newer than what goes
	if err := s.app.seals.seal(t.Context()); err != nil {
		t.Fatal(err)
	}
	packed(t, s.app.db)
	if len(s.removeBy(dawn.Add(80*days))) == 0 {
		t.Fatal("nothing was removed")
	}
	s.close()
	s.clock = NewStepped(dawn.Add(80 * days))
	database := s.fleetOf(server)
	s.open()
	if !s.arrived(server, database, func(site *fleet.Site) bool {
		papers, err := site.Papers(t.Context())
		return err == nil && len(papers) == 1
	}) {
		t.Fatalf("nothing arrived: %+v", s.app.fleet.Status())
	}
	report := siteReport(t, server, database)
	if text := lines(report); report.First() != nil || !strings.Contains(text, "were removed at the site before they were sent") || !strings.Contains(text, "clocks come out of the stored readings") {
		t.Errorf("\n%s", text)
	}
	for _, sql := range []string{
		"DELETE FROM flitch.removed WHERE line = (SELECT min(line) FROM flitch.removed)",
		"UPDATE flitch.removed SET sha256 = repeat('a', 64) WHERE line = (SELECT max(line) FROM flitch.removed)",
		"UPDATE flitch.removed SET rows = rows + 1 WHERE line = (SELECT max(line) FROM flitch.removed)",
		"INSERT INTO flitch.removed SELECT site, line, 'probe other', 5, sha256 FROM flitch.removed LIMIT 1",
	} {
		server.Do(database, "CREATE TABLE saved AS TABLE flitch.removed; "+unguarded+sql)
		if bad := siteReport(t, server, database).First(); bad == nil {
			t.Errorf("%s: not found", sql)
		}
		server.Do(database, unguarded+"DELETE FROM flitch.removed; INSERT INTO flitch.removed TABLE saved; DROP TABLE saved")
	}
}

// Readings of a closed batch that the site removed after they were sent are imported there once
// more: they arrive once more, and the clocks of the batch come out of those it was closed by.
func TestWhatWasRemovedAndImportedAgain(t *testing.T) {
	server := fleettest.Start(t)
	s, database := fleetShop(t, server)
	all := func(log engine.Log) (list []process.Reading) {
		if err := log.EachReading([]string{"core"}, dawn, time.Time{}, func(_ int64, r process.Reading) error { list = append(list, r); return nil }); err != nil {
			t.Fatal(err)
		}
		return list
	}
	was := all(s.app.db)
	if err := s.app.seals.seal(t.Context()); err != nil {
		t.Fatal(err)
	}
	packed(t, s.app.db)
	s.removeBy(dawn.Add(800 * days)) // the batch's own time is over
	left := len(all(s.app.db))
	for i := range was {
		r := &was[i]
		r.Value, r.Quality, r.Reason, r.Raw, r.Device = r.Value-1, process.Suspect, process.Imported, "", time.Time{}
	}
	done, err := s.app.db.CommitIntake(was, nil)
	if err != nil || done.Stored != len(was)-left || done.Stored == 0 {
		t.Fatalf("%+v of %d, of which %d were not removed: %v", done, len(was), left, err)
	}
	if !s.arrived(server, database, func(site *fleet.Site) bool { return len(all(site)) == len(was)+done.Stored }) {
		t.Fatalf("what was imported again did not arrive: %+v", s.app.fleet.Status())
	}
	report := siteReport(t, server, database)
	if text := lines(report); report.First() != nil || !strings.Contains(text, "clocks come out of the stored readings") {
		t.Errorf("\n%s", text)
	}
}
