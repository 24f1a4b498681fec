// Package qr draws the code on a bag label: an address as squares, for the camera of a
// phone. It knows the one library that makes them.
package qr

import (
	"fmt"
	"strings"

	"github.com/yeqown/go-qrcode/v2"
)

// quiet is the white border that a reader needs, in squares (ISO/IEC 18004, 6.3.8).
const quiet = 4

// A Code is a drawing of squares of one unit each, black on white.
type Code struct {
	Size int    // of the whole drawing with its border, in squares
	Path string // of the black ones, as the path of an SVG
}

// Make draws a text, up to some 200 characters. A quarter of the code may be wet or torn:
// it is on a bag in a fridge.
func Make(text string) (Code, error) {
	code, err := qrcode.NewWith(text, qrcode.WithEncodingMode(qrcode.EncModeByte), qrcode.WithErrorCorrectionLevel(qrcode.ErrorCorrectionQuart))
	if err != nil {
		return Code{}, fmt.Errorf("code of %q: %w", text, err)
	}
	var d drawing
	if err := code.Save(&d); err != nil {
		return Code{}, fmt.Errorf("code of %q: %w", text, err)
	}
	return Code{Size: d.size + 2*quiet, Path: d.path.String()}, nil
}

// A drawing takes the squares from the library.
type drawing struct {
	size int
	path strings.Builder
}

// Write implements qrcode.Writer: each run of black squares of a row is one rectangle.
func (d *drawing) Write(m qrcode.Matrix) error {
	rows := m.Bitmap()
	d.size = len(rows)
	for y, row := range rows {
		for x := 0; x < len(row); x++ {
			from := x
			for x < len(row) && row[x] {
				x++
			}
			if x > from {
				fmt.Fprintf(&d.path, "M%d %dh%dv1h-%dz", from+quiet, y+quiet, x-from, x-from)
			}
		}
	}
	return nil
}

// Close implements qrcode.Writer.
func (*drawing) Close() error { return nil }
