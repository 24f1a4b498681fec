package qr

import (
	"image"
	"image/color"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	reader "github.com/makiuchi-d/gozxing/qrcode"
)

var run = regexp.MustCompile(`M(\d+) (\d+)h(\d+)v1h-(\d+)z`)

// picture is the code as a camera would see it: what the path says, eight pixels a square.
func picture(t *testing.T, c Code) image.Image {
	t.Helper()
	const px = 8
	img := image.NewGray(image.Rect(0, 0, c.Size*px, c.Size*px))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	runs := run.FindAllStringSubmatch(c.Path, -1)
	if len(runs) < 20 || strings.Join(strings.Fields(run.ReplaceAllString(c.Path, "")), "") != "" {
		t.Fatalf("%d runs; the path holds something else", len(runs))
	}
	for _, r := range runs {
		x, _ := strconv.Atoi(r[1])
		y, _ := strconv.Atoi(r[2])
		n, _ := strconv.Atoi(r[3])
		if r[3] != r[4] {
			t.Fatalf("a run goes %s there and %s back", r[3], r[4])
		}
		for dx := range n * px {
			for dy := range px {
				img.SetGray(x*px+dx, y*px+dy, color.Gray{})
			}
		}
	}
	return img
}

// An independent reader reads what was written.
func TestAReaderReadsTheCode(t *testing.T) {
	for _, text := range []string{"http://127.0.0.1:8080/batches/OL-31-04", "https://larder.example/batches/PS%20%C3%A4-02", "http://[fd00::1]:8080/batches/" + strings.Repeat("x", 60), "a"} {
		c, err := Make(text)
		if err != nil {
			t.Fatal(err)
		}
		bits, err := gozxing.NewBinaryBitmapFromImage(picture(t, c))
		if err != nil {
			t.Fatal(err)
		}
		got, err := reader.NewQRCodeReader().Decode(bits, nil)
		if err != nil || got.GetText() != text {
			t.Errorf("%q is read as %v, %v", text, got, err)
		}
	}
}

func TestWhatIsTooLongIsAnError(t *testing.T) {
	if c, err := Make(strings.Repeat("x", 5000)); err == nil {
		t.Errorf("a code of %d squares for 5000 characters", c.Size)
	}
}
