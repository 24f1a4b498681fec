package web

import (
	"math"
	"net/http"
	"net/netip"
	"net/url"
	"slices"
	"strings"
	"time"

	"flitch/cmd/flitch/internal/qr"
	"flitch/process"
)

// papers are the label papers there is a print for: their names are classes in labels.css,
// where their measures stand. Common stationery; the first is for a roll.
var papers = []string{"roll-62", "a4-8", "a4-14", "letter-10"}

// mostTurns are as many boxes as fit on one line of the smallest label: proposal.
const mostTurns = 14

// A labelPage is what the page of labels is given beside what all pages are.
type labelPage struct {
	page
	Work   Work
	Paper  string
	Papers []string
	Labels []label
	Link   string
	Alone  bool // no other machine can open the link
}

// A label is on one bag.
type label struct {
	Piece   process.Piece
	CureG   float64 // on it; 0: not weighed
	PPM     float64
	Held    bool    // the dose fails its checks
	AskedG  float64 // to be weighed; 0: not known
	Since   time.Time
	Earlier time.Time // not before, by the plan's rule; zero: it has none
	Turns   []int     // a box for each turn of the cure, to tick off
	Code    qr.Code
}

func (s *server) labelRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /batches/{id}/labels", s.labels)
}

func (s *server) labels(w http.ResponseWriter, r *http.Request) {
	work, ok := s.work(w, r)
	if !ok {
		return
	}
	p := labelPage{page: s.page(r), Work: work, Paper: r.URL.Query().Get("paper"), Papers: papers}
	if !slices.Contains(papers, p.Paper) {
		p.Paper = papers[0]
	}
	choices, err := s.Batches.Choices(r.Context())
	if err == nil {
		p.Link = address(choices.Address, r) + batchPath(work.ID)
		p.Alone = alone(p.Link)
		p.Labels, err = labelsOf(work, p.Link)
	}
	if err != nil {
		s.broken(w, "make labels for "+work.ID, err)
		return
	}
	s.show(w, http.StatusOK, "labels.html", p)
}

// address is where a phone finds the page: as configured, or else as it was asked for now.
func address(configured string, r *http.Request) string {
	if configured != "" {
		return strings.TrimSuffix(configured, "/")
	}
	if r.TLS != nil {
		return "https://" + r.Host
	}
	return "http://" + r.Host
}

// alone reports an address that means the machine it is opened on.
func alone(link string) bool {
	u, err := url.Parse(link)
	if err != nil {
		return false
	}
	ip, err := netip.ParseAddr(u.Hostname())
	return u.Hostname() == "localhost" || err == nil && ip.IsLoopback()
}

// labelsOf are the labels of all pieces. All lead to the batch: the letter tells them
// apart.
func labelsOf(w Work, link string) ([]label, error) {
	code, err := qr.Make(link)
	if err != nil {
		return nil, err
	}
	var out []label
	for _, piece := range w.Pieces {
		l := label{Piece: piece, Since: w.CureFrom, Code: code}
		for _, d := range w.Doses {
			if slices.Contains(d.Pieces, piece.Name) {
				l.CureG, l.PPM, l.Since, l.Held = d.CureG, d.PPM, d.At, d.Answer() != process.Met
			}
		}
		for _, lot := range w.Lots {
			if slices.Contains(lot.Pieces, piece.Name) {
				l.AskedG = lot.AskedG
			}
		}
		if w.CureDays > 0 && !l.Since.IsZero() {
			l.Earlier = l.Since.Add(time.Duration(w.CureDays * 24 * float64(time.Hour)))
		}
		if w.TurnHours > 0 {
			l.Turns = make([]int, min(mostTurns, int(math.Ceil(w.CureDays*24/w.TurnHours))))
		}
		out = append(out, l)
	}
	return out, nil
}
