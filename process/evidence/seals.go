package evidence

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"flitch/process"
)

// A File is a proof that was read.
type File struct {
	Opening
	Ending
	Record json.RawMessage

	given  string // fingerprint of the key it should be signed by
	report Report

	chain   Chain
	first   int64 // number of the first line of the journal
	lines   int
	seals   map[int64]Seal // by the number of their line
	hashes  []sealed       // in the order of the journal
	signed  map[int64]Signature
	signers Signers
	typing  Typing

	at      int64 // line of the seal in hand; 0: none yet
	strands []Strand
	sealer  Sealer
	next    int64    // number of the first row of the next seal
	from    int64    // number of the first row of the first seal
	left    int      // seals of the journal before the first one that is given
	stands  int      // seals given with their rows
	times   [2]int64 // when the last row of each kind was taken in, ms
	numbers [2]int64 // its number, under the seal in hand
	rows    int
	content string // SHA-256 of what was read, hex

	commands []process.Input
	readings []held
	buf      []byte
}

type sealed struct {
	line int64
	hash string
}

// takeSeal ends the seal in hand and begins another.
func (f *File) takeSeal(l line) error {
	s, err := decode[SealLine](l)
	if err != nil {
		return err
	}
	if len(s.Strands) > maxNames {
		return fmt.Errorf("line %d: too many strands", l.number)
	}
	f.endSeal()
	place := slices.IndexFunc(f.hashes, func(h sealed) bool { return h.line == s.Line })
	if place < 0 {
		return fmt.Errorf("line %d: journal line %d is no seal that is here", l.number, s.Line)
	}
	if f.at == 0 {
		f.begin(s.Line, place)
	} else if want := f.left + f.stands; place != want {
		f.wrong("seals", "the seal on journal line %d does not follow the one before: one is left out, or stands twice", s.Line)
	}
	f.at, f.strands, f.sealer = s.Line, s.Strands, Sealer{}
	f.stands++
	f.numbers = [2]int64{}
	return nil
}

// begin takes the first seal that is given with its rows. Before it is the seal that it goes
// on from, with which the journal begins, or nothing at all.
func (f *File) begin(at int64, place int) {
	f.left, f.from = place, f.seals[at].From
	f.next = 1
	if place > 0 {
		f.next = f.seals[f.hashes[place-1].line].To + 1
	}
	if place > 0 && f.hashes[0].line != f.first || place == 0 && f.first != 1 {
		f.wrong("journal", "line %d is not where it can begin: lines before it are left out", f.first)
	}
}

// wrong tells the first thing that is wrong with something.
func (f *File) wrong(what, format string, args ...any) {
	if !f.report.wrong(what) {
		f.report.Add(NotMet, what, format, args...)
	}
}

// takeIn counts a row under the seal in hand.
func (f *File) takeIn(l line, row *Row) error {
	seal := f.seals[f.at]
	if !wants(row, f.Batch, f.Probes) {
		return fmt.Errorf("line %d: number %d is of no strand of the batch", l.number, row.Seq)
	}
	if row.Seq < seal.From || row.Seq > seal.To {
		f.wrong("seals", "number %d stands under the seal on journal line %d, which is over %d to %d", row.Seq, f.at, seal.From, seal.To)
	}
	kind := min(int(row.Kind), 1)
	if !f.sealer.Take(row) || row.Seq <= f.numbers[kind] || kind == 1 && f.numbers[0] > 0 {
		f.wrong("seals", "number %d stands out of order", row.Seq)
	}
	f.numbers[kind] = row.Seq
	if row.At < f.times[kind] {
		f.wrong("seals", "number %d was taken in before what is in front of it", row.Seq)
	}
	f.times[kind] = row.At
	in, err := row.Input()
	if err != nil {
		f.wrong("seals", "%v", err)
		return nil
	}
	if row.Kind == process.InputCommand {
		f.typing.Take(in)
		f.commands = append(f.commands, in)
		return nil
	}
	f.hold(row)
	return nil
}

// endSeal holds the rows of the seal in hand against what it states.
func (f *File) endSeal() {
	if f.at == 0 {
		return
	}
	seal := f.seals[f.at]
	name := fmt.Sprintf("journal line %d (numbers %d to %d)", f.at, seal.From, seal.To)
	if seal.From != f.next {
		f.wrong("seals", "the seal on %s does not go on at number %d", name, f.next)
	}
	f.next = seal.To + 1
	if bad := f.differs(f.sealer.Strands()); bad != "" {
		f.wrong("seals", "%s under the seal on %s: that is not what was sealed", bad, name)
	}
	if rowsOf(f.strands) != seal.Rows || Root(seal.From, seal.To, f.strands) != seal.Root {
		f.wrong("seals", "the strands given for %s do not make its hash", name)
	}
}

// differs says which strand of the batch has other rows than the seal states.
func (f *File) differs(found []Strand) string {
	for _, s := range f.strands {
		if !f.ours(s.Name) {
			continue
		}
		i := slices.IndexFunc(found, func(g Strand) bool { return g.Name == s.Name })
		switch {
		case i < 0:
			return fmt.Sprintf("all of %q (%d) are missing", s.Name, s.Rows)
		case found[i].Rows != s.Rows:
			return fmt.Sprintf("%d of %q instead of %d", found[i].Rows, s.Name, s.Rows)
		case found[i].Digest != s.Digest:
			return fmt.Sprintf("what is given of %q", s.Name)
		}
	}
	for _, g := range found {
		if !slices.ContainsFunc(f.strands, func(s Strand) bool { return s.Name == g.Name }) {
			return fmt.Sprintf("%d of %q, where none were,", g.Rows, g.Name)
		}
	}
	return ""
}

func (f *File) ours(strand string) bool {
	if probe, ok := strings.CutPrefix(strand, probeStrand); ok {
		return slices.Contains(f.Probes, probe)
	}
	batch, ok := strings.CutPrefix(strand, commandStrand)
	return ok && (batch == "" || batch == f.Batch)
}

// conclude checks what can only be looked at when all is there.
func (f *File) conclude() {
	f.endSeal()
	if f.stands == 0 {
		f.wrong("seals", "there is none")
	} else if n := f.left + f.stands; n < len(f.hashes) {
		f.wrong("seals", "the seal on journal line %d is left out", f.hashes[n].line)
	}
	if f.Seen >= f.next {
		f.wrong("seals", "the record goes as far as number %d, the seals to %d", f.Seen, f.next-1)
	}
	last, hash := f.chain.Last()
	if n := len(f.hashes); n > 0 && f.hashes[n-1].line != last {
		f.wrong("journal", "line %d stands behind the last seal: nothing is signed over it", f.hashes[n-1].line+1)
	}
	if !f.report.wrong("journal") {
		f.report.Add(Met, "journal", "lines %d to %d follow from each other; the last is %s", f.first, last, hash)
	}
	if !f.report.wrong("seals") {
		f.report.Add(Met, "seals", "%d stand over numbers %d to %d without a hole; the %d rows of the batch and its probes are those that were sealed", f.stands, f.from, f.next-1, f.rows)
	}
	f.checkSignatures()
	f.typing.Report(&f.report)
	f.checkEnding()
}

func (f *File) checkSignatures() {
	used := 0
	for _, h := range f.hashes {
		s, here := f.signed[h.line]
		switch {
		case !here && f.seals[h.line].Unsigned == "":
			f.wrong("signature", "the seal on journal line %d has none", h.line)
		case !here:
			f.report.Add(LookAt, "signature", "the seal on journal line %d was not signed: %s", h.line, f.seals[h.line].Unsigned)
		case s.Hash != h.hash:
			f.wrong("signature", "the one of journal line %d is of another line", h.line)
		case !s.Valid():
			f.wrong("signature", "the one of journal line %d is not by its key", h.line)
		default:
			f.signers.Take(&s)
		}
		if here {
			used++
		}
	}
	if used != len(f.signed) {
		f.wrong("signature", "%d are of no seal that is here", len(f.signed)-used)
	}
	if !f.report.wrong("signature") {
		f.signers.Report(&f.report, f.given, "file")
	}
}

// checkEnding looks at the hash of the whole file and at who signed that.
func (f *File) checkEnding() {
	const what = "whole file"
	key := Fingerprint(f.Key)
	switch {
	case f.SHA256 != f.content:
		f.report.Add(NotMet, what, "its SHA-256 is %s, and it says %s", f.content, f.SHA256)
	case len(f.Sig) == 0 && len(f.Key) == 0:
		f.report.Add(NotMeasured, what, "SHA-256 %s; it is not signed", f.content)
	case !f.Valid(f.Batch):
		f.report.Add(NotMet, what, "its signature is not by its key %s", key)
	case f.given != "" && !among(f.given, key):
		f.report.Add(NotMet, what, "it is signed by key %s; you gave %s", key, f.given)
	case !slices.ContainsFunc(f.signers.Spans, func(s KeySpan) bool { return s.Key == key }):
		f.report.Add(LookAt, what, "it is signed by key %s, which signed none of its seals", key)
	default:
		f.report.Add(Met, what, "SHA-256 %s, signed by key %s; made %s by flitch %s", f.content, key, f.MadeAt.UTC().Format("2006-01-02 15:04:05 UTC"), f.By)
	}
}
