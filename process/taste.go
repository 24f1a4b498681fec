package process

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// A Taste is how the product came out: five scores from 1 (too little, pale, soft) to 5 (too much, dark,
// hard), 3 as wanted, 0 not said; and what to change next time (proposal).
type Taste struct {
	Salt    int    `json:"salt,omitempty"`
	Sweet   int    `json:"sweet,omitempty"`
	Smoke   int    `json:"smoke,omitempty"`
	Texture int    `json:"texture,omitempty"`
	Colour  int    `json:"colour,omitempty"`
	Next    string `json:"next,omitempty"`
}

// A TasteEntry is one taste card of the batch. Each taster has their own.
type TasteEntry struct {
	At    time.Time `json:"at"`
	Typed time.Time `json:"typed"`
	By    string    `json:"by"`
	Taste
}

// TasteNames are the names of the scores, in the order of the card.
func TasteNames() []string { return []string{"salt", "sweet", "smoke", "texture", "colour"} }

// Score returns the place of a score by its name; nil: there is none.
func (t *Taste) Score(name string) *int {
	i := slices.Index(TasteNames(), name)
	if i < 0 {
		return nil
	}
	return []*int{&t.Salt, &t.Sweet, &t.Smoke, &t.Texture, &t.Colour}[i]
}

// Words is the card in one line.
func (t Taste) Words() string {
	var parts []string
	for _, name := range TasteNames() {
		if n := *t.Score(name); n > 0 {
			parts = append(parts, fmt.Sprintf("%s %d", name, n))
		}
	}
	text := strings.Join(parts, ", ")
	if t.Next != "" {
		text = strings.TrimPrefix(text+"; next time: "+t.Next, "; ")
	}
	return text
}

// checkTasted refuses a card on which nothing stands, or a score that is none.
func checkTasted(c Command) error {
	if c.Taste == nil || *c.Taste == (Taste{}) {
		return refuse("nothing stands on the taste card", "a score from 1 to 5, or what to change next time")
	}
	for _, name := range TasteNames() {
		if n := *c.Taste.Score(name); n < 0 || n > 5 {
			return refuse(fmt.Sprintf("%s %d is no score", name, n), "1 to 5; 3 is as wanted")
		}
	}
	if len(c.Taste.Next) > maxText {
		return refuse(fmt.Sprintf("what to change has %d characters", len(c.Taste.Next)), fmt.Sprintf("keep it under %d", maxText))
	}
	return nil
}

// tasted takes a card that checkTasted has let through.
func (b *Batch) tasted(c Command) {
	b.Tastes = append(b.Tastes, TasteEntry{At: c.At, Typed: c.Typed, By: c.By, Taste: *c.Taste})
}
