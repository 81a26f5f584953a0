package table

import (
	"hangtrue/checklist/plan"
	"hangtrue/pwa/drawing"
	. "hangtrue/pwa/markup"
)

// drawRoom shows the room from above, as far as it is surveyed.
func drawRoom(*plan.Plan, string) Node { return nil }

// drawSurface shows a wall, the ceiling or the floor from inside.
func drawSurface(p *plan.Plan, name string) Node {
	node, ok := drawing.Wall{Plan: p, Surface: name}.SVG()
	if !ok {
		return nil
	}
	return node
}
