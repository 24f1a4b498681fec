package chart

import (
	"image/color"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"flitch/process"
)

// Colours of the chart. Every line has its own dashes and its name at its end,
// so the chart reads in black and white too.
var (
	paper = color.RGBA{0xff, 0xff, 0xff, 0xff}
	ink   = color.RGBA{0x1a, 0x1a, 0x1a, 0xff}
	faint = color.RGBA{0xdd, 0xdd, 0xdd, 0xff}
	grey  = color.RGBA{0xe4, 0xe4, 0xe4, 0xff}
	ochre = color.RGBA{0x6e, 0x55, 0x00, 0xff}
	sea   = color.RGBA{0x00, 0x50, 0x8c, 0xff}
	haze  = color.RGBA{0xe9, 0xe4, 0xd6, 0xff}
	brick = color.RGBA{0xa3, 0x1f, 0x1f, 0xff}
)

// lineStyle returns how the nth line of a placement is drawn.
func lineStyle(p process.Placement, n int) draw.LineStyle {
	style := draw.LineStyle{Width: 1.6}
	switch p {
	case process.Core:
		return coreStyle(n)
	case process.Chamber:
		style.Color = color.RGBA{0xb3, 0x47, 0x00, 0xff}
		style.Dashes = []vg.Length{9, 2}
	case process.Product:
		style.Color = color.RGBA{0x00, 0x50, 0x8c, 0xff}
		style.Dashes = []vg.Length{6, 2, 2, 2}
	case process.Air:
		style.Color = color.RGBA{0x59, 0x59, 0x59, 0xff}
		style.Dashes = []vg.Length{3, 3}
		style.Width = 1
	default:
		style.Color = color.RGBA{0x6e, 0x55, 0x00, 0xff}
		style.Dashes = []vg.Length{1, 3}
	}
	return style
}

func coreStyle(n int) draw.LineStyle {
	cores := [...]draw.LineStyle{
		{Color: ink, Width: 2},
		{Color: color.RGBA{0x00, 0x50, 0x8c, 0xff}, Width: 2, Dashes: []vg.Length{7, 3}},
		{Color: color.RGBA{0x6b, 0x2e, 0x8f, 0xff}, Width: 2, Dashes: []vg.Length{2, 2}},
		{Color: color.RGBA{0x1c, 0x6b, 0x3a, 0xff}, Width: 2, Dashes: []vg.Length{10, 3, 2, 3}},
	}
	return cores[n%len(cores)]
}

func lettering(size font.Length, c color.Color) text.Style {
	return text.Style{
		Color:   c,
		Font:    font.Font{Typeface: "Liberation", Variant: "Sans", Size: size},
		Handler: text.Plain{Fonts: font.DefaultCache},
	}
}
