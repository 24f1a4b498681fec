package config

import (
	"fmt"
	"math"
	"path/filepath"
	"time"
)

// A Backup is where copies of the database go while flitch runs. Without a folder there
// are none.
type Backup struct {
	Folder  string        // path
	Every   time.Duration // between two copies: what a card that dies can cost at most
	Keep    int           // so many of the newest stay
	Secrets bool          // keys and passwords are copied too
	HandOn  []string      // a program and its arguments, run on each copy; empty: none
}

// Bounds of a backup: proposals. Each copy is read whole to examine it.
const (
	defaultBackup = time.Hour
	leastBackup   = 5 * time.Minute
	mostBackup    = 7 * 24 * time.Hour
	defaultKeep   = 48
	mostKeep      = 10_000
)

func readBackup(t *table, database string) Backup {
	defer t.finish()
	if !t.present {
		return Backup{}
	}
	b := Backup{
		Every:   t.duration("every", defaultBackup, leastBackup, mostBackup),
		Keep:    t.whole("keep", defaultKeep, 1, mostKeep),
		Secrets: t.yes("secrets"),
		HandOn:  t.command("hand_on"),
	}
	folder := t.need("folder", "/media/stick/flitch")
	if folder == "" {
		return b
	}
	b.Folder = t.doc.resolve(folder)
	if b.Folder == filepath.Dir(database) {
		t.problem("folder", folder, "is where the database is: one disk that dies takes both", `folder = "/media/stick/flitch"`)
	}
	return b
}

// whole is a number without a fraction.
func (t *table) whole(key string, fallback, least, most int) int {
	v := t.number(key, float64(fallback), float64(least), float64(most))
	if v != math.Trunc(v) {
		t.problem(key, fmt.Sprint(v), fmt.Sprintf("%v is not a whole number", v), fmt.Sprintf("%s = %d", key, int(v)))
	}
	return int(v)
}

// command is a program and its arguments. They are no line for a shell.
func (t *table) command(key string) []string {
	value, ok := t.get(key)
	if !ok {
		return nil
	}
	example := fmt.Sprintf(`%s = ["rsync", "-a", "{copy}", "larder@attic:copies/"]`, key)
	list, several := value.([]any)
	if !several || len(list) == 0 {
		t.problem(key, shown(value), "is "+describe(value)+", not a list of a program and its arguments", example)
		return nil
	}
	var words []string
	for _, v := range list {
		word, isText := v.(string)
		if !isText || word == "" {
			t.problem(key, shown(value), "holds "+describe(v)+" where a word has to be", example)
			return nil
		}
		words = append(words, word)
	}
	return words
}
