package record

import (
	"fmt"
	"slices"
	"strings"

	"flitch/process/chart"
)

// A Reader is whom a record is made for.
type Reader string

// The readers.
const (
	Inspector Reader = "inspector" // all of it
	Customer  Reader = "customer"  // one page without what goes on inside
	Self      Reader = "self"      // what the maker wants to read next year
)

// Readers lists all readers.
func Readers() []Reader { return []Reader{Inspector, Customer, Self} }

// A part of a record becomes forms; none where the batch has nothing of it to tell.
type part func(*study) []Form

// parts is which parts a reader gets, in their order. It is said here and nowhere else.
var parts = map[Reader][]part{
	Inspector: slices.Concat([]part{head, clockRow, graph, limitsChosen, stagesLived, deviationsOf, correctiveActions, dispositionsOf},
		logs, []part{estimatesOf, happeningsOf, whoWasTold, entriesOf, dataQuality, signatures}),
	Customer: {customerHead, customerClocks, keeping},
	Self:     {head, clockRow, yieldLadder, costOf, graph, hoursTo, stagesLived, wokeMe, tasteCard, notesOf},
}

// logs are the forms people know from the trade.
var logs = []part{receiving, curingLog, turnLog, coolerLog, thermalLog, handReadings, coolingLog, calibrationLog, packing, preShipment}

// A Paper is what one reader gets, ready to be written in any form.
type Paper struct {
	Site        Site
	For         Reader
	Title       string // Batch OL-31-04
	Subtitle    string // product and class
	AsOf        string
	Forms       []Form
	Cautions    []string
	Fingerprint string // SHA-256 of the readings as CSV
	Rows        int    // readings
	Record      *Record

	lines []chart.Line
}

// Graph is what a form that is a graph shows.
func (p *Paper) Graph(f Form) chart.Temperatures { return p.Record.Temperatures(f.View, p.lines) }

// Paper makes what a reader gets. It goes through the readings once.
func (r *Record) Paper(reader Reader) (*Paper, error) {
	wanted, known := parts[reader]
	if !known {
		return nil, fmt.Errorf("record %s: there is no reader %q: say inspector, customer or self", r.Head.Batch, reader)
	}
	s, err := r.study()
	if err != nil {
		return nil, fmt.Errorf("record %s: %w", r.Head.Batch, err)
	}
	p := &Paper{Site: r.Site, For: reader, Title: "Batch " + Printable(r.Head.Batch), Subtitle: fmt.Sprintf("%s – class: %s", Printable(r.Head.Product), r.Head.Class),
		AsOf: r.Site.Stamp(r.MadeAt), Cautions: r.cautionsFor(reader), Fingerprint: s.fingerprint, Rows: s.rows, Record: r, lines: s.lines}
	for _, part := range wanted {
		p.Forms = append(p.Forms, part(s)...)
	}
	return p, nil
}

// HoldsReadings reports whether every reading goes with the paper, where it can: a customer
// gets what they come to.
func (p *Paper) HoldsReadings() bool { return p.For != Customer }

// Size of the graph of a paper, px of its drawing.
const (
	graphWidth  = 920
	graphHeight = 430
)

// cautionsFor leaves out what only the maker can do anything about.
func (r *Record) cautionsFor(reader Reader) (out []string) {
	for _, c := range r.cautions() {
		if reader == Inspector || !strings.HasPrefix(c, "Nitrite: weigh") {
			out = append(out, Printable(c))
		}
	}
	return out
}
