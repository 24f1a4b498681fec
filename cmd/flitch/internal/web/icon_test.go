package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image/png"
	"regexp"
	"strconv"
	"testing"

	"flitch/process/record"
)

// The drawn icon has the shapes and colours of the SVG, at every size; the manifest and
// the head name files that are there.
func TestTheIconForHomeScreens(t *testing.T) {
	page := sampleHouse().page(t, record.Site{})
	svg := get(t, page, "/static/icon.svg").Body.String()
	rects := regexp.MustCompile(`<rect(?: x="(\d+)" y="(\d+)")? width="(\d+)" height="(\d+)"(?: rx="6")? fill="#(\w{6})"/>`).FindAllStringSubmatch(svg, -1)
	if len(rects) != len(iconShapes) {
		t.Fatalf("the SVG has %d shapes, the drawing %d", len(rects), len(iconShapes))
	}
	number := func(text string) int { n, _ := strconv.Atoi(text); return n }
	for _, size := range iconSizes {
		w := get(t, page, fmt.Sprintf("/icon-%d.png", size))
		picture, err := png.Decode(bytes.NewReader(w.Body.Bytes()))
		if err != nil || w.Header().Get("Content-Type") != "image/png" || picture.Bounds().Dx() != size || picture.Bounds().Dy() != size {
			t.Fatalf("%d: %v, %v, %v", size, err, w.Header(), picture)
		}
		for i, r := range rects {
			x, y := number(r[1])+number(r[3])/2, number(r[2])+number(r[4])/2
			if i == 0 {
				x, y = 3, 3 // beside the bars
			}
			red, green, blue, _ := picture.At(x*size/32, y*size/32).RGBA()
			if got := fmt.Sprintf("%02x%02x%02x", red>>8, green>>8, blue>>8); got != r[5] {
				t.Errorf("%d px, shape %d is %s, want %s", size, i, got, r[5])
			}
		}
	}
	var manifest struct {
		Icons []struct{ Src, Sizes, Type string }
	}
	if err := json.Unmarshal(get(t, page, "/static/manifest.json").Body.Bytes(), &manifest); err != nil || len(manifest.Icons) != 3 {
		t.Fatalf("manifest %+v, %v", manifest, err)
	}
	for _, i := range manifest.Icons {
		if w := get(t, page, i.Src); w.Code != 200 || w.Header().Get("Content-Type") != i.Type {
			t.Errorf("%s: %d %s", i.Src, w.Code, w.Header().Get("Content-Type"))
		}
	}
	has(t, get(t, page, "/batches").Body.String(), `<link rel="apple-touch-icon" href="/icon-180.png">`)
}
