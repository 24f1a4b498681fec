package store

import (
	"database/sql"
	"fmt"
	"math"
	"time"
)

// earliest is the time before every other, ms: that of an empty log.
const earliest = math.MinInt64

// optionalMilli is t for a column in which NULL means "no time".
func optionalMilli(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t.UnixMilli()
}

// fromMilli is the time ms milliseconds after 1970, in UTC.
func fromMilli(ms int64) time.Time { return time.UnixMilli(ms).UTC() }

// intoTime scans milliseconds into a time, NULL into the zero time.
type intoTime struct{ to *time.Time }

// Scan implements sql.Scanner.
func (t intoTime) Scan(src any) error {
	switch v := src.(type) {
	case nil:
		*t.to = time.Time{}
	case int64:
		*t.to = fromMilli(v)
	default:
		return fmt.Errorf("a time is stored as %T", src)
	}
	return nil
}

// intoReal scans a number, NULL into NaN: SQLite stores no NaN.
type intoReal struct{ to *float64 }

// Scan implements sql.Scanner.
func (r intoReal) Scan(src any) error {
	switch v := src.(type) {
	case nil:
		*r.to = math.NaN()
	case float64:
		*r.to = v
	default:
		return fmt.Errorf("a number is stored as %T", src)
	}
	return nil
}

// realOf is a number, NaN for NULL: SQLite stores no NaN.
func realOf(v sql.NullFloat64) float64 {
	if !v.Valid {
		return math.NaN()
	}
	return v.Float64
}
