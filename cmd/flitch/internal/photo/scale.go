package photo

import (
	"image"
	"image/color"
	"image/draw"

	scale "golang.org/x/image/draw"
)

// shrunk is the picture with its longer side at most so many pixels, on white where it is
// transparent. It is halved while it is far too large: two pixels become one exactly, and no
// large picture is held in between.
func shrunk(picture image.Image, longest int) *image.RGBA {
	size := picture.Bounds().Size()
	for max(size.X, size.Y) >= 2*longest {
		size = image.Pt(max(1, size.X/2), max(1, size.Y/2))
		picture = drawn(picture, size)
	}
	if side := max(size.X, size.Y); side > longest {
		size = image.Pt(max(1, size.X*longest/side), max(1, size.Y*longest/side))
	}
	return drawn(picture, size)
}

func drawn(picture image.Image, size image.Point) *image.RGBA {
	out := image.NewRGBA(image.Rectangle{Max: size})
	draw.Draw(out, out.Bounds(), image.NewUniform(color.White), image.Point{}, draw.Src)
	scale.ApproxBiLinear.Scale(out, out.Bounds(), picture, picture.Bounds(), scale.Over, nil)
	return out
}

// upright turns the picture as its orientation says, 1 to 8 by EXIF 2.3, 4.6.4: where the
// first row and the first column of what is stored belong.
func upright(in *image.RGBA, orientation int) *image.RGBA {
	w, h := in.Bounds().Dx(), in.Bounds().Dy()
	if orientation < 2 || orientation > 8 {
		return in
	}
	size := image.Pt(w, h)
	if orientation >= 5 {
		size = image.Pt(h, w)
	}
	out := image.NewRGBA(image.Rectangle{Max: size})
	for y := range size.Y {
		for x := range size.X {
			sx, sy := source(orientation, x, y, w, h)
			out.SetRGBA(x, y, in.RGBAAt(sx, sy))
		}
	}
	return out
}

// source is which pixel of what is stored, w by h, stands at x, y.
func source(orientation, x, y, w, h int) (sx, sy int) {
	switch orientation {
	case 2:
		return w - 1 - x, y
	case 3:
		return w - 1 - x, h - 1 - y
	case 4:
		return x, h - 1 - y
	case 5:
		return y, x
	case 6:
		return y, h - 1 - x
	case 7:
		return w - 1 - y, h - 1 - x
	case 8:
		return w - 1 - y, x
	}
	return x, y
}
