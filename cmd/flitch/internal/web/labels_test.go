package web

import (
	"image"
	"image/color"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"

	"flitch/process"
	"flitch/process/cure"
	"flitch/process/record"
)

var (
	drawn  = regexp.MustCompile(`viewBox="0 0 (\d+) \d+"[^>]*><rect[^>]*/><path fill="#000" d="([^"]*)"`)
	square = regexp.MustCompile(`M(\d+) (\d+)h(\d+)v1h-\d+z`)
)

// readCodes reads the codes of a page with an independent reader.
func readCodes(t *testing.T, body string) (texts []string) {
	t.Helper()
	for _, svg := range drawn.FindAllStringSubmatch(body, -1) {
		const px = 6
		size := whole(t, svg[1])
		img := image.NewGray(image.Rect(0, 0, size*px, size*px))
		for i := range img.Pix {
			img.Pix[i] = 255
		}
		for _, r := range square.FindAllStringSubmatch(svg[2], -1) {
			for x := range whole(t, r[3]) * px {
				for y := range px {
					img.SetGray(whole(t, r[1])*px+x, whole(t, r[2])*px+y, color.Gray{})
				}
			}
		}
		bits, err := gozxing.NewBinaryBitmapFromImage(img)
		if err != nil {
			t.Fatal(err)
		}
		got, err := qrcode.NewQRCodeReader().Decode(bits, nil)
		if err != nil {
			t.Fatalf("a code cannot be read: %v", err)
		}
		texts = append(texts, got.GetText())
	}
	return texts
}

func whole(t *testing.T, text string) int {
	t.Helper()
	n, err := strconv.Atoi(text)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func TestALabelForEachSlab(t *testing.T) {
	h := curing(packet)
	h.work.Doses = []process.DoseEntry{{Pieces: []string{"A"}, CureG: 5.7, PPM: 157, At: night}}
	p := h.page(t, record.Site{})
	body := get(t, p, "/batches/OL-31-40/labels").Body.String()
	has(t, body, "Curing salt 5.7 g, 157 ppm nitrite in", "Curing salt to weigh: 5.1 g; not logged yet", "Green 2268 g, thickest 38 mm", "skin on", "Cook before eating",
		"In since Wed 18 Nov 2026 03:31 CET", "Not before Wed 25 Nov 2026", "Turn every 24 h.", "Keep below 4.4 °C", "sheet roll-62")
	if got := readCodes(t, body); len(got) != 2 || got[0] != "http://example.com/batches/OL-31-40" || got[1] != got[0] {
		t.Errorf("the codes lead to %q", got)
	}
	if n := strings.Count(body, "<span></span>"); n != 2*7 {
		t.Errorf("%d boxes for seven turns of two slabs", n)
	}
	if strings.Contains(body, "style=") {
		t.Error("a style in the page itself is against its policy")
	}
	has(t, get(t, h.page(t, record.Site{Fahrenheit: true}), "/batches/OL-31-40/labels?paper=a4-14").Body.String(), "Keep below 40.0 °F", "sheet a4-14")
	has(t, get(t, p, "/batches/OL-31-40/labels?paper=rubbish").Body.String(), "sheet roll-62")
	if w := get(t, p, "/batches/nothing/labels"); w.Code != 404 {
		t.Errorf("status %d for a batch that is not there", w.Code)
	}
}

// A dose that is not in order is on no label as if it were.
func TestALabelOfAWrongDoseSaysSo(t *testing.T) {
	h := curing(packet)
	h.work.Doses = []process.DoseEntry{{Pieces: []string{"A"}, CureG: 57, PPM: 1571, At: night, Checks: []cure.Check{cure.CheckSlip(5.7, 57)}}}
	body := get(t, h.page(t, record.Site{}), "/batches/OL-31-40/labels").Body.String()
	has(t, body, "CURE NOT IN ORDER: 57 g weighed")
	if strings.Contains(body, "1571 ppm") {
		t.Error("a wrong dose stands on the label as a dose")
	}
}

func TestTheCodeLeadsToTheConfiguredAddress(t *testing.T) {
	h := curing(packet)
	h.address = "https://larder.example:8411"
	if got := readCodes(t, get(t, h.page(t, record.Site{}), "/batches/OL-31-40/labels").Body.String()); len(got) != 2 || got[0] != "https://larder.example:8411/batches/OL-31-40" {
		t.Errorf("the codes lead to %q", got)
	}
}
