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
// one, add its line: where the demo stands, the page, what is done there first, and the
// element at the top.
var views = []struct {
	name, from, path string
	do               func(b *tab, address, path string)
	top              string
}{
	{"glance-cure", "K3", "/batches/OL-31-27", nil, "body"},
	{"glance-alarm", "C2", "/batches/OL-31-27", nil, "body"},
	{"alarm", "C2", "/alarms/3", nil, "body"},
	{"papers", "C2", "/batches/OL-31-27/papers?about=C2#action", nil, "#action"},
	{"glance-cook", "cook", "/batches/OL-31-27", nil, "body"},
	{"home", "cook", "/batches", nil, "body"},
	{"chart", "cook", "/batches/OL-31-27/chart?hours=6", nil, "nav"},
	{"places", "cook", "/places", nil, "body"},
	{"reckon-chill", "cook", anAnswer, nil, "h1"},
	{"new-batch", "C2", "/batches/new?class=not+fully+cooked", (*tab).looksItOver, "section:nth-of-type(2)"},
	{"labels", "C2", "/batches/OL-31-27/labels", nil, "body"},
	{"compare", "C2", "/batches/new?class=not+fully+cooked", (*tab).beginsAndCompares, "body"},
}

// looksItOver fills in a new batch, up to its review.
func (b *tab) looksItOver(address, path string) {
	b.t.Helper()
	b.open(address + path)
	all := ask[[]button](b, listButtons)
	i := slices.IndexFunc(all, func(b button) bool { return b.Value == "review" })
	r, ok := rowOf(all[i])
	if !ok || !b.fill(address, press{r, all[i], path}, r.good, false) {
		b.t.Fatalf("no review of a new batch: %s", b.told())
	}
}

// beginsAndCompares starts one, and compares it with that of the demo.
func (b *tab) beginsAndCompares(address, path string) {
	b.t.Helper()
	b.looksItOver(address, path)
	b.pressesNext(press{path: path}, step{"start", entered})
	b.open(address + "/compare?batches=OL-31-27,OL-31-28")
}

// largest is how many bytes a picture in the repository may have.
const largest = 60_000

// The pictures of the README can be made, and are small; FLITCH_PICTURES names a folder to
// keep them in.
func TestPictures(t *testing.T) {
	t.Parallel()
	for _, from := range []string{"C2", "K3", "cook"} {
		d := demo(t, from)
		b := openTab(t, 360)
		for _, v := range views {
			if v.from != from {
				continue
			}
			if v.do == nil {
				v.do = func(b *tab, address, path string) { b.open(address + path) }
			}
			v.do(b, d.address, v.path)
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
