// Package photo makes of a picture as a phone sends it one that is fit to be kept: upright,
// at most 1600 pixels wide or high, and with nothing in it but the picture. Where and with
// what it was taken does not come along. A picture is looked at before it is decoded, so
// that a small file cannot fill the memory.
package photo

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	_ "image/png" // decoded too
	"math"
	"runtime/debug"
	"sync"

	_ "golang.org/x/image/webp" // decoded too
)

// What is taken, and what is kept.
const (
	MaxBytes  = 12 << 20   // of the file that comes
	MaxPixels = 50_000_000 // of the picture in it
	Longest   = 1600       // pixels of the longer side of what is kept
	SmallSide = 640        // the same of the copy that stands in a record

	maxDecoded = 300 << 20 // bytes that decoding may take; a small board has a gigabyte (proposal)
	quality    = 82        // of the JPEG (common practice)
)

// Kept is a picture as it is kept.
type Kept struct {
	JPEG          []byte
	Width, Height int // pixels
}

// A Fault is why a picture is not taken, in words for who sent it.
type Fault string

// Error is the words.
func (f Fault) Error() string { return string(f) }

// one picture is decoded at a time: a small board has no memory for two.
var one sync.Mutex

// Keep reads a JPEG, PNG or WebP file and makes what is kept of it. Every error is a Fault. Calls wait
// for each other, and what a large picture took is given back to the machine at once.
func Keep(file []byte) (Kept, error) {
	if err := look(file); err != nil {
		return Kept{}, err
	}
	one.Lock()
	defer one.Unlock()
	defer debug.FreeOSMemory()
	picture, _, err := image.Decode(bytes.NewReader(file))
	if err != nil {
		return Kept{}, Fault("the picture is damaged: take it again")
	}
	return write(upright(shrunk(picture, Longest), orientation(file)))
}

// Small makes the copy for a record of a picture that is kept.
func Small(kept []byte) ([]byte, error) {
	picture, err := jpeg.Decode(bytes.NewReader(kept))
	if err != nil {
		return nil, fmt.Errorf("kept photo: %w", err)
	}
	small, err := write(shrunk(picture, SmallSide))
	return small.JPEG, err
}

func write(picture image.Image) (Kept, error) {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, picture, &jpeg.Options{Quality: quality}); err != nil {
		return Kept{}, Fault("the picture could not be written as JPEG")
	}
	return Kept{JPEG: b.Bytes(), Width: picture.Bounds().Dx(), Height: picture.Bounds().Dy()}, nil
}

// look refuses a file by its size and its header.
func look(file []byte) error {
	if len(file) == 0 {
		return Fault("the file is empty: take the picture again")
	}
	if len(file) > MaxBytes {
		return Fault(fmt.Sprintf("the file has %.1f MB and at most %d are taken: send a smaller one", float64(len(file))/(1<<20), MaxBytes>>20))
	}
	head, kind, err := image.DecodeConfig(bytes.NewReader(file))
	if err != nil {
		return unknown(file, err)
	}
	pixels := float64(head.Width) * float64(head.Height)
	switch {
	case pixels < 1:
		return Fault("the picture has no pixels: take it again")
	case pixels > MaxPixels:
		return Fault(fmt.Sprintf("the picture has %.0f megapixels and at most %d are taken: send a smaller one", math.Ceil(pixels/1e6), MaxPixels/1_000_000))
	case pixels*perPixel(head.ColorModel, kind, file) > maxDecoded:
		return Fault("the picture takes too much memory to be opened: send a smaller one, or an ordinary JPEG")
	}
	return nil
}

// perPixel is how many bytes of memory a pixel takes while it is decoded, at most. A
// progressive JPEG holds all its coefficients, four bytes each, beside the picture.
func perPixel(model color.Model, kind string, file []byte) float64 {
	switch {
	case kind == "jpeg" && progressive(file):
		return 15
	case kind == "jpeg":
		return 4
	case model == color.RGBA64Model || model == color.NRGBA64Model:
		return 8
	}
	return 5 // RGBA, or YCbCr with alpha
}

// unknown says what a file is that cannot be read, where phones send such.
func unknown(file []byte, err error) error {
	box := ""
	if len(file) >= 12 && string(file[4:8]) == "ftyp" {
		box = string(file[8:12])
	}
	switch box {
	case "heic", "heix", "heim", "heis", "hevc", "mif1", "msf1", "avif":
		return Fault("the picture is HEIC or AVIF, which cannot be read here: set the phone's camera to JPEG (most compatible), or take a screenshot of the picture")
	}
	if errors.Is(err, image.ErrFormat) {
		return Fault("the file is no JPEG, PNG or WebP picture")
	}
	return Fault("the picture is damaged: take it again")
}
