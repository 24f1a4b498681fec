package photo

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"runtime"
	"runtime/debug"
	"strings"
	"sync"
	"testing"
)

// picture is w by h, its upper left quarter red, its upper right green, its lower left blue,
// and the rest white.
func picture(w, h int) *image.RGBA {
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			c := color.RGBA{255, 255, 255, 255}
			switch {
			case x < w/2 && y < h/2:
				c = color.RGBA{255, 0, 0, 255}
			case y < h/2:
				c = color.RGBA{0, 255, 0, 255}
			case x < w/2:
				c = color.RGBA{0, 0, 255, 255}
			}
			out.SetRGBA(x, y, c)
		}
	}
	return out
}

func jpegOf(t testing.TB, p image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, p, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// taken is a JPEG as a phone makes it: with EXIF that says how to turn it and where it was
// taken.
func taken(t testing.TB, p image.Image, turned uint16, order binary.AppendByteOrder) []byte {
	t.Helper()
	tiff := []byte("II*\x00\x08\x00\x00\x00")
	if order == binary.AppendByteOrder(binary.BigEndian) {
		tiff = []byte("MM\x00*\x00\x00\x00\x08")
	}
	tiff = order.AppendUint16(tiff, 2)
	entry := func(tag, kind uint16, count, value uint32) {
		tiff = order.AppendUint32(order.AppendUint16(order.AppendUint16(tiff, tag), kind), count)
		if kind == typeShort {
			tiff = order.AppendUint16(order.AppendUint16(tiff, uint16(value)), 0)
			return
		}
		tiff = order.AppendUint32(tiff, value)
	}
	entry(tagOrientation, typeShort, 1, uint32(turned))
	entry(0x8825, 4, 1, 64) // GPS
	tiff = append(tiff, "GPSLatitude 38 43 9 N Cellar phone of T.V."...)
	body := append([]byte("Exif\x00\x00"), tiff...)
	plain := jpegOf(t, p)
	out := append([]byte{0xff, 0xd8, 0xff, markAPP1}, binary.BigEndian.AppendUint16(nil, uint16(len(body)+2))...)
	return append(append(out, body...), plain[2:]...)
}

func keep(t *testing.T, file []byte) Kept {
	t.Helper()
	k, err := Keep(file)
	if err != nil {
		t.Fatal(err)
	}
	return k
}

func TestNothingButThePictureIsKept(t *testing.T) {
	file := taken(t, picture(400, 300), 1, binary.LittleEndian)
	if !bytes.Contains(file, []byte("GPSLatitude")) || orientation(file) != 1 {
		t.Fatal("the picture of the test says nothing of where it was taken")
	}
	k := keep(t, file)
	for _, word := range []string{"GPS", "Exif", "Cellar", "T.V.", "38 43"} {
		if bytes.Contains(k.JPEG, []byte(word)) {
			t.Errorf("what is kept says %q", word)
		}
	}
	segments(k.JPEG, func(mark byte, body []byte) bool {
		if mark >= 0xe0 && mark <= 0xef || mark == 0xfe {
			t.Errorf("what is kept has a part %x: %q", mark, body)
		}
		return true
	})
	if k.Width != 400 || k.Height != 300 {
		t.Errorf("%d by %d", k.Width, k.Height)
	}
}

// near names the colour at a place of what is kept.
func near(t *testing.T, file []byte, x, y int) string {
	t.Helper()
	p, err := jpeg.Decode(bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	r, g, b, _ := p.At(x, y).RGBA()
	high := func(v uint32) bool { return v > 0x8000 }
	switch {
	case high(r) && high(g) && high(b):
		return "W"
	case high(r):
		return "R"
	case high(g):
		return "G"
	case high(b):
		return "B"
	}
	return "?"
}

// The four corners, from the upper left as one reads, for each orientation of EXIF. What is
// stored reads R G, B W.
func TestAPictureIsTurnedUpright(t *testing.T) {
	for turned, want := range map[uint16]string{1: "RGBW", 2: "GRWB", 3: "WBGR", 4: "BWRG", 5: "RBGW", 6: "BRWG", 7: "WGBR", 8: "GWRB", 0: "RGBW", 9: "RGBW"} {
		for _, order := range []binary.AppendByteOrder{binary.LittleEndian, binary.BigEndian} {
			k := keep(t, taken(t, picture(80, 40), turned, order))
			w, h := k.Width, k.Height
			if wide := turned < 5 || turned > 8; wide != (w == 80 && h == 40) || !wide && (w != 40 || h != 80) {
				t.Errorf("orientation %d: %d by %d", turned, w, h)
			}
			got := ""
			for _, at := range []image.Point{{w / 4, h / 4}, {3 * w / 4, h / 4}, {w / 4, 3 * h / 4}, {3 * w / 4, 3 * h / 4}} {
				got += near(t, k.JPEG, at.X, at.Y)
			}
			if got != want {
				t.Errorf("orientation %d, %v: %s, want %s", turned, order, got, want)
			}
		}
	}
}

func TestALargePictureIsMadeSmaller(t *testing.T) {
	k := keep(t, jpegOf(t, picture(4000, 3000)))
	if k.Width != 1600 || k.Height != 1200 || near(t, k.JPEG, 10, 10)+near(t, k.JPEG, 1590, 1190) != "RW" {
		t.Errorf("%d by %d", k.Width, k.Height)
	}
	k = keep(t, jpegOf(t, picture(3, 5000)))
	if k.Height != 1600 || k.Width != 1 {
		t.Errorf("a strip became %d by %d", k.Width, k.Height)
	}
	small, err := Small(keep(t, jpegOf(t, picture(1000, 500))).JPEG)
	if err != nil {
		t.Fatal(err)
	}
	if head, err := jpeg.DecodeConfig(bytes.NewReader(small)); err != nil || head.Width != 640 || head.Height != 320 {
		t.Errorf("the small copy: %+v, %v", head, err)
	}
	if _, err := Small([]byte("no picture")); err == nil {
		t.Error("a copy of no picture")
	}
}

func TestWhatIsTransparentIsWhite(t *testing.T) {
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewNRGBA(image.Rect(0, 0, 40, 40))); err != nil {
		t.Fatal(err)
	}
	if c := near(t, keep(t, b.Bytes()).JPEG, 20, 20); c != "W" {
		t.Errorf("it is %s", c)
	}
}

// A WebP picture, lossless, one pixel (of the WebP container specification, with VP8L).
var webp = []byte("RIFF\x1a\x00\x00\x00WEBPVP8L\x0d\x00\x00\x00\x2f\x00\x00\x00\x10\x07\x10\x11\x11\x88\x88\xfe\x07\x00")

func TestWebPIsRead(t *testing.T) {
	if k := keep(t, webp); k.Width != 1 || k.Height != 1 {
		t.Errorf("%d by %d", k.Width, k.Height)
	}
}

// bomb is a PNG whose header tells of so many pixels, and which has none.
func bomb(w, h uint32, depth, kind byte) []byte {
	body := append(binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32([]byte("IHDR"), w), h), depth, kind, 0, 0, 0)
	out := append([]byte("\x89PNG\r\n\x1a\n\x00\x00\x00\x0d"), body...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(body))
}

// frame is a JPEG header of so many pixels.
func frame(mark byte, w, h uint16) []byte {
	out := append([]byte("\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00"), 0xff, mark, 0, 17, 8)
	out = binary.BigEndian.AppendUint16(binary.BigEndian.AppendUint16(out, h), w)
	return append(out, 3, 1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0)
}

// What would fill the memory is refused by its header, before it is decoded.
func TestBombsAreRefused(t *testing.T) {
	for name, c := range map[string]struct {
		file []byte
		want string
	}{
		"51 megapixels":                {bomb(5100, 10000, 8, 2), "51 megapixels"},
		"the most a PNG can say":       {bomb(1<<31-1, 1<<31-1, 8, 2), "damaged"},
		"deep colours":                 {bomb(7000, 7000, 16, 6), "memory"},
		"a JPEG of 65535 by 65535":     {frame(0xc0, 65535, 65535), "megapixels"},
		"a large progressive JPEG":     {frame(0xc2, 7000, 7000), "memory"},
		"more than 12 MB":              {make([]byte, MaxBytes+1), "12.0 MB"},
		"nothing":                      {nil, "empty"},
		"a HEIC picture":               {[]byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"), "HEIC"},
		"text":                         {[]byte("hello"), "no JPEG"},
		"half a JPEG":                  {jpegOf(t, picture(100, 100))[:300], "damaged"},
		"a vector drawing":             {[]byte("<svg xmlns='http://www.w3.org/2000/svg'/>"), "no JPEG"},
		"a PNG of no pixels":           {bomb(0, 10, 8, 2), "damaged"},
		"an empty WebP":                {[]byte("RIFF\x00\x00\x00\x00WEBPVP8L"), "damaged"},
		"EXIF that points beyond it":   {append([]byte("\xff\xd8\xff\xe1\x00\x12Exif\x00\x00II*\x00\xff\xff\xff\x7f"), 0, 0), "damaged"},
		"a segment longer than itself": {[]byte{0xff, 0xd8, 0xff, 0xe1, 0xff, 0xff}, "damaged"},
	} {
		k, err := Keep(c.file)
		if fault, ok := err.(Fault); !ok || !strings.Contains(string(fault), c.want) || k.JPEG != nil {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
}

func FuzzKeep(f *testing.F) {
	f.Add(taken(f, picture(40, 20), 6, binary.LittleEndian))
	f.Add(taken(f, picture(40, 20), 3, binary.BigEndian))
	f.Add(webp)
	f.Add(bomb(10, 10, 8, 2))
	f.Add(frame(0xc2, 20, 20))
	f.Add([]byte("\xff\xd8\xff\xe1\x00\x10Exif\x00\x00MM\x00*\x00\x00\x00\x08"))
	f.Fuzz(func(t *testing.T, file []byte) {
		if o := orientation(file); o < 1 || o > 8 {
			t.Fatalf("orientation %d", o)
		}
		if head, _, err := image.DecodeConfig(bytes.NewReader(file)); err == nil && head.Width*head.Height > 1<<20 {
			return // correct and slow
		}
		k, err := Keep(file)
		if _, ok := err.(Fault); err != nil && !ok {
			t.Fatalf("%v is no fault in words", err)
		}
		if err == nil && (k.Width < 1 || k.Height < 1 || k.Width > Longest || k.Height > Longest || len(k.JPEG) == 0) {
			t.Fatalf("kept %d by %d, %d bytes", k.Width, k.Height, len(k.JPEG))
		}
	})
}

// What large pictures take is given back when they are small.
func TestLargePicturesGiveTheirMemoryBack(t *testing.T) {
	var file bytes.Buffer
	if err := png.Encode(&file, image.NewRGBA(image.Rect(0, 0, 3500, 3500))); err != nil {
		t.Fatal(err)
	}
	debug.FreeOSMemory()
	held := func() float64 {
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return float64(m.HeapSys-m.HeapReleased) / (1 << 20)
	}
	before := held()
	var both sync.WaitGroup
	for range 2 {
		both.Go(func() {
			if _, err := Keep(file.Bytes()); err != nil {
				t.Error(err)
			}
		})
	}
	both.Wait()
	if after := held(); after > before+30 {
		t.Errorf("%.0f MiB are held after two pictures, %.0f before", after, before)
	}
}
