package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"

	"flitch/cmd/flitch/internal/app"
	"flitch/cmd/flitch/internal/verify"
	"flitch/process/evidence"
)

type verifyCommand struct {
	File     string   `arg:"" help:"The database, the proof of a batch (flitch record BATCH --format proof), or the CSV of its readings."`
	Key      []string `help:"Fingerprint of the key that should have signed, or a file with the public key. Twice after a key was lost." placeholder:"KEY" sep:"none"`
	Against  *string  `help:"Of a CSV: the proof, or the JSON of the record, that states its SHA-256. Of a database: a proof made before, whose seals have to stand in it." placeholder:"FILE"`
	PrintKey bool     `help:"Print the public key of a database, to be given away before anything is in doubt."`
}

// Help says what is looked at.
func (verifyCommand) Help() string {
	return "Of a database: SQLite's own check, the chain of the journal, every seal over readings and entries, the signatures, and every clock computed anew. " +
		"Of a proof the same, from what is in the file. It changes nothing, needs no daemon, and ends with 1 when anything is not met. " +
		"A proof is written by flitch record --format proof.\n\nExample:\n\n" +
		"    flitch verify flitch.db --print-key\n    flitch verify OL-31-04.proof.gz --key flitch.pem"
}

// Run looks at the file.
func (c verifyCommand) Run(t terminal) error {
	if c.PrintKey {
		return c.printKey(t)
	}
	given, err := c.given()
	if err != nil {
		return err
	}
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGINT, syscall.SIGTERM)
	defer stop()
	report, err := c.look(ctx, given)
	if err != nil {
		return err
	}
	for _, f := range report {
		fmt.Fprintln(t.out, f)
	}
	fmt.Fprintln(t.out, "\nWhat this does not show:")
	for _, text := range evidence.Limits {
		fmt.Fprintln(t.out, "-", text)
	}
	if bad := report.First(); bad != nil {
		return problem("", "%s is not as it was written; first: %s: %s", c.File, bad.What, bad.Text)
	}
	return nil
}

func (c verifyCommand) printKey(t terminal) error {
	key, text, err := app.PublicKey(c.File)
	if errors.Is(err, fs.ErrNotExist) {
		return problem("flitch run makes one at its first start", "there is no key beside %s", c.File)
	}
	if err != nil {
		return problem("", "%v", err)
	}
	fmt.Fprintf(t.out, "%s", text)
	fmt.Fprintln(t.err, evidence.Fingerprint(key))
	return nil
}

// given are the fingerprints of the keys that were named.
func (c verifyCommand) given() (string, error) {
	var names []string
	for _, key := range c.Key {
		name, err := fingerprint(key)
		if err != nil {
			return "", err
		}
		names = append(names, name)
	}
	return strings.Join(names, ","), nil
}

func fingerprint(key string) (string, error) {
	if name, ok := evidence.ParseFingerprint(key); ok {
		return name, nil
	}
	text, err := readFile(key)
	if err != nil {
		return "", misuse("--key SHA256:0123..., or the file with the public key", "%q is no fingerprint, and no file: %v", key, err)
	}
	name, err := app.ParsePublicKey(text)
	if err != nil {
		return "", misuse("--key SHA256:0123..., or the file with the public key", "%s: %v", key, err)
	}
	return name, nil
}

// sqliteHead is how every database begins.
const sqliteHead = "SQLite format 3\x00"

func (c verifyCommand) look(ctx context.Context, given string) (evidence.Report, error) {
	file, err := os.Open(c.File)
	if err != nil {
		return nil, problem("flitch verify flitch.db", "%v", err)
	}
	defer file.Close()
	head := make([]byte, len(sqliteHead))
	n, err := io.ReadFull(file, head)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) && !errors.Is(err, io.EOF) {
		return nil, problem("flitch verify flitch.db", "%v", err)
	}
	switch {
	case string(head) == sqliteHead || filepath.Ext(c.File) == ".db":
		return c.database(ctx, given)
	case filepath.Ext(c.File) == ".csv":
		return c.csv(file, head[:n], given)
	}
	if n > 0 && !evidence.Begins(head[:n]) && !strings.Contains(filepath.Base(c.File), ".proof") {
		return nil, problem("flitch verify flitch.db, or the file of flitch record BATCH --format proof", "%s is no database and no proof", c.File)
	}
	if c.Against != nil {
		return nil, misuse("flitch verify "+c.File+", and flitch verify flitch.db --against "+c.File, "--against is for a database or a CSV, and this is taken for a proof")
	}
	return verify.Proof(io.MultiReader(bytes.NewReader(head[:n]), file), given), nil
}

// database looks at a database, and at what a proof that was made before says of it.
func (c verifyCommand) database(ctx context.Context, given string) (evidence.Report, error) {
	var earlier io.ReadCloser
	if c.Against != nil {
		var err error
		if earlier, err = c.against("proof", evidence.Begins); err != nil {
			return nil, err
		}
		defer earlier.Close()
	}
	report, err := verify.Database(ctx, c.File, given)
	if err != nil {
		return nil, problem("", "%v", err)
	}
	if earlier == nil {
		return report, nil
	}
	more, err := verify.Against(c.File, earlier, given)
	if err != nil {
		return nil, problem("", "%v", err)
	}
	return append(report, more...), nil
}

// against opens the file that something is held against, whose beginning has to be right: what is
// no such file must not accuse the other one.
func (c verifyCommand) against(kind string, begins func(head []byte) bool) (io.ReadCloser, error) {
	const try = "--against OL-31-04.proof.gz"
	if *c.Against == "" {
		return nil, misuse(try, "--against names no file")
	}
	file, err := openFile(*c.Against)
	if err != nil {
		return nil, problem(try, "%v", err)
	}
	head := make([]byte, 64)
	n, err := io.ReadFull(file, head)
	switch {
	case err != nil && !errors.Is(err, io.ErrUnexpectedEOF) && !errors.Is(err, io.EOF):
		err = problem(try, "%v", err)
	case !begins(head[:n]):
		err = problem(try, "%s is no %s, so nothing was compared", *c.Against, kind)
	default:
		return struct {
			io.Reader
			io.Closer
		}{io.MultiReader(bytes.NewReader(head[:n]), file), file}, nil
	}
	return nil, errors.Join(err, file.Close())
}

// csv compares the CSV with what a record says of it.
func (c verifyCommand) csv(file io.Reader, head []byte, given string) (evidence.Report, error) {
	if c.Against == nil {
		return nil, misuse("flitch verify "+c.File+" --against OL-31-04.proof.gz", "a CSV holds no proof of itself: say which file states its SHA-256")
	}
	against, err := c.against("proof and no JSON of a record", func(head []byte) bool { return evidence.Begins(head) || bytes.HasPrefix(head, []byte("{")) })
	if err != nil {
		return nil, err
	}
	defer against.Close()
	want, report := verify.Stated(against, given)
	sum := sha256.New()
	sum.Write(head)
	if _, err := io.Copy(sum, file); err != nil {
		return nil, problem("", "%v", err)
	}
	switch got := hex.EncodeToString(sum.Sum(nil)); {
	case want == "":
		report.Add(evidence.NotMeasured, "readings", "%s states no SHA-256 of a CSV", *c.Against)
	case got != want:
		report.Add(evidence.NotMet, "readings", "the SHA-256 of %s is %s, and %s states %s", c.File, got, *c.Against, want)
	default:
		report.Add(evidence.Met, "readings", "SHA-256 %s, as %s states", got, *c.Against)
	}
	return report, nil
}
