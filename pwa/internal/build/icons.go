package main

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
)

// The mark is a plumb line: cord and bob, crossed at right angles by a level with
// its bubble in the middle.

type shade struct{ r, g, b uint8 }

func (s shade) css() string { return fmt.Sprintf("#%02x%02x%02x", s.r, s.g, s.b) }

var (
	paper = shade{0xf4, 0xf1, 0xea}
	ink   = shade{0x1f, 0x2a, 0x30}
	fluid = shade{0xe3, 0xb5, 0x05}
)

type icon struct {
	size    int
	purpose string // in the manifest; empty keeps it out
	file    *file
}

// maskScale keeps the mark inside the circle that every mask leaves.
const maskScale = 0.74

// drawIcons makes the sizes that browsers ask for: 192 and 512 for the manifest,
// 512 with everything inside a circle of 2/5 of its size, which any mask leaves,
// and 180 for a home screen that takes no manifest.
func drawIcons() ([]icon, error) {
	icons := []icon{
		{size: 192, purpose: "any"}, {size: 512, purpose: "any"},
		{size: 512, purpose: "maskable"}, {size: 180},
	}
	for i := range icons {
		name, scale := fmt.Sprintf("icon-%d.png", icons[i].size), 1.0
		if icons[i].purpose == "maskable" {
			name, scale = "icon-mask.png", maskScale
		}
		var b bytes.Buffer
		if err := png.Encode(&b, drawMark(icons[i].size, scale)); err != nil {
			return nil, err
		}
		icons[i].file = hashed(name, b.Bytes())
	}
	return icons, nil
}

// drawMark draws the mark on a full square. Coordinates run from -1 to 1, y down;
// each pixel is the mean of a grid of samples.
func drawMark(size int, scale float64) image.Image {
	const grid = 4
	m := image.NewNRGBA(image.Rect(0, 0, size, size))
	for py := range size {
		for px := range size {
			var r, g, b int
			for s := range grid * grid {
				x := ((float64(px)+(float64(s%grid)+0.5)/grid)/float64(size)*2 - 1) / scale
				y := ((float64(py)+(float64(s/grid)+0.5)/grid)/float64(size)*2 - 1) / scale
				c := markAt(x, y)
				r, g, b = r+int(c.r), g+int(c.g), b+int(c.b)
			}
			m.SetNRGBA(px, py, color.NRGBA{uint8(r / (grid * grid)), uint8(g / (grid * grid)), uint8(b / (grid * grid)), 255})
		}
	}
	return m
}

func markAt(x, y float64) shade {
	switch {
	case math.Hypot(x, y+0.28) < 0.1: // bubble
		return paper
	case math.Abs(x) < 0.26 && math.Abs(y+0.28) < 0.14: // vial
		return fluid
	case math.Abs(x) < 0.72 && math.Abs(y+0.28) < 0.2: // level
		return ink
	case math.Abs(x) < 0.035 && y > -0.82 && y < 0.3: // cord
		return ink
	case y >= 0.3 && y < 0.4 && math.Abs(x) < 0.12: // cap of the bob
		return ink
	case y >= 0.4 && y < 0.86 && math.Abs(x) < 0.24*(0.86-y)/0.46: // bob
		return ink
	}
	return paper
}
