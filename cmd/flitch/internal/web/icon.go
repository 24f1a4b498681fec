package web

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"net/http"
)

// iconSizes are those that home screens ask for, in pixels: 180 on an iPhone (Apple, Human
// Interface Guidelines), 192 and 512 elsewhere (W3C, Web Application Manifest, examples).
var iconSizes = []int{180, 192, 512}

// iconGrid is the side of static/icon.svg, whose shapes these are. The corners are left
// square: each home screen cuts its own.
const iconGrid = 32

var iconShapes = []struct {
	at   image.Rectangle
	fill color.RGBA
}{
	{image.Rect(0, 0, 32, 32), color.RGBA{0x1a, 0x1a, 0x1a, 0xff}},
	{image.Rect(6, 7, 26, 11), color.RGBA{0xf0, 0xb7, 0xa4, 0xff}},
	{image.Rect(6, 14, 26, 18), color.RGBA{0xff, 0xf4, 0xe8, 0xff}},
	{image.Rect(6, 21, 26, 25), color.RGBA{0xc4, 0x55, 0x3d, 0xff}},
}

// icon draws the icon for home screens that take no SVG.
func icon(size int) ([]byte, error) {
	picture := image.NewRGBA(image.Rect(0, 0, size, size))
	for _, s := range iconShapes {
		at := image.Rect(s.at.Min.X*size/iconGrid, s.at.Min.Y*size/iconGrid, s.at.Max.X*size/iconGrid, s.at.Max.Y*size/iconGrid)
		draw.Draw(picture, at, image.NewUniform(s.fill), image.Point{}, draw.Src)
	}
	var b bytes.Buffer
	err := png.Encode(&b, picture)
	return b.Bytes(), err
}

// iconRoutes registers the icon in each size.
func (s *server) iconRoutes(mux *http.ServeMux) {
	for _, size := range iconSizes {
		mux.HandleFunc(fmt.Sprintf("GET /icon-%d.png", size), func(w http.ResponseWriter, _ *http.Request) {
			drawn, err := icon(size)
			if err != nil {
				s.broken(w, "draw the icon", err)
				return
			}
			w.Header().Set("Content-Type", "image/png")
			w.Header().Set("Cache-Control", "max-age=86400")
			w.Write(drawn) // the phone may be gone; nobody is left to be told
		})
	}
}
