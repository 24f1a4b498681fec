package sweep

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/chromedp/chromedp"
)

// Views of which there are pictures in the README; deploy/pictures.sh writes them. To add
// one, add its line: where the demo stands, the page, and the element at the top.
var views = []struct{ name, from, path, top string }{
	{"glance-cure", "K3", "/batches/OL-31-27", "body"},
	{"glance-alarm", "C2", "/batches/OL-31-27", "body"},
	{"alarm", "C2", "/alarms/3", "body"},
	{"glance-cook", "cook", "/batches/OL-31-27", "body"},
	{"home", "cook", "/batches", "body"},
	{"chart", "cook", "/batches/OL-31-27/chart?hours=6", "nav"},
	{"places", "cook", "/places", "body"},
}

// largest is how many bytes a picture in the repository may have.
const largest = 60_000

// The pictures of the README can be made, and are small; FLITCH_PICTURES names a folder to
// keep them in.
func TestPictures(t *testing.T) {
	for _, from := range []string{"C2", "K3", "cook"} {
		d := demo(t, from)
		b := openTab(t, 360)
		for _, v := range views {
			if v.from != from {
				continue
			}
			b.open(d.address + v.path)
			b.until("its pictures", `[...document.images].every(i => i.complete)`)
			ask[bool](b, `document.querySelector(%q).scrollIntoView(), true`, v.top)
			shot, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
			if err != nil {
				t.Fatal(err)
			}
			small := inFewColours(t, shot)
			if len(small) > largest || len(small) < 3000 {
				t.Errorf("the picture %s has %d bytes", v.name, len(small))
			}
			if folder := os.Getenv("FLITCH_PICTURES"); folder != "" {
				if err := os.WriteFile(filepath.Join(folder, v.name+".png"), small, 0o644); err != nil {
					t.Error(err)
				}
			}
		}
		d.stop()
	}
}

// inFewColours writes a picture with a palette of the 256 colours that it has most of.
func inFewColours(t *testing.T, shot []byte) []byte {
	t.Helper()
	full, err := png.Decode(bytes.NewReader(shot))
	if err != nil {
		t.Fatal(err)
	}
	count, box := map[color.RGBA]int{}, full.Bounds()
	at := func(x, y int) color.RGBA { return color.RGBAModel.Convert(full.At(x, y)).(color.RGBA) }
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			count[at(x, y)]++
		}
	}
	most := slices.SortedFunc(maps.Keys(count), func(a, b color.RGBA) int { return count[b] - count[a] })
	var few color.Palette
	for _, c := range most[:min(256, len(most))] {
		few = append(few, c)
	}
	out, near := image.NewPaletted(box, few), map[color.RGBA]uint8{}
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			c := at(x, y)
			i, known := near[c]
			if !known {
				i = uint8(few.Index(c))
				near[c] = i
			}
			out.SetColorIndex(x, y, i)
		}
	}
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, out); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}
