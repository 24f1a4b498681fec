package api

import (
	"context"
	"net/http"
	"time"
)

// MostRows is how many rows of a file come at once: as many as one body holds.
const MostRows = 1000

// An ImportRows is a part of a stand-alone logger's file.
type ImportRows struct {
	Probe string       `json:"probe"` // as in the configuration
	By    string       `json:"by"`    // initials
	Rows  [][2]float64 `json:"rows"`  // ms since 1970; °C, or the unit of what is measured
}

// Imported says what became of them. Rows count from 0 within the part.
type Imported struct {
	Stored  int          `json:"stored"`  // new, on disk
	Known   int          `json:"known"`   // there already, the same
	Bad     int          `json:"bad"`     // of both, what no sensor can have measured: kept, never used
	Refused []RefusedRow `json:"refused"` // neither
}

// A RefusedRow is one that was not taken, and why.
type RefusedRow struct {
	Row int    `json:"row"`
	Why string `json:"why"`
}

// An ImportDone says that all of a file was sent.
type ImportDone struct {
	Probe  string    `json:"probe"`
	By     string    `json:"by"`
	File   string    `json:"file"`   // its name, for people
	SHA256 string    `json:"sha256"` // of the file, hex
	Rows   int64     `json:"rows"`   // that were taken
	From   time.Time `json:"from"`   // of the oldest
	To     time.Time `json:"to"`     // of the newest
}

// Noted says which batches the readings belong to.
type Noted struct {
	Open   []string `json:"open"`   // noted there, and counted anew
	Closed []string `json:"closed"` // closed: the readings are on their records, their clocks stay
}

// An Importer takes readings out of a file. Errors are *process.Refusal when the person
// is wrong. What was taken before is recognised: the same may be sent again.
type Importer interface {
	ImportRows(context.Context, ImportRows) (Imported, error)
	ImportDone(context.Context, ImportDone) (Noted, error)
}

func (s *server) importRows(w http.ResponseWriter, r *http.Request) {
	var body ImportRows
	if status, err := readBody(w, r, &body); err != nil {
		s.refuse(w, status, err.Error(), `send {"probe":"core-1","by":"TV","rows":[[1925000000000,3.4]]}, at most 1000 rows; or let flitch import do it`)
		return
	}
	done, err := s.Import.ImportRows(r.Context(), body)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.reply(w, http.StatusOK, done)
}

func (s *server) importDone(w http.ResponseWriter, r *http.Request) {
	var body ImportDone
	if status, err := readBody(w, r, &body); err != nil {
		s.refuse(w, status, err.Error(), "let flitch import do it")
		return
	}
	noted, err := s.Import.ImportDone(r.Context(), body)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.reply(w, http.StatusOK, noted)
}
