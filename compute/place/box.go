package place

import "fmt"

// Box is the six inner surfaces of a rectangular room, named front, right, rear, left, ceiling and floor, in this order:
// width along x, length along y, height along z (metres). The tape conventions are those of [Surface]; on the floor
// along starts at the left wall and up (there the distance towards the front) at the rear wall. Sizes that are not
// finite and positive are an [ErrNumber].
func Box(width, length, height float64) ([]Surface, error) {
	for _, size := range []struct {
		name  string
		value float64
	}{{"width", width}, {"length", length}, {"height", height}} {
		if err := finite("box "+size.name, size.value); err != nil {
			return nil, err
		}
		if size.value <= 0 {
			return nil, fmt.Errorf("%w: box %s: read %v, want more than 0", ErrNumber, size.name, size.value)
		}
	}
	var (
		right, left = Vec{X: 1}, Vec{X: -1}
		front, rear = Vec{Y: 1}, Vec{Y: -1}
		up          = Vec{Z: 1}
	)
	side := func(name string, origin, along, up Vec, long, high float64) Surface {
		return Surface{Name: name, Origin: origin, Along: along, Up: up, Outline: []Spot{{0, 0}, {long, 0}, {long, high}, {0, high}}}
	}
	return []Surface{
		side("front", Vec{0, length, 0}, right, up, width, height),
		side("right", Vec{width, length, 0}, rear, up, length, height),
		side("rear", Vec{width, 0, 0}, left, up, width, height),
		side("left", Vec{0, 0, 0}, front, up, length, height),
		side("ceiling", Vec{0, length, height}, right, rear, width, length),
		side("floor", Vec{0, 0, 0}, right, front, width, length),
	}, nil
}
