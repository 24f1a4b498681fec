package main

import (
	"strings"

	"flitch/cmd/flitch/internal/quantity"
	"flitch/process"
)

const pieceExample = "--piece A:2268g:38mm"

// parsePieces reads the --piece flags of a new batch.
func parsePieces(typed []string) ([]process.Piece, error) {
	var pieces []process.Piece
	seen := map[string]bool{}
	for _, text := range typed {
		piece, err := parsePiece(text)
		if err != nil {
			return nil, err
		}
		if seen[piece.Name] {
			return nil, misuse("another letter", "--piece %s: there is already a piece %s", text, piece.Name)
		}
		seen[piece.Name] = true
		pieces = append(pieces, piece)
	}
	return pieces, nil
}

// parsePiece reads name:weight:thickness, and :skin when the skin is on. The
// complaint about one part suggests the whole flag, to be pasted.
func parsePiece(text string) (process.Piece, error) {
	parts := strings.Split(text, ":")
	skin := len(parts) == 4 && strings.TrimSpace(parts[3]) == "skin"
	if skin {
		parts = parts[:3]
	}
	if len(parts) != 3 || strings.TrimSpace(parts[0]) == "" {
		return process.Piece{}, misuse(pieceExample, "--piece %s: want name, green weight and thickness with colons between", text)
	}
	piece := process.Piece{Name: strings.TrimSpace(parts[0]), SkinOn: skin}
	var err error
	if piece.GreenG, err = quantity.Weight(parts[1]); err != nil {
		return piece, corrected(text, parts, 1, err)
	}
	if piece.ThicknessMM, err = quantity.Length(parts[2]); err != nil {
		return piece, corrected(text, parts, 2, err)
	}
	return piece, nil
}

// corrected completes the suggestion for a decimal comma with the other parts.
func corrected(text string, parts []string, at int, err error) error {
	c, ok := quantity.Within("--piece", text, err).(*complaint)
	if ok && strings.Contains(parts[at], ",") {
		c.Try = "--piece " + strings.ReplaceAll(text, ",", ".")
	}
	return c
}

// parseCores reads the --core flags: probe=piece.
func parseCores(typed []string, pieces []process.Piece) (map[string]string, error) {
	cores := map[string]string{}
	for _, text := range typed {
		probe, piece, ok := strings.Cut(text, "=")
		switch {
		case !ok || probe == "" || piece == "":
			return nil, misuse("--core core-1=A", "--core %s: want a probe and the piece it is in", text)
		case !hasPiece(pieces, piece):
			return nil, misuse("the name of one of the --piece flags", "--core %s: there is no piece %s", text, piece)
		case cores[probe] != "":
			return nil, misuse("one --core for each probe", "--core %s: %s is already in piece %s", text, probe, cores[probe])
		}
		cores[probe] = piece
	}
	return cores, nil
}

func hasPiece(pieces []process.Piece, name string) bool {
	for _, piece := range pieces {
		if piece.Name == name {
			return true
		}
	}
	return false
}
